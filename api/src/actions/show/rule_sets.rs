//! Rule sets: those that come with the program, and those an organisation has adopted.

use super::{reading, unknown};
use crate::actions::refusal::ActionError;
use crate::store::open::{Organisation, size};
use crate::store::tx::read_adopted;
use crate::store::{Db, StoreError, scan};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// A rule set with its adoptions.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RuleSetShown {
    /// Its id.
    pub id: String,
    /// Its title, where it comes with the program.
    pub title: Option<String>,
    /// Does it come with the program?
    pub shipped: bool,
    /// Adoptions, oldest entry first.
    pub adopted: Vec<AdoptionShown>,
}

/// One adoption.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AdoptionShown {
    /// The entry that adopted it.
    pub entry: u64,
    /// In force from this day.
    pub from: String,
    /// SHA-256 of its canonical JSON in base64; none: from then on it is no longer in force.
    pub sha256: Option<String>,
}

/// All rule sets, by id.
pub fn all(db: &mut Db, of: &Organisation) -> Result<Vec<RuleSetShown>, ActionError> {
    let mut sets = BTreeMap::new();
    for set in reports::rules::shipped() {
        let shown = RuleSetShown {
            id: set.id.clone(),
            title: Some(set.title.clone()),
            shipped: true,
            adopted: Vec::new(),
        };
        sets.insert(set.id, shown);
    }
    reading(db, of, |db| {
        let cut = size(db, of.org)?.saturating_sub(1);
        for adopted in read_adopted(db, of.org, cut)?.rule_sets {
            let set = sets
                .entry(adopted.id.clone())
                .or_insert_with(|| RuleSetShown {
                    id: adopted.id,
                    title: None,
                    shipped: false,
                    adopted: Vec::new(),
                });
            set.adopted.push(AdoptionShown {
                entry: adopted.seq,
                from: adopted.since.to_string(),
                sha256: Some(adopted.sha256).filter(|hash| !hash.is_empty()),
            });
        }
        Ok(())
    })?;
    Ok(sets.into_values().collect())
}

/// The text of a rule set as JSON: as it was adopted last, else as it comes with the program.
pub fn one(db: &mut Db, of: &Organisation, id: &str) -> Result<Value, ActionError> {
    let adopted = reading(db, of, |db| {
        let cut = size(db, of.org)?.saturating_sub(1);
        let adopted = read_adopted(db, of.org, cut)?.rule_sets;
        let newest = adopted
            .iter()
            .rfind(|set| set.id == id && !set.sha256.is_empty());
        let Some(newest) = newest else {
            return Ok(None);
        };
        let broken = || {
            StoreError::Broken(format!(
                "the rule set of entry no. {} is damaged",
                newest.seq
            ))
        };
        let hash = STANDARD.decode(&newest.sha256).map_err(|_| broken())?;
        let bytes = scan::attachment(db, of.org, &hash)?.ok_or_else(broken)?;
        Ok(Some(serde_json::from_slice(&bytes).map_err(|_| broken())?))
    })?;
    let shipped = || {
        reports::rules::shipped()
            .into_iter()
            .find(|set| set.id == id)
    };
    adopted
        .or_else(|| shipped().map(|set| set.to_json()))
        .ok_or_else(|| unknown("rule set", id))
}
