//! The rule sets that judge a book: adopted ones as known at a cut, or files given instead.
//!
//! A set adopted from a day judges from that day on; a newer version of the same set takes over
//! from its own day. Local layers lie over every version of the set they name.

use super::refusal::Refusal;
use crate::ledger::tree::{Hash, sha256};
use crate::store::StoreError;
use crate::store::book::{Adopted, AdoptedSet};
use crate::store::db::Db;
use crate::store::tx::Tx;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use reports::appliance::Facts;
use reports::day::Day;
use reports::rules::{OwnedJudge, Problem, RuleFile, RuleSet, Tables};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError, Weak};

/// A rule set with the days it judges and the version it is cited by.
#[derive(Debug)]
pub struct InForce {
    /// The sets, with their local layers.
    pub sets: Vec<RuleSet>,
    /// First and last day of each.
    pub windows: Vec<(Day, Day)>,
    /// Version of each: the entry that adopted it, or the start of its hash.
    pub versions: Vec<String>,
}

/// Where the bytes of rule sets come from.
type Attachments<'a> = &'a mut dyn FnMut(&Hash) -> Result<Option<Vec<u8>>, StoreError>;

const FAR: Day = Day::from_count(2_932_896); // 9999-12-31

impl InForce {
    /// The sets of files given instead of the adopted ones.
    pub fn of_files(files: Vec<(RuleFile, String)>) -> Result<InForce, Refusal> {
        let tables = Tables::shipped();
        let (files, texts): (Vec<_>, Vec<_>) = files.into_iter().unzip();
        let ids = files.iter().map(|file| match file {
            RuleFile::Set(set) => Some(set.id.clone()),
            RuleFile::Overlay(_) => None,
        });
        let hash = |text: &String| STANDARD.encode(sha256(text.as_bytes()))[..12].to_string();
        let versions = ids
            .zip(&texts)
            .filter_map(|(id, text)| id.map(|_| hash(text)))
            .collect();
        let sets = reports::rules::assemble(files, &tables).map_err(|problems| {
            let lines: Vec<String> = problems.iter().map(ToString::to_string).collect();
            Refusal::InvalidValue {
                pointer: "/rules".to_string(),
                detail: lines.join("\n"),
            }
        })?;
        let windows = vec![(Facts::ALWAYS, FAR); sets.len()];
        Ok(InForce {
            sets,
            windows,
            versions,
        })
    }

    /// The sets an organisation has adopted.
    pub fn of_book(db: &mut Db, org: i64, adopted: &Adopted) -> Result<InForce, StoreError> {
        let mut attachment = |hash: &Hash| crate::store::scan::attachment(db, org, hash);
        InForce::of_adopted(adopted, &mut attachment)
    }

    /// The sets that were adopted; `attachment` gives the bytes with a hash.
    fn of_adopted(adopted: &Adopted, attachment: Attachments<'_>) -> Result<InForce, StoreError> {
        let mut read = Vec::new();
        for one in &adopted.rule_sets {
            let file = match one.sha256.is_empty() {
                true => None,
                false => Some(file_of(attachment, one.seq, &one.sha256)?),
            };
            read.push((one, file));
        }
        let mut in_force = InForce {
            sets: Vec::new(),
            windows: Vec::new(),
            versions: Vec::new(),
        };
        for (at, (one, file)) in read.iter().enumerate() {
            let Some(RuleFile::Set(set)) = file else {
                continue;
            };
            // The version that begins next takes over; of two from one day the later booked holds.
            let next = read.iter().enumerate().filter(|(other, (adopted, _))| {
                adopted.id == one.id
                    && (adopted.since > one.since || (adopted.since == one.since && *other > at))
            });
            let until = next.map(|(_, (adopted, _))| adopted.since).min();
            let last = until.map_or(FAR, |day| day.plus(-1));
            if last < one.since {
                continue;
            }
            in_force.sets.push(layered((**set).clone(), &read));
            in_force.windows.push((one.since, last));
            in_force
                .versions
                .push(format!("adopted by no. {}", one.seq));
        }
        Ok(in_force)
    }

