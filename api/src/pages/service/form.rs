//! The form of one step: its boxes, what was filled in, and the request for the door.

use super::measured;
use super::words::{choice, label, step_title, texts};
use super::{KnownLeak, STEPS, Step, words_of};
use crate::actions::refusal::{Question, Refusal};
use crate::actions::service::{Allowed, Word};
use crate::actions::show::lines::Line;
use crate::ledger::entry::EntryKind;
use crate::pages::form::{BoxProblem, pointer_of};
use crate::pages::posting::AskedQuestion;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// Lists that are longer are folded into one line.
const LONGEST_ROW: usize = 4;

/// What a box takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// One of a few, to be pressed.
    Pressed,
    /// One of many.
    Listed,
    /// A decimal.
    Decimal,
    /// A day.
    Day,
    /// A text.
    Text,
}

/// One box of a form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Box {
    /// Its name, that of the member of the request.
    pub name: &'static str,
    /// Its label.
    pub label: &'static str,
    /// What it takes.
    pub shape: Shape,
    /// Must it be filled in?
    pub required: bool,
    /// What may be chosen: value and words.
    pub choices: Vec<(String, String)>,
    /// What was filled in.
    pub value: String,
}

impl Box {
    /// May it stay empty, and does its label not say so already?
    pub fn is_optional(&self) -> bool {
        !self.required
            && ![" if ", "vented"]
                .iter()
                .any(|says| self.label.contains(says))
    }

    /// Is it a row of choices to press?
    pub fn is_pressed(&self) -> bool {
        self.shape == Shape::Pressed
    }

    /// Is it a folded list?
    pub fn is_listed(&self) -> bool {
        self.shape == Shape::Listed
    }

    /// Is it a day?
    pub fn is_day(&self) -> bool {
        self.shape == Shape::Day
    }

    /// Is it a number?
    pub fn is_decimal(&self) -> bool {
        self.shape == Shape::Decimal
    }

    pub(super) fn of(kind: EntryKind, word: &Word, value: &str) -> Box {
        let (shape, list) = match word.allowed {
            Allowed::List(list) if list.len() <= LONGEST_ROW => (Shape::Pressed, list),
            Allowed::List(list) => (Shape::Listed, list),
            Allowed::Decimal | Allowed::Number => (Shape::Decimal, &[][..]),
            Allowed::Mass => (Shape::Text, &[][..]),
            Allowed::Day => (Shape::Day, &[][..]),
        };
        let mut choices: Vec<(String, String)> = list
            .iter()
            .map(|one| (one.to_string(), choice(word.name, one)))
            .collect();
        // A reading without its kind of gauge is refused: it is asked for, not preset.
        let required = word.required || word.name == "gauge";
        if !required && !choices.is_empty() {
            choices.push((String::new(), "Not stated".to_string()));
        }
        Box {
            name: word.name,
            label: label(kind, word.name),
            shape,
            required,
            choices,
            value: value.to_string(),
        }
    }
}

/// A form as it was filled in.
#[derive(Clone, Debug)]
pub struct Filled {
    /// Its kind.
    pub kind: EntryKind,
    /// Made when the form was served.
    pub entry_id: String,
    /// The visit.
    pub visit: String,
    /// The day.
    pub day: String,
    /// The time.
    pub time: String,
    /// A note.
    pub note: String,
    /// Why an entry is corrected.
    pub why: String,
    /// What stands instead of a corrected entry: empty, or `nothing`.
    pub instead: String,
    /// Boxes by name.
    pub(super) values: BTreeMap<String, String>,
    /// Answers by code.
    answers: BTreeMap<String, String>,
    /// What is to be put right.
    pub(super) problems: Vec<BoxProblem>,
    /// What the book asks.
    pub questions: Vec<Question>,
}

impl Filled {
    /// An empty form.
    pub fn new(kind: EntryKind) -> Filled {
        Filled {
            kind,
            entry_id: String::new(),
            visit: String::new(),
            day: String::new(),
            time: String::new(),
            note: String::new(),
            why: String::new(),
            instead: String::new(),
            values: BTreeMap::new(),
            answers: BTreeMap::new(),
            problems: Vec::new(),
            questions: Vec::new(),
        }
    }

