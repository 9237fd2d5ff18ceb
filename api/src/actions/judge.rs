//! What must be stopped before pouring, and what must be asked.
//!
//! Hard stops guard the moment before refrigerant is poured where it must not go. Everything else
//! that looks like a slip is a question. Neither refuses a fact that has happened: captured
//! offline, imported, or answered *it has already happened*, it is booked and leaves a finding.
//! Pressure, flammable and toxic refrigerants hurt people: local codes and the licensed
//! technician decide, this program only warns.

mod afterwards;
mod condition;
mod counted;
mod owners;
mod questions;
mod renamed;
mod room;
mod scale;
mod steps;
mod stops;

pub use condition::{class_in, words as class_words};
pub use owners::doubted;
pub use renamed::analysed;
pub use room::{cut_text, limit_of, rule_text, water_capacity};
pub use stops::name_of;

use super::moves::Moving;
use super::refusal::{Question, QuestionChoice, Stop};
use crate::ledger::entry::{EntryKind, Words};
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::book::Subject;
use crate::store::columns::{Class, PlaceNumber};
use crate::store::tx::Tx;
use reports::day::Day;
use std::collections::HashMap;

/// A posting as the judge sees it.
pub struct Case<'a> {
    /// Kind (of the replacement, for a correction).
    pub kind: EntryKind,
    /// Local day it happened.
    pub day: Day,
    /// Second of that day, where a time was stated.
    pub second: Option<u32>,
    /// The visit.
    pub visit: Option<Id>,
    /// Its movements.
    pub moves: &'a [Moving],
    /// The appliance that a service event is about, and what the event says.
    pub serviced: Option<PlaceNumber>,
    /// Words of the service event.
    pub words: Option<&'a Words<'static>>,
    /// Was the appliance stated to be back at its full charge?
    pub leak: Option<Id>,
    /// Condition that is stated of what moves.
    pub class: Class,
    /// Reason word.
    pub reason: Option<&'a str>,
    /// Whoever keeps the book posts it.
    pub by_office: bool,
    /// Imported history: only what protects cylinders and masses is looked at.
    pub imported: bool,
    /// Today at the site.
    pub today: Day,
    /// Older than so many days is late.
    pub late_days: i32,
    /// The chain a correction takes back: its movements are left out of the book.
    pub without: &'a [(PlaceNumber, u16, i128)],
    /// Numbers of the entries of that chain, so that an entry is no look-alike of itself.
    pub chain: &'a [u64],
}

/// What the judge found.
#[derive(Default)]
pub struct Judged {
    /// Stops, with the cylinder each is about.
    pub stops: Vec<(Stop, PlaceNumber)>,
    /// Questions, with the place each is about.
    pub questions: Vec<(Question, PlaceNumber)>,
    /// Findings that nobody is asked about.
    pub findings: Vec<(&'static str, PlaceNumber)>,
    /// What has happened by it, and nobody could be stopped any more: of the highest grade.
    pub happened: Vec<(&'static str, PlaceNumber)>,
    /// Older than the late setting allows.
    pub late: bool,
}

/// The book as the posting would find it: without the chain it corrects, and with the earlier
/// movements of the same entry.
struct Lens {
    changes: HashMap<(PlaceNumber, u16), i128>,
}

impl Lens {
    fn balance(&self, place: PlaceNumber, subject: &Subject, code: u16) -> i128 {
        subject.balance(code) + self.changes.get(&(place, code)).copied().unwrap_or(0)
    }

    fn total(&self, place: PlaceNumber, subject: &Subject) -> i128 {
        let changes = self
            .changes
            .iter()
            .filter(|((changed, _), _)| *changed == place);
        subject.total() + changes.map(|(_, by)| by).sum::<i128>()
    }

    /// Refrigerants that are, were or will be in a place.
    fn codes(&self, place: PlaceNumber, subject: &Subject) -> Vec<u16> {
        let coming = self.changes.keys().filter(|(changed, _)| *changed == place);
        let mut codes: Vec<u16> = (subject.balances.iter().map(|(code, _)| *code))
            .chain(coming.map(|(_, code)| *code))
            .collect();
        codes.sort_unstable();
        codes.dedup();
        codes
    }

    fn apply(&mut self, moving: &Moving) {
        let mass = i128::from(moving.mass.steps());
        *self
            .changes
            .entry((moving.src, moving.refrigerant))
            .or_default() -= mass;
        *self
            .changes
            .entry((moving.dst, moving.refrigerant))
            .or_default() += mass;
    }
}

/// Judges a posting against the book.
pub fn judge(tx: &mut Tx<'_>, case: &Case<'_>) -> Result<Judged, StoreError> {
    let mut judged = Judged::default();
    let mut lens = Lens {
        changes: HashMap::new(),
    };
    for (place, code, by) in case.without {
        *lens.changes.entry((*place, *code)).or_default() += by;
    }
    for moving in case.moves {
        stops::look(tx, case, moving, &lens, &mut judged)?;
        questions::masses(tx, case, moving, &lens, &mut judged)?;
        scale::look(tx, case, moving, &lens, &mut judged)?;
        if !case.imported {
            condition::look(tx, case, moving, &lens, &mut judged)?;
            owners::look(tx, case, moving, &lens, &mut judged)?;
            renamed::look(tx, case, moving, &lens, &mut judged)?;
            counted::look(tx, case, moving, &lens, &mut judged)?;
            questions::slips(tx, case, moving, &mut judged)?;
        }
        lens.apply(moving);
    }
    afterwards::look(tx, case, &lens, &mut judged)?;
    if let Some(place) = case.serviced {
        steps::look(tx, case, place, &mut judged)?;
    }
    if !case.imported {
        questions::days(case, &mut judged);
    }
    Ok(judged)
}

/// A question whose only answer is that it is so as stated.
pub fn as_stated(code: &'static str, text: String, books: &str) -> Question {
    let choice = QuestionChoice {
        choice: "as_stated",
        text: "It is so".to_string(),
        books: books.to_string(),
    };
    Question {
        code,
        text,
        choices: vec![choice],
    }
}
