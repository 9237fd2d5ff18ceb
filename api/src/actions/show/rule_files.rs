//! Rule files as they are read by people: every set and layer of a book and of the program, with its
//! numbers, whether it judges today, and who adopted it and why.

use super::{Sees, lines, reading};
use crate::actions::preview_rules::today;
use crate::actions::refusal::ActionError;
use crate::actions::rules_in_force::file_of;
use crate::ledger::tree::Hash;
use crate::store::Db;
use crate::store::book::AdoptedSet;
use crate::store::open::{Organisation, size};
use crate::store::scan::attachment;
use crate::store::tx::read_adopted;
use reports::day::Day;
use reports::rules::{RuleFile, shipped_texts};
use std::collections::BTreeMap;

/// A set or a layer: as adopted last, else as it comes with the program.
#[derive(Clone, Debug)]
pub struct FileShown {
    /// Its id.
    pub id: String,
    /// What it says.
    pub file: RuleFile,
    /// The text of the program, where this is the set that comes with it, unchanged.
    pub own_text: Option<&'static str>,
    /// Whether it judges.
    pub status: Status,
    /// Its adoptions and ends, by first day.
    pub adoptions: Vec<Adoption>,
}

/// Whether a set or layer judges on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// Since this day.
    InForce(Day),
    /// From a day that is still to come.
    ToCome(Day),
    /// Since this day no more.
    Ended(Day),
    /// Nobody adopted it.
    Offered,
}

/// An adoption, or an end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Adoption {
    /// The entry.
    pub entry: u64,
    /// Its first day.
    pub since: Day,
    /// It ends there.
    pub ends: bool,
    /// Who booked it.
    pub by: String,
    /// Why, as it was written; empty: nothing was.
    pub reason: String,
}

/// Every set and layer, by id, and today at the organisation.
pub fn all(
    db: &mut Db,
    of: &Organisation,
    now: i64,
    sees: Sees,
) -> Result<(Day, Vec<FileShown>), ActionError> {
    let (today, mut files) = reading(db, of, |db| {
        let today = today(db, of, now)?;
        let cut = size(db, of.org)?.saturating_sub(1);
        let mut by_id: BTreeMap<String, Vec<AdoptedSet>> = BTreeMap::new();
        for one in read_adopted(db, of.org, cut)?.rule_sets {
            by_id.entry(one.id.clone()).or_default().push(one);
        }
        let mut files = Vec::new();
        for (id, adopted) in by_id {
            let newest = adopted.iter().rfind(|one| !one.sha256.is_empty());
            let Some(newest) = newest else {
                continue;
            };
            let mut bytes = |hash: &Hash| attachment(db, of.org, hash);
            let file = file_of(&mut bytes, newest.seq, &newest.sha256)?;
            files.push(FileShown {
                own_text: shipped(&id)
                    .filter(|(_, own)| *own == file)
                    .map(|own| own.0),
                status: status(&adopted, today),
                adoptions: adopted.iter().map(adoption).collect(),
                id,
                file,
            });
        }
        Ok((today, files))
    })?;
    for adoption in files.iter_mut().flat_map(|file| &mut file.adoptions) {
        let line = lines::newest(db, of, Some(adoption.entry + 1), 1, sees)?;
        if let Some(line) = line.items.first() {
            adoption.by = line.by.clone();
            adoption.reason = line.texts.get("note").cloned().unwrap_or_default();
        }
    }
    for (name, _) in shipped_texts() {
        let id = name.trim_end_matches(".toml");
        if let Some((text, file)) = shipped(id).filter(|_| files.iter().all(|it| it.id != id)) {
            files.push(FileShown {
                id: id.to_string(),
                file,
                own_text: Some(text),
                status: Status::Offered,
                adoptions: Vec::new(),
            });
        }
    }
    files.sort_by(|a, b| a.id.cmp(&b.id));
    Ok((today, files))
}

/// The set that comes with the program, and its text.
fn shipped(id: &str) -> Option<(&'static str, RuleFile)> {
    let own = |(name, _): &&(&str, &str)| name.strip_suffix(".toml") == Some(id);
    let (name, text) = shipped_texts().iter().find(own)?;
    Some((*text, RuleFile::from_toml(name, text).ok()?))
}

fn adoption(one: &AdoptedSet) -> Adoption {
    Adoption {
        entry: one.seq,
        since: one.since,
        ends: one.sha256.is_empty(),
        by: String::new(),
        reason: String::new(),
    }
}

/// By first day, and of one day the later booked holds: so they are listed.
fn status(adopted: &[AdoptedSet], today: Day) -> Status {
    let begun = adopted.iter().rfind(|one| one.since <= today);
    match begun {
        Some(one) if one.sha256.is_empty() => Status::Ended(one.since),
        Some(one) => Status::InForce(one.since),
        None => adopted
            .first()
            .map_or(Status::Offered, |one| Status::ToCome(one.since)),
    }
}
