//! outside_charge: somebody else's top-up, known from a paper. It counts in the leak rate, not in
//! our stock.

use super::charge::charged;
use super::moves::{Asked, Shape};
use super::post::Intention;
use super::refusal::ActionError;
use crate::store::tx::Tx;
use serde_json::Value;

/// Reads an outside charge.
pub fn read(tx: &mut Tx<'_>, body: &Value, asked: Asked<'_>) -> Result<Intention, ActionError> {
    charged(
        tx,
        body,
        asked,
        &Shape {
            from: &["outside"],
            to: &["appliance"],
        },
    )
}
