//! One expected outcome against what came out, expectation by expectation.
//!
//! Of duties only the first due dates are worked out so far. `since` and `due` are compared when
//! every start of the duty names a limit and depends on no other duty being open or done beyond
//! `unless_open`, and, for `due`, when no extension and no mothballing is dated on or after the
//! day it started and, for a cadence, no event of a kind that fulfils it. Everything else is
//! skipped with its reason.

use super::deadline::starts_by;
use super::examples::Outcome;
use super::file::{Duty, RuleSet};
use super::judge::PreparedAppliance;
use super::review::Review;
use super::words::{EventKind, Subject};
use crate::day::Day;
use crate::event::{Event, Kind};
use crate::number::{Decimal, Fraction};
use serde_json::{Map, Value};

/// What came out for one appliance under one set.
pub(super) struct Seen {
    applies: Option<bool>,
    band: Option<String>,
    missing: Vec<&'static str>,
    additions: Vec<SeenAddition>,
    exceedances: Vec<SeenExceedance>,
    first_dues: Vec<SeenDue>,
    events: Vec<Event>,
}

struct SeenAddition {
    on: Day,
    days: i32,
    annualised: Option<Fraction>,
    rolling: Option<Fraction>,
}

struct SeenExceedance {
    limit: String,
    on: Day,
    value: Fraction,
}

struct SeenDue {
    duty: String,
    since: Day,
    due: Option<String>,
}

impl Seen {
    pub(super) fn new(
        prepared: &PreparedAppliance,
        review: &Review,
        events: Vec<Event>,
        on: Day,
    ) -> Seen {
        let dues = review.exceedances.iter().flat_map(|found| &found.due);
        Seen {
            applies: prepared.applies(0, on),
            band: prepared.band(0, on).map(str::to_string),
            missing: review.missing.clone(),
            additions: review
                .additions
                .iter()
                .map(|addition| SeenAddition {
                    on: addition.day,
                    days: addition.days,
                    annualised: addition.annualised(),
                    rolling: addition.rolling(),
                })
                .collect(),
            exceedances: review
                .exceedances
                .iter()
                .map(|found| SeenExceedance {
                    limit: found.limit.name.clone(),
                    on: found.on,
                    value: found.value,
                })
                .collect(),
            first_dues: dues
                .map(|first| SeenDue {
                    duty: first.duty.name.clone(),
                    since: first.since,
                    due: first.due.map(|due| due.to_string()),
                })
                .collect(),
            events,
        }
    }
}

/// Compares the expectations of one appliance.
pub(super) struct Comparer<'c> {
    pub case: &'c str,
    pub set: &'c RuleSet,
    pub seen: &'c Seen,
    pub outcome: &'c mut Outcome,
}

