//! People: who may sign in, in which roles. Colleagues see names, the office sees more.

use super::answer::{Asked, PATIENCE};
use super::asker::Asker;
use super::problem::Problem;
use super::{factor, listed, registers};
use crate::actions::manage_people::{self, By, Member, PersonAsked};
use crate::actions::permit::{Deed, Reach};
use crate::actions::refusal::shown as quoted;
use crate::actions::show::{self, Page};
use crate::actions::{ActionError, Refusal, request};
use crate::auth::password;
use crate::ledger::actor::{Actor, Role};
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::atomic::Ordering;

/// A person as somebody may see them.
fn shown(member: &Member, by: &Asker) -> Value {
    let mut shown =
        json!({"id": member.person.to_string(), "tag": member.tag, "name": member.name});
    let own = by.signed_in.person == Some(member.person);
    if own || by.reach(Deed::ReadPeople) == Reach::Whole {
        let roles: Vec<&str> = member.roles.iter().map(|role| role.word()).collect();
        shown["email"] = json!(member.email);
        shown["roles"] = json!(roles);
        shown["disabled_at"] = json!(member.disabled_at.map(show::instant));
        shown["has_password"] = json!(member.has_password);
        shown["has_second_factor"] = json!(member.has_factor);
    } else if member.tag.as_deref() == Some(member.email.as_str()) {
        // Who has no tag of their own is called by their address, which is not for colleagues.
        shown["tag"] = Value::Null;
    }
    shown
}

/// Who sees more than names of colleagues leaves a record.
pub async fn read_by_the_office(asked: &Asked, about: &str) -> Result<(), Problem> {
    if asked.by()?.reach(Deed::ReadPeople) != Reach::Whole {
        return Ok(());
    }
    asked
        .record(Deed::ReadPeople, "people_read", about.to_string())
        .await
}

/// Everybody who may sign in, or might.
pub async fn members(asked: &Asked) -> Result<Vec<Member>, Problem> {
    let org = asked.by()?.signed_in.of.org;
    asked
        .read(move |state| Ok(state.desk.read(|db| manage_people::list(db, org))?))
        .await
}

/// `GET /api/v1/people`.
pub async fn page(asked: Asked) -> Result<HttpResponse, Problem> {
    let by = asked.by()?;
    read_by_the_office(&asked, "everybody").await?;
    let items = members(&asked)
        .await?
        .iter()
        .map(|member| shown(member, by))
        .collect();
    Ok(listed::answer(&asked, &Page { items, next: None }))
}

/// `GET /api/v1/people/{id}`.
pub async fn one(asked: Asked) -> Result<HttpResponse, Problem> {
    let member = meant(&asked).await?;
    read_by_the_office(&asked, &asked.name("id")).await?;
    let version = format!("\"{}\"", member.version);
    Ok(listed::tagged(
        &asked,
        &version,
        &shown(&member, asked.by()?),
    ))
}

/// Somebody who shall be able to sign in.
#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PersonRequest {
    /// Id of the entry that registers them.
    #[serde(default)]
    pub entry_id: Option<String>,
    /// Somebody who is registered already.
    #[serde(default)]
    pub person: Option<String>,
    /// The address they sign in with.
    pub email: String,
    /// Full name.
    #[serde(default)]
    pub name: Option<String>,
    /// How the book calls them.
    #[serde(default)]
    pub tag: Option<String>,
    /// Words of roles.
    pub roles: Vec<String>,
    /// A first password.
    #[serde(default)]
    pub password: Option<String>,
}

/// `POST /api/v1/people`.
pub async fn add(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let request: PersonRequest = request::read(&std::mem::take(&mut asked.body), "")?;
    let member = added(&asked, request).await?;
    let mut answer = HttpResponse::Created();
    answer.insert_header(("Location", format!("/api/v1/people/{}", member.person)));
    answer.insert_header(("ETag", format!("\"{}\"", member.version)));
    Ok(answer.json(shown(&member, asked.by()?)))
}

/// Adds somebody; the same entry id again adds nobody twice.
pub async fn added(asked: &Asked, request: PersonRequest) -> Result<Member, Problem> {
    let entry_id = match &request.entry_id {
        None => return Err(Refusal::MissingId.into()),
        Some(text) => Id::parse(text).ok_or_else(|| {
            let remedy = "Make one, for example of version 7.";
            Problem::from(Refusal::invalid("/entry_id", "a UUID", text, remedy))
        })?,
    };
    let what = PersonAsked {
        entry_id: Some(entry_id),
        person: request.person,
        password_hash: hashed(asked, request.password, &request.email).await?,
        email: request.email,
        name: request.name,
        tag: request.tag,
        roles: roles(&request.roles)?,
    };
    let member = act(asked, move |tx, by| manage_people::add(tx, by, &what)).await?;
    // Read anew: the entry that names them is booked only now.
    let person = member.person;
    let booked = members(asked)
        .await?
        .into_iter()
        .find(|member| member.person == person);
    Ok(booked.unwrap_or(member))
}

