//! Rule sets: which there are, which were adopted, what they say, and what one would change.

use super::answer::Asked;
use super::listed;
use super::problem::Problem;
use crate::actions::preview_rules::{self, Asked as PreviewAsked, DutyChange, Preview};
use crate::actions::request;
use crate::actions::show::{Page, rule_sets};
use crate::actions::{ActionError, Refusal};
use actix_web::HttpResponse;
use reports::day::Day;
use reports::leak_rate::Method;
use reports::rules::RuleFile;
use serde::Deserialize;
use serde_json::{Value, json};

/// `GET /api/v1/rule-sets`.
pub async fn all(asked: Asked) -> Result<HttpResponse, Problem> {
    let of = asked.by()?.signed_in.of.clone();
    let items = asked
        .read(move |state| state.desk.read(|db| rule_sets::all(db, &of)))
        .await?;
    Ok(listed::answer(&asked, &Page { items, next: None }))
}

/// Most appliances that a preview tells in full; all are counted.
const MOST: u64 = 500;
/// So many are told where nothing is asked.
const USUAL: u64 = 100;

/// What is tried.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PreviewRequest {
    #[serde(default)]
    toml: Option<String>,
    #[serde(default)]
    set: Option<Value>,
    #[serde(default)]
    method: Option<String>,
    from: String,
    #[serde(default)]
    most: Option<u64>,
}

impl PreviewRequest {
    fn read(body: &Value, now: i64) -> Result<PreviewAsked, ActionError> {
        let asked: PreviewRequest = request::read(body, "")?;
        let invalid = |pointer: &str, expected: &str, came: &str| {
            Refusal::invalid(pointer, expected, came, "Put it right.")
        };
        let since = Day::parse(&asked.from)
            .ok_or_else(|| invalid("/from", "a day such as 2027-01-01", &asked.from))?;
        let method = match asked.method.as_deref() {
            None => None,
            Some("annualising") => Some(Method::Annualising),
            Some("rolling") => Some(Method::Rolling),
            Some(other) => {
                return Err(invalid("/method", "annualising or rolling", other).into());
            }
        };
        let most = asked.most.unwrap_or(USUAL);
        if most > MOST {
            let expected = format!("a number up to {MOST}");
            return Err(invalid("/most", &expected, &most.to_string()).into());
        }
        let (pointer, rules) = match (&asked.toml, &asked.set) {
            (Some(text), None) => ("/toml", Some(RuleFile::from_toml("rule set", text))),
            (None, Some(set)) => (
                "/set",
                Some(RuleFile::from_json("rule set", &set.to_string())),
            ),
            (None, None) if method.is_some() => ("", None),
            _ => {
                let detail = "Expected one of toml (the file's text) and set (the same as JSON), or \
                              a method.";
                let (pointer, detail) = (String::new(), detail.to_string());
                return Err(Refusal::Malformed { pointer, detail }.into());
            }
        };
        let rules = rules.transpose().map_err(|problems| {
            let lines: Vec<String> = problems.iter().map(ToString::to_string).collect();
            let (pointer, detail) = (pointer.to_string(), lines.join("\n"));
            Refusal::InvalidValue { pointer, detail }
        })?;
        Ok(PreviewAsked {
            rules,
            method,
            since,
            now,
            most,
        })
    }
}

/// `POST /api/v1/rule-sets/preview`: what a change would do to the fleet; nothing is booked.
pub async fn preview(asked: Asked) -> Result<HttpResponse, Problem> {
    let of = asked.by()?.signed_in.of.clone();
    let question = PreviewRequest::read(&asked.body, asked.now)?;
    let with_set = asked.body.get("set").is_some();
    let pointer = if with_set { "/set" } else { "/toml" };
    let at_its_member = move |failed| match failed {
        ActionError::Refused(Refusal::InvalidValue { detail, .. }) => {
            let pointer = pointer.to_string();
            ActionError::Refused(Refusal::InvalidValue { pointer, detail })
        }
        other => other,
    };
    let found = asked
        .read(move |state| {
            let desk = &state.desk;
            let looked = desk.report(|db| preview_rules::preview(db, &of, question));
            looked.map_err(at_its_member)
        })
        .await?;
    Ok(HttpResponse::Ok().json(told(&found)))
}

fn told(found: &Preview) -> Value {
    let counts = found.counts;
    let changed: Vec<Value> = (found.changed.iter())
        .map(|one| {
            let duties: Vec<Value> = one.duties.iter().map(duty).collect();
            json!({"tag": one.tag, "over": {"was": one.over.0, "becomes": one.over.1},
                   "passed": one.passed, "no_longer": one.no_longer, "duties": duties,
                   "missing": one.missing, "lines": one.lines()})
        })
        .collect();
    let as_if = found.as_if.as_ref().map(|as_if| {
        let crossing = as_if.crossing.iter().map(|one| {
            json!({"tag": one.tag, "passed": one.passed, "no_longer": one.no_longer,
                   "lines": one.lines()})
        });
        json!({"from": as_if.from.to_string(), "appliances": as_if.appliances,
               "crossing": crossing.collect::<Vec<Value>>()})
    });
    json!({
        "what": found.what,
        "from": found.since.to_string(),
        "today": found.today.to_string(),
        "as_of": found.as_of,
        "appliances": found.appliances,
        "counts": {
            "appliances": counts.appliances,
            "limits_passed": counts.passed,
            "limits_no_longer": counts.no_longer,
            "duties_appear": counts.appear,
            "duties_moved": counts.moved,
            "duties_vanish": counts.vanish,
        },
        "changed": changed,
        "as_if": as_if,
        "sentences": found.sentences(),
    })
}

fn duty(change: &DutyChange) -> Value {
    match change {
        DutyChange::Appears(duty) => json!({"change": "appears", "becomes": duty}),
        DutyChange::Moves { was, becomes } => {
            json!({"change": "moves", "was": was, "becomes": becomes})
        }
        DutyChange::Vanishes(duty) => json!({"change": "vanishes", "was": duty}),
    }
}

/// `GET /api/v1/rule-sets/{id}`.
pub async fn one(asked: Asked) -> Result<HttpResponse, Problem> {
    let (of, id) = (asked.by()?.signed_in.of.clone(), asked.name("id"));
    let set = asked
        .read(move |state| state.desk.read(|db| rule_sets::one(db, &of, &id)))
        .await?;
    Ok(HttpResponse::Ok().json(set))
}
