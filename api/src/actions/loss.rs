//! loss: refrigerant that somebody states was lost to the atmosphere.

use super::moves::{Asked, Shape, read_all};
use super::post::Intention;
use super::recover::word;
use super::refusal::ActionError;
use super::request::{read as read_members, split};
use crate::ledger::entry::Body;
use crate::store::tx::Tx;
use serde::Deserialize;
use serde_json::Value;
use std::borrow::Cow;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Members {
    #[serde(default)]
    basis: Option<String>,
}

/// Reads a stated loss.
pub fn read(tx: &mut Tx<'_>, body: &Value, asked: Asked<'_>) -> Result<Intention, ActionError> {
    let (own, movements) = split(body, &["basis"])?;
    let own: Members = read_members(&own, "/body")?;
    let basis = word(
        own.basis.as_deref(),
        &["weighed", "estimated", "stated"],
        "/body/basis",
    )?;
    let shape = Shape {
        from: &["appliance", "cylinder"],
        to: &["atmosphere"],
    };
    let moves = read_all(tx, &movements, &shape, asked)?;
    Ok(Intention::moving(
        Body {
            basis: basis.map(Cow::Borrowed),
            ..Body::default()
        },
        moves,
    ))
}
