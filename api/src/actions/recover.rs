//! recover: refrigerant from an appliance (or from small ones emptied in bulk) into a cylinder.

use super::charge::reason;
use super::moves::{Asked, Shape, read_all};
use super::post::Intention;
use super::refusal::{ActionError, Refusal};
use super::request::{read as read_members, split};
use crate::ledger::entry::{Body, Measured, Words};
use crate::store::tx::Tx;
use reports::number::Decimal;
use serde::Deserialize;
use serde_json::Value;
use std::borrow::Cow;

/// Why refrigerant is recovered.
pub const REASONS: &[&str] = &["repair", "seasonal", "retrofit", "disposal"];
/// Condition of what was recovered; it travels with the content.
pub const CLASSES: &[&str] = &["clean", "suspect", "burn_out", "mixed", "unknown"];
/// What was recovered: all that was in it. Rule sets name it (`event = "recover", what = "all"`).
pub const WHATS: &[&str] = &["all"];
/// Units an evacuation level is read in (UCUM).
const LEVELS: &[&str] = &["[in_i'Hg]", "[psi]", "kPa", "um[Hg]", "mm[Hg]"];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Members {
    #[serde(default)]
    reason: Option<String>,
    #[serde(default)]
    class: Option<String>,
    #[serde(default)]
    evacuation: Option<Level>,
    #[serde(default)]
    what: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Level {
    value: String,
    unit: String,
    #[serde(default)]
    reference: Option<String>,
}

/// Reads a recovery.
pub fn read(tx: &mut Tx<'_>, body: &Value, asked: Asked<'_>) -> Result<Intention, ActionError> {
    let (own, movements) = split(body, &["reason", "class", "evacuation", "what"])?;
    let own: Members = read_members(&own, "/body")?;
    let reason = reason(own.reason.as_deref(), REASONS)?;
    let class = word(own.class.as_deref(), CLASSES, "/body/class")?;
    let what = word(own.what.as_deref(), WHATS, "/body/what")?;
    let evacuation = own.evacuation.map(level).transpose()?;
    let shape = Shape {
        from: &["appliance", "unregistered"],
        to: &["cylinder"],
    };
    let moves = read_all(tx, &movements, &shape, asked)?;
    let body = Body {
        class: class.map(Cow::Borrowed),
        evacuation,
        reason: reason.map(Cow::Borrowed),
        words: said("what", what),
        ..Body::default()
    };
    Ok(Intention::moving(body, moves))
}

/// A word that a movement says for the rule sets, as a leaf has it.
pub fn said(name: &'static str, word: Option<&'static str>) -> Option<Words<'static>> {
    let word = word?;
    Some([(Cow::Borrowed(name), Cow::Borrowed(word))].into())
}

/// A word of a closed list, where one was given.
pub fn word(
    word: Option<&str>,
    allowed: &'static [&'static str],
    pointer: &str,
) -> Result<Option<&'static str>, ActionError> {
    let Some(word) = word else { return Ok(None) };
    let known = allowed.iter().find(|known| **known == word).copied();
    let expected = || format!("one of {}", allowed.join(", "));
    Ok(Some(known.ok_or_else(|| {
        Refusal::invalid(pointer, &expected(), word, "Choose one.")
    })?))
}

fn level(level: Level) -> Result<Measured<'static>, ActionError> {
    let pointer = "/body/evacuation";
    if Decimal::parse(&level.value).is_none() {
        let expected = "a decimal as text";
        return Err(
            Refusal::invalid(pointer, expected, &level.value, "Write for example 10.").into(),
        );
    }
    let unit = word(Some(&level.unit), LEVELS, &format!("{pointer}/unit"))?;
    let reference = word(
        level.reference.as_deref(),
        &["gauge", "absolute"],
        &format!("{pointer}/reference"),
    )?;
    Ok(Measured {
        reference: reference.map(Cow::Borrowed),
        unit: Cow::Borrowed(unit.unwrap_or_default()),
        value: Cow::Owned(level.value),
    })
}
