//! What the record of an entry still lacks under the rules in force.
//!
//! A rule set says which fields the written record of a charge, a repair or a test must have. An
//! entry fills them by what it says, by what is registered of its appliance and its technician, and
//! by what other steps of the same visit or day say of the same job. Only whether something was
//! said is looked at, never the text of it. A lack is told, and nothing is refused because of it.

mod filled;

use crate::ledger::entry::{Body, EntryKind, Leaf};
use crate::ledger::id::Id;
use crate::store::columns::Sort;
use crate::store::tx::Tx;
use crate::store::{Db, StoreError, listing};
use filled::{Filled, Job, filled};
use reports::appliance::Facts;
use reports::day::Day;
use reports::event::Event;
use reports::rules::PreparedAppliance;
use reports::rules::records::Gap;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeSet;

/// What the record of one entry lacks under one rule set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RecordLacks {
    /// The entry.
    pub entry: u64,
    /// The rule set.
    pub rule_set: String,
    /// Fields that can be said or registered and were not; `with:KIND`: a step that should stand
    /// beside it.
    pub lacks: Vec<String>,
    /// Fields that the book has no place for.
    pub not_kept: Vec<String>,
    /// Where they are asked for.
    pub clauses: Vec<String>,
    /// The same in words.
    pub sentence: String,
}

/// What an entry says, without the texts themselves.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// Its kind; of a correction the kind of what stands now.
    pub kind: EntryKind,
    /// Names of the words and texts it has.
    pub names: BTreeSet<String>,
    /// Whether it moved refrigerant.
    pub moved: bool,
    /// Whether what was looked at was found clean.
    pub clean: bool,
    /// Who did the work.
    pub person: Option<Id>,
}

impl Said {
    /// What a leaf says; `None`: a kind this program does not know.
    fn of(leaf: &Leaf<'_>) -> Option<Said> {
        let replaced = leaf.body.replace.as_deref();
        let (kind, body) = match replaced {
            Some(new) => (new.kind.as_ref(), &new.body),
            None => (leaf.kind.as_ref(), &leaf.body),
        };
        let mut names: BTreeSet<String> = names_in(body).map(str::to_string).collect();
        for path in leaf.commit.iter().flatten().map(|(path, _)| path.as_ref()) {
            let own = path.strip_prefix("replace.body.").unwrap_or(path);
            names.insert(own.to_string());
        }
        let result = body.words.as_ref().and_then(|words| words.get("result"));
        Some(Said {
            kind: EntryKind::named(kind)?,
            names,
            moved: body.movements.is_some(),
            clean: result.is_some_and(|word| word == "clean"),
            person: replaced.and_then(|new| new.did).or(leaf.did).or(leaf.by),
        })
    }
}

/// Words and reason of a body.
fn names_in<'b>(body: &'b Body<'_>) -> impl Iterator<Item = &'b str> {
    let words = body.words.iter().flatten().map(|(name, _)| name.as_ref());
    words.chain(body.reason.as_ref().map(|_| "reason"))
}

/// Where entries and people are read: in the writer, or by a reader.
pub trait Source {
    /// What an entry says.
    fn said(&mut self, seq: u64) -> Result<Option<Said>, StoreError>;
    /// Whether a person has a certificate on a day.
    fn certified(&mut self, person: Id, day: Day) -> Result<bool, StoreError>;
}

impl Source for Tx<'_> {
    fn said(&mut self, seq: u64) -> Result<Option<Said>, StoreError> {
        let leaf = self.leaf(seq)?;
        leaf.map_or(Ok(None), |(bytes, _)| said(seq, &bytes))
    }

    fn certified(&mut self, person: Id, day: Day) -> Result<bool, StoreError> {
        let Some(place) = self.by_id(person)? else {
            return Ok(false);
        };
        let dossier = self.dossier(place)?;
        Ok(has_certificate(day, |fact| dossier.on(fact, day, u64::MAX)))
    }
}

/// Reads from a book that others write.
pub struct Reader<'d> {
    /// In a read transaction.
    pub db: &'d mut Db,
    /// The organisation.
    pub org: i64,
}

impl Source for Reader<'_> {
    fn said(&mut self, seq: u64) -> Result<Option<Said>, StoreError> {
        let row = listing::entry(self.db, self.org, seq)?;
        row.map_or(Ok(None), |row| said(seq, &row.leaf))
    }

    fn certified(&mut self, person: Id, day: Day) -> Result<bool, StoreError> {
        let row = listing::thing(self.db, self.org, Sort::Person, &person.to_string())?;
        Ok(row.is_some_and(|row| has_certificate(day, |fact| row.dossier.on(fact, day, u64::MAX))))
    }
}

