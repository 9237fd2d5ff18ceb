//! Signing in, signing out, and one's own sessions.
//!
//! An unknown address and a wrong password get the same answer after the same work (promise A6).

use super::answer::{Asked, PATIENCE};
use super::asker::{self, Asker};
use super::problem::Problem;
use super::{listed, people};
use crate::actions::show::{self, Page};
use crate::actions::{ActionError, StoreError, manage_people, request};
use crate::auth::sign_in::{self, NewSession, SignInAsked, SignInRefused};
use crate::auth::{Shown, SignedIn, session};
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use actix_web::cookie::time::Duration as Age;
use actix_web::cookie::{Cookie, SameSite};
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::Arc;

/// A browser is known for so many days.
const KNOWN_DAYS: i64 = 365;

/// Who signs in; without an address: who is signed in already, asked for the password again.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SignInRequest {
    #[serde(default)]
    email: Option<String>,
    password: String,
    #[serde(default)]
    organisation: Option<String>,
}

/// `POST /api/v1/sessions`.
pub async fn open(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let request: SignInRequest = request::read(&std::mem::take(&mut asked.body), "")?;
    if [&request.email, &request.organisation]
        .into_iter()
        .flatten()
        .any(|text| text.len() > 1_000)
        || request.password.len() > 4_096
    {
        let detail = "Expected an address and a name of at most 1000 bytes and a password of at most \
                      4096, got more.";
        return Err(Problem::new("invalid-value", detail));
    }
    let attempt = begin(&asked, &request).await?;
    let password = request.password;
    let checked = asked
        .state
        .hashers
        .run(move || attempt.check(&password))
        .await?;
    let (state, now) = (Arc::clone(&asked.state), asked.now);
    let opened = actix_web::web::block(move || {
        let (mut checked, mut refused) = (Some(checked), None);
        let opened = state.desk.read(|db| {
            let checked = checked.take().ok_or(StoreError::Busy)?;
            match sign_in::conclude(&state.door, db, checked, now) {
                Ok(opened) => Ok(Some(opened)),
                Err(SignInRefused::Failed(error)) => Err(error),
                Err(other) => {
                    refused = Some(other);
                    Ok(None)
                }
            }
        });
        opened.map(|opened| opened.ok_or(refused))
    });
    let opened = tokio::time::timeout(PATIENCE, opened).await;
    let opened = opened.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    let opened = opened.map_err(|_| Problem::unavailable("no thread to ask the book"))?;
    match opened.map_err(|error: StoreError| Problem::from(error))? {
        Ok(opened) => welcome(&asked, opened).await,
        Err(refused) => Err(refusal(refused.unwrap_or(SignInRefused::Wrong))),
    }
}

async fn begin(asked: &Asked, request: &SignInRequest) -> Result<sign_in::Attempt, Problem> {
    let source = asked.source();
    let device = asked
        .request
        .cookie(asker::device_cookie(&asked.state.reached));
    let device = device.map(|cookie| cookie.value().to_string());
    let now = asked.now;
    let signed_in = asked.by_if_any().map(|by| by.signed_in.clone());
    let email = request.email.clone();
    if email.is_none() && signed_in.is_none() {
        let detail = "Expected an email, got none. Add it.";
        return Err(Problem::at("malformed", "", detail));
    }
    let meant = SignInAsked {
        email: email.clone().unwrap_or_default(),
        password: String::new(),
        organisation: request.organisation.clone(),
    };
    let state = Arc::clone(&asked.state);
    let begun = actix_web::web::block(move || {
        state.desk.read(|db| {
            let device = device.as_deref();
            let begun = match (&email, &signed_in) {
                (None, Some(who)) => sign_in::again(&state.door, db, who, &source, device, now),
                _ => sign_in::begin(&state.door, db, &meant, &source, device, now),
            };
            match begun {
                Ok(attempt) => Ok(Ok(attempt)),
                Err(SignInRefused::Failed(error)) => Err(error),
                Err(other) => Ok(Err(other)),
            }
        })
    });
    let begun = tokio::time::timeout(PATIENCE, begun).await;
    let begun = begun.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    let begun = begun.map_err(|_| Problem::unavailable("no thread to ask the book"))?;
    begun
        .map_err(|error: StoreError| Problem::from(error))?
        .map_err(refusal)
}

fn refusal(refused: SignInRefused) -> Problem {
    match refused {
        SignInRefused::Wrong => {
            let detail = "Expected an address and its password, got a pair that does not fit. Check \
                          both, or ask your administrator.";
            let problem = Problem::new("not-signed-in", detail);
            problem.with_header("WWW-Authenticate", "Bearer")
        }
        SignInRefused::ChooseOrganisation(names) => {
            let detail = format!(
                "Expected the organisation that is meant, got none: {}. Add organisation.",
                names.join(", ")
            );
            let problem = Problem::at("invalid-value", "/organisation", detail);
            problem.with("organisations", json!(names))
        }
        SignInRefused::Later { seconds } => {
            let detail = format!("Too many attempts. Try again in {seconds} seconds.");
            let problem = Problem::new("too-many", detail);
            problem.with_header("Retry-After", seconds.to_string())
        }
        SignInRefused::Failed(error) => Problem::from(error),
    }
}

