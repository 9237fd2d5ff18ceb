//! Physics without a book: saturation, fill limits, content checks, pressure and vacuum tests.
//!
//! Pure questions that everybody may ask, by query or as JSON with the same names. A problem names
//! the field, what was expected, what came and what to do.

use super::answer::Asked;
use super::problem::{Fault, Problem};
use crate::actions::physics::{self, Given};
use actix_web::HttpResponse;
use serde::Serialize;
use serde_json::{Value, json};

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Question {
    /// Pressures at a temperature, temperatures at a pressure.
    Saturation,
    /// How much may be in a cylinder.
    FillLimit,
    /// What a cylinder can hold.
    ContentCheck,
    /// What a pressure test shows.
    PressureTest,
    /// What a vacuum test shows.
    VacuumTest,
}

impl Question {
    /// The fields it may have.
    const fn fields(self) -> &'static [&'static str] {
        match self {
            Question::Saturation => physics::SATURATION,
            Question::FillLimit => physics::FILL_LIMIT,
            Question::ContentCheck => physics::CONTENT_CHECK,
            Question::PressureTest => physics::PRESSURE_TEST,
            Question::VacuumTest => physics::VACUUM_TEST,
        }
    }
}

/// `GET` and `POST /api/v1/physics/...`.
pub async fn answer(asked: Asked, question: Question) -> Result<HttpResponse, Problem> {
    let known = question.fields();
    let by_query = asked.request.method() == actix_web::http::Method::GET;
    let given = match &asked.body {
        Value::Null if by_query => Given::of(asked.query.members(), known),
        Value::Object(members) => {
            if let Some(name) = members.keys().find(|name| !known.contains(&name.as_str())) {
                return Err(unknown(name, known));
            }
            Given::of_json(members, known)
        }
        other => {
            let came = crate::actions::refusal::shown(&other.to_string());
            let detail = format!("Expected an object with fields of the question, got {came}.");
            return Err(Problem::at("malformed", "", detail));
        }
    };
    let answered = given.and_then(|given| worked_out(question, &given));
    match answered {
        Ok(answer) => Ok(HttpResponse::Ok().json(answer)),
        Err(problem) => Err(refused(&problem, by_query)),
    }
}

fn worked_out(question: Question, given: &Given) -> Result<Value, reports::physics::Problem> {
    Ok(match question {
        Question::Saturation => json!(physics::saturation(given)?),
        Question::FillLimit => json!(physics::fill_limit(given)?),
        Question::ContentCheck => json!(physics::content_check(given)?),
        Question::PressureTest => json!(physics::pressure_test(given)?),
        Question::VacuumTest => json!(physics::vacuum_test(given)?),
    })
}

fn unknown(name: &str, known: &[&str]) -> Problem {
    let shown = crate::actions::refusal::shown(name);
    let detail = format!(
        "There is no field {shown} here. Known: {}.",
        known.join(", ")
    );
    Problem::at("unknown-field", &format!("/{name}"), detail)
}

fn refused(problem: &reports::physics::Problem, by_query: bool) -> Problem {
    let detail = format!(
        "{}: Expected {}, got {}. {}",
        problem.field, problem.expected, problem.came, problem.to_do
    );
    let field = problem.field.replace("sensors.", "").replace('.', "_");
    let mut answer = Problem::new("invalid-value", detail.clone());
    answer.errors.push(Fault {
        pointer: format!("{}{field}", if by_query { "?" } else { "/" }),
        code: word(&problem.code),
        detail,
    });
    let members = [
        ("field", field.as_str()),
        ("expected", &problem.expected),
        ("came", &problem.came),
        ("to_do", &problem.to_do),
    ];
    for (name, text) in members {
        answer.members.insert(name.to_string(), json!(text));
    }
    answer
}

/// The word of a code, as JSON writes it.
fn word(code: &impl Serialize) -> String {
    let word = serde_json::to_value(code).unwrap_or_default();
    word.as_str().unwrap_or_default().to_string()
}
