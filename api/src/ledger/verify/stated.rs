//! Statements: each weight is what was typed, and an accepted one moves just the difference.
//!
//! What the book had of the shipments stands in the leaf. What moves at the counterparty brings that to
//! what is stated, refrigerant by refrigerant; oil, water and air leave it as residue, and a disputed
//! statement moves nothing.

use super::masses::{answer_of, mass};
use super::report::{Check, Report};
use crate::ledger::entry::{Leaf, Moved, Typed, Words};
use crate::ledger::place::Place;
use reports::mass::{Mass, Unit, grams_text, read_scale};

pub(super) fn check(seq: u64, leaf: &Leaf<'_>, report: &mut Report) {
    if leaf.kind != "statement" {
        return;
    }
    for line in leaf.body.stated.iter().flatten() {
        let residue = line.residue.as_ref();
        let residue = residue.map(|residue| (residue.g, Some(&residue.typed)));
        for (g, typed) in [(line.g, line.typed.as_ref())].into_iter().chain(residue) {
            let read = read(typed, leaf.answers.as_ref());
            if read == Some(g) {
                report.masses += 1;
            } else {
                let read = read.map_or("no mass".to_string(), |read| format!("{read} g"));
                report.add(Check::Mass, seq, read, format!("{g} g"));
            }
        }
    }
    check_movements(seq, leaf, report);
}

/// What was typed; where nothing was, the statement is silent and nothing is there.
fn read(typed: Option<&Typed<'_>>, answers: Option<&Words<'_>>) -> Option<Mass> {
    let Some(typed) = typed else {
        return Some(Mass::ZERO);
    };
    let unit = Unit::from_code(&typed.unit)?;
    let answer = answers.and_then(answer_of);
    mass(read_scale(&typed.text, Some(unit), answer))
}

fn check_movements(seq: u64, leaf: &Leaf<'_>, report: &mut Report) {
    let accepted = leaf.body.outcome.as_deref() == Some("accepted");
    let receiver = leaf.body.subject.as_deref().and_then(Place::parse);
    let Some(receiver @ Place::Counterparty(_)) = receiver else {
        report.add(Check::Movement, seq, "a counterparty", "none");
        return;
    };
    let moved = leaf.body.movements.as_deref().unwrap_or_default();
    let sum = |name: &str, by: fn(&Moved<'_>, Place) -> i128| -> i128 {
        let own = moved.iter().filter(|moved| moved.refrigerant == name);
        own.map(|moved| by(moved, receiver)).sum()
    };
    let mut names: Vec<&str> = Vec::new();
    for line in leaf.body.stated.iter().flatten() {
        let steps = |mass: Mass| i128::from(mass.steps());
        let due = match accepted {
            true => steps(line.g) - steps(line.book_g),
            false => 0,
        };
        let residue = line.residue.as_ref().map_or(0, |residue| steps(residue.g));
        let residue = if accepted { residue } else { 0 };
        let changes = [
            ("in all", due, sum(&line.refrigerant, at_receiver)),
            ("as residue", residue, sum(&line.refrigerant, as_residue)),
        ];
        for (how, due, found) in changes {
            if due != found {
                let name = &line.refrigerant;
                let expected = format!("{} g of {name} {how}", grams_text(due));
                report.add(
                    Check::Movement,
                    seq,
                    expected,
                    format!("{} g", grams_text(found)),
                );
            }
        }
        names.push(&line.refrigerant);
    }
    for moved in moved {
        let stated = names.contains(&&*moved.refrigerant);
        if !stated || (moved.from != receiver && moved.to != receiver) {
            let found = format!("{} from {} to {}", moved.refrigerant, moved.from, moved.to);
            report.add(Check::Movement, seq, "what is stated alone to move", found);
        }
    }
}

/// What a movement adds at the counterparty.
fn at_receiver(moved: &Moved<'_>, receiver: Place) -> i128 {
    let steps = i128::from(moved.g.steps());
    match (moved.from == receiver, moved.to == receiver) {
        (true, _) => -steps,
        (_, true) => steps,
        _ => 0,
    }
}

fn as_residue(moved: &Moved<'_>, receiver: Place) -> i128 {
    match moved.from == receiver && moved.to == Place::Residue {
        true => i128::from(moved.g.steps()),
        false => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    /// A leaf written by hand: of 1 500 g are 1.4 kg stated and 25 g of oil; 75 g are missing.
    const GOLDEN: &str = include_str!("../../../../tests/references/leaves/statement.json");

    /// The breaks that are found once a leaf says something else.
    fn found(change: impl FnOnce(&mut Value)) -> Vec<Check> {
        let mut leaf: Value = serde_json::from_str(GOLDEN).unwrap();
        change(&mut leaf["body"]);
        let text = leaf.to_string();
        let leaf = Leaf::parse(text.as_bytes()).unwrap();
        let mut report = Report::new(20);
        check(leaf.seq, &leaf, &mut report);
        report.breaks.iter().map(|broken| broken.check).collect()
    }

    #[test]
    fn a_statement_that_does_not_add_up_is_found() {
        use Check::{Mass, Movement};
        assert_eq!(found(|_| ()), []);
        assert_eq!(
            found(|body| body["stated"][0]["g"] = json!("1401")),
            [Mass, Movement]
        );
        assert_eq!(
            found(|body| body["stated"][0]["residue"]["g"] = json!("26")),
            [Mass, Movement]
        );
        let silent = |body: &mut Value| {
            body["stated"][0]
                .as_object_mut()
                .map(|line| line.remove("typed"));
        };
        assert_eq!(found(silent), [Mass], "what is not said is nothing");
        assert_eq!(
            found(|body| body["stated"][0]["book_g"] = json!("1499")),
            [Movement]
        );
        assert_eq!(
            found(|body| body["movements"][0]["g"] = json!("74")),
            [Movement]
        );
        assert_eq!(
            found(|body| body["outcome"] = json!("disputed")),
            [Movement, Movement],
            "a dispute moves nothing"
        );
        assert_eq!(
            found(|body| body["movements"][0]["refrigerant"] = json!("R-22")),
            [Movement, Movement]
        );
        assert_eq!(
            found(|body| body["subject"] = json!("cylinder:2c7f6a3e-91aa-4b7e-8a53-0d6f4f2f7a11")),
            [Movement]
        );
    }
}
