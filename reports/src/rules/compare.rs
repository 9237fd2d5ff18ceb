//! One expected outcome against what came out, expectation by expectation.
//!
//! Every word of an expectation is compared exactly; an unknown one is a difference.

use super::deadline::Due;
use super::duties::Owed;
use super::examples::Outcome;
use super::file::RuleSet;
use super::judge::PreparedAppliance;
use super::organisation::OfOrganisation;
use super::records::Gap;
use super::review::Review;
use crate::day::Day;
use crate::number::{Decimal, Fraction};
use serde_json::{Map, Value, json};

/// What came out for one appliance, or for the organisation, under one set.
pub(super) struct Seen {
    applies: Option<bool>,
    band: Option<String>,
    missing: Vec<&'static str>,
    gaps: Vec<Gap>,
    additions: Vec<SeenAddition>,
    exceedances: Vec<SeenExceedance>,
    duties: Vec<Map<String, Value>>,
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
    lists: Vec<String>,
}

impl Seen {
    pub(super) fn new(
        prepared: &PreparedAppliance,
        review: &Review,
        gaps: Vec<Gap>,
        on: Day,
    ) -> Seen {
        Seen {
            applies: prepared.applies(0, on),
            band: prepared.band(0, on).map(str::to_string),
            missing: review.missing.clone(),
            gaps,
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
                    value: found.value(),
                    lists: Vec::new(),
                })
                .collect(),
            duties: review.duties.iter().map(seen_duty).collect(),
        }
    }

    pub(super) fn of_organisation(of: &OfOrganisation) -> Seen {
        let exceedances = of.sums.iter().map(|sum| SeenExceedance {
            limit: sum.limit.name.clone(),
            on: sum.on,
            value: sum.value,
            lists: sum.lists.clone(),
        });
        Seen {
            applies: None,
            band: None,
            missing: of.missing.clone(),
            gaps: Vec::new(),
            additions: Vec::new(),
            exceedances: exceedances.collect(),
            duties: of.duties.iter().map(seen_duty).collect(),
        }
    }
}

/// A duty in the words of a situation.
fn seen_duty(owed: &Owed) -> Map<String, Value> {
    let day = |day: Option<Day>| day.map_or(Value::Null, |day| json!(day.to_string()));
    let due = |due: Option<Due>| due.map_or(Value::Null, |due| json!(due.to_string()));
    let seen = json!({
        "duty": owed.duty.name,
        "since": owed.since.to_string(),
        "due": due(owed.due),
        "state": owed.state.word(),
        "on": day(owed.on),
        "last": day(owed.last.map(|(day, _)| day)),
        "left": owed.left,
        "for": owed.waiting.first().map(|anchor| anchor.word()),
        "age": owed.age,
        "not_before": due(owed.not_before),
        "too_early": day(owed.too_early.last().map(|(day, _)| *day)),
        "late_on_discovery": owed.late_on_discovery,
    });
    match seen {
        Value::Object(seen) => seen,
        _ => Map::new(),
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
                "gaps" => self.gaps(value),
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
                    "lists" => self.same(&what, wanted, &json!(found.lists)),
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

    fn gaps(&mut self, value: &Value) {
        let seen = self.seen.gaps.iter();
        let found = seen.map(|gap| json!({"event": gap.entry, "missing": gap.missing}));
        self.same("gaps", value, &Value::Array(found.collect()));
    }

    /// Each expected duty is a distinct one with the same fields.
    fn duties(&mut self, value: &Value) {
        let seen = self.seen;
        let mut taken = vec![false; seen.duties.len()];
        for (at, item) in self.list("duties", value).into_iter().enumerate() {
            let name = item.get("duty").and_then(Value::as_str).unwrap_or("");
            let place = format!("duties {} '{name}'", at + 1);
            if !self.knows(&place, name) {
                continue;
            }
            self.outcome.compared += item.len();
            let matches = |found: &Map<String, Value>| {
                item.iter()
                    .all(|(key, wanted)| found.get(key) == Some(wanted))
            };
            let free = seen.duties.iter().zip(&mut taken);
            let mut free = free.filter(|(found, taken)| !**taken && matches(found));
            if let Some((_, taken)) = free.next() {
                *taken = true;
                continue;
            }
            let own = seen.duties.iter().filter(|found| found["duty"] == name);
            let found: Vec<String> = own
                .map(|found| Value::from(found.clone()).to_string())
                .collect();
            let wanted = Value::Object(item.clone());
            let found = format!("[{}]", found.join(", "));
            self.outcome.differs(self.case, &place, wanted, found);
        }
    }

    fn knows(&mut self, place: &str, name: &str) -> bool {
        let knows = self.set.duties.iter().any(|duty| duty.name == name);
        if !knows {
            self.outcome
                .differs(self.case, place, "a duty of the set", "no such duty");
        }
        knows
    }

    fn absent(&mut self, value: &Value) {
        let names = value.as_array().into_iter().flatten();
        for name in names.filter_map(Value::as_str) {
            let what = format!("absent '{name}'");
            if !self.knows(&what, name) {
                continue;
            }
            self.outcome.compared += 1;
            let mut found = self
                .seen
                .duties
                .iter()
                .filter(|found| found["duty"] == name);
            if let Some(found) = found.next() {
                let found = Value::Object(found.clone());
                self.outcome
                    .differs(self.case, &what, "no such duty owed", found);
            }
        }
    }
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
