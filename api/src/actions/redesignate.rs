//! redesignate: what is in a place is, or has become, something else.
//!
//! The same mass leaves as one designation and returns as another, so that every refrigerant's
//! account still closes. A mixture names its known parts.

use super::moves::{Asked, Shape, read_all};
use super::post::Intention;
use super::recover::{CLASSES, word};
use super::refusal::{ActionError, Refusal};
use super::request::{read as read_members, split};
use crate::ledger::entry::{Body, Moved};
use crate::ledger::place::Place;
use crate::store::columns::PlaceNumber;
use crate::store::tx::Tx;
use serde::Deserialize;
use serde_json::Value;
use std::borrow::Cow;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Members {
    #[serde(default)]
    place: Option<String>,
    #[serde(default)]
    becomes: Option<String>,
    #[serde(default)]
    parts: Vec<String>,
    #[serde(default)]
    class: Option<String>,
}

/// Reads a redesignation: `place`, `refrigerant` and `mass` as the book has it, and `becomes`.
pub fn read(tx: &mut Tx<'_>, body: &Value, asked: Asked<'_>) -> Result<Intention, ActionError> {
    let (own, movements) = split(body, &["place", "becomes", "parts", "class"])?;
    let own: Members = read_members(&own, "/body")?;
    let class = word(own.class.as_deref(), CLASSES, "/body/class")?;
    let becomes = own.becomes.unwrap_or_default();
    let code = tx.table.understood(&becomes).map(|row| row.code);
    let code = code.or_else(|| tx.table.code(&becomes)).ok_or_else(|| {
        Refusal::invalid(
            "/body/becomes",
            "a designation, unknown or mixture",
            &becomes,
            "Name it.",
        )
    })?;
    let becomes = tx.table.designation(code).unwrap_or_default().to_string();
    let parts = parts(tx, own.parts)?;
    let mut movements = movements;
    if let (Some(place), Some(Value::Object(first))) = (own.place, movements.first_mut()) {
        first.insert("from".to_string(), Value::String(place));
    }
    let shape = Shape {
        from: &["appliance", "cylinder"],
        to: &["redesignation"],
    };
    let mut moves = read_all(tx, &movements, &shape, asked)?;
    for out in &moves.list {
        // Nothing goes over a scale, and two readings would mean two directions at once.
        if out.moved.readings.is_some() {
            return Err(Refusal::Malformed {
                pointer: "/body/readings".to_string(),
                detail: "Expected the mass that changes its name, got two readings. Give mass."
                    .to_string(),
            }
            .into());
        }
        if out.refrigerant == code {
            let expected = "another designation than it has";
            let remedy = "Name what it has become.";
            return Err(Refusal::invalid("/body/becomes", expected, &becomes, remedy).into());
        }
    }
    let back: Vec<_> = (moves.list.iter())
        .map(|out| {
            let mut back = out.clone();
            (back.src, back.dst) = (PlaceNumber::REDESIGNATION, out.src);
            back.refrigerant = code;
            back.moved = Moved {
                from: Place::Redesignation,
                to: out.moved.from,
                refrigerant: Cow::Owned(becomes.clone()),
                ..out.moved.clone()
            };
            back
        })
        .collect();
    moves.list.extend(back);
    let body = Body {
        class: class.map(Cow::Borrowed),
        parts,
        ..Body::default()
    };
    Ok(Intention::moving(body, moves))
}

fn parts(tx: &Tx<'_>, parts: Vec<String>) -> Result<Option<Vec<Cow<'static, str>>>, ActionError> {
    let mut named = Vec::with_capacity(parts.len());
    for part in &parts {
        let code = tx.table.understood(part).map(|row| row.code);
        let known = code.or_else(|| tx.table.code(part));
        let Some(name) = known.and_then(|code| tx.table.designation(code)) else {
            let remedy = "Name the parts as the table spells them.";
            return Err(Refusal::invalid("/body/parts", "designations", part, remedy).into());
        };
        named.push(Cow::Owned(name.to_string()));
    }
    Ok((!named.is_empty()).then_some(named))
}
