//! What is written down: the fields that a rule set wants of an entry, and what was not filled in.
//!
//! It never refuses. An event whose record is not known (no list of fields) is asked only for what
//! must stand beside it: a leak test before a charge, say, in the same visit or on the same day.

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
        let compiled = &self.judge.sets[set];
        let mut gaps: Vec<Gap> = Vec::new();
        for event in events {
            if self.applies(set, event.day) != Some(true) {
                continue;
            }
            let mut gap = Gap {
                entry: event.entry,
                missing: Vec::new(),
                clauses: Vec::new(),
            };
            for (record, when) in compiled.set.records.iter().zip(&compiled.records) {
                let asked = record.on.iter().any(|kind| kind.kind() == Some(event.kind))
                    && is_for_reason(&record.reason, event)
                    && self.asking(set, event.day).all(when) == Answer::Yes;
                if !asked {
                    continue;
                }
                let mut lacks = fields_missing(&record.fields, event);
                lacks.extend(beside_missing(&record.with, event, events));
                lacks.retain(|field| !gap.missing.contains(field));
                if !lacks.is_empty() {
                    gap.clauses.push(record.clause.clone());
                    gap.missing.extend(lacks);
                }
            }
            if !gap.missing.is_empty() {
                gaps.push(gap);
            }
        }
        gaps
    }
}

fn is_for_reason(reasons: &[ReasonWord], event: &Event) -> bool {
    reasons.is_empty()
        || reasons
            .iter()
            .any(|word| Some(word.reason()) == event.reason)
}

fn fields_missing(fields: &[String], event: &Event) -> Vec<String> {
    let Some(has) = event.word("has") else {
        return Vec::new();
    };
    let has: BTreeSet<&str> = has.split(',').collect();
    let missing = fields.iter().filter(|field| !has.contains(field.as_str()));
    missing.cloned().collect()
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