impl Comparer<'_> {
    /// Compares or skips every expectation of an outcome; an unknown one is a difference.
    pub(super) fn all(mut self, expect: &Value) {
        let Some(expected) = expect.as_object() else {
            return self
                .outcome
                .differs(self.case, "expect", "an outcome", expect);
        };
        for (key, value) in expected {
            match key.as_str() {
                "applies" => self.applies(value),
                "band" => {
                    let found = self.seen.band.as_deref().map_or(Value::Null, Value::from);
                    self.same("band", value, &found);
                }
                "missing" => self.same("missing", value, &Value::from(self.seen.missing.clone())),
                "additions" => self.additions(value),
                "exceedances" => self.exceedances(value),
                "duties" => self.duties(value),
                "absent" => self.absent(value),
                "gaps" => self
                    .outcome
                    .skips(self.case, key, "records are not evaluated yet"),
                _ => self
                    .outcome
                    .differs(self.case, key, "a known expectation", "unknown word"),
            }
        }
    }

    fn applies(&mut self, value: &Value) {
        let found = match self.seen.applies {
            Some(true) => "yes",
            Some(false) => "no",
            None => "cannot_judge",
        };
        self.same("applies", value, &Value::from(found));
    }

    fn same(&mut self, what: &str, expected: &Value, found: &Value) {
        self.outcome.compared += 1;
        if expected != found {
            self.outcome.differs(self.case, what, expected, found);
        }
    }

    fn list<'v>(&mut self, what: &str, value: &'v Value) -> Vec<&'v Map<String, Value>> {
        match value.as_array() {
            Some(items) if items.iter().all(Value::is_object) => {
                items.iter().filter_map(Value::as_object).collect()
            }
            _ => {
                self.outcome
                    .differs(self.case, what, "a list of tables", value);
                Vec::new()
            }
        }
    }

    fn length(&mut self, what: &str, expected: usize, found: usize) -> bool {
        self.outcome.compared += 1;
        if expected != found {
            self.outcome
                .differs(self.case, what, format!("{expected} of them"), found);
        }
        expected == found
    }

    fn additions(&mut self, value: &Value) {
        let items = self.list("additions", value);
        if !self.length("additions", items.len(), self.seen.additions.len()) {
            return;
        }
        let seen = self.seen;
        for (at, (item, found)) in items.iter().zip(&seen.additions).enumerate() {
            let place = format!("additions {}", at + 1);
            for (key, wanted) in *item {
                let what = format!("{place} {key}");
                match key.as_str() {
                    "on" => self.same(&what, wanted, &Value::from(found.on.to_string())),
                    "days" => self.same(&what, wanted, &Value::from(found.days)),
                    "annualised" => self.fraction(&what, wanted, found.annualised),
                    "rolling" => self.fraction(&what, wanted, found.rolling),
                    _ => self
                        .outcome
                        .differs(self.case, &what, "a known word", "unknown word"),
                }
            }
        }
    }

    fn exceedances(&mut self, value: &Value) {
        let items = self.list("exceedances", value);
        if !self.length("exceedances", items.len(), self.seen.exceedances.len()) {
            return;
        }
        let seen = self.seen;
        for (at, (item, found)) in items.iter().zip(&seen.exceedances).enumerate() {
            let place = format!("exceedances {}", at + 1);
            for (key, wanted) in *item {
                let what = format!("{place} {key}");
                match key.as_str() {
                    "limit" => self.same(&what, wanted, &Value::from(found.limit.as_str())),
                    "on" => self.same(&what, wanted, &Value::from(found.on.to_string())),
                    "value" => self.fraction(&what, wanted, Some(found.value)),
                    _ => self
                        .outcome
                        .differs(self.case, &what, "a known word", "unknown word"),
                }
            }
        }
    }

    fn fraction(&mut self, what: &str, wanted: &Value, found: Option<Fraction>) {
        self.outcome.compared += 1;
        let text = wanted.as_str().unwrap_or("");
        if fraction_of(text).is_none() || fraction_of(text) != found {
            let found = found.map_or("no number".to_string(), |found| found.to_string());
            self.outcome.differs(self.case, what, wanted, found);
        }
    }

    fn duties(&mut self, value: &Value) {
        let mut taken = vec![false; self.seen.first_dues.len()];
        for (at, item) in self.list("duties", value).into_iter().enumerate() {
            let name = item.get("duty").and_then(Value::as_str).unwrap_or("");
            let place = format!("duties {} '{name}'", at + 1);
            let Some(duty) = self.set.duties.iter().find(|duty| duty.name == name) else {
                self.outcome
                    .differs(self.case, &place, "a duty of the set", "no such duty");
                continue;
            };
            if let Some(why) = not_by_limits(self.set, duty) {
                self.outcome.skips(self.case, place, why);
                continue;
            }
            self.duty(&place, duty, item, &mut taken);
        }
    }

    /// One expected duty: a first due date of that duty, not yet taken, with the same fields.
    fn duty(&mut self, place: &str, duty: &Duty, item: &Map<String, Value>, taken: &mut [bool]) {
        let mut fields = Vec::new();
        for (key, wanted) in item {
            match key.as_str() {
                "duty" => {}
                "since" => fields.push(("since", wanted)),
                "due" => match self.moved(duty) {
                    None => fields.push(("due", wanted)),
                    Some(why) => self.outcome.skips(self.case, format!("{place} due"), why),
                },
                _ => {
                    let why = "only the first due date of a duty is worked out so far";
                    self.outcome.skips(self.case, format!("{place} {key}"), why);
                }
            }
        }
        self.outcome.compared += 1 + fields.len();
        let matches = |seen: &SeenDue| {
            fields.iter().all(|(key, wanted)| match *key {
                "since" => wanted.as_str() == Some(seen.since.to_string().as_str()),
                _ => wanted.as_str() == seen.due.as_deref(),
            })
        };
        let own = |seen: &SeenDue| seen.duty == duty.name;
        let dues = self.seen.first_dues.iter().zip(taken.iter_mut());
        let mut free = dues.filter(|(seen, taken)| own(seen) && !**taken);
        match free.find(|(seen, _)| matches(seen)) {
            Some((_, taken)) => *taken = true,
            None => {
                let found: Vec<String> = (self.seen.first_dues.iter().filter(|seen| own(seen)))
                    .map(|seen| format!("since {} due {:?}", seen.since, seen.due))
                    .collect();
                let wanted = Value::Object(item.clone());
                self.outcome
                    .differs(self.case, place, wanted, format!("[{}]", found.join(", ")));
            }
        }
    }

    /// Why the due date of a duty may no longer be its first.
    fn moved(&self, duty: &Duty) -> Option<String> {
        let own = self
            .seen
            .first_dues
            .iter()
            .filter(|seen| seen.duty == duty.name);
        let since = own.map(|seen| seen.since).min()?;
        let after = self.seen.events.iter().filter(|event| event.day >= since);
        for event in after {
            if matches!(event.kind, Kind::Extension | Kind::Mothball) {
                return Some("extensions and pauses are not evaluated yet".to_string());
            }
            let done = |kind: EventKind| kind.kind() == Some(event.kind);
            if duty.repeats && duty.done_by.iter().any(|pattern| done(pattern.event)) {
                return Some("later turns of a cadence are not evaluated yet".to_string());
            }
        }
        None
    }

    fn absent(&mut self, value: &Value) {
        for name in value
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(Value::as_str)
        {
            let what = format!("absent '{name}'");
            let Some(duty) = self.set.duties.iter().find(|duty| duty.name == name) else {
                self.outcome
                    .differs(self.case, &what, "a duty of the set", "no such duty");
                continue;
            };
            if let Some(why) = not_by_limits(self.set, duty) {
                self.outcome.skips(self.case, what, why);
                continue;
            }
            self.outcome.compared += 1;
            if let Some(found) = self.seen.first_dues.iter().find(|seen| seen.duty == name) {
                let found = format!("owed since {}", found.since);
                self.outcome.differs(self.case, &what, "not owed", found);
            }
        }
    }
}

/// Why a duty is not worked out from limits alone.
fn not_by_limits(set: &RuleSet, duty: &Duty) -> Option<String> {
    if duty.subject == Some(Subject::Organisation) {
        return Some("duties of the whole organisation are not evaluated yet".to_string());
    }
    let by_limit = |start| set.limits.iter().any(|limit| starts_by(start, &limit.name));
    if duty.starts.iter().all(by_limit) {
        return None;
    }
    let other = duty.starts.iter().find(|start| !by_limit(start))?;
    let what = if other.covered {
        "being covered"
    } else if other.event.is_some() {
        "an event"
    } else if other.limit.is_some() {
        "a limit while another duty is open or done"
    } else if other.period_end.is_some() {
        "the end of a period"
    } else {
        "another duty"
    };
    Some(format!("duties started by {what} are not evaluated yet"))
}

/// Reads `365/18`, `20` or `8.5`.
fn fraction_of(text: &str) -> Option<Fraction> {
    match text.split_once('/') {
        Some((numerator, denominator)) => {
            let denominator = denominator.parse().ok().filter(|d| *d > 0)?;
            Some(Fraction::new(numerator.parse().ok()?, denominator))
        }
        None => Decimal::parse(text).map(Decimal::fraction),
    }
}
