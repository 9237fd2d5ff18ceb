//! What a device's token may post: only movements, only of its places and refrigerants.
//!
//! Looked at before the posting itself is read, so that a device learns nothing of what is not its
//! own: a place it may not name is answered like one that does not exist.

use super::refusal::{ActionError, Refusal};
use crate::ledger::entry::EntryKind;
use crate::ledger::id::Id;
use crate::store::columns::Sort;
use crate::store::tx::Tx;
use serde_json::Value;

/// The bounds of a device.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bounds {
    /// May it post movements?
    pub movements: bool,
    /// Appliances, cylinders and others it may name; empty: any.
    pub places: Vec<Id>,
    /// Refrigerants it may name, as the table designates them; empty: any.
    pub refrigerants: Vec<String>,
}

/// Refuses a request that leaves the bounds.
pub fn within(tx: &mut Tx<'_>, bounds: &Bounds, request: &Value) -> Result<(), ActionError> {
    let kind = request["kind"].as_str().and_then(EntryKind::named);
    // What a scale makes of a whole cylinder is for a person to say.
    let posts = |kind: EntryKind| kind.moves() && kind != EntryKind::Count && bounds.movements;
    if kind.is_some_and(|kind| !posts(kind)) {
        let detail = "This device's token does not post entries of this kind. Ask a compliance \
                      manager for one with another scope.";
        let detail = detail.to_string();
        return Err(Refusal::Forbidden { detail }.into());
    }
    let body = &request["body"];
    let movements = body["movements"].as_array();
    members(tx, bounds, body, "/body", movements.is_none())?;
    for (at, moved) in movements.into_iter().flatten().enumerate() {
        members(tx, bounds, moved, &format!("/body/movements/{at}"), true)?;
    }
    Ok(())
}

/// Looks at every member that names a place or a refrigerant.
fn members(
    tx: &mut Tx<'_>,
    bounds: &Bounds,
    of: &Value,
    pointer: &str,
    moves: bool,
) -> Result<(), ActionError> {
    for end in ["from", "to", "place"] {
        if let Some(place) = of[end].as_str() {
            place_within(tx, bounds, place, &format!("{pointer}/{end}"))?;
        }
    }
    // Some kinds name their thing without its sort.
    for sort in [Sort::Appliance, Sort::Cylinder] {
        if let Some(name) = of[sort.word()].as_str() {
            let place = format!("{}:{name}", sort.word());
            place_within(tx, bounds, &place, &format!("{pointer}/{}", sort.word()))?;
        }
    }
    if bounds.refrigerants.is_empty() {
        return Ok(());
    }
    if moves && of["refrigerant"].as_str().is_none() {
        // What is not named is worked out from the places, which may hold anything.
        let detail = "Expected a refrigerant: this device's token is bound to some. Name it.";
        let (pointer, detail) = (pointer.to_string(), detail.to_string());
        return Err(Refusal::Malformed { pointer, detail }.into());
    }
    for name in ["refrigerant", "becomes"] {
        if let Some(text) = of[name].as_str() {
            refrigerant_within(tx, bounds, text, &format!("{pointer}/{name}"))?;
        }
    }
    for part in of["parts"].as_array().into_iter().flatten() {
        let text = part.as_str().unwrap_or_default();
        refrigerant_within(tx, bounds, text, &format!("{pointer}/parts"))?;
    }
    Ok(())
}

fn refrigerant_within(
    tx: &Tx<'_>,
    bounds: &Bounds,
    text: &str,
    pointer: &str,
) -> Result<(), ActionError> {
    let understood = tx.table.understood(text).map(|row| row.code);
    let code = understood.or_else(|| tx.table.code(text));
    let named = code.and_then(|code| tx.table.designation(code));
    if named.is_some_and(|named| bounds.refrigerants.iter().any(|it| it == named)) {
        return Ok(());
    }
    let expected = format!("one of {}", bounds.refrigerants.join(", "));
    let remedy = "This device's token moves no other refrigerant.";
    Err(Refusal::invalid(pointer, &expected, text, remedy).into())
}

fn place_within(
    tx: &mut Tx<'_>,
    bounds: &Bounds,
    place: &str,
    pointer: &str,
) -> Result<(), ActionError> {
    // Places of the world (atmosphere and the like) have no id and are nobody's.
    let Some((word, name)) = place.split_once(':') else {
        return Ok(());
    };
    if bounds.places.is_empty() {
        return Ok(());
    }
    let found = match Sort::named(word) {
        Some(sort) => tx.find(sort, name)?,
        None => None,
    };
    let id = match found {
        Some(number) => tx.subject(number)?.id,
        None => None,
    };
    if id.is_some_and(|id| bounds.places.contains(&id)) {
        return Ok(());
    }
    Err(Refusal::Unknown {
        pointer: pointer.to_string(),
        what: word.to_string(),
        name: name.to_string(),
    }
    .into())
}
