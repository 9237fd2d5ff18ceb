//! The one door for facts: one entry, a list, an atomic list; and reading entries back.

use super::State;
use super::answer::{Asked, PATIENCE};
use super::listed;
use super::problem::Problem;
use crate::actions::desk::{Outcome, Poster, Receipt};
use crate::actions::foreseen::{self, ReWorked};
use crate::actions::permit;
use crate::actions::refusal::{Refusal, shown};
use crate::actions::request;
use crate::actions::show::{Page, entries};
use crate::actions::what_if;
use crate::ledger::entry::EntryKind;
use actix_web::HttpResponse;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::sync::Arc;

/// Most entries of a list (promise A3).
const LONGEST_LIST: usize = 500;
/// A device's clock that is wrong by more, in microseconds, is asked about.
const SKEW: i64 = 10 * 60 * 1_000_000;

/// Several entries at once.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ListRequest {
    #[serde(default)]
    atomic: bool,
    #[serde(default)]
    device_now: Option<String>,
    entries: Vec<Value>,
}

/// `POST /api/v1/entries`.
pub async fn post(mut asked: Asked) -> Result<HttpResponse, Problem> {
    same_person(&asked)?;
    let by = asked.by()?.poster();
    let body = std::mem::take(&mut asked.body);
    if body.get("entries").is_some() {
        let list: ListRequest = request::read(&body, "")?;
        return post_list(&asked, &by, list).await;
    }
    same_key(&asked, &body)?;
    let foreseen = re_worked(&asked, &by, &body).await?;
    let mut outcome = waited(asked.state.desk.post(&by, body)).await??;
    outcome.re_worked = foreseen.filter(|_| !outcome.replayed);
    Ok(booked(&asked, &outcome))
}

/// What an adoption would re-work, looked at before it enters the queue of the writer.
async fn re_worked(asked: &Asked, by: &Poster, body: &Value) -> Result<Option<ReWorked>, Problem> {
    let mut roles = by.actors.iter().map(|actor| actor.role);
    let adopts = body.get("kind").is_some_and(|kind| kind == "rule_set");
    if !adopts || !roles.any(|role| permit::posts(role, EntryKind::RuleSet)) {
        return Ok(None);
    }
    let (of, entry, now) = (by.of.clone(), body.clone(), asked.now);
    let look = move |state: &State| {
        let desk = &state.desk;
        desk.report(|db| foreseen::re_worked(db, &of, &entry, now))
    };
    asked.read(look).await
}

/// `POST /api/v1/entries/what-if`: what a posting would come to; nothing is booked.
pub async fn what_if(mut asked: Asked) -> Result<HttpResponse, Problem> {
    same_person(&asked)?;
    let by = asked.by()?.poster();
    let (entry, now) = (std::mem::take(&mut asked.body), asked.now);
    let tried = asked.read(move |state| {
        let desk = &state.desk;
        desk.read(|db| what_if::what_if(db, &by, entry, now))
    });
    Ok(HttpResponse::Ok().json(tried.await?))
}

/// What one person kept on a shared phone is not booked under the sign-in of another.
fn same_person(asked: &Asked) -> Result<(), Problem> {
    let Some(named) = asked.header("tarebook-person") else {
        return Ok(());
    };
    let person = asked
        .by()?
        .signed_in
        .person
        .map(|person| person.to_string());
    if person.as_deref() == Some(named) {
        return Ok(());
    }
    let detail = "Expected the sign-in of the person whom Tarebook-Person names, got another's. Keep \
                  these entries until that person signs in.";
    Err(Problem::new("forbidden", detail))
}

/// The answer to one entry that is booked.
pub fn booked(asked: &Asked, receipt: &Receipt) -> HttpResponse {
    let mut answer = match receipt.replayed {
        false => HttpResponse::Created(),
        true => {
            let mut answer = HttpResponse::Ok();
            answer.insert_header(("Idempotency-Replayed", "true"));
            answer
        }
    };
    answer.insert_header(("Location", format!("/api/v1/entries/{}", receipt.entry_id)));
    let checkpoint = newest_checkpoint(asked);
    answer.json(Booked {
        receipt,
        checkpoint: checkpoint.as_deref(),
    })
}

/// A receipt with the newest checkpoint.
#[derive(Serialize)]
struct Booked<'a> {
    #[serde(flatten)]
    receipt: &'a Receipt,
    #[serde(skip_serializing_if = "Option::is_none")]
    checkpoint: Option<&'a str>,
}

fn newest_checkpoint(asked: &Asked) -> Option<Arc<str>> {
    let org = asked.by().ok()?.signed_in.of.org;
    asked.state.desk.signer().newest(org)
}

/// The newest checkpoint goes with every receipt: who keeps it is a witness.
fn with_checkpoint(asked: &Asked, mut value: Value) -> Value {
    if let Some(newest) = newest_checkpoint(asked) {
        value["checkpoint"] = json!(&*newest);
    }
    value
}

/// An `Idempotency-Key` is accepted when it says the same as the entry's id.
fn same_key(asked: &Asked, body: &Value) -> Result<(), Problem> {
    let Some(key) = asked.header("idempotency-key") else {
        return Ok(());
    };
    let id = body
        .get("entry_id")
        .and_then(Value::as_str)
        .unwrap_or_default();
    if key.trim_matches('"').eq_ignore_ascii_case(id) {
        return Ok(());
    }
    let detail = format!(
        "Expected an Idempotency-Key equal to entry_id or none at all, got {}. The entry_id is the \
         key.",
        shown(key)
    );
    Err(Problem::at("invalid-value", "/entry_id", detail))
}

