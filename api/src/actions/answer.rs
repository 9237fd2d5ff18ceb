//! What is answered to a posting, the first time and for ever after.

use super::post::Posting;
use super::refusal::{ActionError, Refusal};
use super::standings::NewStanding;
use super::statement;
use crate::ledger::canonical::commitment;
use crate::ledger::entry::{Body, EntryKind, Leaf, Moved};
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::ledger::tree::Hash;
use crate::store::StoreError;
use crate::store::apply::Booked;
use crate::store::columns::PlaceNumber;
use crate::store::tx::Tx;
use serde_json::Value;
use std::collections::BTreeMap;

/// A finding an entry left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FindingLeft {
    /// Its code: a stop's word or a question's code.
    pub code: String,
    /// The place it is about.
    pub place: PlaceNumber,
    /// high, normal or low.
    pub grade: String,
}

/// What was booked.
#[derive(Clone, Debug, PartialEq)]
pub struct Posted {
    /// The entry's id.
    pub entry_id: Id,
    /// Its number.
    pub seq: u64,
    /// When it was booked, microseconds since 1970.
    pub booked_at: i64,
    /// Its leaf hash.
    pub leaf_hash: Hash,
    /// Counts of the appliances and cylinders it is about.
    pub nth: BTreeMap<Place, u64>,
    /// Findings it left.
    pub findings: Vec<FindingLeft>,
    /// Was this the answer to a repeat?
    pub replayed: bool,
    /// The standings of the appliances it is about, as they are now; none are told of an import.
    pub standings: Vec<NewStanding>,
}

impl Posted {
    /// The answer to a first booking.
    pub fn new(entry_id: Id, booked: Booked, findings: &[(String, PlaceNumber, &str)]) -> Posted {
        let left = |(code, place, grade): &(String, PlaceNumber, &str)| FindingLeft {
            code: code.clone(),
            place: *place,
            grade: (*grade).to_string(),
        };
        Posted {
            entry_id,
            seq: booked.seq,
            booked_at: booked.booked_at,
            leaf_hash: booked.hash,
            nth: booked.nth,
            findings: findings.iter().map(left).collect(),
            replayed: false,
            standings: Vec::new(),
        }
    }
}

/// Answers a repeat with the first booking, or refuses the id when the content is another; `by`: who
/// asks again.
pub fn replay(
    tx: &mut Tx<'_>,
    seq: u64,
    posting: &Posting,
    by: Option<Id>,
) -> Result<Posted, ActionError> {
    let (bytes, leaf_hash) = tx
        .leaf(seq)?
        .ok_or_else(|| StoreError::Broken(format!("entry {seq} has an id but no leaf")))?;
    let leaf = Leaf::parse(&bytes)
        .map_err(|error| StoreError::Broken(format!("entry {seq} is unreadable: {error}")))?;
    if let Some(member) = differs(tx, &leaf, posting, by)? {
        return Err(Refusal::IdReused { seq, member }.into());
    }
    let findings = tx.findings_of(seq)?;
    let left = |(code, place, grade, _)| FindingLeft { code, place, grade };
    Ok(Posted {
        entry_id: leaf.id,
        seq,
        booked_at: instant(&leaf.booked_at),
        leaf_hash,
        nth: leaf.nth.clone().unwrap_or_default(),
        findings: findings.into_iter().map(left).collect(),
        replayed: true,
        standings: Vec::new(),
    })
}

fn instant(text: &str) -> i64 {
    text.parse::<jiff::Timestamp>()
        .map_or(0, jiff::Timestamp::as_microsecond)
}

/// The member in which a repeat says something else than what was booked. What counts is what the
/// repeat states: the fact itself in full, and beside it visit, person, texts and every other member
/// that it names; what it leaves out is as it was the first time. Answers, how it was captured and how
/// a mass was typed do not count. Committed texts are compared by their commitments; erased ones count
/// as equal.
fn differs(
    tx: &mut Tx<'_>,
    leaf: &Leaf<'_>,
    posting: &Posting,
    by: Option<Id>,
) -> Result<Option<String>, StoreError> {
    let said = |member: &str| Ok(Some(member.to_string()));
    let (what, happened) = (&posting.what, &posting.happened);
    if leaf.kind != posting.kind.word() {
        return said("kind");
    }
    if leaf.happened.day != happened.day {
        return said("day");
    }
    let stated = |asked: Option<&str>, booked: Option<&str>| asked.is_some() && asked != booked;
    if stated(happened.time.as_deref(), leaf.happened.time.as_deref()) {
        return said("time");
    }
    if posting.visit.is_some() && posting.visit != leaf.visit {
        return said("visit");
    }
    if posting.did.is_some() && posting.did != leaf.did.or(leaf.by) {
        return said("did");
    }
    if posting.kind == EntryKind::Statement {
        // What the book had then is no part of what is stated.
        return match statement::same(&leaf.body, &what.body) {
            true => other_text(tx, leaf, &what.secrets, false),
            false => said("body"),
        };
    }
    let moves = posting.kind.moves();
    let mut booked = content(&leaf.body, leaf.by);
    let mut asked = content(&what.body, by);
    if moves {
        let moved = leaf.body.movements.iter().flatten();
        if !same_moves(moved, what.moves.iter().map(|moving| &moving.moved)) {
            return said("movements");
        }
        only_stated(&mut booked, &mut asked);
    }
    only_stated_instead(&mut booked, &asked);
    if booked != asked {
        return said("body");
    }
    other_text(tx, leaf, &what.secrets, moves)
}

