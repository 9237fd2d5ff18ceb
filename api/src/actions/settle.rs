//! settle: closes a finding with a chosen reason.

use super::correct::{about, entry, own};
use super::post::Intention;
use super::recover::word;
use super::refusal::{ActionError, Refusal};
use super::request::read as read_members;
use crate::ledger::actor::{Actor, Role};
use crate::ledger::entry::Body;
use crate::store::tx::Tx;
use serde::Deserialize;
use serde_json::Value;
use std::borrow::Cow;

/// How a finding is closed.
pub const REASONS: &[&str] = &[
    "checked",
    "counted",
    "corrected",
    "analysed",
    "accepted",
    "other",
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Members {
    code: String,
    entries: Vec<String>,
    reason: String,
}

/// Reads the settling of a finding; `known`: a repeat, whose finding is settled by now.
pub fn read(
    tx: &mut Tx<'_>,
    actor: &Actor,
    body: &Value,
    known: bool,
) -> Result<Intention, ActionError> {
    let members: Members = read_members(body, "/body")?;
    let reason = word(Some(&members.reason), REASONS, "/body/reason")?;
    let mut what = Intention::default();
    let mut entries = Vec::new();
    for (at, id) in members.entries.iter().enumerate() {
        let pointer = format!("/body/entries/{at}");
        let found = entry(tx, id, &pointer)?;
        let findings = tx.findings_of(found.seq)?;
        let open = |finding: &(String, _, _, Option<u64>)| {
            finding.0 == members.code && (finding.3.is_none() || known)
        };
        if !findings.iter().any(open) {
            let there: Vec<&str> = findings.iter().map(|finding| finding.0.as_str()).collect();
            let detail = format!(
                "Expected an open finding {} of entry no. {}, found {}. Name one that is open.",
                super::refusal::shown(&members.code),
                found.seq,
                if there.is_empty() {
                    "none".to_string()
                } else {
                    there.join(", ")
                }
            );
            return Err(Refusal::InvalidValue { pointer, detail }.into());
        }
        own(tx, actor, found.seq)?;
        let grave = |it: &(String, _, String, _)| it.0 == members.code && it.2 == "high";
        if actor.role != Role::ComplianceManager && findings.iter().any(grave) {
            let detail = format!(
                "The finding {} of entry no. {} is of the highest grade; a compliance manager \
                 settles it.",
                members.code, found.seq
            );
            return Err(Refusal::Forbidden { detail }.into());
        }
        if actor.role == Role::Technician && members.code == "registered_on_site" {
            let detail = "What was registered on site is completed by a compliance manager.";
            let detail = detail.to_string();
            return Err(Refusal::Forbidden { detail }.into());
        }
        what.about.extend(about(tx, found.seq)?);
        what.settles.push((found.seq, members.code.clone()));
        entries.push(found);
    }
    if entries.is_empty() {
        let detail = "Expected at least one entry, got none. Name the entry that left the finding.";
        let pointer = "/body/entries".to_string();
        return Err(Refusal::Malformed {
            pointer,
            detail: detail.to_string(),
        }
        .into());
    }
    what.body = Body {
        code: Some(Cow::Owned(members.code)),
        entries: Some(entries),
        reason: reason.map(Cow::Borrowed),
        ..Body::default()
    };
    Ok(what)
}
