//! An appliance that stands on a roof and in no register: it is registered on site in a minute.
//!
//! It stands at once, with a finding for the office to complete it. What is not known is left
//! empty; nothing is guessed.

use super::{FieldFrame, page};
use crate::actions::ActionError;
use crate::actions::show::overview;
use crate::actions::show::things::{self, Sort};
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use crate::ledger::id::Id;
use crate::pages::form::{BoxProblem, Deed, Fields, box_problem, pointer_of};
use crate::pages::message::MessagePage;
use crate::pages::posting::PostPage;
use crate::pages::way::{Visit, go_to};
use crate::pages::words;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// Sites that are offered.
const MOST_SITES: usize = 200;

/// What it may be used for, in the order of a technician's year.
pub const CATEGORIES: [&str; 7] = [
    "commercial_refrigeration",
    "comfort_cooling",
    "residential_light_commercial_ac",
    "industrial_process",
    "refrigerated_transport",
    "other_refrigeration",
    "other",
];

/// Facts that the form asks for.
const FACTS: [&str; 7] = [
    "tag",
    "site",
    "place",
    "refrigerant",
    "category",
    "full_charge",
    "serial",
];

/// The page.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "field/new.html")]
pub struct NewPage {
    /// Around the page.
    pub field: FieldFrame,
    /// The token of the form.
    pub form_token: String,
    /// Made when the form was served, so that a second press books nothing twice.
    pub entry_id: String,
    /// Sites, by id and tag.
    pub sites: Vec<(String, String)>,
    /// What was filled in.
    pub facts: BTreeMap<String, String>,
    /// What is to be put right.
    pub problems: Vec<BoxProblem>,
}

impl NewPage {
    fn value(&self, name: &str) -> &str {
        self.facts.get(name).map_or("", String::as_str)
    }

    fn wrong(&self, name: &str) -> bool {
        self.problems.iter().any(|problem| problem.field == name)
    }

    /// The request for the door.
    fn request(&self) -> Value {
        let mut facts = Map::new();
        for (name, value) in self.facts.iter().filter(|(_, value)| !value.is_empty()) {
            let value = match name.as_str() {
                "full_charge" => json!({"mass": {"text": value, "unit": "lb"}}),
                _ => json!(value),
            };
            facts.insert(name.clone(), value);
        }
        json!({"entry_id": self.entry_id, "kind": "appliance", "body": {"facts": facts}})
    }
}

async fn sites(visit: &Visit) -> Result<Vec<(String, String)>, Problem> {
    let of = visit.by()?.signed_in.of.clone();
    let read = visit.asked.read(move |state| {
        state
            .desk
            .read(|db| things::page(db, &of, Sort::Site, "", MOST_SITES))
    });
    let sites = read.await?.items.into_iter();
    Ok(sites.map(|site| (site.id, site.tag)).collect())
}

/// The tag that was looked for; empty where the book has it, in whatever case.
async fn unknown_tag(visit: &Visit) -> Result<String, Problem> {
    let of = visit.by()?.signed_in.of.clone();
    let tag = visit.asked.query.text("tag").unwrap_or_default();
    let tag = tag.trim().to_string();
    let read = visit.asked.read(move |state| {
        let meant = |db: &mut _| things::meant(db, &of, Sort::Appliance, &tag);
        let known = state.desk.read(meant)?;
        Ok(known.map_or(tag, |_| String::new()))
    });
    read.await
}

/// The form of a charge or a recovery for an appliance that waits on a phone to be registered; what is
/// known of it is filled in there (`unbooked.mjs`), because the book does not know it yet.
async fn posting(visit: Visit, deed: Deed) -> Result<HttpResponse, Problem> {
    let (of, now) = (visit.by()?.signed_in.of.clone(), visit.asked.now);
    let today = visit.asked.read(move |state| {
        let (today, _) = state.desk.read(|db| overview::today(db, &of, now))?;
        Ok(today)
    });
    let milliseconds = u64::try_from(now / 1_000).unwrap_or_default();
    let fields = Fields {
        entry_id: Id::at(milliseconds).to_string(),
        unit: "lb+oz".to_string(),
        day: today.await?.to_string(),
        ..Fields::default()
    };
    let shown = PostPage::unbooked(FieldFrame::of(&visit)?, deed, visit.token.clone(), fields);
    Ok(page(StatusCode::OK, &shown))
}