/// Answers the cookies of a new session; an old one that was shown ends.
async fn welcome(asked: &Asked, opened: NewSession) -> Result<HttpResponse, Problem> {
    let before = asked
        .by_if_any()
        .filter(|by| asker::by_cookie(by))
        .map(|by| by.signed_in.clone());
    if let Some(before) = before {
        let ended = asked.read(move |state| Ok(state.desk.read(|db| session::end(db, &before))?));
        ended.await?;
    }
    let reached = &asked.state.reached;
    let cookie = |name: &'static str, value: String, age: Age| {
        let cookie = Cookie::build(name, value).path("/").http_only(true);
        cookie
            .same_site(SameSite::Lax)
            .secure(reached.secure)
            .max_age(age)
            .finish()
    };
    let left = (opened.signed_in.expires_at - asked.now) / 1_000_000;
    let mut answer = HttpResponse::Created();
    let name = asker::session_cookie(reached);
    answer.cookie(cookie(name, opened.secret, Age::seconds(left)));
    if let Some(device) = opened.known_device {
        let name = asker::device_cookie(reached);
        answer.cookie(cookie(name, device, Age::days(KNOWN_DAYS)));
    }
    let mut shown = shown(&opened.signed_in);
    shown["failures"] = json!(opened.failures);
    Ok(answer.json(shown))
}

fn shown(signed_in: &SignedIn) -> Value {
    let roles: Vec<&str> = signed_in.roles.iter().map(|role| role.word()).collect();
    let at = |moment: i64| show::instant(moment);
    let since = (signed_in.shown == Shown::Session).then(|| at(signed_in.signed_in_at));
    json!({
        "id": signed_in.key.to_string(),
        "organisation": signed_in.of.name,
        "log": signed_in.of.log,
        "person": signed_in.person.map(|person| person.to_string()),
        "roles": roles,
        "signed_in_at": since,
        "expires_at": at(signed_in.expires_at),
    })
}

/// A password that shall hold from now on.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NewPassword {
    password: String,
}

/// `POST /api/v1/sessions/current/password`.
pub async fn set_password(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let request: NewPassword = request::read(&std::mem::take(&mut asked.body), "")?;
    let (org, person) = own(asked.by()?)?;
    let (by, now, source) = (asked.by()?.signed_in.clone(), asked.now, asked.source());
    if !session::is_fresh(&by, now) {
        return Err(not_fresh());
    }
    let members =
        asked.read(move |state| Ok(state.desk.read(|db| manage_people::list(db, org))?));
    let member = members
        .await?
        .into_iter()
        .find(|member| member.person == person);
    let email = member.map(|member| member.email).unwrap_or_default();
    let hash = people::hashed(&asked, Some(request.password), &email)
        .await?
        .unwrap_or_default();
    let changed = asked.read(move |state| {
        Ok(state
            .desk
            .read(|db| session::change_password(db, &by, &source, &hash, now))?)
    });
    match changed.await? {
        true => Ok(HttpResponse::NoContent().finish()),
        false => Err(not_fresh()),
    }
}

/// The problem of who signed in too long ago for this.
pub fn not_fresh() -> Problem {
    let detail = "Expected a sign-in of the last five minutes, got an older one. Send POST \
                  /api/v1/sessions with the password, then this again.";
    Problem::new("forbidden", detail)
}

/// `GET /api/v1/sessions/current`.
pub async fn current(asked: Asked) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(shown(&asked.by()?.signed_in)))
}

/// `GET /api/v1/sessions`: one's own.
pub async fn list(asked: Asked) -> Result<HttpResponse, Problem> {
    let (org, person) = own(asked.by()?)?;
    let found =
        asked.read(move |state| Ok(state.desk.read(|db| session::list(db, org, person))?));
    let current = asked.by()?.signed_in.key;
    let shown = |it: crate::auth::session::Listed| {
        json!({
            "id": it.id.to_string(),
            "current": it.id == current,
            "source": it.source,
            "signed_in_at": show::instant(it.signed_in_at),
            "seen_at": show::instant(it.seen_at),
            "expires_at": show::instant(it.expires_at),
        })
    };
    let items: Vec<Value> = found.await?.into_iter().map(shown).collect();
    Ok(listed::answer(&asked, &Page { items, next: None }))
}

fn own(by: &Asker) -> Result<(i64, Id), Problem> {
    let person = by.signed_in.person.ok_or_else(|| {
        let detail = "Expected a person, got a token that belongs to the organisation.";
        Problem::new("forbidden", detail)
    })?;
    Ok((by.signed_in.of.org, person))
}

/// `DELETE /api/v1/sessions/current`: signs out.
pub async fn end_current(asked: Asked) -> Result<HttpResponse, Problem> {
    let by = asked.by()?.clone();
    if !asker::by_cookie(&by) {
        let detail = "Expected the cookie of a session, got a token. Tokens are revoked under \
                      /api/v1/tokens.";
        return Err(Problem::new("forbidden", detail));
    }
    asked
        .read(move |state| Ok(state.desk.read(|db| session::end(db, &by.signed_in))?))
        .await?;
    let name = asker::session_cookie(&asked.state.reached);
    let mut gone = Cookie::build(name, "").path("/").http_only(true).finish();
    gone.set_secure(asked.state.reached.secure);
    gone.make_removal();
    Ok(HttpResponse::NoContent().cookie(gone).finish())
}

/// `DELETE /api/v1/sessions/{id}`: of one's own.
pub async fn end_one(asked: Asked) -> Result<HttpResponse, Problem> {
    let (org, person) = own(asked.by()?)?;
    let name = asked.name("id");
    asked
        .read(move |state| {
            let unknown = || show::unknown("session", &name);
            let id = Id::parse(&name).ok_or_else(unknown)?;
            let own = state.desk.read(|db| session::list(db, org, person))?;
            if !own.iter().any(|session| session.id == id) {
                return Err(unknown());
            }
            state.desk.read(|db| session::end_one(db, org, id))?;
            Ok::<(), ActionError>(())
        })
        .await?;
    Ok(HttpResponse::NoContent().finish())
}