    /// The form filled with what an entry says.
    pub fn of_line(kind: EntryKind, line: &Line) -> Filled {
        let mut filled = Filled::new(kind);
        filled.day = line.day.clone();
        filled.time = line.time.clone().unwrap_or_default();
        filled.visit = line.visit.map(|id| id.to_string()).unwrap_or_default();
        let said = line.words.iter().chain(&line.texts);
        for (name, value) in said {
            // What a correction put in place is kept under its own path.
            let name = name.rsplit('.').next().unwrap_or(name);
            match name {
                "note" => filled.note = value.clone(),
                name if filled.takes(name) => {
                    filled.values.insert(name.to_string(), value.clone());
                }
                _ => {}
            }
        }
        if let Some(leak) = line.leak {
            filled.values.insert("leak".to_string(), leak.to_string());
        }
        filled
    }

    /// The request that takes an entry back and says, unless it did not happen, what stands instead.
    pub fn correction(&self, corrects: &str, appliance: &str) -> Value {
        let mut entry = self.request(appliance);
        let mut body = json!({"corrects": corrects, "reason": self.why});
        if self.instead != "nothing" {
            let mut instead = json!({"kind": entry["kind"].take(), "body": entry["body"].take(),
                                     "happened": entry["happened"].take()});
            if self.kind == EntryKind::LeakFound {
                // It stays the leak it was.
                instead["body"]["leak"] = match self.values.get("leak") {
                    Some(leak) => json!(leak),
                    None => json!(corrects),
                };
            }
            body["replace"] = instead;
        }
        let mut request = json!({"kind": "correction", "entry_id": self.entry_id,
                                 "answers": self.answers, "body": body});
        if !self.note.is_empty() {
            request["note"] = json!(self.note);
        }
        request
    }

    /// Reads the pairs of a form; `None`: a kind or a box that this page does not have.
    pub fn read(pairs: Vec<(String, String)>) -> Option<Filled> {
        let kind = pairs.iter().find(|(name, _)| name == "kind")?;
        let kind = *STEPS.iter().find(|step| step.word() == kind.1)?;
        Filled::read_as(kind, pairs)
    }

    /// Reads the pairs of the form of a kind; `None`: a box that it does not have.
    pub fn read_as(kind: EntryKind, pairs: Vec<(String, String)>) -> Option<Filled> {
        let mut filled = Filled::new(kind);
        for (name, value) in pairs {
            let value = value.trim().replace("\r\n", "\n");
            if let Some(code) = name.strip_prefix("answer.") {
                if !value.is_empty() {
                    filled.answers.insert(code.to_string(), value);
                }
                continue;
            }
            match name.as_str() {
                "form" | "kind" => {}
                "entry_id" => filled.entry_id = value,
                "visit" => filled.visit = value,
                "day" => filled.day = value,
                "time" => filled.time = value,
                "note" => filled.note = value,
                "why" => filled.why = value,
                "instead" => filled.instead = value,
                name if filled.takes(name) => {
                    filled.values.insert(name.to_string(), value);
                }
                _ => return None,
            }
        }
        Some(filled)
    }

    fn takes(&self, name: &str) -> bool {
        name == "leak"
            || words_of(self.kind).iter().any(|word| word.name == name)
            || texts(self.kind).iter().any(|(text, _)| *text == name)
    }

    /// The request for the door.
    pub fn request(&self, appliance: &str) -> Value {
        self.request_about("appliance", appliance)
    }

    /// The request for the door about a thing of another sort.
    pub fn request_about(&self, sort: &str, id: &str) -> Value {
        let mut body = Map::new();
        body.insert(sort.to_string(), id.into());
        let given = self.values.iter().filter(|(_, value)| !value.is_empty());
        body.extend(given.map(|(name, value)| (name.clone(), value.clone().into())));
        if self.kind == EntryKind::LeakFound {
            // A leak has the name of the entry that told of it.
            body.insert("leak".to_string(), self.entry_id.clone().into());
        }
        let mut request = Map::new();
        let mut happened = Map::new();
        put(&mut happened, "day", &self.day);
        put(&mut happened, "time", &self.time);
        put(&mut request, "entry_id", &self.entry_id);
        put(&mut request, "kind", self.kind.word());
        put(&mut request, "visit", &self.visit);
        put(&mut request, "note", &self.note);
        request.insert("happened".to_string(), happened.into());
        request.insert("answers".to_string(), json!(self.answers));
        request.insert("body".to_string(), body.into());
        request.into()
    }