/// Of what moves something only the members that are stated count, and of a count how the scale
/// stood: what was in the cylinder follows from a tare that may be another by now.
fn only_stated(booked: &mut Value, asked: &mut Value) {
    for body in [&mut *booked, &mut *asked] {
        if let Some(body) = body.as_object_mut() {
            body.remove("movements");
        }
        if let Some(words) = body.get_mut("words").and_then(Value::as_object_mut) {
            words.remove("net_g");
        }
    }
    keep_stated(booked, asked);
}

/// Of what a correction puts in the place of a movement only what it states counts, and when.
fn only_stated_instead(booked: &mut Value, asked: &Value) {
    let (Some(booked), Some(asked)) = (booked.get_mut("replace"), asked.get("replace")) else {
        return;
    };
    let moves = |new: &Value| new["body"].get("movements").is_some();
    if !moves(booked) || !moves(asked) {
        return;
    }
    keep_stated(booked, asked);
    for member in ["happened", "body"] {
        keep_stated(&mut booked[member], &asked[member]);
    }
}

fn keep_stated(booked: &mut Value, asked: &Value) {
    if let (Some(booked), Some(asked)) = (booked.as_object_mut(), asked.as_object()) {
        booked.retain(|member, _| asked.contains_key(member));
    }
}

/// A text that is another than the one that was committed to.
fn other_text(
    tx: &mut Tx<'_>,
    leaf: &Leaf<'_>,
    secrets: &[(String, String)],
    moves: bool,
) -> Result<Option<String>, StoreError> {
    let stored = tx.disclosures(leaf.seq)?;
    let free = |path: &str| matches!(path, "note" | "reason_text" | "movement_id");
    let commits = leaf.commit.clone().unwrap_or_default();
    for (path, value) in secrets {
        // Whether a scale was registered when it was read from says nothing of what moved.
        if path.ends_with(".readings.scale") {
            continue;
        }
        let Some(commit) = commits.get(path.as_str()) else {
            return Ok(Some(path.clone()));
        };
        let salt = stored.iter().find(|(field, ..)| field == path);
        let is_other = salt.is_some_and(|(_, salt, _)| {
            commitment(leaf.id, path, salt, value.as_bytes()) != *commit
        });
        if is_other {
            return Ok(Some(path.clone()));
        }
    }
    let left_out = commits
        .keys()
        .find(|path| !free(path) && !secrets.iter().any(|(stated, _)| stated == path.as_ref()));
    Ok(left_out.filter(|_| !moves).map(ToString::to_string))
}

/// What counts of a body. How a mass was typed does not; nor does what is reversed, which is worked
/// out from the book, nor how a time was resolved. `by`: who booked or books it.
fn content(body: &Body<'_>, by: Option<Id>) -> Value {
    let mut content = serde_json::to_value(body).unwrap_or_default();
    for member in ["import", "reverse"] {
        content
            .as_object_mut()
            .map(|members| members.remove(member));
    }
    if let Some(replace) = content.get_mut("replace").and_then(Value::as_object_mut) {
        if let Some(happened) = replace.get_mut("happened").and_then(Value::as_object_mut) {
            happened.retain(|member, _| ["day", "time"].contains(&member.as_str()));
        }
        // Absent where it is who books.
        if let Some(by) = by {
            replace
                .entry("did")
                .or_insert_with(|| Value::from(by.to_string()));
        }
    }
    without_typing(&mut content);
    content
}

fn without_typing(value: &mut Value) {
    match value {
        Value::Object(members) => {
            members.remove("typed");
            members.remove("readings");
            members.values_mut().for_each(without_typing);
        }
        Value::Array(list) => list.iter_mut().for_each(without_typing),
        _ => {}
    }
}

fn same_moves<'a>(
    booked: impl Iterator<Item = &'a Moved<'a>>,
    asked: impl Iterator<Item = &'a Moved<'static>>,
) -> bool {
    let key = |moved: &Moved<'_>| {
        (
            moved.from,
            moved.to,
            moved.refrigerant.to_string(),
            moved.g,
            moved.number,
        )
    };
    booked.map(key).eq(asked.map(key))
}
