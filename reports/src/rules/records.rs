//! What is written down: the fields that a rule set wants of an entry, and what was not filled in.
//!
//! It never refuses. An event whose record is not known (no list of fields) is asked only for what
//! must stand beside it: a leak test before a charge, say, in the same visit or on the same day.

use super::file::Record;
use super::judge::PreparedAppliance;
use super::scope::Answer;
use super::words::{EventKind, ReasonWord};
use crate::event::Event;
use std::collections::BTreeSet;

/// What an entry's record lacks under one set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gap {
    /// The entry.
    pub entry: u64,
    /// The fields, in the order of the rule, then `with:KIND` for what should stand beside it.
    pub missing: Vec<String>,
    /// Where the fields are asked for.
    pub clauses: Vec<String>,
}

impl PreparedAppliance<'_> {
    /// The gaps of a history under one set, in the order of events. An event says which fields
    /// were filled in by its word `has`, with commas between.
    pub fn gaps(&self, set: usize, events: &[Event]) -> Vec<Gap> {
        let gap = |event| {
            let has: Option<BTreeSet<&str>> =
                Event::word(event, "has").map(|has| has.split(',').collect());
            let fills = |field: &str| has.as_ref().is_none_or(|has| has.contains(field));
            self.gap(set, event, events, &fills)
        };
        events.iter().filter_map(gap).collect()
    }

    /// What the record of one event of a history lacks under one set; `fills` says whether a field
    /// was filled in.
    pub fn gap(
        &self,
        set: usize,
        event: &Event,
        events: &[Event],
        fills: &dyn Fn(&str) -> bool,
    ) -> Option<Gap> {
        let mut gap = Gap {
            entry: event.entry,
            missing: Vec::new(),
            clauses: Vec::new(),
        };
        for record in self.records_of(set, event) {
            let missing = record.fields.iter().filter(|field| !fills(field));
            let mut lacks: Vec<String> = missing.cloned().collect();
            lacks.extend(beside_missing(&record.with, event, events));
            let more = lacks.iter().any(|field| !gap.missing.contains(field));
            if more {
                lacks.retain(|field| !gap.missing.contains(field));
                gap.clauses.push(clause_of(record));
                gap.missing.extend(lacks);
            }
        }
        (!gap.missing.is_empty()).then_some(gap)
    }

    /// Whether any set asks for a record of an event.
    pub fn asks_record(&self, event: &Event) -> bool {
        (0..self.sets()).any(|set| self.records_of(set, event).next().is_some())
    }

    /// The records that one set asks for of an event: of its kind, for its reason, where the set
    /// applies that day and what the record is asked for holds.
    fn records_of(&self, set: usize, event: &Event) -> impl Iterator<Item = &Record> {
        let compiled = &self.judge.sets[set];
        let all = compiled.set.records.iter().zip(&compiled.records);
        let of_kind = all.filter(|(record, _)| {
            let mut kinds = record.on.iter();
            kinds.any(|kind| kind.kind() == Some(event.kind))
                && is_for_reason(&record.reason, event)
        });
        let asked = of_kind.filter(move |(_, when)| {
            self.applies(set, event.day) == Some(true)
                && self.asking(set, event.day).all(when) == Answer::Yes
        });
        asked.map(|(record, _)| record)
    }
}

/// The clause of a record, marked where nobody read it.
fn clause_of(record: &Record) -> String {
    match record.confidence {
        Some(word) => format!("{}, {word}", record.clause),
        None => record.clause.clone(),
    }
}

fn is_for_reason(reasons: &[ReasonWord], event: &Event) -> bool {
    reasons.is_empty()
        || reasons
            .iter()
            .any(|word| Some(word.reason()) == event.reason)
}

fn beside_missing(with: &[EventKind], event: &Event, events: &[Event]) -> Vec<String> {
    let stands = |kind: &EventKind| {
        events.iter().any(|other| {
            let near =
                other.day == event.day || (event.visit.is_some() && other.visit == event.visit);
            near && Some(other.kind) == kind.kind()
        })
    };
    let missing = with.iter().filter(|kind| !stands(kind));
    missing.map(|kind| format!("with:{kind}")).collect()
}
