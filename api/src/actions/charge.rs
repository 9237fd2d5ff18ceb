//! charge: refrigerant from a cylinder into an appliance.

use super::moves::{Asked, Shape, read_all};
use super::post::{Intention, uuid};
use super::recover::{said, word};
use super::refusal::{ActionError, Refusal};
use super::request::{read as read_members, split};
use super::service::YES_NO;
use crate::ledger::entry::Body;
use crate::store::columns::reason_named;
use crate::store::tx::Tx;
use serde::Deserialize;
use serde_json::Value;
use std::borrow::Cow;

/// Why refrigerant is charged.
pub const REASONS: &[&str] = &[
    "leak_top_up",
    "after_repair",
    "installation",
    "after_retrofit",
    "seasonal",
    "emergency",
    "immediate_danger",
];

/// What a charge carries beside its movement.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChargeMembers {
    #[serde(default)]
    reason: Option<String>,
    #[serde(default)]
    returned_to_full_charge: Option<bool>,
    #[serde(default)]
    leak: Option<String>,
    #[serde(default)]
    process_shutdown: Option<String>,
}

/// Reads a charge.
pub fn read(tx: &mut Tx<'_>, body: &Value, asked: Asked<'_>) -> Result<Intention, ActionError> {
    charged(
        tx,
        body,
        asked,
        &Shape {
            from: &["cylinder"],
            to: &["appliance"],
        },
    )
}

/// Reads a charge from any of the places of `shape`.
pub fn charged(
    tx: &mut Tx<'_>,
    body: &Value,
    asked: Asked<'_>,
    shape: &Shape,
) -> Result<Intention, ActionError> {
    let names = [
        "reason",
        "returned_to_full_charge",
        "leak",
        "process_shutdown",
    ];
    let (own, movements) = split(body, &names)?;
    let own: ChargeMembers = read_members(&own, "/body")?;
    let reason = reason(own.reason.as_deref(), REASONS)?;
    let shutdown = own.process_shutdown.as_deref();
    let shutdown = word(shutdown, YES_NO, "/body/process_shutdown")?;
    let moves = read_all(tx, &movements, shape, asked)?;
    let body = Body {
        leak: uuid(own.leak.as_deref(), "/body/leak")?,
        reason: reason.map(Cow::Borrowed),
        returned_to_full_charge: own.returned_to_full_charge,
        words: said("process_shutdown", shutdown),
        ..Body::default()
    };
    Ok(Intention::moving(body, moves))
}

/// A reason of a closed list.
pub fn reason(
    word: Option<&str>,
    allowed: &'static [&'static str],
) -> Result<Option<&'static str>, ActionError> {
    let Some(word) = word else { return Ok(None) };
    match allowed
        .iter()
        .find(|known| **known == word && reason_named(known).is_some())
    {
        Some(known) => Ok(Some(known)),
        None => {
            let expected = format!("one of {}", allowed.join(", "));
            Err(Refusal::invalid("/body/reason", &expected, word, "Choose one.").into())
        }
    }
}
