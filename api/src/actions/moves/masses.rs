//! The mass of a movement, from what a person typed or read from a scale.
//!
//! Two raw readings beat one net number. What can be understood in two ways becomes a question; the
//! literal reading goes on meanwhile, so that all questions of a request are asked at once.

use super::{Asked, Moves};
use crate::actions::refusal::{ActionError, Question, QuestionChoice, Refusal};
use crate::actions::request::{MassParts, MassRequest, MovementRequest, ReadingsRequest, read};
use crate::ledger::entry::{Readings, Typed};
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use reports::mass::{self, Answer, LeafText, Mass, Reading, Unit, Way};
use std::borrow::Cow;

/// The mass of a movement, and what was typed or read for it.
pub(super) struct Weighed {
    pub mass: Mass,
    pub resolution: Option<Mass>,
    pub readings: Option<Readings<'static>>,
    pub typed: Option<Typed<'static>>,
}

/// The mass of a movement: typed, or the difference of two readings.
pub(super) fn mass_of(
    tx: &mut Tx<'_>,
    request: &MovementRequest,
    src: PlaceNumber,
    asked: Asked<'_>,
    pointer: &str,
    at: usize,
    moves: &mut Moves,
) -> Result<Weighed, ActionError> {
    match (&request.mass, &request.readings) {
        (Some(mass), None) => {
            let pointer = format!("{pointer}/mass");
            let (text, unit) = parts(&read(mass, &pointer)?, &pointer)?;
            let (mass, typed) = typed_mass(&text, unit, asked, &pointer, src, moves)?;
            Ok(Weighed {
                mass,
                resolution: None,
                readings: None,
                typed: Some(typed),
            })
        }
        (None, Some(readings)) => {
            let pointer = format!("{pointer}/readings");
            let readings = read(readings, &pointer)?;
            weighed(tx, &readings, src, asked, &pointer, at, moves)
        }
        _ => Err(Refusal::Malformed {
            pointer: pointer.to_string(),
            detail: "Expected either mass or readings {before, after}; give one of them."
                .to_string(),
        }
        .into()),
    }
}

/// Text and unit of a mass as requested.
pub fn parts(mass: &MassRequest, pointer: &str) -> Result<(String, Option<Unit>), ActionError> {
    match mass {
        MassRequest::Text(text) => Ok((text.clone(), None)),
        MassRequest::Parts(MassParts {
            value, text, unit, ..
        }) => {
            let unit = unit
                .as_deref()
                .map(|unit| unit_named(unit, pointer))
                .transpose()?;
            match (value, text) {
                (Some(text), None) | (None, Some(text)) => Ok((text.clone(), unit)),
                _ => Err(Refusal::Malformed {
                    pointer: pointer.to_string(),
                    detail: "Expected either value with unit, or text; give one of them."
                        .to_string(),
                }
                .into()),
            }
        }
    }
}

/// Longest text of a mass; the grammar would read longer ones, a leaf shall not carry them.
const LONGEST_MASS: usize = 100;

/// Refuses a text that is far longer than any scale or person writes.
fn short(text: &str, pointer: &str) -> Result<(), ActionError> {
    if text.len() <= LONGEST_MASS {
        return Ok(());
    }
    let expected = "a mass of at most 100 characters";
    Err(Refusal::invalid(pointer, expected, text, "Write for example 7 lb 4 oz.").into())
}

fn unit_named(unit: &str, pointer: &str) -> Result<Unit, ActionError> {
    Unit::from_code(unit)
        .or_else(|| Unit::from_word(unit))
        .ok_or_else(|| {
            Refusal::invalid(
                &format!("{pointer}/unit"),
                "one of [lb_av], [oz_av], kg, g, mg, ug (or lb, oz, lb+oz)",
                unit,
                "Masses are weighed in these units.",
            )
            .into()
        })
}

/// Reads a typed mass; a question is noted and its literal reading goes on, so that all questions
/// of a request are asked at once.
pub fn typed_mass(
    text: &str,
    unit: Option<Unit>,
    asked: Asked<'_>,
    pointer: &str,
    place: PlaceNumber,
    moves: &mut Moves,
) -> Result<(Mass, Typed<'static>), ActionError> {
    short(text, pointer)?;
    let answer = asked
        .answer("pounds_or_ounces")
        .or(asked.answer("finer_than_a_step"));
    let reading = mass::read_with_answer(text, unit, answer);
    let (mass, answer) = settle(reading, answer, asked, pointer, place, moves)?;
    Ok((mass, kept(text, unit, answer)))
}

