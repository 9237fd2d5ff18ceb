//! statement: a reclaimer's own weights for shipments, accepted or disputed.
//!
//! Accepted, the difference to what the book has of these shipments is booked, so that the counterparty
//! holds by the book what it says: oil, water and air as residue, another name through redesignation, the
//! rest as unexplained. Disputed, nothing is booked, and a finding stays open until a later statement is
//! accepted or somebody settles it. Like a count, a statement is taken back and never replaced: its
//! masses are differences to the book as it stood.

mod asked;
mod rests;
mod shipped;

use super::moves::{Asked, Moves, Moving, named, parts, typed_mass};
use super::post::Intention;
use super::recover::word;
use super::refusal::{ActionError, Refusal};
use super::request::{MassRequest, read as read_members};
use crate::ledger::entry::{Body, Moved, Stated, Typed, Weight};
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use reports::mass::{Mass, Reading, Unit, leaf_text, read_scale};
use reports::shipment::{StatedWeight, Way, adjustments};
use serde::Deserialize;
use serde_json::Value;
use shipped::Shipped;
use std::borrow::Cow;

pub use rests::rests;

/// What becomes of the counterparty's weights.
pub const OUTCOMES: &[&str] = &["accepted", "disputed"];

/// Left by a statement that is disputed.
pub const DISPUTED: &str = "statement_disputed";
/// Left by a correction after which the book is not what an accepted statement says.
pub const OPEN: &str = "statement_open";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Members {
    counterparty: String,
    entries: Vec<String>,
    #[serde(default)]
    document: Option<String>,
    stated: Vec<Line>,
    outcome: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    refrigerant: String,
    mass: MassRequest,
    #[serde(default)]
    residue: Option<MassRequest>,
}

/// Reads a statement; `booked`: it repeats one, whose difference stands in the book by now.
pub fn read(
    tx: &mut Tx<'_>,
    body: &Value,
    asked: Asked<'_>,
    booked: Option<u64>,
) -> Result<Intention, ActionError> {
    let members: Members = read_members(body, "/body")?;
    let outcome = word(Some(&members.outcome), OUTCOMES, "/body/outcome")?;
    let name = members.counterparty.strip_prefix("counterparty:");
    let name = name.unwrap_or(&members.counterparty);
    let receiver = named(tx, Sort::Counterparty, name, "/body/counterparty")?;
    let mut moves = Moves::default();
    let mut lines = lines(tx, &members.stated, asked, receiver, &mut moves)?;
    let accepted = outcome == Some("accepted");
    let (entries, shipped) = match booked {
        // What it says is compared; what the book has of the shipments by now does not count.
        Some(_) => (
            shipped::named(tx, &members.entries)?,
            shipped::Shipped::default(),
        ),
        None => shipped::read(tx, &members.entries, receiver, accepted)?,
    };
    let mut about = Vec::new();
    for entry in &entries {
        about.extend(super::correct::about(tx, entry.seq)?);
    }
    let mut settles = Vec::new();
    if booked.is_none() {
        put_book(tx, &mut lines, &shipped)?;
        if accepted {
            moves.list = moved(tx, receiver, &lines, &shipped)?;
        }
        let questions = asked::questions(tx, &lines, &shipped, accepted)?;
        moves.questions.extend(questions);
        settles = rests::settled(tx, receiver, &shipped)?;
    }
    if !accepted {
        moves.findings.push((DISPUTED, receiver));
    }
    moves
        .secrets
        .extend(members.document.map(|text| ("document".to_string(), text)));
    let subject = tx.place(receiver)?.to_string();
    let stated = lines.into_iter().map(|(_, line)| line).collect();
    let mut what = Intention::moving(
        Body {
            entries: Some(entries),
            outcome: outcome.map(Cow::Borrowed),
            stated: Some(stated),
            subject: Some(Cow::Owned(subject)),
            ..Body::default()
        },
        moves,
    );
    what.settles = settles;
    what.about = about;
    Ok(what)
}

/// Does a repeat say what was booked? What the book had then does not count, nor how it was typed.
pub fn same(booked: &Body<'_>, asked: &Body<'_>) -> bool {
    let line = |line: &Stated<'_>| {
        let residue = line.residue.as_ref().map(|residue| residue.g);
        (line.refrigerant.to_string(), line.g, residue)
    };
    let lines = |body: &Body<'_>| -> Vec<_> {
        let typed = body.stated.iter().flatten().filter(|it| it.typed.is_some());
        typed.map(line).collect()
    };
    lines(booked) == lines(asked)
        && booked.subject == asked.subject
        && booked.entries == asked.entries
        && booked.outcome == asked.outcome
}

/// A statement is not read anew in a correction: it means the book as it stood.
pub fn again() -> Result<Intention, ActionError> {
    Err(Refusal::InvalidValue {
        pointer: "/body/replace".to_string(),
        detail:
            "Expected a correction without replacement, got a statement in its place. Take this \
                 statement back and post another, or post a newer one about the same shipments."
                .to_string(),
    }
    .into())
}

