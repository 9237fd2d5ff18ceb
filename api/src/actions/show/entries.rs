//! Entries as they are read back: the leaf's own words, with the texts that belong to its
//! commitments beside it, its hash, and the correction that took it back.

use super::{Page, Sees, reading, trust, unknown};
use crate::actions::refusal::ActionError;
use crate::ledger::entry::Leaf;
use crate::ledger::id::Id;
use crate::store::listing::{self, EntryRow};
use crate::store::open::Organisation;
use crate::store::{Db, StoreError};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Map, Value, json};

/// Members of a leaf that say how it is hashed and nothing about the fact.
const OF_THE_FRAME: [&str; 3] = ["v", "log", "commit"];

/// Texts of a `person` entry that colleagues may see.
const NAMES: [&str; 2] = ["facts.name.", "facts.tag."];

/// One entry as it is shown.
#[derive(Clone, Debug, PartialEq)]
pub struct EntryShown {
    /// Its number.
    pub seq: u64,
    /// Its leaf hash in base64; with [`EntryShown::corrected_by`] it names this form of it.
    pub leaf_hash: String,
    /// The correction that corrects it.
    pub corrected_by: Option<u64>,
    /// The JSON.
    pub value: Value,
}

/// At most `most` entries after no. `after`.
pub fn page(
    db: &mut Db,
    of: &Organisation,
    after: Option<u64>,
    most: usize,
    sees: Sees,
) -> Result<Page<EntryShown>, ActionError> {
    reading(db, of, |db| {
        let rows = listing::entries_after(db, of.org, after, most + 1)?;
        let page = Page::of(rows, most, |row| row.seq.to_string());
        let mut shown = Vec::with_capacity(page.items.len());
        for row in page.items {
            shown.extend(show(row, sees)?);
        }
        Ok(Page {
            items: shown,
            next: page.next,
        })
    })
}

/// The entry with this id or number, with its leaf bytes.
pub fn one(
    db: &mut Db,
    of: &Organisation,
    name: &str,
    sees: Sees,
) -> Result<EntryShown, ActionError> {
    reading(db, of, |db| {
        let seq = number_of(db, of, name)?.ok_or_else(|| unknown("entry", name))?;
        let row = listing::entry(db, of.org, seq)?.ok_or_else(|| unknown("entry", name))?;
        let leaf = STANDARD.encode(&row.leaf);
        let uncertain = match Leaf::parse(&row.leaf) {
            Ok(leaf) => trust::of_movements(db, of, &leaf)?,
            Err(_) => Vec::new(),
        };
        let mut shown = show(row, sees)?.ok_or_else(|| unknown("entry", name))?;
        shown.value["leaf"] = leaf.into();
        if uncertain.iter().any(Option::is_some) {
            shown.value["uncertainty_g"] = json!(uncertain);
        }
        Ok(shown)
    })
}

/// All entries of a visit.
pub fn of_visit(
    db: &mut Db,
    of: &Organisation,
    name: &str,
    sees: Sees,
) -> Result<Vec<EntryShown>, ActionError> {
    /// A visit is one person's job of a day; far more entries than any has.
    const MOST: usize = 2_000;
    let visit = Id::parse(name).ok_or_else(|| unknown("visit", name))?;
    reading(db, of, |db| {
        let mut shown = Vec::new();
        for seq in listing::entries_of_visit(db, of.org, visit, MOST)? {
            if let Some(row) = listing::entry(db, of.org, seq)? {
                shown.extend(show(row, sees)?);
            }
        }
        if shown.is_empty() {
            return Err(unknown("visit", name));
        }
        Ok(shown)
    })
}

/// The number of an entry that a path names by its id or its number.
pub fn number_of(db: &mut Db, of: &Organisation, name: &str) -> Result<Option<u64>, StoreError> {
    match Id::parse(name) {
        Some(id) => listing::seq_of(db, of.org, id),
        None => {
            let plain = name.parse::<u64>().ok().filter(|n| n.to_string() == name);
            Ok(plain.filter(|n| i64::try_from(*n).is_ok()))
        }
    }
}

/// The entry as somebody may see it; `None`: not at all.
fn show(row: EntryRow, sees: Sees) -> Result<Option<EntryShown>, StoreError> {
    let damaged = || StoreError::Broken(format!("entry no. {} is unreadable", row.seq));
    let mut leaf: Map<String, Value> = serde_json::from_slice(&row.leaf).map_err(|_| damaged())?;
    if let Sees::Own(own) = sees {
        let id = |name: &str| leaf.get(name).and_then(Value::as_str).and_then(Id::parse);
        if !own.booked(id("by"), id("device")) {
            return Ok(None);
        }
    }
    leaf.retain(|name, _| !OF_THE_FRAME.contains(&name.as_str()));
    let id = leaf.remove("id").ok_or_else(damaged)?;
    let about_a_person = leaf.get("kind").is_some_and(|kind| kind == "person");
    let may_see = |field: &String| {
        sees == Sees::Everything
            || !about_a_person
            || NAMES.iter().any(|name| field.starts_with(name))
    };
    let texts: Map<String, Value> = (row.texts.into_iter())
        .filter(|(field, _)| may_see(field))
        .map(|(field, text)| (field, text.into()))
        .collect();
    let leaf_hash = STANDARD.encode(row.hash);
    leaf.insert("proof".to_string(), proof_path(&id).into());
    leaf.insert("entry_id".to_string(), id);
    leaf.insert("leaf_hash".to_string(), leaf_hash.clone().into());
    leaf.insert("corrected_by".to_string(), json!(row.corrected_by));
    leaf.insert("texts".to_string(), Value::Object(texts));
    Ok(Some(EntryShown {
        seq: row.seq,
        leaf_hash,
        corrected_by: row.corrected_by,
        value: Value::Object(leaf),
    }))
}

fn proof_path(id: &Value) -> String {
    format!("/api/v1/entries/{}/proof", id.as_str().unwrap_or_default())
}