fn weighed(
    tx: &mut Tx<'_>,
    request: &ReadingsRequest,
    src: PlaceNumber,
    asked: Asked<'_>,
    pointer: &str,
    at: usize,
    moves: &mut Moves,
) -> Result<Weighed, ActionError> {
    let unit = request
        .unit
        .as_deref()
        .map(|unit| unit_named(unit, pointer))
        .transpose()?;
    let way = if src.sort() == Sort::Cylinder {
        Way::Leaving
    } else {
        Way::Entering
    };
    let answer = asked
        .answer("pounds_or_ounces")
        .or(asked.answer("finer_than_a_step"));
    short(&request.before, &format!("{pointer}/before"))?;
    short(&request.after, &format!("{pointer}/after"))?;
    let (mut before, mut after) = (&request.before, &request.after);
    let mut reading = mass::weighing(before, after, unit, way, answer);
    let swapped = matches!(&reading, Reading::Question { code, .. } if code.word() == "swapped");
    if swapped && (asked.silent || asked.answer("swapped") == Some(Answer::Exchange)) {
        (before, after) = (after, before);
        moves.findings.push(("swapped", src));
        moves
            .presumed
            .insert("swapped".to_string(), "exchange".to_string());
        reading = mass::weighing(before, after, unit, way, answer);
    }
    let pointer = &format!("{pointer}{}", at_fault(before, after, unit, answer));
    let (mass, answer) = settle(reading, answer, asked, pointer, src, moves)?;
    let (before, after) = (kept(before, unit, answer), kept(after, unit, answer));
    let mut resolution = None;
    let mut scale = None;
    if let Some(name) = &request.scale {
        match tx.find(Sort::Scale, name)? {
            Some(number) => {
                let subject = tx.subject(number)?;
                (resolution, scale) = (subject.brief.resolution, subject.id);
            }
            None => {
                moves
                    .secrets
                    .push((format!("movements.{at}.readings.scale"), name.clone()));
                moves.findings.push(("unregistered_scale", src));
            }
        }
    }
    let unit = before.unit;
    let readings = Readings {
        after: after.text,
        before: before.text,
        scale,
        unit,
    };
    Ok(Weighed {
        mass,
        resolution,
        readings: Some(readings),
        typed: None,
    })
}

/// The member of the reading that cannot be read; empty: both can.
fn at_fault(before: &str, after: &str, unit: Option<Unit>, answer: Option<Answer>) -> &'static str {
    let refused = |text| {
        matches!(
            mass::read_scale(text, unit, answer),
            Reading::Refused { .. }
        )
    };
    match (refused(before), refused(after)) {
        (true, _) => "/before",
        (_, true) => "/after",
        _ => "",
    }
}

/// Takes a mass, notes a question, or refuses.
fn settle(
    reading: Reading,
    answer: Option<Answer>,
    asked: Asked<'_>,
    pointer: &str,
    place: PlaceNumber,
    moves: &mut Moves,
) -> Result<(Mass, Option<Answer>), ActionError> {
    match reading {
        Reading::Mass(mass) => Ok((mass, answer)),
        Reading::Refused { why, .. } => Err(Refusal::InvalidValue {
            pointer: pointer.to_string(),
            detail: why,
        }
        .into()),
        Reading::Question { code, choices, why } => {
            let Some(literal) = choices.first().copied() else {
                let detail = why;
                return Err(Refusal::InvalidValue {
                    pointer: pointer.to_string(),
                    detail,
                }
                .into());
            };
            if asked.silent {
                moves.findings.push((code.word(), place));
                let (code, word) = (code.word().to_string(), literal.answer.word().to_string());
                moves.presumed.insert(code, word);
            } else {
                let choices = choices.iter().map(|choice| QuestionChoice {
                    choice: choice.answer.word(),
                    text: choice.answer.word().replace('_', " "),
                    books: mass::echo(i128::from(choice.mass.steps())),
                });
                let choices = choices.collect();
                moves.questions.push(Question {
                    code: code.word(),
                    text: why,
                    choices,
                });
            }
            Ok((literal.mass, Some(literal.answer)))
        }
    }
}

/// Text and unit as the leaf keeps them.
fn kept(text: &str, unit: Option<Unit>, answer: Option<Answer>) -> Typed<'static> {
    let kept = mass::leaf_text(text, unit, answer);
    let fallback = || LeafText {
        text: text.trim().to_string(),
        unit: unit.unwrap_or(Unit::Pound),
    };
    let LeafText { text, unit } = kept.unwrap_or_else(fallback);
    Typed {
        text: Cow::Owned(text),
        unit: Cow::Borrowed(unit.code()),
    }
}
