//! Signing in, signing out, and one's own sessions.
//!
//! An unknown address and a wrong password get the same answer after the same work (promise A6).

use super::answer::Asked;
use super::asker::{self, Asker};
use super::problem::Problem;
use super::{Reached, State, listed, people, second_step};
use crate::actions::desk::Db;
use crate::actions::show::{self, Page};
use crate::actions::{ActionError, manage_people, request};
use crate::auth::sign_in::{self, Attempt, NewSession, SignInAsked, SignInRefused};
use crate::auth::{Shown, SignedIn, session};
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use actix_web::cookie::time::Duration as Age;
use actix_web::cookie::{Cookie, SameSite};
use serde::Deserialize;
use serde_json::{Value, json};

/// Longest address or name, and longest password, in bytes; the limits proper are looked at later.
const LONGEST_TEXT: usize = 1_000;
const LONGEST_PASSWORD: usize = 4_096;
/// A browser is known for so many days.
const KNOWN_DAYS: i64 = 365;

/// Who signs in.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SignInRequest {
    email: String,
    password: String,
    #[serde(default)]
    organisation: Option<String>,
}

/// A password: the one that holds, or one that shall hold from now on.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PasswordRequest {
    password: String,
}

/// `POST /api/v1/sessions`.
pub async fn open(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let request: SignInRequest = request::read(&std::mem::take(&mut asked.body), "")?;
    let long = request.email.len() > LONGEST_TEXT
        || request
            .organisation
            .as_ref()
            .is_some_and(|name| name.len() > LONGEST_TEXT);
    if long || request.password.len() > LONGEST_PASSWORD {
        return Err(too_long());
    }
    let meant = SignInAsked {
        email: request.email,
        password: String::new(),
        organisation: request.organisation,
    };
    let (source, device, now) = (asked.source(), device_of(&asked), asked.now);
    let begun = of_door(&asked, move |state, db| {
        sign_in::begin(&state.door, db, &meant, &source, device.as_deref(), now)
    });
    signed_in(&asked, begun.await?, request.password).await
}

/// `POST /api/v1/sessions/current`: the password again, for what asks for a fresh sign-in.
pub async fn again(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let request: PasswordRequest = request::read(&std::mem::take(&mut asked.body), "")?;
    shown_again(&asked, request.password).await
}

/// Takes the password once more; answers the cookies of a fresh session.
pub async fn shown_again(asked: &Asked, password: String) -> Result<HttpResponse, Problem> {
    if password.len() > LONGEST_PASSWORD {
        return Err(too_long());
    }
    let who = asked.by()?.signed_in.clone();
    own(asked.by()?)?;
    let (source, device, now) = (asked.source(), device_of(asked), asked.now);
    let begun = of_door(asked, move |state, db| {
        sign_in::again(&state.door, db, &who, &source, device.as_deref(), now)
    });
    signed_in(asked, begun.await?, password).await
}

pub(super) fn too_long() -> Problem {
    let detail = format!(
        "Expected an address and a name of at most {LONGEST_TEXT} bytes and a password of at most \
         {LONGEST_PASSWORD}, got more."
    );
    Problem::new("invalid-value", detail)
}

/// The cookie by which this browser is known.
pub(super) fn device_of(asked: &Asked) -> Option<String> {
    let cookie = asked
        .request
        .cookie(asker::device_cookie(&asked.state.reached));
    cookie.map(|cookie| cookie.value().to_string())
}

/// Works the hash out, away from the workers and without a connection, and opens the session.
async fn signed_in(
    asked: &Asked,
    attempt: Attempt,
    password: String,
) -> Result<HttpResponse, Problem> {
    let checked = asked
        .state
        .hashers
        .run(move || attempt.check(&password))
        .await?;
    let now = asked.now;
    let opened = of_door(asked, move |state, db| {
        sign_in::conclude(&state.door, db, checked, now)
    });
    welcome(asked, opened.await?).await
}

/// Asks the door on a thread that may wait; a refusal of the door is no fault of the connection.
pub(super) async fn of_door<T: Send + 'static>(
    asked: &Asked,
    question: impl FnOnce(&State, &mut Db) -> Result<T, SignInRefused> + Send + 'static,
) -> Result<T, Problem> {
    let answered = asked.read(move |state| {
        Ok(state.desk.read(|db| match question(state, db) {
            Ok(value) => Ok(Ok(value)),
            Err(SignInRefused::Failed(error)) => Err(error),
            Err(refused) => Ok(Err(refused)),
        })?)
    });
    let refused = |refused| refusal(&asked.state.reached, refused);
    answered.await?.map_err(refused)
}