fn said(seq: u64, leaf: &[u8]) -> Result<Option<Said>, StoreError> {
    let broken = |error| StoreError::Broken(format!("entry {seq} is unreadable: {error}"));
    Ok(Said::of(&Leaf::parse(leaf).map_err(broken)?))
}

/// A class other than *none*, not run out.
fn has_certificate<'v>(day: Day, on: impl Fn(&str) -> Option<&'v Value>) -> bool {
    let until = on("certificate_until").and_then(|until| Day::parse(until.as_str()?));
    let class = on("certificate_class").and_then(Value::as_str);
    class.is_some_and(|class| class != "none") && until.is_none_or(|until| until >= day)
}

/// What the records of some entries of a history lack, in its order. `asked` picks the entries.
pub fn lacking(
    source: &mut impl Source,
    prepared: &PreparedAppliance<'_>,
    facts: &Facts,
    events: &[Event],
    asked: impl Fn(&Event) -> bool,
) -> Result<Vec<RecordLacks>, StoreError> {
    let mut found = Vec::new();
    for event in events.iter().filter(|event| asked(event)) {
        if !prepared.asks_record(event) {
            continue;
        }
        let Some(own) = source.said(event.entry)? else {
            continue;
        };
        let certified = match own.person {
            Some(person) => source.certified(person, event.day)?,
            None => false,
        };
        let job = Job {
            others: beside(source, event, events)?,
            own,
            certified,
            day: event.day,
        };
        for set in 0..prepared.sets() {
            let fills = |field: &str| filled(field, &job, facts) == Filled::Yes;
            if let Some(gap) = prepared.gap(set, event, events, &fills) {
                found.push(lacks(gap, &prepared.set(set).id, &job, facts));
            }
        }
    }
    Ok(found)
}

/// What other steps without a mass say of the same job at the appliance.
fn beside(
    source: &mut impl Source,
    event: &Event,
    events: &[Event],
) -> Result<Vec<Said>, StoreError> {
    let near = |other: &&Event| {
        let same_visit = event.visit.is_some() && other.visit == event.visit;
        (other.day == event.day || same_visit) && other.entry != event.entry
    };
    let mut others = Vec::new();
    for other in events.iter().filter(near).filter(|other| is_step(other)) {
        others.extend(source.said(other.entry)?);
    }
    Ok(others)
}

/// A step of the service record, or a recovery: those say how a job was done.
fn is_step(event: &Event) -> bool {
    use reports::event::Kind;
    matches!(
        event.kind,
        Kind::LeakFound
            | Kind::Repair
            | Kind::Inspection
            | Kind::VerificationTest
            | Kind::Retrofit
            | Kind::Recover
    )
}

fn lacks(gap: Gap, rule_set: &str, job: &Job, facts: &Facts) -> RecordLacks {
    let nowhere = |field: &String| filled(field, job, facts) == Filled::Nowhere;
    let (not_kept, lacks): (Vec<String>, Vec<String>) = gap
        .missing
        .into_iter()
        .partition(|field| !field.starts_with("with:") && nowhere(field));
    RecordLacks {
        entry: gap.entry,
        rule_set: rule_set.to_string(),
        sentence: sentence(&lacks, &not_kept, &gap.clauses),
        lacks,
        not_kept,
        clauses: gap.clauses,
    }
}

/// `The record lacks: parts, method [40 CFR 82.157(l)(2)].`
fn sentence(lacks: &[String], not_kept: &[String], clauses: &[String]) -> String {
    let named = |fields: &[String]| {
        let names: Vec<String> = fields.iter().map(|field| in_words(field)).collect();
        names.join(", ")
    };
    let clauses = clauses.join("; ");
    match (lacks.is_empty(), not_kept.is_empty()) {
        (false, true) => format!("The record lacks: {} [{clauses}].", named(lacks)),
        (true, _) => format!(
            "The record needs on paper, for the book has no place for it: {} [{clauses}].",
            named(not_kept)
        ),
        (false, false) => format!(
            "The record lacks: {}; and on paper, for the book has no place for it: {} [{clauses}].",
            named(lacks),
            named(not_kept)
        ),
    }
}

fn in_words(field: &str) -> String {
    match field.strip_prefix("with:") {
        Some(kind) => format!("a step {} beside it", kind.replace('_', " ")),
        None => field.replace('_', " "),
    }
}
