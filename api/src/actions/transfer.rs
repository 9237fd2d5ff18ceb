//! transfer: refrigerant from one cylinder into another.

use super::moves::{Asked, Shape, read_all};
use super::post::Intention;
use super::refusal::ActionError;
use super::request::split;
use crate::ledger::entry::Body;
use crate::store::tx::Tx;
use serde_json::Value;

/// Reads a transfer.
pub fn read(tx: &mut Tx<'_>, body: &Value, asked: Asked<'_>) -> Result<Intention, ActionError> {
    let (_, movements) = split(body, &[])?;
    let shape = Shape {
        from: &["cylinder"],
        to: &["cylinder"],
    };
    Ok(Intention::moving(
        Body::default(),
        read_all(tx, &movements, &shape, asked)?,
    ))
}
