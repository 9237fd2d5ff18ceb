//! link: says of earlier entries that they belong together, or do not. The newest holds.

use super::correct::{about, entry, own};
use super::post::Intention;
use super::recover::word;
use super::refusal::{ActionError, Refusal};
use super::request::read as read_members;
use crate::ledger::actor::Actor;
use crate::ledger::entry::Body;
use crate::store::tx::Tx;
use serde::Deserialize;
use serde_json::Value;
use std::borrow::Cow;

/// What can be said of entries.
pub const RELATIONS: &[&str] = &[
    "same_visit",
    "not_the_same",
    "same_leak",
    "same_job",
    "two_jobs",
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Members {
    relation: String,
    entries: Vec<String>,
}

/// Reads a link.
pub fn read(tx: &mut Tx<'_>, actor: &Actor, body: &Value) -> Result<Intention, ActionError> {
    let members: Members = read_members(body, "/body")?;
    let relation = word(Some(&members.relation), RELATIONS, "/body/relation")?;
    if members.entries.len() < 2 {
        return Err(Refusal::Malformed {
            pointer: "/body/entries".to_string(),
            detail: "Expected at least two entries, got fewer. Name what belongs together."
                .to_string(),
        }
        .into());
    }
    let mut what = Intention::default();
    let mut entries = Vec::new();
    for (at, id) in members.entries.iter().enumerate() {
        let pointer = format!("/body/entries/{at}");
        let found = entry(tx, id, &pointer)?;
        if entries.contains(&found) {
            let remedy = "Name each entry once.";
            return Err(Refusal::invalid(&pointer, "another entry", id, remedy).into());
        }
        own(tx, actor, found.seq)?;
        what.about.extend(about(tx, found.seq)?);
        entries.push(found);
    }
    what.body = Body {
        entries: Some(entries),
        relation: relation.map(Cow::Borrowed),
        ..Body::default()
    };
    Ok(what)
}