async fn post_list(asked: &Asked, by: &Poster, list: ListRequest) -> Result<HttpResponse, Problem> {
    if list.entries.len() > LONGEST_LIST {
        let detail = format!(
            "Expected at most {LONGEST_LIST} entries, got {}. Divide the list; its order stays.",
            list.entries.len()
        );
        return Err(Problem::at("too-large", "/entries", detail));
    }
    if list.entries.is_empty() {
        let detail = "Expected at least one entry, got none.";
        return Err(Problem::at("malformed", "/entries", detail));
    }
    let skewed = match &list.device_now {
        Some(text) => (asked.now - instant(text)?).abs() > SKEW,
        None => false,
    };
    let desk = &asked.state.desk;
    if list.atomic {
        let posted = waited(desk.post_together(by, list.entries, skewed)).await?;
        let receipts = posted.map_err(|(item, error)| Problem::from(error).inside(item))?;
        let replayed = receipts.iter().all(|receipt| receipt.replayed);
        let results: Vec<Value> = receipts.iter().map(item_booked).collect();
        let mut answer = match replayed {
            false => HttpResponse::Created(),
            true => {
                let mut answer = HttpResponse::Ok();
                answer.insert_header(("Idempotency-Replayed", "true"));
                answer
            }
        };
        return Ok(answer.json(with_checkpoint(asked, json!({"results": results}))));
    }
    let ids: Vec<Value> = (list.entries.iter())
        .map(|entry| entry.get("entry_id").cloned().unwrap_or_default())
        .collect();
    let outcomes = desk.post_each(by, list.entries, skewed).await;
    let results: Vec<Value> = (ids.into_iter().zip(outcomes))
        .map(|(id, outcome)| item(asked, id, outcome))
        .collect();
    let status = actix_web::http::StatusCode::MULTI_STATUS;
    Ok(HttpResponse::build(status).json(with_checkpoint(asked, json!({"results": results}))))
}

fn item_booked(receipt: &Receipt) -> Value {
    let status = if receipt.replayed { 200 } else { 201 };
    json!({"entry_id": receipt.entry_id, "status": status, "entry": receipt})
}

fn item(asked: &Asked, id: Value, outcome: Outcome) -> Value {
    match outcome {
        Ok(receipt) => item_booked(&receipt),
        Err(error) => {
            let problem = Problem::from(error);
            if let Some(cause) = &problem.cause {
                let request_id = &asked.request_id;
                tracing::error!(request_id, cause, "an item of a list failed");
            }
            let members = problem.members(asked.path(), &asked.request_id);
            let mut item = json!({"status": problem.kind.status, "problem": members});
            if id.is_string() {
                item["entry_id"] = id;
            }
            item
        }
    }
}

fn instant(text: &str) -> Result<i64, Problem> {
    let read = text.parse::<jiff::Timestamp>();
    read.map(jiff::Timestamp::as_microsecond).map_err(|_| {
        let expected = "an instant such as 2026-07-14T17:53:02Z";
        let remedy = "Leave it out if the device has no clock.";
        Problem::from(Refusal::invalid("/device_now", expected, text, remedy))
    })
}

/// A posting whose answer takes too long goes on; who sends it again gets the answer.
async fn waited<T>(posted: impl Future<Output = T>) -> Result<T, Problem> {
    let answered = tokio::time::timeout(PATIENCE, posted).await;
    answered.map_err(|_| Problem::unavailable("the writer did not answer in time"))
}

/// `GET /api/v1/entries`.
pub async fn page(asked: Asked) -> Result<HttpResponse, Problem> {
    let (after, most) = (asked.query.number("after")?, asked.query.limit()?);
    let by = asked.by()?.clone();
    let page = asked.read(move |state| {
        let of = &by.signed_in.of;
        state
            .desk
            .read(|db| entries::page(db, of, after, most, by.sees()))
    });
    let page = page.await?;
    Ok(listed::answer(&asked, &page.map(|entry| entry.value)))
}

/// `GET /api/v1/entries/{id}`.
pub async fn one(asked: Asked) -> Result<HttpResponse, Problem> {
    let (by, name) = (asked.by()?.clone(), asked.name("id"));
    let entry = asked.read(move |state| {
        let of = &by.signed_in.of;
        state.desk.read(|db| entries::one(db, of, &name, by.sees()))
    });
    let entry = entry.await?;
    // The leaf never changes; the correction beside it is written once.
    let corrected = entry
        .corrected_by
        .map_or(String::new(), |by| format!("-{by}"));
    let tag = format!("\"{}{corrected}\"", entry.leaf_hash.trim_end_matches('='));
    Ok(listed::tagged(&asked, &tag, &entry.value))
}

/// `GET /api/v1/visits/{id}`.
pub async fn visit(asked: Asked) -> Result<HttpResponse, Problem> {
    let (by, name) = (asked.by()?.clone(), asked.name("id"));
    let found = asked.read(move |state| {
        let of = &by.signed_in.of;
        state
            .desk
            .read(|db| entries::of_visit(db, of, &name, by.sees()))
    });
    let items = found.await?.into_iter().map(|entry| entry.value).collect();
    Ok(listed::answer(&asked, &Page { items, next: None }))
}
