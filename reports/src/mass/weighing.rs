//! Two readings of a scale make a mass.
//!
//! What leaves a cylinder is the reading before less the reading after; what enters it is after
//! less before. The sign is checked and never stored. A scale set to zero with the cylinder on it
//! may show zero once. Readings that raise a question raise it for the whole weighing, and the
//! choices are the masses the movement would have.

use super::outcome::refused;
use super::reading::read_scale;
use super::{Answer, Choice, Mass, QuestionCode, Reading, Reason, Unit};

/// Which way refrigerant went, seen from the cylinder on the scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Out of the cylinder: it became lighter.
    Leaving,
    /// Into the cylinder: it became heavier.
    Entering,
}

/// The mass that two readings say, in the unit the scale is set to.
pub fn weighing(
    before: &str,
    after: &str,
    unit: Option<Unit>,
    way: Way,
    answer: Option<Answer>,
) -> Reading {
    let readings = (
        read_scale(before, unit, answer),
        read_scale(after, unit, answer),
    );
    match readings {
        (Reading::Mass(first), Reading::Mass(second)) => {
            difference(before, after, first, second, way)
        }
        (refusal @ Reading::Refused { .. }, _) | (_, refusal @ Reading::Refused { .. }) => refusal,
        (Reading::Question { code, why, .. }, _) | (_, Reading::Question { code, why, .. }) => {
            let answered = |answer: &Answer| {
                let answer = *answer;
                match weighing(before, after, unit, way, Some(answer)) {
                    Reading::Mass(mass) => Some(Choice { answer, mass }),
                    _ => None,
                }
            };
            let choices = code.answers().iter().filter_map(answered).collect();
            Reading::Question { code, choices, why }
        }
    }
}

fn difference(before: &str, after: &str, first: Mass, second: Mass, way: Way) -> Reading {
    let (larger, smaller, word) = match way {
        Way::Leaving => (first, second, "lighter"),
        Way::Entering => (second, first, "heavier"),
    };
    if larger == smaller {
        return refused(
            Reason::Zero,
            &format!("{} to {}", before.trim(), after.trim()),
        );
    }
    match larger.checked_sub(smaller) {
        Some(mass) => Reading::Mass(mass),
        None => Reading::Question {
            code: QuestionCode::Swapped,
            choices: (smaller.checked_sub(larger).into_iter())
                .map(|mass| Choice {
                    answer: Answer::Exchange,
                    mass,
                })
                .collect(),
            why: format!(
                "The cylinder should have become {word}, but it went from {} to {}. \
                 Are the two readings exchanged?",
                before.trim(),
                after.trim()
            ),
        },
    }
}
