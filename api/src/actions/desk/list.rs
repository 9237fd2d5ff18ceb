//! Lists: an item that shares an appliance or a cylinder with an earlier refused one is held.
//!
//! So the order of work at each thing is kept: nobody's recovery is booked from a cylinder whose
//! filling was refused before it. Things are the same whether a request names them by tag or by id,
//! and an entry that an item corrects, links or settles counts with all it is about.

use crate::ledger::entry::Leaf;
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::columns::Sort;
use crate::store::tx::Tx;
use serde_json::Value;
use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

/// A place as it is compared, and as the request calls it.
pub type Named = (String, String);

/// The refused items of a list, with their places.
#[derive(Default)]
pub struct List(Mutex<BTreeMap<usize, Vec<Named>>>);

impl List {
    /// A place that an earlier refused item shares with these; as the request calls it.
    pub fn earlier(&self, at: usize, places: &[Named]) -> Option<String> {
        let refused = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let mut earlier = refused.range(..at).flat_map(|(_, places)| places);
        earlier.find_map(|(key, _)| {
            let shared = places.iter().find(|(own, _)| own == key);
            shared.map(|(_, name)| name.clone())
        })
    }

    /// This item is refused.
    pub fn mark(&self, at: usize, places: Vec<Named>) {
        self.0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .insert(at, places);
    }

    /// This item is booked after all.
    pub fn unmark(&self, at: usize) {
        self.0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .remove(&at);
    }
}

/// The appliances and cylinders an item is about, and the entries it names.
pub fn places_of(tx: &mut Tx<'_>, entry: &Value) -> Result<Vec<Named>, StoreError> {
    let mut found = Vec::new();
    let text = |name: &str| entry.get(name).and_then(Value::as_str);
    if let Some(id) = text("entry_id").and_then(Id::parse) {
        found.push((format!("entry:{id}"), format!("entry {id}")));
    }
    let body = entry.get("body").unwrap_or(&Value::Null);
    let mut texts = Vec::new();
    gather(body, 0, &mut texts);
    for text in texts {
        if let Some((word, name)) = text.split_once(':')
            && let Some(sort @ (Sort::Appliance | Sort::Cylinder)) = Sort::named(word)
        {
            found.push((key(tx, sort, name)?, text.to_string()));
        } else if let Some(id) = Id::parse(text) {
            found.push((format!("entry:{id}"), format!("entry {id}")));
            found.extend(about(tx, id)?);
        }
    }
    // Steps, counts and observations name their thing without its sort.
    for sort in [Sort::Appliance, Sort::Cylinder] {
        let bare = body.get(sort.word()).and_then(Value::as_str);
        if let Some(name) = bare.filter(|name| !name.contains(':')) {
            found.push((key(tx, sort, name)?, format!("{}:{name}", sort.word())));
        }
    }
    if let Some(sort @ (Sort::Appliance | Sort::Cylinder)) = text("kind").and_then(Sort::named) {
        let subject = body.get("subject").and_then(Value::as_str);
        let tag = body.pointer("/facts/tag").and_then(Value::as_str);
        for name in subject
            .into_iter()
            .chain(tag)
            .filter(|name| !name.contains(':'))
        {
            found.push((key(tx, sort, name)?, format!("{}:{name}", sort.word())));
        }
    }
    Ok(found)
}

/// Texts of a body, as deep as a request may be.
fn gather<'v>(value: &'v Value, depth: u32, texts: &mut Vec<&'v str>) {
    match value {
        Value::String(text) => texts.push(text),
        Value::Array(list) if depth < 32 => list.iter().for_each(|it| gather(it, depth + 1, texts)),
        Value::Object(members) if depth < 32 => {
            members.values().for_each(|it| gather(it, depth + 1, texts));
        }
        _ => {}
    }
}

/// A thing by its stored number; one that is not registered (yet) by its name.
fn key(tx: &mut Tx<'_>, sort: Sort, name: &str) -> Result<String, StoreError> {
    Ok(match tx.find(sort, name)? {
        Some(place) => format!("place:{}", place.0),
        None => format!("{}:{name}", sort.word()),
    })
}

/// What an entry of the book is about.
fn about(tx: &mut Tx<'_>, id: Id) -> Result<Vec<Named>, StoreError> {
    let Some(seq) = tx.known(id)? else {
        return Ok(Vec::new());
    };
    let Some((bytes, _)) = tx.leaf(seq)? else {
        return Ok(Vec::new());
    };
    let broken = |error| StoreError::Broken(format!("entry {seq} is unreadable: {error}"));
    let leaf = Leaf::parse(&bytes).map_err(broken)?;
    let mut found = Vec::new();
    for place in leaf.nth.iter().flat_map(BTreeMap::keys) {
        if let Some(number) = tx.place_number(*place)? {
            found.push((format!("place:{}", number.0), place.to_string()));
        }
    }
    Ok(found)
}
