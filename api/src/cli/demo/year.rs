//! The invented year of Tamarack Ridge Mechanical, booked through the door that people use.
//!
//! `year.jsonl` holds one request a line, as a phone or the office would send it, with who sends it
//! and when. A made-up clock shows that time, so that an entry is as late as it was in the story.
//! Questions are answered as their first choice says: what was typed is meant. Every state of a
//! book occurs: limits passed, a correction, late and offline entries, an unknown full charge, a
//! balance below zero, a quarantined cylinder with mixed content, links and a settled finding.
//! All people, firms and figures are invented.

use crate::actions::post::post;
use crate::actions::{ActionError, Posted, Refusal};
use crate::ledger::actor::{Actor, Role};
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::db::Db;
use crate::store::open::Organisation;
use crate::store::writer::{Books, Clock, transact};
use reports::day::{Day, Wall, Zone, parse_clock};
use reports::refrigerant::Table;
use serde_json::{Map, Value, json};
use std::cell::Cell;
use std::collections::HashMap;

/// Name of the invented firm.
pub const ORGANISATION: &str = "Tamarack Ridge Mechanical";
/// Its zone.
pub const ZONE: &str = "America/Denver";
/// The year that is booked.
pub const YEAR: i16 = 2025;

const REQUESTS: &str = include_str!("year.jsonl");
const HOUSE_RULE: &str = include_str!("house-rule.toml");

thread_local! {
    // 2025-01-02 07:30 in Denver, when the book is opened.
    static NOW: Cell<i64> = const { Cell::new(1_735_828_200_000_000) };
}

fn now() -> i64 {
    NOW.with(Cell::get)
}

/// The clock of the story.
pub const CLOCK: Clock = Clock::made_up(now);

/// What the year left in the book.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Booked {
    /// Requests that were booked.
    pub entries: u64,
    /// Findings they left.
    pub findings: u64,
}

/// Books the year into a book that has just been opened.
pub fn book(db: &mut Db, of: &Organisation) -> Result<Booked, ActionError> {
    let mut story = Story {
        books: Books::new(),
        labels: HashMap::new(),
    };
    let mut booked = Booked::default();
    for line in REQUESTS.lines() {
        let posted = story.line(db, of, line)?;
        booked.entries += 1;
        booked.findings += posted.findings.len() as u64;
    }
    Ok(booked)
}

/// The text of a rule file that the story names.
fn rule_text(name: &str) -> Option<&'static str> {
    let shipped = reports::rules::shipped_texts()
        .iter()
        .find(|(known, _)| *known == name);
    shipped
        .map(|(_, text)| *text)
        .or((name == "house-rule.toml").then_some(HOUSE_RULE))
}

struct Story {
    books: Books,
    /// People, entries and visits by the names they have in the story.
    labels: HashMap<String, Id>,
}

impl Story {
    fn line(&mut self, db: &mut Db, of: &Organisation, line: &str) -> Result<Posted, ActionError> {
        let told = |what: &str| StoreError::Broken(format!("the story's line is unclear: {what}"));
        let mut request: Map<String, Value> =
            serde_json::from_str(line).map_err(|error| told(&error.to_string()))?;
        let mut word = |name: &str| match request.remove(name) {
            Some(Value::String(text)) => Some(text),
            _ => None,
        };
        let on = word("on").ok_or_else(|| told("no time"))?;
        let by = word("by").ok_or_else(|| told("no person"))?;
        let label = word("id");
        let instant = instant(&on).ok_or_else(|| told(&on))?;
        NOW.with(|now| now.set(instant.as_microsecond()));
        let role = if by == "osric" {
            Role::ComplianceManager
        } else {
            Role::Technician
        };
        let actor = Actor::person(self.label(&by), role, None);
        let id = label.map_or_else(|| Id::at(now().unsigned_abs() / 1000), |l| self.label(&l));
        request.insert("entry_id".to_string(), json!(id));
        let mut request = Value::Object(request);
        self.resolve(&mut request);
        if moves(&request) && request.get("happened").is_none() {
            request["happened"] = json!({ "at": instant.to_string() });
        }
        self.post(db, of, &actor, request)
    }

    /// Posts, answering what is asked as it was typed.
    fn post(
        &mut self,
        db: &mut Db,
        of: &Organisation,
        actor: &Actor,
        mut request: Value,
    ) -> Result<Posted, ActionError> {
        loop {
            let mut outcome = None;
            let table = Table::shipped();
            transact(db, &mut self.books, of, &[], table, CLOCK, |tx| {
                // A refusal has booked nothing; the transaction ends empty.
                outcome = Some(match post(tx, actor, &request) {
                    Err(ActionError::Failed(error)) => return Err(error),
                    outcome => outcome,
                });
                Ok(())
            })?;
            match outcome.ok_or(StoreError::Busy)? {
                Err(ActionError::Refused(Refusal::NeedsAnswer(questions))) => {
                    let open = questions
                        .iter()
                        .filter(|q| request["answers"].get(q.code).is_none());
                    let answers: Vec<(&str, &str)> = open
                        .filter_map(|q| Some((q.code, q.choices.first()?.choice)))
                        .collect();
                    if answers.is_empty() {
                        return Err(Refusal::NeedsAnswer(questions).into());
                    }
                    for (code, choice) in answers {
                        request["answers"][code] = json!(choice);
                    }
                }
                outcome => return outcome,
            }
        }
    }

    fn label(&mut self, label: &str) -> Id {
        *self
            .labels
            .entry(label.to_string())
            .or_insert_with(Id::random)
    }

    /// Puts ids where the story names people, entries and visits, and texts where it names rules.
    fn resolve(&mut self, value: &mut Value) {
        match value {
            Value::String(text) => {
                if let Some(label) = text.strip_prefix('@') {
                    *value = json!(self.label(label));
                } else if let Some(rules) = rule_text(text) {
                    *value = json!(rules);
                }
            }
            Value::Array(list) => list.iter_mut().for_each(|value| self.resolve(value)),
            Value::Object(members) => {
                members.values_mut().for_each(|value| self.resolve(value));
            }
            _ => {}
        }
    }
}

/// Whether a request is about something that happened at a time of day.
fn moves(request: &Value) -> bool {
    let kind = request["kind"]
        .as_str()
        .and_then(crate::ledger::entry::EntryKind::named);
    kind.is_some_and(crate::ledger::entry::EntryKind::moves)
}

/// The instant of a wall time in Denver.
fn instant(on: &str) -> Option<jiff::Timestamp> {
    let (day, time) = on.split_once(' ')?;
    let (second, _) = parse_clock(time)?;
    match Zone::named(ZONE)?.resolve(Day::parse(day)?, second) {
        Wall::Once(at) => Some(at),
        _ => None,
    }
}
