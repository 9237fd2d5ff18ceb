//! Refusals and failures as `application/problem+json` (RFC 9457).
//!
//! One `match` gives each refusal its type, and the type its status. The sentence says what was
//! expected, what came and what to do. A failure of ours says nothing of its cause: that stands in
//! the log under the same request id.

pub mod kinds;

use crate::actions::refusal::{Question, Refusal, Stop};
use crate::actions::{ActionError, StoreError};
use kinds::Kind;
use serde_json::{Map, Value, json};

/// An answer that is not the one asked for.
#[derive(Clone, Debug)]
pub struct Problem {
    /// Its type.
    pub kind: &'static Kind,
    /// What was expected, what came, what to do.
    pub detail: String,
    /// Places in the request, each with what is wrong there.
    pub errors: Vec<Fault>,
    /// Further members.
    pub members: Map<String, Value>,
    /// Further headers.
    pub headers: Vec<(&'static str, String)>,
    /// What the log says of it and the answer does not.
    pub cause: Option<String>,
}

/// A place in the request and what is wrong there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// JSON Pointer into the body, or `?name` for a member of the query.
    pub pointer: String,
    /// The type's slug, or a question's code.
    pub code: String,
    /// The sentence.
    pub detail: String,
}

impl Problem {
    /// A problem of a type.
    pub fn new(slug: &str, detail: impl Into<String>) -> Problem {
        Problem {
            kind: kinds::named(slug),
            detail: detail.into(),
            errors: Vec::new(),
            members: Map::new(),
            headers: Vec::new(),
            cause: None,
        }
    }

    /// A problem at a place of the request.
    pub fn at(slug: &str, pointer: &str, detail: impl Into<String>) -> Problem {
        let mut problem = Problem::new(slug, detail);
        problem.errors.push(Fault {
            pointer: pointer.to_string(),
            code: slug.to_string(),
            detail: problem.detail.clone(),
        });
        problem
    }

    /// The same with a header.
    pub fn with_header(mut self, name: &'static str, value: impl Into<String>) -> Problem {
        self.headers.push((name, value.into()));
        self
    }

    /// The same with one more member.
    pub fn with(mut self, name: &str, value: Value) -> Problem {
        self.members.insert(name.to_string(), value);
        self
    }

    /// A busy or absent book: the same request may be sent again.
    pub fn unavailable(cause: impl Into<String>) -> Problem {
        let detail = "The book cannot be reached at this moment. Send the same request again: an \
                      entry_id is booked once, however often it is sent.";
        let mut problem = Problem::new("unavailable", detail).with_header("Retry-After", "2");
        problem.cause = Some(cause.into());
        problem
    }

    /// A fault of ours.
    pub fn failure(cause: impl Into<String>) -> Problem {
        let detail = "Something failed that should not. It stands in the service's log under this \
                      request_id; tell whoever keeps the service.";
        let mut problem = Problem::new("failure", detail);
        problem.cause = Some(cause.into());
        problem
    }

    /// The members of the answer. `instance`: the path that was asked.
    pub fn members(&self, instance: &str, request_id: &str) -> Map<String, Value> {
        let mut members = self.members.clone();
        let fault = |fault: &Fault| json!({"pointer": fault.pointer, "code": fault.code, "detail": fault.detail});
        members.extend([
            ("type".to_string(), json!(self.kind.path())),
            ("title".to_string(), json!(self.kind.title)),
            ("status".to_string(), json!(self.kind.status)),
            ("detail".to_string(), json!(self.detail)),
            ("instance".to_string(), json!(instance)),
            ("request_id".to_string(), json!(request_id)),
            (
                "errors".to_string(),
                self.errors.iter().map(fault).collect(),
            ),
        ]);
        members
    }

    /// The same about the item of a list: pointers read `/entries/3/...`.
    pub fn inside(mut self, item: usize) -> Problem {
        for fault in &mut self.errors {
            fault.pointer = format!("/entries/{item}{}", fault.pointer);
        }
        if self.errors.is_empty() {
            self.errors.push(Fault {
                pointer: format!("/entries/{item}"),
                code: self.kind.slug.to_string(),
                detail: self.detail.clone(),
            });
        }
        self
    }
}

impl From<ActionError> for Problem {
    fn from(error: ActionError) -> Problem {
        match error {
            ActionError::Refused(refusal) => refused(refusal),
            ActionError::Failed(error) => Problem::from(error),
        }
    }
}

impl From<Refusal> for Problem {
    fn from(refusal: Refusal) -> Problem {
        refused(refusal)
    }
}

