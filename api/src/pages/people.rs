//! Who may sign in: everybody as a list, and somebody new.
//!
//! Administrators change it; managers and auditors read it. What somebody booked stays booked,
//! whoever may sign in later.

pub mod devices;
pub mod one;
pub mod own;
pub mod records;

use super::factor::choices;
use super::frame::{Around, Frame, Part};
use super::way::{Visit, go_to, page};
use super::words;
use crate::actions::manage_people::{HELD, Member};
use crate::actions::permit::{Deed, Reach};
use crate::auth::password::SHORTEST;
use crate::http::people::{self, PersonRequest};
use crate::http::{Problem, asker, factor};
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "people.html")]
pub struct PeoplePage {
    /// Around the content.
    pub frame: Frame,
    /// Everybody, by address.
    pub rows: Vec<PersonRow>,
    /// May the reader change who may sign in?
    pub may_manage: bool,
    /// Of whom a second factor is asked: word, in words, chosen.
    pub required: Vec<(&'static str, &'static str, bool)>,
    /// Was the reader's password shown within five minutes?
    pub fresh: bool,
    /// What was just done.
    pub done: Option<&'static str>,
    /// May the reader see tokens?
    pub may_tokens: bool,
    /// What the form for somebody new holds.
    pub new: NewPerson,
    /// Why nobody was added.
    pub problem: Option<String>,
}

/// Somebody.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PersonRow {
    /// Their id.
    pub id: String,
    /// Their name, or how the book calls them.
    pub name: String,
    /// Where they sign in.
    pub email: String,
    /// Their roles as words.
    pub roles: String,
    /// Whether they may sign in.
    pub state: &'static str,
    /// They may not.
    pub closed: bool,
}

/// The form for somebody new, as it was typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct NewPerson {
    /// Made when the form was served, so that a second press adds nobody twice.
    pub entry_id: String,
    /// The address.
    pub email: String,
    /// The name.
    pub name: String,
    /// How the book calls them.
    pub tag: String,
    /// The roles.
    pub roles: Vec<RoleBox>,
}

/// A role to be ticked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RoleBox {
    /// As the form sends it.
    pub word: &'static str,
    /// As it is read.
    pub means: &'static str,
    /// What it may do, in a line.
    pub about: &'static str,
    /// Is it held?
    pub held: bool,
}

/// A box for every role that somebody can hold.
pub fn boxes(held: impl Fn(Role) -> bool) -> Vec<RoleBox> {
    let role = |role: &Role| RoleBox {
        word: role.word(),
        means: words::role(*role),
        about: about(*role),
        held: held(*role),
    };
    HELD.iter().map(role).collect()
}

fn about(role: Role) -> &'static str {
    match role {
        Role::Technician => "posts weights and steps of service",
        Role::ComplianceManager => "answers for the book: registers, reports, rules, findings",
        Role::Auditor => "reads everything and changes nothing",
        Role::Administrator => "says who may sign in; posts nothing and sees no figures",
        _ => "",
    }
}

impl PersonRow {
    fn of(member: &Member) -> PersonRow {
        let roles: Vec<&str> = member.roles.iter().map(|role| words::role(*role)).collect();
        let (state, closed) = match (member.disabled_at, member.has_password) {
            (Some(_), _) => ("may not sign in", true),
            (None, false) => ("has no password yet", true),
            (None, true) if member.has_factor => ("may sign in, with a second factor", false),
            (None, true) => ("may sign in", false),
        };
        PersonRow {
            id: member.person.to_string(),
            name: called(member).to_string(),
            email: member.email.clone(),
            roles: roles.join(", "),
            state,
            closed,
        }
    }
}

/// The name of somebody, or their tag, or their address.
pub fn called(member: &Member) -> &str {
    let name = member.name.as_deref().or(member.tag.as_deref());
    name.unwrap_or(&member.email)
}

