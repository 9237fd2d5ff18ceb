//! What is owed over the whole organisation, and who does it.

use super::answer::{Asked, PATIENCE};
use super::problem::Problem;
use super::query::{self, Query};
use super::{listed, registers};
use crate::actions::assign::{self, AssignmentShown};
use crate::actions::permit::Deed;
use crate::actions::show::duties::{self, DutiesAsked, Stands, Whose};
use crate::actions::show::things::Sort;
use crate::actions::{ActionError, Refusal, request};
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use serde::Deserialize;
use serde_json::json;

/// What a query asks of the list; `own`: the person who asks.
pub fn asked_for(
    query: &Query,
    own: Option<Id>,
    most: usize,
    now: i64,
) -> Result<DutiesAsked, Problem> {
    let text = |name| {
        query
            .text(name)
            .map(str::trim)
            .filter(|text| !text.is_empty())
    };
    let whose = match text("person") {
        None => None,
        Some("nobody") => Some(Whose::Nobody),
        Some("me") => match own {
            Some(person) => Some(Whose::Person(person.to_string())),
            None => {
                let expected = "a person's id or tag (a token that acts for no person has no 'me')";
                return Err(query::invalid("person", expected, "me"));
            }
        },
        Some(name) => Some(Whose::Person(name.to_string())),
    };
    let day = |name| match text(name) {
        // A form sends its boxes empty.
        None => Ok(None),
        Some(_) => query.day(name),
    };
    let stands = query.word("state", &Stands::WORDS)?;
    Ok(DutiesAsked {
        site: text("site").map(str::to_string),
        whose,
        from: day("from")?,
        to: day("to")?,
        since: day("since")?,
        stands: Stands::named(stands).unwrap_or_default(),
        first: None,
        after: query.text("after").unwrap_or_default().to_string(),
        most,
        now,
    })
}

/// `GET /api/v1/duties`.
pub async fn page(asked: Asked) -> Result<HttpResponse, Problem> {
    // Only a form sends its boxes empty; a program says a day or nothing.
    for name in ["from", "to", "since"] {
        asked.query.day(name)?;
    }
    let by = asked.by()?;
    let of = by.signed_in.of.clone();
    let question = asked_for(
        &asked.query,
        by.signed_in.person,
        asked.query.limit()?,
        asked.now,
    )?;
    let list = asked
        .read(move |state| state.desk.report(|db| duties::page(db, &of, &question)))
        .await?;
    Ok(listed::answer(&asked, &list.page))
}

/// `GET /api/v1/appliances/{id}/assignment` and the same of a site.
pub async fn assignment(asked: Asked, sort: Sort) -> Result<HttpResponse, Problem> {
    let (of, name) = (asked.by()?.signed_in.of.clone(), asked.name("id"));
    let shown = asked
        .read(move |state| state.desk.read(|db| assign::one(db, &of, sort, &name)))
        .await?;
    let tag = format!("\"{}\"", shown.version);
    Ok(listed::tagged(&asked, &tag, &shown))
}

/// Who shall do it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AssignmentRequest {
    person: Option<String>,
}

/// `PATCH /api/v1/appliances/{id}/assignment` and the same of a site.
pub async fn assign(mut asked: Asked, sort: Sort) -> Result<HttpResponse, Problem> {
    let versions = registers::versions(&asked)?;
    let body = std::mem::take(&mut asked.body);
    if body.get("person").is_none() {
        let detail = "Expected the member person (an id, a tag, or null for nobody), got none.";
        return Err(Problem::at("malformed", "/person", detail.to_string()));
    }
    let request: AssignmentRequest = request::read(&body, "")?;
    let by = asked.by()?;
    let actor = by.acting(Deed::Assign)?;
    let name = asked.name("id");
    let named = name.clone();
    let done = asked.state.desk.act(&by.signed_in.of, move |tx| {
        let person = request.person.as_deref();
        assign::set(tx, &actor, sort, &named, person, versions.as_deref())
    });
    let done = tokio::time::timeout(PATIENCE, done).await;
    let done = done.map_err(|_| Problem::unavailable("the writer did not answer in time"))?;
    let of = by.signed_in.of.clone();
    let now = asked.read(move |state| state.desk.read(|db| assign::one(db, &of, sort, &name)));
    match done {
        Ok(()) => Ok(answered(&now.await?)),
        Err(ActionError::Refused(stale @ Refusal::StaleVersion { .. })) => {
            let now = now.await?;
            let tag = format!("\"{}\"", now.version);
            Err(Problem::from(stale)
                .with_header("ETag", tag)
                .with("current", json!(now)))
        }
        Err(error) => Err(error.into()),
    }
}

fn answered(shown: &AssignmentShown) -> HttpResponse {
    let mut answer = HttpResponse::Ok();
    answer.insert_header(("ETag", format!("\"{}\"", shown.version)));
    answer.json(shown)
}