fn refusal(reached: &Reached, refused: SignInRefused) -> Problem {
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
            let wait = reports::plural::counted(seconds, "seconds");
            let detail = format!("Too many attempts. Try again in {wait}.");
            let problem = Problem::new("too-many", detail);
            problem.with_header("Retry-After", seconds.to_string())
        }
        SignInRefused::CodeAsked { secret } => second_step::asked(reached, &secret),
        SignInRefused::CodeWrong { left } => second_step::wrong(left),
        SignInRefused::Restart => second_step::over(reached),
        SignInRefused::Failed(error) => Problem::from(error),
    }
}

/// Answers the cookies of a new session; an old one that was shown ends.
pub(super) async fn welcome(asked: &Asked, opened: NewSession) -> Result<HttpResponse, Problem> {
    let before = asked
        .by_if_any()
        .filter(|by| asker::by_cookie(by))
        .map(|by| by.signed_in.clone());
    if let Some(before) = before {
        let ended = asked.read(move |state| Ok(state.desk.read(|db| session::end(db, &before))?));
        ended.await?;
    }
    let reached = &asked.state.reached;
    let cookie = |name, value, age| cookie(reached, name, value, age);
    let left = (opened.signed_in.expires_at - asked.now) / 1_000_000;
    let mut answer = HttpResponse::Created();
    let name = asker::session_cookie(reached);
    answer.cookie(cookie(name, opened.secret, Age::seconds(left)));
    if let Some(device) = opened.known_device {
        let name = asker::device_cookie(reached);
        answer.cookie(cookie(name, device, Age::days(KNOWN_DAYS)));
    }
    if asked.request.cookie(second_step::cookie(reached)).is_some() {
        answer.cookie(second_step::gone(reached));
    }
    let mut shown = shown(&opened.signed_in);
    shown["failures"] = json!(opened.failures);
    Ok(answer.json(shown))
}

/// A cookie of ours: only this host, never a script.
pub(super) fn cookie(
    reached: &Reached,
    name: &'static str,
    value: String,
    age: Age,
) -> Cookie<'static> {
    let cookie = Cookie::build(name, value).path("/").http_only(true);
    cookie
        .same_site(SameSite::Lax)
        .secure(reached.secure)
        .max_age(age)
        .finish()
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
        "second_factor_owed": signed_in.owes_factor,
    })
}

/// `POST /api/v1/sessions/current/password`.
pub async fn set_password(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let request: PasswordRequest = request::read(&std::mem::take(&mut asked.body), "")?;
    password_set(&asked, request.password).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Sets another password of one's own, within five minutes of signing in.
pub async fn password_set(asked: &Asked, password: String) -> Result<(), Problem> {
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
    let hash = people::hashed(asked, Some(password), &email)
        .await?
        .unwrap_or_default();
    let changed = asked.read(move |state| {
        Ok(state
            .desk
            .read(|db| session::change_password(db, &by, &source, &hash, now))?)
    });
    match changed.await? {
        true => Ok(()),
        false => Err(not_fresh()),
    }
}

/// The problem of who signed in too long ago for this.
pub fn not_fresh() -> Problem {
    let detail = "Expected a sign-in of the last five minutes, got an older one. Send POST \
                  /api/v1/sessions/current with the password, then this again.";
    Problem::new("forbidden", detail)
}

/// `GET /api/v1/sessions/current`.
pub async fn current(asked: Asked) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(shown(&asked.by()?.signed_in)))
}

/// `GET /api/v1/sessions`: one's own.
pub async fn list(asked: Asked) -> Result<HttpResponse, Problem> {
    let found = all_of_mine(&asked).await?;
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
    let items: Vec<Value> = found.into_iter().map(shown).collect();
    Ok(listed::answer(&asked, &Page { items, next: None }))
}

/// The sessions of whoever asks.
pub async fn all_of_mine(asked: &Asked) -> Result<Vec<session::Listed>, Problem> {
    let (org, person) = own(asked.by()?)?;
    asked
        .read(move |state| Ok(state.desk.read(|db| session::list(db, org, person))?))
        .await
}

pub(super) fn own(by: &Asker) -> Result<(i64, Id), Problem> {
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
