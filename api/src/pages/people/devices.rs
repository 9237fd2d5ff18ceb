//! Tokens: what devices and programs show instead of signing in. Issued once, shown once, revoked.

use super::{refused, typed};
use crate::actions::permit::Deed;
use crate::actions::show::things::{self, Sort};
use crate::actions::show::{Organisation, instant};
use crate::auth::session;
use crate::auth::token::TokenShown;
use crate::http::tokens::{self, TokenRequest};
use crate::http::{Problem, State};
use crate::pages::frame::{Around, Frame, Part};
use crate::pages::way::{Visit, go_to, page};
use crate::pages::{figures, words};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "devices.html")]
pub struct DevicesPage {
    /// Around the content.
    pub frame: Frame,
    /// Tokens, revoked and ended ones, too.
    pub rows: Vec<TokenRow>,
    /// May the reader issue one?
    pub may_issue: bool,
    /// Did the reader show the password within five minutes?
    pub fresh: bool,
    /// The secret of one that was just issued.
    pub new: Option<String>,
    /// Why none was issued.
    pub problem: Option<String>,
    /// What was typed.
    pub name: String,
}

/// A token.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TokenRow {
    /// Its id.
    pub id: String,
    /// What it is for.
    pub name: String,
    /// Its first part, which may be shown.
    pub word: String,
    /// The role it acts in.
    pub role: &'static str,
    /// What it may name.
    pub scope: String,
    /// When it was used last.
    pub used: String,
    /// When it ends, or that it was revoked.
    pub ends: String,
    /// It holds.
    pub holds: bool,
}

impl TokenRow {
    /// `places`: what it may name, by tag.
    fn of(token: &TokenShown, places: &[String], now: i64) -> TokenRow {
        let at = |moment: i64| figures::instant(&instant(moment));
        let named: Vec<&str> = places
            .iter()
            .chain(&token.scopes.refrigerants)
            .map(String::as_str)
            .collect();
        let scope = match named.is_empty() {
            true => "any place and refrigerant".to_string(),
            false => named.join(", "),
        };
        let ends = match token.revoked_at {
            Some(moment) => format!("revoked {}", at(moment)),
            None if token.expires_at <= now => format!("ended {}", at(token.expires_at)),
            None => at(token.expires_at),
        };
        TokenRow {
            id: token.id.to_string(),
            name: token.name.clone(),
            word: token.word.clone(),
            role: words::role(token.role),
            scope,
            used: token.used_at.map_or("never".to_string(), at),
            ends,
            holds: token.revoked_at.is_none() && token.expires_at > now,
        }
    }
}

/// What the answer of a form adds to the page.
#[derive(Default)]
struct Outcome {
    new: Option<String>,
    problem: Option<String>,
}

/// `GET /devices`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    shown(&visit, Outcome::default()).await
}

async fn shown(visit: &Visit, outcome: Outcome) -> Result<HttpResponse, Problem> {
    let around = Around::of(visit)?;
    let (by, now) = (visit.by()?, visit.asked.now);
    let of = by.signed_in.of.clone();
    let may_issue = by.may(Deed::IssueTokens);
    let fresh = session::is_fresh(&by.signed_in, now);
    let rows = tokens::all(&visit.asked).await?;
    let name = visit.filled("name").to_string();
    let status = match outcome.problem {
        None => StatusCode::OK,
        Some(_) => StatusCode::UNPROCESSABLE_ENTITY,
    };
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::People)?;
        let mut all = Vec::with_capacity(rows.len());
        for token in &rows {
            let places: Vec<String> = (token.scopes.places.iter())
                .map(|id| tag_of(state, &of, &id.to_string()))
                .collect();
            all.push(TokenRow::of(token, &places, now));
        }
        Ok(DevicesPage {
            frame,
            rows: all,
            may_issue,
            fresh,
            name: if outcome.new.is_some() {
                String::new()
            } else {
                name
            },
            new: outcome.new,
            problem: outcome.problem,
        })
    });
    Ok(page(status, &read.await?))
}

/// The tag of an appliance or a cylinder; of what is neither, its id.
fn tag_of(state: &State, of: &Organisation, id: &str) -> String {
    let found = [Sort::Appliance, Sort::Cylinder]
        .into_iter()
        .find_map(|sort| {
            let read = |db: &mut _| things::one(db, of, sort, id);
            state.desk.read(read).ok()
        });
    found.map_or_else(|| id.to_string(), |thing| thing.tag)
}

/// Texts between commas.
fn listed(text: &str) -> Vec<String> {
    let parts = text.split(',').map(str::trim);
    parts
        .filter(|part| !part.is_empty())
        .map(str::to_string)
        .collect()
}

/// `POST /devices`: the secret stands on the page that answers, and nowhere afterwards.
pub async fn issue(visit: Visit) -> Result<HttpResponse, Problem> {
    let days = match typed(&visit, "days") {
        None => None,
        Some(text) => match text.parse() {
            Ok(days) => Some(days),
            Err(_) => {
                let problem = Some(format!("Expected days as a number, got {text:?}."));
                return shown(&visit, Outcome { new: None, problem }).await;
            }
        },
    };
    let request = TokenRequest {
        name: visit.filled("name").trim().to_string(),
        may: None,
        places: listed(visit.filled("places")),
        refrigerants: listed(visit.filled("refrigerants")),
        days,
    };
    let outcome = match tokens::issued(&visit.asked, request).await {
        Ok((secret, _)) => Outcome {
            new: Some(secret),
            problem: None,
        },
        Err(problem) if problem.kind.slug == "not-found" => Outcome {
            new: None,
            problem: Some(problem.detail),
        },
        Err(problem) => Outcome {
            new: None,
            problem: Some(refused(problem)?),
        },
    };
    shown(&visit, outcome).await
}

/// `POST /devices/{id}/revoke`.
pub async fn revoke(visit: Visit) -> Result<HttpResponse, Problem> {
    tokens::revoke(visit.asked).await?;
    Ok(go_to("/devices"))
}