impl From<StoreError> for Problem {
    fn from(error: StoreError) -> Problem {
        match &error {
            StoreError::Clock(why) => {
                let detail = format!("Nothing is booked meanwhile: {why}.");
                let problem = Problem::new("clock", detail).with_header("Retry-After", "60");
                Problem {
                    cause: Some(error.to_string()),
                    ..problem
                }
            }
            _ if error.is_away() => Problem::unavailable(error.to_string()),
            _ => Problem::failure(error.to_string()),
        }
    }
}

/// The status of a refusal.
pub fn status_of(refusal: &Refusal) -> u16 {
    kinds::named(refusal.slug()).status
}

/// The one match from refusal to problem.
fn refused(refusal: Refusal) -> Problem {
    let slug = refusal.slug();
    let said = refusal.to_string();
    match refusal {
        Refusal::Malformed { pointer, detail } | Refusal::InvalidValue { pointer, detail } => {
            Problem::at(slug, &pointer, detail)
        }
        Refusal::UnknownField { pointer, .. } => {
            let detail = without_pointer(&said, &pointer);
            Problem::at(slug, &pointer, detail)
        }
        // A name in the path has no place in the body.
        Refusal::Unknown { pointer, .. } if pointer.is_empty() => {
            Problem::new(slug, without_pointer(&said, ""))
        }
        Refusal::Unknown { pointer, .. } => {
            let detail = without_pointer(&said, &pointer);
            Problem::at(slug, &pointer, detail)
        }
        Refusal::MissingId => Problem::at(slug, "/entry_id", said),
        Refusal::IdReused { seq, .. } => {
            Problem::at(slug, "/entry_id", said).with("entry", json!(seq))
        }
        Refusal::AlreadyCorrected { by } => {
            let link = format!("</api/v1/entries/{by}>; rel=\"related\"");
            let problem = Problem::at(slug, "/body/corrects", said).with("entry", json!(by));
            problem.with_header("Link", link)
        }
        Refusal::InProgress => Problem::at(slug, "/entry_id", said).with_header("Retry-After", "1"),
        Refusal::NeedsAnswer(questions) => needs_answer(&questions, said),
        Refusal::HardStop(stops) => hard_stop(&stops, said),
        Refusal::TooLarge { .. }
        | Refusal::Forbidden { .. }
        | Refusal::StaleVersion { .. }
        | Refusal::Held { .. } => Problem::new(slug, said),
    }
}

fn without_pointer(said: &str, pointer: &str) -> String {
    said.strip_prefix(pointer)
        .and_then(|rest| rest.strip_prefix(": "))
        .unwrap_or(said)
        .to_string()
}

fn needs_answer(questions: &[Question], said: String) -> Problem {
    let mut problem = Problem::new("needs-answer", said);
    let shown = |question: &Question| {
        let choice = |choice: &crate::actions::refusal::QuestionChoice| json!({"choice": choice.choice, "text": choice.text, "books": choice.books});
        let choices: Vec<Value> = question.choices.iter().map(choice).collect();
        json!({"code": question.code, "text": question.text, "choices": choices})
    };
    problem.errors = (questions.iter())
        .map(|question| Fault {
            pointer: format!("/answers/{}", question.code),
            code: question.code.to_string(),
            detail: question.text.clone(),
        })
        .collect();
    let questions: Vec<Value> = questions.iter().map(shown).collect();
    problem.with("questions", Value::Array(questions))
}

fn hard_stop(stops: &[Stop], said: String) -> Problem {
    let mut problem = Problem::new("hard-stop", said);
    let shown = |stop: &Stop| {
        let by: &[&str] = if stop.may_lift {
            &["compliance_manager"]
        } else {
            &[]
        };
        let lift = json!({"roles": by, "already_happened": true});
        json!({"stop": stop.word, "text": stop.text, "lift": lift})
    };
    problem.errors = (stops.iter())
        .map(|stop| Fault {
            pointer: format!("/answers/{}", stop.word),
            code: stop.word.to_string(),
            detail: stop.text.clone(),
        })
        .collect();
    // The first stop stands in the members of the contract; all of them in `stops`.
    let mut problem = match stops.first().map(shown) {
        Some(Value::Object(first)) => {
            problem.members.extend(first);
            problem
        }
        _ => problem,
    };
    let stops: Vec<Value> = stops.iter().map(shown).collect();
    problem
        .members
        .insert("stops".to_string(), Value::Array(stops));
    problem
}