/// `GET /field/new/charge`.
pub async fn charge(visit: Visit) -> Result<HttpResponse, Problem> {
    posting(visit, Deed::Charge).await
}

/// `GET /field/new/recover`.
pub async fn recover(visit: Visit) -> Result<HttpResponse, Problem> {
    posting(visit, Deed::Recover).await
}

/// `GET /field/new`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let milliseconds = u64::try_from(visit.asked.now / 1_000).unwrap_or_default();
    let tag = unknown_tag(&visit).await?;
    let shown = NewPage {
        field: FieldFrame::of(&visit)?,
        form_token: visit.token.clone(),
        entry_id: Id::at(milliseconds).to_string(),
        sites: sites(&visit).await?,
        facts: BTreeMap::from([("tag".to_string(), tag)]),
        problems: Vec::new(),
    };
    Ok(page(StatusCode::OK, &shown))
}

/// `POST /field/new`.
pub async fn take(mut visit: Visit) -> Result<HttpResponse, Problem> {
    let pairs = std::mem::take(&mut visit.form);
    let mut shown = NewPage {
        field: FieldFrame::of(&visit)?,
        form_token: visit.token.clone(),
        ..NewPage::default()
    };
    for (name, value) in pairs {
        match name.as_str() {
            "form" => {}
            "entry_id" => shown.entry_id = value,
            name if FACTS.contains(&name) => {
                let value = value.trim().to_string();
                shown.facts.insert(name.to_string(), value);
            }
            _ => return Ok(page(StatusCode::BAD_REQUEST, &MessagePage::stale_form())),
        }
    }
    let by = visit.by()?.poster();
    let posted = visit.asked.state.desk.post(&by, shown.request());
    let posted = tokio::time::timeout(PATIENCE, posted).await;
    let posted = posted.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    let refusal = match posted {
        Ok(receipt) => {
            return Ok(go_to(&format!("/entries/{}?posted=now", receipt.entry_id)));
        }
        Err(ActionError::Refused(refusal)) => refusal,
        Err(failed) => return Err(failed.into()),
    };
    let status = crate::http::problem::status_of(&refusal);
    let status = StatusCode::from_u16(status).unwrap_or(StatusCode::UNPROCESSABLE_ENTITY);
    let named = pointer_of(&refusal);
    let named = named.strip_prefix("/body/facts/").unwrap_or_default();
    let field = FACTS.iter().find(|fact| **fact == named).unwrap_or(&"form");
    let text = box_problem(&refusal).map(|problem| problem.text);
    // A mass that could be two masses is written out; nobody is asked on a form this short.
    let text = text.unwrap_or_else(|| refusal.to_string());
    shown.problems.push(BoxProblem { field, text });
    shown.sites = sites(&visit).await?;
    Ok(page(status, &shown))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pages::sample;

    #[test]
    fn what_is_filled_in_is_a_request_and_what_is_not_is_left_out() {
        let facts = [
            ("tag", "HG-RTU-99"),
            ("full_charge", "11 lb 14 oz"),
            ("serial", ""),
            ("category", "comfort_cooling"),
        ];
        let page = NewPage {
            entry_id: "id".to_string(),
            facts: facts
                .iter()
                .map(|(name, value)| (name.to_string(), value.to_string()))
                .collect(),
            ..NewPage::default()
        };
        let expected = json!({"entry_id": "id", "kind": "appliance", "body": {"facts": {
            "tag": "HG-RTU-99",
            "category": "comfort_cooling",
            "full_charge": {"mass": {"text": "11 lb 14 oz", "unit": "lb"}},
        }}});
        assert_eq!(page.request(), expected);
    }

    #[test]
    fn hostile_names_come_back_as_text() {
        let hostile = sample::hostile();
        let page = NewPage {
            sites: vec![("id".to_string(), hostile.clone())],
            facts: BTreeMap::from([("tag".to_string(), hostile.clone())]),
            problems: vec![BoxProblem {
                field: "tag",
                text: hostile,
            }],
            ..NewPage::default()
        };
        let html = page.render().unwrap();
        sample::is_clean(&html);
        assert!(html.contains("<title>Error: "));
    }
}
