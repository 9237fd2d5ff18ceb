//! A rule file that somebody wants to adopt, and what stands against it.
//!
//! A set must pass its check and its own examples; a layer must lie over a set that is adopted. And
//! whichever comes second must fit the other: a newer version of a set that would take an adopted
//! layer off is refused, because a number that silently no longer judges is worse than a refusal.

use super::rules_in_force::{Attachments, InForce, LeftOff, file_of};
use crate::ledger::tree::{Hash, sha256};
use crate::store::StoreError;
use crate::store::book::{Adopted, AdoptedSet};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use reports::day::Day;
use reports::rules::problem::over_a_layer;
use reports::rules::{RuleFile, Tables, check, run_examples};
use std::collections::VecDeque;
use std::sync::{Mutex, PoisonError};

/// A text by its hash, and the year in which it was tried: gaps are looked for ten years ahead.
type Seen = (Hash, i16);

/// How many texts are remembered as good.
const MOST_SOUND: usize = 64;

/// Sets whose check and examples were good.
static SOUND: Mutex<VecDeque<Seen>> = Mutex::new(VecDeque::new());

/// A rule file with the day from which it would judge.
pub struct Candidate {
    /// The set or the layer.
    pub file: RuleFile,
    /// Its canonical JSON, which becomes an attachment.
    pub bytes: Vec<u8>,
    /// What would be adopted.
    pub entry: AdoptedSet,
    /// The text it was read from, where lines can be cited.
    pub text: Option<String>,
}

impl Candidate {
    /// A file to be adopted by entry `seq` from a day.
    pub fn new(file: RuleFile, since: Day, seq: u64) -> Candidate {
        let (id, json) = match &file {
            RuleFile::Set(set) => (set.id.clone(), set.to_json()),
            RuleFile::Overlay(layer) => (layer.id.clone(), layer.to_json()),
        };
        // Members sort themselves and no number occurs: what serde writes is canonical JSON.
        let bytes = json.to_string().into_bytes();
        let sha256 = STANDARD.encode(sha256(&bytes));
        let entry = AdoptedSet {
            seq,
            id,
            since,
            sha256,
        };
        Candidate {
            file,
            bytes,
            entry,
            text: None,
        }
    }

    /// The rules that would be in force after it was adopted.
    pub fn in_force(
        &self,
        adopted: &Adopted,
        attachment: Attachments<'_>,
    ) -> Result<InForce, StoreError> {
        let mut with = adopted.clone();
        with.rule_sets.push(self.entry.clone());
        let own = sha256(&self.bytes);
        InForce::of_adopted(&with, &mut |hash: &Hash| match *hash == own {
            true => Ok(Some(self.bytes.clone())),
            false => attachment(hash),
        })
    }

    /// Everything that stands against adopting it, in sentences; `today` for gaps in the future.
    pub fn unsound(
        &self,
        adopted: &Adopted,
        today: Day,
        attachment: Attachments<'_>,
    ) -> Result<Vec<String>, StoreError> {
        let own = self.own_problems(today);
        if !own.is_empty() {
            return Ok(own);
        }
        if let Some(namesake) = self.namesake(adopted, attachment)? {
            return Ok(vec![namesake]);
        }
        if let Some(over) = self.over_a_layer(adopted, attachment)? {
            return Ok(vec![over]);
        }
        let in_force = self.in_force(adopted, attachment)?;
        let of_this = |left: &&LeftOff| [left.layer.seq, left.set.seq].contains(&self.entry.seq);
        let mut problems: Vec<String> = (in_force.left_off.iter().filter(of_this))
            .map(|left| self.against(left))
            .collect();
        if let RuleFile::Overlay(layer) = &self.file
            && problems.is_empty()
            && !in_force.laid.contains(&self.entry.seq)
        {
            problems.push(format!(
                "The layer {} lies over the set {}, which is not adopted for any day from {} on. \
                 Adopt that one first.",
                layer.id, layer.overlays, self.entry.since
            ));
        }
        Ok(problems)
    }

    /// What is wrong with the file itself, whatever the book holds: its check and its examples. What
    /// was found good is not tried again, so that the writer does not wait for it.
    pub fn own_problems(&self, today: Day) -> Vec<String> {
        let RuleFile::Set(set) = &self.file else {
            return Vec::new();
        };
        let tables = Tables::shipped();
        let key = (sha256(&self.bytes), today.year());
        let good = |seen: &VecDeque<Seen>| seen.contains(&key);
        if good(&SOUND.lock().unwrap_or_else(PoisonError::into_inner)) {
            return Vec::new();
        }
        let problems = check(&set.id, set, &tables, today);
        if !problems.is_empty() {
            let text = self.text.as_deref().unwrap_or_default();
            let located = problems.into_iter().map(|problem| problem.located(text));
            return located.map(|problem| problem.to_string()).collect();
        }
        let differences = run_examples(set, &tables).differences;
        if differences.is_empty() {
            let mut sound = SOUND.lock().unwrap_or_else(PoisonError::into_inner);
            sound.push_back(key);
            let over = sound.len().saturating_sub(MOST_SOUND);
            sound.drain(..over);
        }
        differences.iter().map(ToString::to_string).collect()
    }

    /// A layer lies over a set: over itself or another layer it would have no numbers below it.
    fn over_a_layer(
        &self,
        adopted: &Adopted,
        attachment: Attachments<'_>,
    ) -> Result<Option<String>, StoreError> {
        let RuleFile::Overlay(layer) = &self.file else {
            return Ok(None);
        };
        let base = &layer.overlays;
        let mut is_layer = *base == self.entry.id;
        let same = |one: &&AdoptedSet| one.id == *base && !one.sha256.is_empty();
        for one in adopted.rule_sets.iter().filter(same) {
            let file = file_of(attachment, one.seq, &one.sha256)?;
            is_layer |= matches!(file, RuleFile::Overlay(_));
        }
        Ok(is_layer.then(|| format!("overlay {}: overlays: {}", layer.id, over_a_layer(base))))
    }

    /// A set and a layer of one id would end each other's days.
    fn namesake(
        &self,
        adopted: &Adopted,
        attachment: Attachments<'_>,
    ) -> Result<Option<String>, StoreError> {
        let is_set = |file: &RuleFile| matches!(file, RuleFile::Set(_));
        let same = |one: &&AdoptedSet| one.id == self.entry.id && !one.sha256.is_empty();
        for one in adopted.rule_sets.iter().filter(same) {
            if is_set(&file_of(attachment, one.seq, &one.sha256)?) != is_set(&self.file) {
                return Ok(Some(format!(
                    "The id {} belongs to what no. {} adopted, and of that and this one is a set and \
                     the other a layer. Give this file an id of its own.",
                    one.id, one.seq
                )));
            }
        }
        Ok(None)
    }

    fn against(&self, left: &LeftOff) -> String {
        if left.layer.seq == self.entry.seq {
            return left.why.clone();
        }
        format!(
            "The layer {} of no. {} does not fit this version of {}: {}. End that layer from {} on, \
             adopt this version, then a layer that fits it.",
            left.layer.id, left.layer.seq, left.set.id, left.why, self.entry.since
        )
    }
}
