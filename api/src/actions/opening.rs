//! opening: what an appliance or cylinder held when it entered the book.

use super::moves::{Asked, Shape, read_all};
use super::post::Intention;
use super::refusal::{ActionError, Refusal};
use super::request::{read as read_members, split};
use crate::ledger::canonical::LARGEST_NUMBER;
use crate::ledger::entry::{Body, Source};
use crate::store::tx::Tx;
use serde::Deserialize;
use serde_json::Value;
use std::borrow::Cow;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Members {
    #[serde(default)]
    source: Option<SourceMembers>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SourceMembers {
    origin: String,
    seq: u64,
    leaf_hash: String,
}

/// Reads an opening.
pub fn read(tx: &mut Tx<'_>, body: &Value, asked: Asked<'_>) -> Result<Intention, ActionError> {
    let (own, movements) = split(body, &["source"])?;
    let own: Members = read_members(&own, "/body")?;
    let source = own.source.map(source).transpose()?;
    let shape = Shape {
        from: &["opening"],
        to: &["appliance", "cylinder"],
    };
    let moves = read_all(tx, &movements, &shape, asked)?;
    Ok(Intention::moving(
        Body {
            source,
            ..Body::default()
        },
        moves,
    ))
}

/// A pointer into another book: its origin, number and leaf hash there.
fn source(given: SourceMembers) -> Result<Source<'static>, ActionError> {
    use base64::Engine;
    let origin = given
        .origin
        .strip_prefix("tarebook/")
        .and_then(crate::ledger::id::Id::parse_strict);
    let hash = base64::engine::general_purpose::STANDARD.decode(&given.leaf_hash);
    if origin.is_none() || !hash.is_ok_and(|hash| hash.len() == 32) {
        let expected = "origin tarebook/UUID and a leaf hash of 32 bytes in base64";
        return Err(Refusal::invalid(
            "/body/source",
            expected,
            &given.origin,
            "Copy both from there.",
        )
        .into());
    }
    if given.seq > LARGEST_NUMBER {
        let came = given.seq.to_string();
        let expected = "a number of an entry, at most 2^53 - 1";
        return Err(Refusal::invalid("/body/source/seq", expected, &came, "Copy it.").into());
    }
    Ok(Source {
        leaf_hash: Cow::Owned(given.leaf_hash),
        origin: Cow::Owned(given.origin),
        seq: given.seq,
    })
}
