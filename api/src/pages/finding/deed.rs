//! The forms of a finding as they were filled in, and the requests they become: settle it, weigh its
//! cylinder, name what is in it.

use super::FindingPage;
use crate::actions::refusal::{Question, Refusal};
use crate::actions::show::found::OneFound;
use crate::actions::show::things::{BalanceShown, ThingShown};
use crate::http::Problem;
use crate::pages::form::box_problem;
use crate::pages::posting::AskedQuestion;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// Which of the forms.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Step {
    /// Settles the finding.
    #[default]
    Settle,
    /// Weighs the cylinder.
    Weigh,
    /// Names what is in it.
    Name,
}

impl Step {
    /// Its word on the wire.
    pub fn word(self) -> &'static str {
        match self {
            Step::Settle => "settle",
            Step::Weigh => "weigh",
            Step::Name => "name",
        }
    }
}

/// What was filled in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filled {
    /// Which form.
    pub step: Step,
    /// Made when the page was served, so that a second press books nothing twice.
    pub entry_id: String,
    /// The state that was looked at.
    pub version: String,
    /// The reason of closing.
    pub reason: String,
    /// The reason in words.
    pub says: String,
    /// The cylinder on the scale.
    pub gross: String,
    /// What is in it.
    pub becomes: String,
    /// Its condition.
    pub class: String,
    /// By what it is known.
    pub note: String,
    /// Answers by code.
    answers: BTreeMap<String, String>,
}

impl Filled {
    /// Reads the pairs of a form; what the page does not have is left out.
    pub fn read(pairs: Vec<(String, String)>) -> Filled {
        let mut filled = Filled::default();
        for (name, value) in pairs {
            let value = value.trim().replace("\r\n", "\n");
            if let Some(code) = name.strip_prefix("answer.") {
                if !value.is_empty() {
                    filled.answers.insert(code.to_string(), value);
                }
                continue;
            }
            match (name.as_str(), value.as_str()) {
                ("step", "weigh") => filled.step = Step::Weigh,
                ("step", "name") => filled.step = Step::Name,
                ("entry_id", _) => filled.entry_id = value,
                ("version", _) => filled.version = value,
                ("reason", _) => filled.reason = value,
                ("says", _) => filled.says = value,
                ("gross", _) => filled.gross = value,
                ("becomes", _) => filled.becomes = value,
                ("class", _) => filled.class = value,
                ("note", _) => filled.note = value,
                _ => {}
            }
        }
        filled
    }

    /// What is missing before anything is sent.
    pub fn problems(&self) -> Vec<String> {
        let mut problems = Vec::new();
        let mut need = |text: &str, what: &str| {
            if text.is_empty() {
                problems.push(what.to_string());
            }
        };
        match self.step {
            Step::Settle => {
                need(&self.reason, "Choose what settles it.");
                need(
                    &self.says,
                    "Write the reason in your own words: who looks at it in a year has only these.",
                );
            }
            Step::Weigh => need(
                &self.gross,
                "Write what the scale shows, with its unit, such as 40 lb 0 oz.",
            ),
            Step::Name => {
                need(&self.becomes, "Write what is in it, such as R-410A.");
                need(&self.note, "Write by what it is known: whose analysis.");
            }
        }
        problems
    }

    /// The request for the door.
    pub fn request(&self, code: &str, found: &OneFound) -> Value {
        let cylinder = found.things.iter().find(|thing| thing.kind == "cylinder");
        let mut request = Map::new();
        request.insert("entry_id".to_string(), self.entry_id.clone().into());
        request.insert("answers".to_string(), json!(self.answers));
        let (kind, body) = match (self.step, cylinder) {
            (Step::Weigh, Some(cylinder)) => ("count", self.count(cylinder)),
            (Step::Name, Some(cylinder)) => ("redesignate", self.name(cylinder)),
            _ => {
                request.insert("reason_text".to_string(), self.says.clone().into());
                let entries = [found.line.entry_id.to_string()];
                let body = json!({"code": code, "entries": entries, "reason": self.reason});
                ("settle", body)
            }
        };
        if !self.note.is_empty() {
            request.insert("note".to_string(), self.note.clone().into());
        }
        request.insert("kind".to_string(), kind.into());
        request.insert("body".to_string(), body);
        request.into()
    }

    fn count(&self, cylinder: &ThingShown) -> Value {
        let mut body = json!({"cylinder": format!("cylinder:{}", cylinder.id),
                              "gross": self.gross, "reason": "counted"});
        if held(cylinder).next().is_none() {
            // Nothing is known of what is in it; it is named afterwards.
            body["refrigerant"] = json!("unknown");
            body["reason"] = json!("unposted_transfer");
        }
        body
    }

    /// All that is in the cylinder gets its name.
    fn name(&self, cylinder: &ThingShown) -> Value {
        let place = format!("cylinder:{}", cylinder.id);
        let other = held(cylinder).filter(|balance| balance.refrigerant != self.becomes);
        let movements: Vec<Value> = other
            .map(|balance| {
                json!({"from": place, "refrigerant": balance.refrigerant,
                       "mass": format!("{} g", balance.mass.g)})
            })
            .collect();
        let mut body = json!({"becomes": self.becomes, "movements": movements});
        if self.becomes == "mixture" {
            let known = held(cylinder).map(|balance| balance.refrigerant.as_str());
            let known: Vec<&str> = known.filter(|name| *name != "unknown").collect();
            body["parts"] = json!(known);
        }
        if !self.class.is_empty() {
            body["class"] = json!(self.class);
        }
        body
    }
}

/// What the book holds in it, without what is empty or below zero.
fn held(thing: &ThingShown) -> impl Iterator<Item = &BalanceShown> {
    let balances = thing.balances.iter().flatten();
    balances.filter(|balance| !balance.mass.g.starts_with('-') && balance.mass.g != "0")
}

/// Is there something in it?
pub fn is_held(thing: &ThingShown) -> bool {
    held(thing).next().is_some()
}

/// `12 lb 8 oz of R-410A`.
pub fn holds(thing: &ThingShown) -> String {
    let all: Vec<String> = held(thing)
        .map(|balance| {
            let name = match balance.refrigerant.as_str() {
                "unknown" => "what is not known",
                name => name,
            };
            format!("{} of {name}", balance.mass.lb_oz)
        })
        .collect();
    match all.is_empty() {
        true => "nothing by the book".to_string(),
        false => all.join(" and "),
    }
}

impl FindingPage {
    /// Shows what the door said: questions to answer, or what is to be put right.
    pub fn refuse(&mut self, refusal: Refusal) -> Result<(), Problem> {
        let answers = self.filled.answers.clone();
        let asked = |question: Question| AskedQuestion {
            answered: answers.get(question.code).cloned().unwrap_or_default(),
            code: question.code,
            text: question.text,
            choices: question.choices,
        };
        match refusal {
            Refusal::NeedsAnswer(questions) => {
                self.questions = questions.into_iter().map(asked).collect();
            }
            Refusal::HardStop(stops) => {
                self.problems = stops.into_iter().map(|stop| stop.text).collect();
            }
            refusal => match box_problem(&refusal) {
                Some(problem) => self.problems.push(problem.text),
                None => return Err(refusal.into()),
            },
        }
        Ok(())
    }
}