/// The refrigerants of a statement with their codes, what the book has of each still open.
fn lines(
    tx: &mut Tx<'_>,
    given: &[Line],
    asked: Asked<'_>,
    receiver: PlaceNumber,
    moves: &mut Moves,
) -> Result<Vec<(u16, Stated<'static>)>, ActionError> {
    let mut lines: Vec<(u16, Stated<'static>)> = Vec::with_capacity(given.len());
    for (at, line) in given.iter().enumerate() {
        let pointer = format!("/body/stated/{at}");
        let code = refrigerant(tx, &line.refrigerant, &format!("{pointer}/refrigerant"))?;
        if lines.iter().any(|(known, _)| *known == code) {
            let pointer = format!("{pointer}/refrigerant");
            let remedy = "Add up what is stated of one refrigerant.";
            let expected = "each refrigerant once";
            return Err(Refusal::invalid(&pointer, expected, &line.refrigerant, remedy).into());
        }
        let mut weight = |given: &MassRequest, member: &str| -> Result<_, ActionError> {
            let pointer = format!("{pointer}/{member}");
            let (text, unit) = parts(given, &pointer)?;
            match none_of_it(&text, unit) {
                Some(typed) => Ok((Mass::ZERO, typed)),
                None => typed_mass(&text, unit, asked, &pointer, receiver, moves),
            }
        };
        let (g, typed) = weight(&line.mass, "mass")?;
        let residue = line.residue.as_ref();
        let residue = residue.map(|given| weight(given, "residue")).transpose()?;
        let residue = residue.filter(|(g, _)| *g != Mass::ZERO);
        let name = tx.table.designation(code).unwrap_or_default().to_string();
        let line = Stated {
            book_g: Mass::ZERO,
            g,
            refrigerant: Cow::Owned(name),
            residue: residue.map(|(g, typed)| Weight { g, typed }),
            typed: Some(typed),
        };
        lines.push((code, line));
    }
    if lines.is_empty() {
        return Err(Refusal::Malformed {
            pointer: "/body/stated".to_string(),
            detail:
                "Expected at least one refrigerant with its weight, got none. Copy the lines of \
                     the statement."
                    .to_string(),
        }
        .into());
    }
    Ok(lines)
}

/// `0 lb`: no mass that anybody moves, but what a statement may say.
fn none_of_it(text: &str, unit: Option<Unit>) -> Option<Typed<'static>> {
    let zero = Reading::Mass(Mass::ZERO);
    if text.len() > 20 || read_scale(text, unit, None) != zero {
        return None;
    }
    let kept = leaf_text(text, unit, None)?;
    Some(Typed {
        text: Cow::Owned(kept.text),
        unit: Cow::Borrowed(kept.unit.code()),
    })
}

fn refrigerant(tx: &Tx<'_>, name: &str, pointer: &str) -> Result<u16, ActionError> {
    let code = tx.table.understood(name).map(|row| row.code);
    let code = code.or_else(|| tx.table.code(name));
    let expected = "a designation of the refrigerant table, unknown or mixture";
    let remedy = "Write for example R-410A.";
    Ok(code.ok_or_else(|| Refusal::invalid(pointer, expected, name, remedy))?)
}

/// Writes beside each line what the book has of it. What was shipped under a name that is not stated
/// gets a line without a text: it is stated to be none.
fn put_book(
    tx: &Tx<'_>,
    lines: &mut Vec<(u16, Stated<'static>)>,
    shipped: &Shipped,
) -> Result<(), ActionError> {
    for code in shipped.book.keys() {
        if !lines.iter().any(|(known, _)| known == code) {
            let name = tx.table.designation(*code).unwrap_or_default().to_string();
            let line = Stated {
                book_g: Mass::ZERO,
                g: Mass::ZERO,
                refrigerant: Cow::Owned(name),
                residue: None,
                typed: None,
            };
            lines.push((*code, line));
        }
    }
    for (code, line) in lines.iter_mut() {
        let steps = shipped.book.get(code).copied().unwrap_or(0);
        let mass = i64::try_from(steps).ok().filter(|steps| *steps >= 0);
        let mass = mass.ok_or_else(|| Refusal::InvalidValue {
            pointer: "/body/entries".to_string(),
            detail: "Expected shipments of which the book has a weight below 92 t and not below \
                     zero; earlier statements about them leave another. Take back the later one of \
                     those statements first."
                .to_string(),
        })?;
        line.book_g = Mass::from_steps(mass);
    }
    Ok(())
}

fn stated(lines: &[(u16, Stated<'static>)]) -> Vec<StatedWeight> {
    let steps = |mass: Mass| i128::from(mass.steps());
    let weight = |(code, line): &(u16, Stated<'static>)| StatedWeight {
        refrigerant: *code,
        mass: steps(line.g),
        residue: line.residue.as_ref().map_or(0, |residue| steps(residue.g)),
    };
    lines.iter().map(weight).collect()
}

/// The movements that bring the book to what is stated.
fn moved(
    tx: &mut Tx<'_>,
    receiver: PlaceNumber,
    lines: &[(u16, Stated<'static>)],
    shipped: &Shipped,
) -> Result<Vec<Moving>, ActionError> {
    let mut moves = Vec::new();
    for one in adjustments(&shipped.book, &stated(lines)) {
        let (src, dst) = match one.way {
            Way::RenamedFrom => (receiver, PlaceNumber::REDESIGNATION),
            Way::RenamedTo => (PlaceNumber::REDESIGNATION, receiver),
            Way::Found => (PlaceNumber::UNEXPLAINED, receiver),
            Way::Missing => (receiver, PlaceNumber::UNEXPLAINED),
            Way::Residue => (receiver, PlaceNumber::RESIDUE),
        };
        let steps = i64::try_from(one.mass).map_err(|_| {
            let remedy = "Check the unit; state them in several statements.";
            let expected = "a difference below 92 t";
            Refusal::invalid("/body/stated", expected, "more", remedy)
        })?;
        let (mass, code) = (Mass::from_steps(steps), one.refrigerant);
        let name = tx.table.designation(code).unwrap_or_default().to_string();
        let moved = Moved {
            from: tx.place(src)?,
            g: mass,
            number: None,
            readings: None,
            refrigerant: Cow::Owned(name),
            to: tx.place(dst)?,
            typed: None,
        };
        moves.push(Moving {
            src,
            dst,
            refrigerant: code,
            mass,
            resolution: None,
            moved,
        });
    }
    Ok(moves)
}
