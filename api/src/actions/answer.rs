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

/// Answers a repeat with the first booking, or refuses the id when the content is another.
pub fn replay(tx: &mut Tx<'_>, seq: u64, posting: &Posting) -> Result<Posted, ActionError> {
    let (bytes, leaf_hash) = tx
        .leaf(seq)?
        .ok_or_else(|| StoreError::Broken(format!("entry {seq} has an id but no leaf")))?;
    let leaf = Leaf::parse(&bytes)
        .map_err(|error| StoreError::Broken(format!("entry {seq} is unreadable: {error}")))?;
    if !same_content(tx, &leaf, posting)? {
        return Err(Refusal::IdReused { seq }.into());
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

/// Same kind, places, refrigerant, exact mass, day and chain; answers, notes and how it was
/// captured do not count. Committed members are compared by their commitments; erased ones count
/// as equal.
fn same_content(tx: &mut Tx<'_>, leaf: &Leaf<'_>, posting: &Posting) -> Result<bool, StoreError> {
    if leaf.kind != posting.kind.word() || leaf.happened.day != posting.happened.day {
        return Ok(false);
    }
    let what = &posting.what;
    if posting.kind == EntryKind::Statement {
        if !statement::same(&leaf.body, &what.body) {
            return Ok(false);
        }
    } else if posting.kind.moves() {
        let booked = leaf.body.movements.iter().flatten();
        let asked = what.moves.iter().map(|moving| &moving.moved);
        return Ok(same_moves(booked, asked));
    }
    if posting.kind != EntryKind::Statement && content(&leaf.body) != content(&what.body) {
        return Ok(false);
    }
    let stored = tx.disclosures(leaf.seq)?;
    let counts = |path: &str| path != "note" && path != "reason_text";
    let commits = leaf.commit.clone().unwrap_or_default();
    let booked = commits.iter().filter(|(path, _)| counts(path)).count();
    let asked = what.secrets.iter().filter(|(path, _)| counts(path));
    let mut same = 0;
    for (path, value) in asked {
        let Some(commit) = commits.get(path.as_str()) else {
            return Ok(false);
        };
        let salt = stored
            .iter()
            .find(|(field, ..)| field == path)
            .map(|(_, salt, _)| salt);
        let equal =
            salt.is_none_or(|salt| commitment(leaf.id, path, salt, value.as_bytes()) == *commit);
        if !equal {
            return Ok(false);
        }
        same += 1;
    }
    Ok(same == booked)
}

/// What counts of a body that moves nothing itself. How a mass was typed does not; nor does what
/// is reversed, which is worked out from the book, nor how a time was resolved, but for its day.
fn content(body: &Body<'_>) -> Value {
    let mut content = serde_json::to_value(body).unwrap_or_default();
    for member in ["import", "reverse"] {
        content
            .as_object_mut()
            .map(|members| members.remove(member));
    }
    if let Some(replace) = content.get_mut("replace").and_then(Value::as_object_mut) {
        let day = replace
            .get("happened")
            .and_then(|it| it.get("day"))
            .cloned();
        replace.insert("happened".to_string(), day.unwrap_or_default());
        for free in ["did", "visit"] {
            replace.remove(free);
        }
        let moves = replace
            .get("body")
            .is_some_and(|body| body.get("movements").is_some());
        if let Some(body) = replace.get_mut("body").and_then(Value::as_object_mut) {
            body.retain(|member, _| !moves || member == "movements");
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
