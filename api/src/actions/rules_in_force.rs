//! The rule sets that judge a book: adopted ones as known at a cut, or files given instead.
//!
//! A set adopted from a day judges from that day on; a newer version of the same set takes over
//! from its own day. Local layers lie over the set they name from their own day on, until a newer
//! version of the layer or its end. A layer that does not fit is left off, and that is said.

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
use std::collections::{BTreeSet, HashMap};
use std::fmt;
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
    /// The entries whose layers lie over a set.
    pub laid: Vec<u64>,
    /// Layers that do not fit a set they lie over; their numbers do not judge by it.
    pub left_off: Vec<LeftOff>,
}

/// A layer that does not fit a set it lies over.
#[derive(Clone, Debug)]
pub struct LeftOff {
    /// What adopted the layer.
    pub layer: AdoptedSet,
    /// What adopted the set.
    pub set: AdoptedSet,
    /// What does not fit.
    pub why: String,
}

/// What is adopted, read: the entry, and the file unless it is an end.
type Read<'a> = Vec<(&'a AdoptedSet, Option<RuleFile>)>;

/// Where the bytes of rule sets come from.
pub type Attachments<'a> = &'a mut dyn FnMut(&Hash) -> Result<Option<Vec<u8>>, StoreError>;

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
        let hash = |text: &String| print(&STANDARD.encode(sha256(text.as_bytes())));
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
            laid: Vec::new(),
            left_off: Vec::new(),
        })
    }

    /// The sets an organisation has adopted.
    pub fn of_book(db: &mut Db, org: i64, adopted: &Adopted) -> Result<InForce, StoreError> {
        let mut attachment = |hash: &Hash| crate::store::scan::attachment(db, org, hash);
        InForce::of_adopted(adopted, &mut attachment)
    }

    /// The sets that were adopted; `attachment` gives the bytes with a hash.
    pub fn of_adopted(
        adopted: &Adopted,
        attachment: Attachments<'_>,
    ) -> Result<InForce, StoreError> {
        let mut read = Read::new();
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
            laid: Vec::new(),
            left_off: Vec::new(),
        };
        for (at, (one, file)) in read.iter().enumerate() {
            let days = (one.since, last_day(&read, at));
            if let Some(RuleFile::Set(set)) = file
                && days.0 <= days.1
            {
                in_force.add(one, set, days, &read);
            }
        }
        Ok(in_force)
    }

    /// Adds a version of a set for its days, with the layers of these days over it.
    fn add(&mut self, one: &AdoptedSet, set: &RuleSet, days: (Day, Day), read: &Read<'_>) {
        let mut layered = set.clone();
        let mut version = format!("adopted by no. {}", one.seq);
        // Results cite the text itself: organisations that adopted the same share a judge.
        let mut text = print(&one.sha256);
        // Of two layers of one rank the later one gives the number, as with files.
        for (at, (adopted, file)) in read.iter().enumerate() {
            let own = (adopted.since, last_day(read, at));
            let (first, last) = (own.0.max(days.0), own.1.min(days.1));
            let Some(RuleFile::Overlay(layer)) = file else {
                continue;
            };
            if layer.overlays != set.id || first > last {
                continue;
            }
            let mut layer = (**layer).clone();
            layer.days = Some(own);
            match layered.clone().with_layer(layer, &Tables::shipped()) {
                Ok(with) => {
                    layered = with;
                    self.laid.push(adopted.seq);
                    version.push_str(&format!(", layer {} by no. {}", adopted.id, adopted.seq));
                    text.push_str(&format!(", {} {}", adopted.id, print(&adopted.sha256)));
                }
                Err(problems) => self.left_off.push(LeftOff {
                    layer: (*adopted).clone(),
                    set: one.clone(),
                    why: (problems.iter().map(ToString::to_string).collect::<Vec<_>>()).join("; "),
                }),
            }
        }
        layered.version = Some(text);
        self.sets.push(layered);
        self.windows.push(days);
        self.versions.push(version);
    }

    /// Only the sets with these ids.
    pub fn only(mut self, ids: &BTreeSet<String>) -> InForce {
        let keep: Vec<bool> = self.sets.iter().map(|set| ids.contains(&set.id)).collect();
        fn kept<T>(list: &mut Vec<T>, keep: &[bool]) {
            let mut of = keep.iter();
            list.retain(|_| of.next().copied().unwrap_or(false));
        }
        kept(&mut self.sets, &keep);
        kept(&mut self.windows, &keep);
        kept(&mut self.versions, &keep);
        self
    }

    /// The sets made ready, each within its days.
    pub fn judge(self) -> Result<OwnedJudge, Vec<Problem>> {
        OwnedJudge::new(self.sets, &self.windows)
    }
}

/// The beginning of a hash in base64, by which a text is cited.
fn print(sha256: &str) -> String {
    sha256.get(..12).unwrap_or(sha256).to_string()
}

impl fmt::Display for LeftOff {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let LeftOff { layer, set, why } = self;
        write!(
            f,
            "The layer {} of no. {} does not fit the set {} of no. {} and is left off it: {why}.",
            layer.id, layer.seq, set.id, set.seq
        )
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
    let in_force = InForce::of_adopted(adopted, attachment)?;
    for left_off in &in_force.left_off {
        tracing::warn!("{left_off}");
    }
    let ready = in_force.judge();
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

/// The last day of what an entry adopted. The version that begins next takes over, or its end; of
/// two from one day the later booked holds.
fn last_day(read: &Read<'_>, at: usize) -> Day {
    let one = read[at].0;
    let next = read.iter().enumerate().filter(|(other, (adopted, _))| {
        adopted.id == one.id
            && (adopted.since > one.since || (adopted.since == one.since && *other > at))
    });
    let until = next.map(|(_, (adopted, _))| adopted.since).min();
    until.map_or(FAR, |day| day.plus(-1))
}

/// The file that an entry adopted.
pub(super) fn file_of(
    attachment: Attachments<'_>,
    seq: u64,
    hash: &str,
) -> Result<RuleFile, StoreError> {
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
