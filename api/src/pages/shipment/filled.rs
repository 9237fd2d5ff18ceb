//! The form of a statement as it was filled in, and the request it becomes.

use crate::actions::show::shipments::Case;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// What a statement's scale shows.
pub const UNITS: [&str; 3] = ["lb", "lb+oz", "kg"];

/// What was filled in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filled {
    /// Made when the page was served.
    pub entry_id: String,
    /// The unit of numbers that name none.
    pub unit: String,
    /// Refrigerant, its weight, and oil, water and air: one row for each line of the statement.
    pub lines: Vec<FilledLine>,
    /// The number of the statement.
    pub document: String,
    /// Its day.
    pub day: String,
    /// `accepted` or `disputed`.
    pub outcome: String,
    /// A note.
    pub note: String,
    /// Other shipments that it is about.
    pub also: Vec<String>,
    /// Is the statement that holds taken back, instead of another entered?
    pub takes_back: bool,
    /// Why.
    pub why: String,
    answers: BTreeMap<String, String>,
}

/// One refrigerant.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FilledLine {
    /// Designation.
    pub refrigerant: String,
    /// Stated weight.
    pub mass: String,
    /// Oil, water and air.
    pub residue: String,
}

/// What can have been wrong with a statement.
pub const WRONG: [&str; 6] = [
    "misread",
    "wrong_unit",
    "wrong_refrigerant",
    "duplicate",
    "did_not_happen",
    "other",
];

/// Most lines of a form.
const MOST: usize = 20;

impl Filled {
    /// The empty form: a row for each refrigerant that was sent, one for another name.
    pub fn empty(refrigerants: &[String]) -> Filled {
        let names = refrigerants.iter().cloned().chain([String::new()]);
        let line = |refrigerant| FilledLine {
            refrigerant,
            ..FilledLine::default()
        };
        Filled {
            unit: UNITS[0].to_string(),
            lines: names.map(line).collect(),
            ..Filled::default()
        }
    }

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
            if let Some((member, at)) = name.split_once('.') {
                filled.put_line(member, at, value);
                continue;
            }
            match name.as_str() {
                "entry_id" => filled.entry_id = value,
                "unit" => filled.unit = value,
                "document" => filled.document = value,
                "day" => filled.day = value,
                "outcome" => filled.outcome = value,
                "note" => filled.note = value,
                "also" => filled.also.push(value),
                "step" => filled.takes_back = value == "take_back",
                "why" => filled.why = value,
                _ => {}
            }
        }
        filled
    }

    fn put_line(&mut self, member: &str, at: &str, value: String) {
        let Some(at) = at.parse::<usize>().ok().filter(|at| *at < MOST) else {
            return;
        };
        if self.lines.len() <= at {
            self.lines.resize(at + 1, FilledLine::default());
        }
        let line = &mut self.lines[at];
        match member {
            "refrigerant" => line.refrigerant = value,
            "mass" => line.mass = value,
            "residue" => line.residue = value,
            _ => {}
        }
    }

    /// With at least the rows of the page.
    pub fn beside(mut self, page: &Filled) -> Filled {
        if self.lines.is_empty() {
            self.lines.clone_from(&page.lines);
        }
        self
    }

    /// What is missing before anything is sent.
    pub fn problems(&self) -> Vec<String> {
        let mut problems = Vec::new();
        if self.takes_back {
            if self.why.is_empty() {
                problems.push("Choose what was wrong with the statement.".to_string());
            }
            return problems;
        }
        let said = self.lines.iter().any(|line| !line.mass.is_empty());
        if !said {
            let what = "Write the weight that the statement says, for each refrigerant.";
            problems.push(what.to_string());
        }
        if let Some(line) = self.lines.iter().find(|line| line.is_without_weight()) {
            problems.push(format!(
                "Write the weight of {} beside its oil, water and air; 0 where none of it was refrigerant.",
                line.refrigerant
            ));
        }
        if self
            .lines
            .iter()
            .any(|line| line.refrigerant.is_empty() && !line.mass.is_empty())
        {
            let what = "Write which refrigerant the last weight is of, such as R-410A.";
            problems.push(what.to_string());
        }
        if self.outcome.is_empty() {
            problems.push("Choose whether you accept the weights or dispute them.".to_string());
        }
        problems
    }

    /// Is it also about the shipment with this number?
    pub fn has(&self, entry: u64) -> bool {
        self.also.iter().any(|also| *also == entry.to_string())
    }

    /// The answer given to a question so far.
    pub fn answered(&self, code: &str) -> String {
        self.answers.get(code).cloned().unwrap_or_default()
    }

    /// Answers that the page does not ask for again.
    pub fn kept_answers(&self, asked: &[super::AskedQuestion]) -> Vec<(&str, &str)> {
        let answers = self.answers.iter();
        let kept = answers.filter(|(code, _)| asked.iter().all(|question| question.code != **code));
        kept.map(|(code, choice)| (code.as_str(), choice.as_str()))
            .collect()
    }

    /// The request for the door.
    pub fn request(&self, entry_id: &str, case: &Case) -> Value {
        if self.takes_back {
            let corrects = case.statement.as_ref().map(|it| it.entry_id.as_str());
            let body = json!({"corrects": corrects.unwrap_or_default(), "reason": self.why});
            return json!({"entry_id": entry_id, "kind": "correction", "body": body});
        }
        let own = case.shipments.iter().map(|sent| sent.entry.to_string());
        let entries: Vec<String> = own.chain(self.also.iter().cloned()).collect();
        let weight = |text: &str| json!({"text": text, "unit": self.unit});
        let stated = self.lines.iter().filter(|line| !line.mass.is_empty());
        let stated: Vec<Value> = stated
            .map(|line| {
                let mut one = json!({"refrigerant": line.refrigerant, "mass": weight(&line.mass)});
                if !line.residue.is_empty() {
                    one["residue"] = weight(&line.residue);
                }
                one
            })
            .collect();
        let mut body = json!({
            "counterparty": case.counterparty.id,
            "entries": entries,
            "outcome": self.outcome,
            "stated": stated,
        });
        if !self.document.is_empty() {
            body["document"] = json!(self.document);
        }
        let mut request = Map::new();
        request.insert("entry_id".to_string(), json!(entry_id));
        request.insert("kind".to_string(), json!("statement"));
        if !self.day.is_empty() {
            request.insert("happened".to_string(), json!({"day": self.day}));
        }
        if !self.note.is_empty() {
            request.insert("note".to_string(), json!(self.note));
        }
        request.insert("answers".to_string(), json!(self.answers));
        request.insert("body".to_string(), body);
        request.into()
    }
}

