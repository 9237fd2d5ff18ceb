//! purchase: refrigerant from a supplier, in a cylinder.

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
    state: Option<String>,
    #[serde(default)]
    invoice: Option<String>,
}

/// Reads a purchase.
pub fn read(tx: &mut Tx<'_>, body: &Value, asked: Asked<'_>) -> Result<Intention, ActionError> {
    let (own, movements) = split(body, &["state", "invoice"])?;
    let own: Members = read_members(&own, "/body")?;
    let state = word(own.state.as_deref(), &["new", "reclaimed"], "/body/state")?;
    let shape = Shape {
        from: &["counterparty"],
        to: &["cylinder"],
    };
    let moves = read_all(tx, &movements, &shape, asked)?;
    let mut what = Intention::moving(
        Body {
            state: state.map(Cow::Borrowed),
            ..Body::default()
        },
        moves,
    );
    what.secrets
        .extend(own.invoice.map(|invoice| ("invoice".to_string(), invoice)));
    Ok(what)
}
