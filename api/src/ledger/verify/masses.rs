//! Movements and their masses: is each mass what was typed, or what the scale showed?

use super::report::{Check, Report};
use crate::ledger::entry::{Leaf, Moved, Words};
use crate::ledger::place::Place;
use reports::mass::{Answer, Mass, QuestionCode, Reading, Unit, Way, read_scale, weighing};

/// Kinds whose mass a person always states; other masses may be worked out (a whole content, a
/// difference).
const STATED: [&str; 4] = ["purchase", "charge", "outside_charge", "recover"];

pub(super) fn check(seq: u64, leaf: &Leaf<'_>, report: &mut Report) {
    let answers = leaf.answers.as_ref();
    let moved = leaf.body.movements.as_deref().unwrap_or_default();
    check_movements(seq, leaf, &leaf.kind, moved, answers, report);
    for moved in leaf.body.reverse.iter().flatten() {
        report.movements += 1;
        check_ends(seq, leaf, moved, report);
    }
    if let Some(replace) = &leaf.body.replace {
        let moved = replace.body.movements.as_deref().unwrap_or_default();
        check_movements(seq, leaf, &replace.kind, moved, answers, report);
    }
}

fn check_movements(
    seq: u64,
    leaf: &Leaf<'_>,
    kind: &str,
    movements: &[Moved<'_>],
    answers: Option<&Words<'_>>,
    report: &mut Report,
) {
    for moved in movements {
        report.movements += 1;
        check_ends(seq, leaf, moved, report);
        let masses = stated(moved, answers);
        if masses.contains(&Some(moved.g)) {
            report.masses += 1;
        } else if let Some(said) = said(moved) {
            let masses = masses.iter().flatten();
            let masses: Vec<String> = masses.map(|mass| format!("{mass} g")).collect();
            let masses = if masses.is_empty() {
                "no mass".into()
            } else {
                masses.join(" or ")
            };
            let expected = format!("{masses} ({said})");
            report.add(Check::Mass, seq, expected, format!("{} g", moved.g));
        } else if STATED.contains(&kind) {
            report.add(
                Check::Mass,
                seq,
                "a mass as typed, or two readings",
                "neither",
            );
        }
    }
    if kind == "redesignate" {
        let sum = |through: fn(&Moved<'_>) -> Place| -> i128 {
            let parts = movements
                .iter()
                .filter(|moved| through(moved) == Place::Redesignation);
            parts.map(|moved| i128::from(moved.g.steps())).sum()
        };
        let (left, returned) = (sum(|moved| moved.to), sum(|moved| moved.from));
        if left != returned {
            let grams = reports::mass::grams_text;
            let found = format!("{} g", grams(returned));
            report.add(
                Check::Movement,
                seq,
                format!("{} g to return", grams(left)),
                found,
            );
        }
    }
}

/// A movement has two ends, and each appliance and cylinder at an end counts the entry.
fn check_ends(seq: u64, leaf: &Leaf<'_>, moved: &Moved<'_>, report: &mut Report) {
    if moved.from == moved.to && moved.from != Place::Other {
        report.add(
            Check::Movement,
            seq,
            "two places",
            format!("{} twice", moved.from),
        );
    }
    for place in [moved.from, moved.to] {
        let counts = matches!(place, Place::Appliance(_) | Place::Cylinder(_));
        if counts
            && !leaf
                .nth
                .as_ref()
                .is_some_and(|nth| nth.contains_key(&place))
        {
            report.add(Check::Nth, seq, format!("{place} in `nth`"), "none");
        }
    }
}

/// The masses that what was typed or read can mean. Most often there is one; a scale reading
/// between two cylinders may be of either.
fn stated(moved: &Moved<'_>, answers: Option<&Words<'_>>) -> [Option<Mass>; 2] {
    let answer = answers.and_then(answer_of);
    if let Some(readings) = &moved.readings {
        let Some(unit) = Unit::from_code(&readings.unit) else {
            return [None, None];
        };
        let (before, after) = (&readings.before, &readings.after);
        let weigh = |way| mass(weighing(before, after, Some(unit), way, answer));
        return match (moved.from, moved.to) {
            (Place::Cylinder(_), Place::Cylinder(_)) => [weigh(Way::Leaving), weigh(Way::Entering)],
            (_, Place::Cylinder(_)) => [weigh(Way::Entering), None],
            _ => [weigh(Way::Leaving), None],
        };
    }
    let typed = moved.typed.as_ref().and_then(|typed| {
        let unit = Unit::from_code(&typed.unit)?;
        mass(read_scale(&typed.text, Some(unit), answer))
    });
    [typed, None]
}

/// What was typed or read, for a person to read; `None` where nothing was. Only a break asks for it:
/// writing it for every movement of a sound book is wasted.
fn said(moved: &Moved<'_>) -> Option<String> {
    let unknown = |unit: &str| {
        Unit::from_code(unit)
            .is_none()
            .then(|| format!("unit {unit}"))
    };
    if let Some(readings) = &moved.readings {
        let (before, after, unit) = (&readings.before, &readings.after, &readings.unit);
        let read = || format!("{before} before, {after} after, in {unit}");
        return Some(unknown(unit).unwrap_or_else(read));
    }
    let typed = moved.typed.as_ref()?;
    let written = || format!("{} in {}", typed.text, typed.unit);
    Some(unknown(&typed.unit).unwrap_or_else(written))
}

/// The answer that says how the entry's numbers are to be read.
pub(super) fn answer_of(answers: &Words<'_>) -> Option<Answer> {
    let codes = [QuestionCode::PoundsOrOunces, QuestionCode::FinerThanAStep];
    let mut words = codes.iter().filter_map(|code| answers.get(code.word()));
    words.find_map(|word| Answer::from_word(word))
}

pub(super) fn mass(reading: Reading) -> Option<Mass> {
    if let Reading::Mass(mass) = reading {
        Some(mass)
    } else {
        None
    }
}