impl FilledLine {
    fn is_without_weight(&self) -> bool {
        self.mass.is_empty() && !self.residue.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
        let own = |(name, value): &(&str, &str)| ((*name).to_string(), (*value).to_string());
        pairs.iter().map(own).collect()
    }

    #[test]
    fn rows_of_boxes_become_lines_and_what_is_missing_is_said() {
        let filled = Filled::read(pairs(&[
            ("refrigerant.0", "R-410A"),
            ("mass.0", " 61.2 "),
            ("residue.0", ""),
            ("refrigerant.1", ""),
            ("mass.1", ""),
            ("answer.statement_differs", "as_stated"),
            ("also", "12"),
            ("mass.999999", "1"),
        ]));
        assert_eq!(filled.lines.len(), 2);
        assert_eq!(filled.lines[0].mass, "61.2");
        assert_eq!(filled.answered("statement_differs"), "as_stated");
        assert_eq!(filled.also, ["12"]);
        assert_eq!(filled.problems().len(), 1, "accepted or disputed");
        let empty = Filled::read(pairs(&[("residue.0", "1"), ("mass.1", "2")]));
        assert_eq!(empty.problems().len(), 3);
        assert_eq!(Filled::read(Vec::new()).problems().len(), 2);
        let back = Filled::read(pairs(&[("step", "take_back"), ("why", "misread")]));
        assert_eq!(back.problems(), [""; 0]);
        let why = Filled::read(pairs(&[("step", "take_back")]));
        assert_eq!(why.problems().len(), 1);
        let reasons = crate::actions::correct::REASONS;
        assert!(WRONG.iter().all(|reason| reasons.contains(reason)));
    }
}
