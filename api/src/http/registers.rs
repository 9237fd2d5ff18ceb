//! Registers: appliances, cylinders, sites, counterparties. One thing in one version, changed only
//! by who knows that version.

use super::answer::{Asked, PATIENCE};
use super::problem::Problem;
use super::{entries, listed};
use crate::actions::show::things::{self, Sort};
use crate::actions::show::{cage, scales};
use crate::actions::{ActionError, Refusal, post, request};
use actix_web::HttpResponse;
use serde::Deserialize;
use serde_json::{Map, Value, json};

/// `GET /api/v1/appliances` and the like.
pub async fn page(asked: Asked, sort: Sort) -> Result<HttpResponse, Problem> {
    let after = asked.query.text("after").unwrap_or_default().to_string();
    let most = asked.query.limit()?;
    let of = asked.by()?.signed_in.of.clone();
    let page = asked
        .read(move |state| {
            state
                .desk
                .read(|db| things::page(db, &of, sort, &after, most))
        })
        .await?;
    Ok(listed::answer(&asked, &page))
}

/// `GET /api/v1/appliances/{id}` and the like.
pub async fn one(asked: Asked, sort: Sort) -> Result<HttpResponse, Problem> {
    let (of, name) = (asked.by()?.signed_in.of.clone(), asked.name("id"));
    let thing = asked
        .read(move |state| state.desk.read(|db| things::one(db, &of, sort, &name)))
        .await?;
    Ok(listed::tagged(
        &asked,
        &format!("\"{}\"", thing.version),
        &thing,
    ))
}

/// `GET /api/v1/scales`: with the known weights that were put on them.
pub async fn scales(asked: Asked) -> Result<HttpResponse, Problem> {
    let after = asked.query.text("after").unwrap_or_default().to_string();
    let most = asked.query.limit()?;
    let of = asked.by()?.signed_in.of.clone();
    let read =
        move |state: &super::State| state.desk.read(|db| scales::page(db, &of, &after, most));
    Ok(listed::answer(&asked, &asked.read(read).await?))
}

/// `GET /api/v1/cylinders/{id}`: with its limit, room, owners, checks and entries.
pub async fn cylinder(asked: Asked) -> Result<HttpResponse, Problem> {
    let by = asked.by()?;
    let (of, sees, name) = (by.signed_in.of.clone(), by.sees(), asked.name("id"));
    let shown = asked
        .read(move |state| state.desk.read(|db| cage::one(db, &of, &name, None, sees)))
        .await?;
    let tag = format!("\"{}\"", shown.thing.version);
    Ok(listed::tagged(&asked, &tag, &shown))
}

/// What is said anew of a thing.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ChangeRequest {
    #[serde(default)]
    entry_id: Option<Value>,
    facts: Map<String, Value>,
    #[serde(default)]
    happened: Option<Value>,
    #[serde(default)]
    note: Option<Value>,
    #[serde(default)]
    answers: Option<Value>,
}

/// `PATCH /api/v1/appliances/{id}` and the like: books the entry that the change means.
pub async fn change(mut asked: Asked, sort: Sort) -> Result<HttpResponse, Problem> {
    let version = versions(&asked)?;
    let by = asked.by()?.poster();
    let name = asked.name("id");
    let change: ChangeRequest = request::read(&std::mem::take(&mut asked.body), "")?;
    let mut entry = json!({"kind": sort.word(),
                           "body": {"subject": name, "facts": change.facts}});
    let others = [
        ("entry_id", change.entry_id),
        ("happened", change.happened),
        ("note", change.note),
        ("answers", change.answers),
    ];
    for (member, value) in others {
        if let Some(value) = value {
            entry[member] = value;
        }
    }
    // What is no change at all is said before its version is looked at.
    post::shaped(&entry).map_err(|error| Problem::from(error).in_facts())?;
    let changed = asked
        .state
        .desk
        .change(&by, sort, name.clone(), version, entry);
    let changed = tokio::time::timeout(PATIENCE, changed).await;
    let changed = changed.map_err(|_| Problem::unavailable("the writer did not answer in time"))?;
    match changed {
        Ok(receipt) => Ok(entries::booked(&asked, &receipt)),
        Err(ActionError::Refused(stale @ Refusal::StaleVersion { .. })) => {
            let of = by.of.clone();
            let now = asked
                .read(move |state| state.desk.read(|db| things::one(db, &of, sort, &name)))
                .await?;
            let problem = Problem::from(stale).with_header("ETag", format!("\"{}\"", now.version));
            Err(problem.with("current", json!(now)))
        }
        Err(error) => Err(Problem::from(error).in_facts()),
    }
}

impl Problem {
    /// Pointers of an entry, as the change that stands for it has them.
    fn in_facts(mut self) -> Problem {
        for fault in &mut self.errors {
            if let Some(rest) = fault.pointer.strip_prefix("/body") {
                fault.pointer = rest.to_string();
            }
        }
        self
    }
}

/// Versions of `If-Match`; `None`: any (`*`).
pub fn versions(asked: &Asked) -> Result<Option<Vec<String>>, Problem> {
    let Some(text) = asked.header("if-match") else {
        let detail = "Expected the version that is changed in If-Match, got none. Read the thing and \
                      send its ETag.";
        return Err(Problem::new("version-required", detail));
    };
    if text.trim() == "*" {
        return Ok(None);
    }
    let version = |part: &str| part.trim().trim_matches('"').to_string();
    Ok(Some(text.split(',').map(version).collect()))
}