    /// Notes what a refusal asks; `false`: it asks nothing.
    pub fn ask(&mut self, refusal: &Refusal) -> bool {
        let Refusal::NeedsAnswer(questions) = refusal else {
            return false;
        };
        self.questions.clone_from(questions);
        true
    }

    /// Notes what a refusal wants put right, at its box.
    pub fn put_right(&mut self, refusal: &Refusal, text: String) {
        let pointer = pointer_of(refusal);
        let named = pointer.rsplit('/').next().unwrap_or_default();
        let words = words_of(self.kind).iter().map(|word| word.name);
        let own = texts(self.kind).iter().map(|(name, _)| *name);
        let mut known = words
            .chain(own)
            .chain(["leak", "day", "time", "note", "reason"]);
        let field = known.find(|name| *name == named).unwrap_or("form");
        let is_word = words_of(self.kind).iter().any(|word| word.name == field);
        let text = match is_word {
            true => {
                let asks = label(self.kind, field).trim_end_matches('?');
                format!("{asks}: {}", measured::in_words(&text))
            }
            false => text,
        };
        self.problems.push(BoxProblem { field, text });
    }

    /// The form as it is shown.
    pub fn step(&self, leaks: &[KnownLeak]) -> Step {
        let value = |name: &str| self.values.get(name).map_or("", String::as_str);
        let mut boxes: Vec<Box> = words_of(self.kind)
            .iter()
            .map(|word| Box::of(self.kind, word, value(word.name)))
            .collect();
        let about_a_leak = matches!(self.kind, EntryKind::Repair | EntryKind::VerificationTest);
        if about_a_leak && !leaks.is_empty() {
            boxes.insert(0, of_leak(leaks, value("leak")));
        }
        boxes.extend(texts(self.kind).iter().map(|(name, label)| Box {
            name,
            label,
            shape: Shape::Text,
            required: false,
            choices: Vec::new(),
            value: value(name).to_string(),
        }));
        let asked = |question: &Question| AskedQuestion {
            code: question.code,
            text: question.text.clone(),
            choices: question.choices.clone(),
            answered: self.answers.get(question.code).cloned().unwrap_or_default(),
        };
        let again = |code: &str| self.questions.iter().any(|question| question.code == code);
        let kept = self.answers.iter().filter(|(code, _)| !again(code));
        Step {
            kind: self.kind.word(),
            title: step_title(self.kind),
            caution: measured::caution(self.kind.word()),
            done: crate::pages::words::deed(self.kind.word()),
            open: !self.problems.is_empty() || !self.questions.is_empty(),
            entry_id: self.entry_id.clone(),
            visit: self.visit.clone(),
            day: self.day.clone(),
            time: self.time.clone(),
            note: self.note.clone(),
            boxes,
            problems: self.problems.clone(),
            questions: self.questions.iter().map(asked).collect(),
            kept: kept
                .map(|(code, answer)| (code.clone(), answer.clone()))
                .collect(),
        }
    }
}

fn of_leak(leaks: &[KnownLeak], value: &str) -> Box {
    let known = leaks
        .iter()
        .map(|leak| (leak.id.clone(), leak.says.clone()));
    Box {
        name: "leak",
        label: "Which leak?",
        shape: Shape::Listed,
        required: false,
        choices: [(String::new(), "not stated".to_string())]
            .into_iter()
            .chain(known)
            .collect(),
        value: value.to_string(),
    }
}

fn put(into: &mut Map<String, Value>, name: &str, text: &str) {
    if !text.is_empty() {
        into.insert(name.to_string(), text.into());
    }
}
