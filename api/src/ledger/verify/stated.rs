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