    /// The sets made ready, each within its days.
    pub fn judge(self) -> Result<OwnedJudge, Vec<Problem>> {
        OwnedJudge::new(self.sets, &self.windows)
    }
}

/// What was adopted decides what the judge says: id, first day and hash of each set in its order.
type Key = Vec<(String, Day, String)>;

/// Judges in use anywhere in this program: organisations that adopted the same share one.
static JUDGES: Mutex<Option<HashMap<Key, Weak<OwnedJudge>>>> = Mutex::new(None);

/// The adopted rule sets of a book, made ready once and kept while they stand.
pub fn judge(tx: &mut Tx<'_>) -> Result<Arc<OwnedJudge>, StoreError> {
    tx.judge(|tx, adopted| shared(adopted, &mut |hash| tx.attachment(hash)))
}

/// The same for a reader without a book in memory.
pub fn judge_of(db: &mut Db, org: i64, adopted: &Adopted) -> Result<Arc<OwnedJudge>, StoreError> {
    shared(adopted, &mut |hash| {
        crate::store::scan::attachment(db, org, hash)
    })
}

fn shared(adopted: &Adopted, attachment: Attachments<'_>) -> Result<Arc<OwnedJudge>, StoreError> {
    let one = |one: &AdoptedSet| (one.id.clone(), one.since, one.sha256.clone());
    let key: Key = adopted.rule_sets.iter().map(one).collect();
    let lock = || JUDGES.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(judge) = lock()
        .get_or_insert_default()
        .get(&key)
        .and_then(Weak::upgrade)
    {
        return Ok(judge);
    }
    let ready = InForce::of_adopted(adopted, attachment)?.judge();
    let judge = Arc::new(ready.map_err(|problems| {
        let first = problems
            .first()
            .map(ToString::to_string)
            .unwrap_or_default();
        StoreError::Broken(format!("an adopted rule set cannot be used: {first}"))
    })?);
    let mut judges = lock();
    let judges = judges.get_or_insert_default();
    judges.retain(|_, judge| judge.strong_count() > 0);
    judges.insert(key, Arc::downgrade(&judge));
    Ok(judge)
}

/// Lays the newest version of every layer over a set; one that does not fit (it was checked when it
/// was adopted, against another version) is left off rather than taken half.
fn layered(set: RuleSet, read: &[(&AdoptedSet, Option<RuleFile>)]) -> RuleSet {
    let mut set = set;
    let mut seen = Vec::new();
    for (one, file) in read.iter().rev() {
        if seen.contains(&&one.id) {
            continue;
        }
        seen.push(&one.id);
        if let Some(RuleFile::Overlay(layer)) = file
            && layer.overlays == set.id
            && let Ok(with) = set
                .clone()
                .with_layer((**layer).clone(), &Tables::shipped())
        {
            set = with;
        }
    }
    set
}

fn file_of(attachment: Attachments<'_>, seq: u64, hash: &str) -> Result<RuleFile, StoreError> {
    let broken =
        |why: String| StoreError::Broken(format!("the rule set adopted by entry no. {seq} {why}"));
    let raw = STANDARD
        .decode(hash)
        .map_err(|_| broken("has no readable hash".to_string()))?;
    let raw: Hash = (raw.try_into()).map_err(|_| broken("has no readable hash".to_string()))?;
    let bytes =
        attachment(&raw)?.ok_or_else(|| broken("is missing from the attachments".to_string()))?;
    let text = String::from_utf8(bytes).map_err(|_| broken("is not UTF-8".to_string()))?;
    RuleFile::from_json(&format!("entry no. {seq}"), &text)
        .map_err(|problems| broken(format!("cannot be read: {}", problems[0])))
}