/// Refuses whoever may not see addresses and roles of everybody.
pub fn of_the_office(visit: &Visit) -> Result<(), Problem> {
    match visit.by()?.reach(Deed::ReadPeople) {
        Reach::Whole => Ok(()),
        _ => Err(asker::forbidden(Deed::ReadPeople)),
    }
}

/// `GET /people`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    of_the_office(&visit)?;
    people::read_by_the_office(&visit.asked, "everybody").await?;
    let new = NewPerson {
        entry_id: Id::at(visit.asked.now.unsigned_abs() / 1000).to_string(),
        roles: boxes(|role| role == Role::Technician),
        ..NewPerson::default()
    };
    shown(&visit, new, None).await
}

async fn shown(
    visit: &Visit,
    new: NewPerson,
    problem: Option<String>,
) -> Result<HttpResponse, Problem> {
    let around = Around::of(visit)?;
    let rows = people::members(&visit.asked).await?;
    let standing = factor::standing(&visit.asked).await?;
    let fresh = factor::is_fresh(&visit.asked)?;
    let done = match visit.asked.query.text("done") {
        Some("second-factor") => Some("It counts from now on."),
        _ => None,
    };
    let by = visit.by()?;
    let (may_manage, may_tokens) = (by.may(Deed::ManagePeople), by.may(Deed::RevokeTokens));
    let status = match problem {
        None => StatusCode::OK,
        Some(_) => StatusCode::UNPROCESSABLE_ENTITY,
    };
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::People)?;
        Ok(PeoplePage {
            frame,
            rows: rows.iter().map(PersonRow::of).collect(),
            required: choices(standing.required),
            fresh,
            done,
            may_manage,
            may_tokens,
            new,
            problem,
        })
    });
    Ok(page(status, &read.await?))
}

/// `POST /people/second-factor`: of whom one is asked.
pub async fn require(visit: Visit) -> Result<HttpResponse, Problem> {
    factor::required(&visit.asked, visit.filled("required_of")).await?;
    Ok(go_to("/people?done=second-factor"))
}

/// The roles that were ticked, as words.
pub fn ticked(visit: &Visit) -> Vec<String> {
    let roles = visit.form.iter().filter(|(name, _)| name == "role");
    roles.map(|(_, word)| word.clone()).collect()
}

/// What was typed into a box, if anything was.
pub fn typed(visit: &Visit, name: &str) -> Option<String> {
    let text = visit.filled(name).trim();
    (!text.is_empty()).then(|| text.to_string())
}

/// `POST /people`: somebody new.
pub async fn take(visit: Visit) -> Result<HttpResponse, Problem> {
    let roles = ticked(&visit);
    let request = PersonRequest {
        entry_id: Some(visit.filled("entry_id").to_string()),
        person: None,
        email: visit.filled("email").trim().to_string(),
        name: typed(&visit, "name"),
        tag: typed(&visit, "tag"),
        roles: roles.clone(),
        password: Some(visit.filled("password").to_string()).filter(|it| !it.is_empty()),
    };
    match people::added(&visit.asked, request).await {
        Ok(member) => Ok(go_to(&format!("/people/{}?done=added", member.person))),
        Err(problem) => {
            let why = refused(problem)?;
            let new = NewPerson {
                entry_id: visit.filled("entry_id").to_string(),
                email: visit.filled("email").to_string(),
                name: visit.filled("name").to_string(),
                tag: visit.filled("tag").to_string(),
                roles: boxes(|role| roles.iter().any(|word| word == role.word())),
            };
            shown(&visit, new, Some(why)).await
        }
    }
}

/// The sentence of a refusal that the form can show; anything else is a page of its own.
pub fn refused(problem: Problem) -> Result<String, Problem> {
    match problem.kind.slug {
        "invalid-value" | "forbidden" | "missing-id" | "id-reused" => Ok(problem.detail),
        _ => Err(problem),
    }
}