/// What is changed of somebody.
#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PersonChange {
    /// Other roles.
    #[serde(default)]
    pub roles: Option<Vec<String>>,
    /// May sign in no longer, or again.
    #[serde(default)]
    pub disabled: Option<bool>,
    /// Another password.
    #[serde(default)]
    pub password: Option<String>,
    /// Every session ends.
    #[serde(default)]
    pub end_sessions: bool,
    /// Their second factor is taken away.
    #[serde(default)]
    pub reset_factor: bool,
}

/// `PATCH /api/v1/people/{id}`.
pub async fn change(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let versions = registers::versions(&asked)?;
    let request: PersonChange = request::read(&std::mem::take(&mut asked.body), "")?;
    let member = match changed(&asked, versions, request).await {
        Ok(member) => member,
        Err(problem) if problem.kind.slug == "stale-version" => {
            let now = meant(&asked).await?;
            let problem = problem.with_header("ETag", format!("\"{}\"", now.version));
            return Err(problem.with("current", shown(&now, asked.by()?)));
        }
        Err(problem) => return Err(problem),
    };
    let mut answer = HttpResponse::Ok();
    answer.insert_header(("ETag", format!("\"{}\"", member.version)));
    Ok(answer.json(shown(&member, asked.by()?)))
}

/// The person whose id stands in the address.
pub async fn meant(asked: &Asked) -> Result<Member, Problem> {
    let name = asked.name("id");
    let id = Id::parse(&name);
    let members = members(asked).await?;
    let member = members.into_iter().find(|it| Some(it.person) == id);
    member.ok_or_else(|| show::unknown("person", &name).into())
}

/// Changes what is asked of the person whose id stands in the address, in one of the versions given.
pub async fn changed(
    asked: &Asked,
    versions: Option<Vec<String>>,
    request: PersonChange,
) -> Result<Member, Problem> {
    let roles = request.roles.as_deref().map(roles).transpose()?;
    if request.reset_factor {
        factor::only_fresh(asked)?;
    }
    let tell = asked.state.sends_mail;
    let Member { person, email, .. } = meant(asked).await?;
    let hash = hashed(asked, request.password, &email).await?;
    let changed = act(asked, move |tx, by| {
        let now = manage_people::member(tx, person)?;
        let stale = |asked: &Vec<String>| !asked.contains(&now.version.to_string());
        if versions.as_ref().is_some_and(stale) {
            return Err(Refusal::StaleVersion {
                what: format!("person {person}"),
            }
            .into());
        }
        if let Some(roles) = &roles {
            manage_people::set_roles(tx, by, person, roles)?;
        }
        if let Some(disabled) = request.disabled {
            manage_people::disable(tx, by, person, disabled)?;
        }
        if let Some(hash) = &hash {
            manage_people::set_password(tx, by, person, hash)?;
        }
        if request.end_sessions {
            manage_people::end_sessions(tx, by, person)?;
        }
        if request.reset_factor {
            manage_people::reset_factor(tx, by, person, tell)?;
        }
        manage_people::member(tx, person)
    });
    let changed = changed.await?;
    if request.reset_factor {
        asked.state.mail_chosen.store(true, Ordering::Relaxed);
    }
    Ok(changed)
}

/// Runs an action about people; all of it or nothing.
async fn act(
    asked: &Asked,
    mut action: impl FnMut(&mut crate::actions::desk::Tx<'_>, By<'_>) -> Result<Member, ActionError>
    + Send
    + 'static,
) -> Result<Member, Problem> {
    let by = asked.by()?;
    let actor: Actor = by.acting(Deed::ManagePeople)?;
    let source = asked.source();
    let done = asked.state.desk.act(&by.signed_in.of, move |tx| {
        action(
            tx,
            By {
                actor: &actor,
                source: &source,
            },
        )
    });
    let done = tokio::time::timeout(PATIENCE, done).await;
    Ok(done.map_err(|_| Problem::unavailable("the writer did not answer in time"))??)
}

fn roles(words: &[String]) -> Result<Vec<Role>, Problem> {
    let role = |word: &String| {
        let known: Vec<&str> = manage_people::HELD.iter().map(|role| role.word()).collect();
        Role::named(word).ok_or_else(|| {
            let expected = format!("some of {}", known.join(", "));
            Problem::from(Refusal::invalid(
                "/roles",
                &expected,
                word,
                "Choose from them.",
            ))
        })
    };
    words.iter().map(role).collect()
}

/// The hash of a new password, worked out off the request workers.
pub async fn hashed(
    asked: &Asked,
    password: Option<String>,
    email: &str,
) -> Result<Option<String>, Problem> {
    let Some(password) = password else {
        return Ok(None);
    };
    let name = asked.by()?.signed_in.of.name.clone();
    if password.len() > 4_096 {
        let came = format!("one of {} bytes", password.len());
        let expected = "a password of at most 256 characters";
        return Err(Refusal::invalid("/password", expected, &came, "Shorten it.").into());
    }
    if let Some(why) = password::refuse(&password, &[&name, email]) {
        let detail = format!(
            "This password is not taken: {}",
            why.replace(&password, &quoted("..."))
        );
        return Err(Problem::at("invalid-value", "/password", detail));
    }
    let hashing = asked.state.door.limits.hashing;
    let hash = asked
        .state
        .hashers
        .run(move || hashing.hash(&password))
        .await?;
    hash.map(Some).map_err(Problem::failure)
}
