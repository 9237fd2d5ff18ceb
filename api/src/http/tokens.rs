//! Tokens of devices: issued once, shown without their secret, revoked.

use super::answer::Asked;
use super::problem::Problem;
use super::{listed, sessions};
use crate::actions::permit::Deed;
use crate::actions::show::{self, Page};
use crate::actions::{ActionError, Refusal, request};
use crate::auth::access::Asker as Recorder;
use crate::auth::session;
use crate::auth::token::{self, SCOPES, Scopes, TokenAsked, TokenRefused, TokenShown, USUAL_DAYS};
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use serde::Deserialize;
use serde_json::{Value, json};

/// A token that is asked for.
#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TokenRequest {
    /// What it is for.
    pub name: String,
    /// Scopes; none: the first of them.
    #[serde(default)]
    pub may: Option<Vec<String>>,
    /// Appliances and cylinders it may name; none: all.
    #[serde(default)]
    pub places: Vec<String>,
    /// Refrigerants it may name; none: all.
    #[serde(default)]
    pub refrigerants: Vec<String>,
    /// How long it lasts.
    #[serde(default)]
    pub days: Option<u32>,
}

/// `POST /api/v1/tokens`.
pub async fn issue(mut asked: Asked) -> Result<HttpResponse, Problem> {
    // Whoever signed in too long ago is told so before the body is looked at.
    if !session::is_fresh(&asked.by()?.signed_in, asked.now) {
        return Err(sessions::not_fresh());
    }
    let request: TokenRequest = request::read(&std::mem::take(&mut asked.body), "")?;
    let (secret, token) = issued(&asked, request).await?;
    let mut answer = shown(&token);
    answer["token"] = json!(secret);
    Ok(HttpResponse::Created().json(answer))
}

/// Issues a token, for whoever signed in within five minutes: its secret, and what may be shown.
pub async fn issued(asked: &Asked, request: TokenRequest) -> Result<(String, TokenShown), Problem> {
    let by = asked.by()?.clone();
    if !session::is_fresh(&by.signed_in, asked.now) {
        return Err(sessions::not_fresh());
    }
    let may = request.may.unwrap_or_else(|| vec![SCOPES[0].to_string()]);
    if let Some(wrong) = may.iter().find(|may| !SCOPES.contains(&may.as_str())) {
        let expected = format!("some of {}", SCOPES.join(", "));
        return Err(Refusal::invalid("/may", &expected, wrong, "Choose from them.").into());
    }
    if request.name.trim().is_empty() || request.name.chars().count() > 200 {
        let expected = "a name of 1 to 200 characters";
        let remedy = "Say what the token is for.";
        return Err(Refusal::invalid("/name", expected, &request.name, remedy).into());
    }
    let role = by.acting(Deed::IssueTokens)?.role;
    let (now, source) = (asked.now, asked.source());
    asked
        .read(move |state| {
            let of = &by.signed_in.of;
            let found = state
                .desk
                .read(|db| show::things::places(db, of, &request.places))?;
            let refrigerants = show::things::designations(&request.refrigerants)?;
            let what = TokenAsked {
                name: request.name.trim().to_string(),
                person: None,
                role: Role::Device,
                scopes: Scopes {
                    may,
                    places: found,
                    refrigerants,
                },
                days: request.days.unwrap_or(USUAL_DAYS),
            };
            state.desk.read(|db| {
                match token::issue(
                    db,
                    of,
                    &Recorder::new(&by.signed_in, role, &source),
                    &what,
                    now,
                ) {
                    Ok(issued) => Ok(issued),
                    Err(TokenRefused::Failed(error)) => Err(ActionError::Failed(error)),
                    Err(TokenRefused::Invalid(pointer, detail)) => {
                        let pointer = pointer.to_string();
                        Err(Refusal::InvalidValue { pointer, detail }.into())
                    }
                }
            })
        })
        .await
}

fn shown(token: &TokenShown) -> Value {
    let at = |moment: Option<i64>| moment.map(show::instant);
    let places: Vec<String> = token
        .scopes
        .places
        .iter()
        .map(ToString::to_string)
        .collect();
    json!({
        "id": token.id.to_string(),
        "word": token.word,
        "name": token.name,
        "person": token.person.map(|person| person.to_string()),
        "role": token.role.word(),
        "may": token.scopes.may,
        "places": places,
        "refrigerants": token.scopes.refrigerants,
        "made_at": show::instant(token.made_at),
        "expires_at": show::instant(token.expires_at),
        "used_at": at(token.used_at),
        "revoked_at": at(token.revoked_at),
    })
}

/// `GET /api/v1/tokens`.
pub async fn list(asked: Asked) -> Result<HttpResponse, Problem> {
    let items = all(&asked).await?.iter().map(shown).collect();
    Ok(listed::answer(&asked, &Page { items, next: None }))
}

/// Every token of the organisation.
pub async fn all(asked: &Asked) -> Result<Vec<TokenShown>, Problem> {
    let of = asked.by()?.signed_in.of.clone();
    asked
        .read(move |state| Ok(state.desk.read(|db| token::list(db, &of))?))
        .await
}

/// `DELETE /api/v1/tokens/{id}`.
pub async fn revoke(asked: Asked) -> Result<HttpResponse, Problem> {
    let by = asked.by()?.clone();
    let role = by.acting(Deed::RevokeTokens)?.role;
    let (name, now, source) = (asked.name("id"), asked.now, asked.source());
    asked
        .read(move |state| {
            let unknown = || show::unknown("token", &name);
            let id = Id::parse(&name).ok_or_else(unknown)?;
            let of = &by.signed_in.of;
            let recorder = Recorder::new(&by.signed_in, role, &source);
            let revoked = state
                .desk
                .read(|db| token::revoke(db, of, &recorder, id, now))?;
            let known = revoked
                || state
                    .desk
                    .read(|db| token::list(db, of))?
                    .iter()
                    .any(|token| token.id == id);
            // Revoked before is revoked.
            if known { Ok(()) } else { Err(unknown()) }
        })
        .await?;
    Ok(HttpResponse::NoContent().finish())
}
