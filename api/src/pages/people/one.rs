//! One person who may sign in: roles, password, sessions, and whether they may at all.

use super::{PersonRow, RoleBox, boxes, refused, ticked};
use crate::actions::Refusal;
use crate::auth::password::SHORTEST;
use crate::http::people::{self, PersonChange};
use crate::http::{Problem, factor};
use crate::pages::frame::{Around, Frame, Part};
use crate::pages::way::{Visit, go_to, page};
use crate::pages::words;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "person.html")]
pub struct PersonPage {
    /// Around the content.
    pub frame: Frame,
    /// Who.
    pub row: PersonRow,
    /// A box for each role.
    pub roles: Vec<RoleBox>,
    /// The state that the forms change.
    pub version: i64,
    /// They may not sign in.
    pub disabled: bool,
    /// They have a second factor.
    pub has_factor: bool,
    /// Was the reader's password shown within five minutes?
    pub fresh: bool,
    /// The reader's address.
    pub own_email: String,
    /// It is the reader.
    pub oneself: bool,
    /// What was just done.
    pub done: Option<&'static str>,
    /// Why nothing was done.
    pub problem: Option<String>,
    /// Somebody else changed it meanwhile.
    pub stale: bool,
}

/// What went wrong, if anything did.
#[derive(Default)]
struct Wrong {
    problem: Option<String>,
    stale: bool,
}

/// `GET /people/{id}`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    people::read_by_the_office(&visit.asked, &visit.asked.name("id")).await?;
    shown(&visit, Wrong::default()).await
}

async fn shown(visit: &Visit, wrong: Wrong) -> Result<HttpResponse, Problem> {
    let around = Around::of(visit)?;
    let member = people::meant(&visit.asked).await?;
    let fresh = factor::is_fresh(&visit.asked)?;
    let own_email = match (member.has_factor, fresh) {
        (true, false) => own_email(visit).await?,
        _ => String::new(),
    };
    let oneself = visit.by()?.signed_in.person == Some(member.person);
    let done = said(visit.asked.query.text("done").unwrap_or_default());
    let status = match &wrong {
        Wrong { stale: true, .. } => StatusCode::PRECONDITION_FAILED,
        Wrong {
            problem: Some(_), ..
        } => StatusCode::UNPROCESSABLE_ENTITY,
        _ => StatusCode::OK,
    };
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::People)?;
        Ok(PersonPage {
            frame,
            row: PersonRow::of(&member),
            roles: boxes(|role| member.roles.contains(&role)),
            version: member.version,
            disabled: member.disabled_at.is_some(),
            has_factor: member.has_factor,
            fresh,
            own_email,
            oneself,
            done: done.filter(|_| wrong.problem.is_none() && !wrong.stale),
            problem: wrong.problem,
            stale: wrong.stale,
        })
    });
    Ok(page(status, &read.await?))
}

async fn own_email(visit: &Visit) -> Result<String, Problem> {
    let own = visit.by()?.signed_in.person;
    let everybody = people::members(&visit.asked).await?;
    let own = everybody.into_iter().find(|it| Some(it.person) == own);
    Ok(own.map(|it| it.email).unwrap_or_default())
}

fn said(word: &str) -> Option<&'static str> {
    match word {
        "added" => Some("Added."),
        "roles" => {
            Some("The roles are changed. Every session ended; they count from the next sign-in on.")
        }
        "disabled" => Some("May sign in no longer. Every session, token and calendar ended."),
        "enabled" => Some("May sign in again."),
        "password" => Some("The password is changed. Every session ended; hand it over in person."),
        "factor" => Some("The second factor is reset. Every session ended."),
        "sessions" => Some("Every session ended."),
        _ => None,
    }
}

/// `POST /people/{id}`: one of the forms, told apart by the button that was pressed.
pub async fn take(visit: Visit) -> Result<HttpResponse, Problem> {
    let (change, done) = match visit.filled("change") {
        "roles" => {
            let roles = Some(ticked(&visit));
            let change = PersonChange {
                roles,
                ..PersonChange::default()
            };
            (change, "roles")
        }
        "password" => {
            let password = Some(visit.filled("password").to_string());
            let change = PersonChange {
                password,
                ..PersonChange::default()
            };
            (change, "password")
        }
        "sessions" => {
            let change = PersonChange {
                end_sessions: true,
                ..PersonChange::default()
            };
            (change, "sessions")
        }
        "factor" => {
            let change = PersonChange {
                reset_factor: true,
                ..PersonChange::default()
            };
            (change, "factor")
        }
        word @ ("disable" | "enable") => {
            let disabled = word == "disable";
            let change = PersonChange {
                disabled: Some(disabled),
                ..PersonChange::default()
            };
            (change, if disabled { "disabled" } else { "enabled" })
        }
        other => {
            let expected = "one of roles, password, sessions, factor, disable, enable";
            let remedy = "Open the page again.";
            return Err(Refusal::invalid("/change", expected, other, remedy).into());
        }
    };
    let versions = vec![visit.filled("version").to_string()];
    match people::changed(&visit.asked, Some(versions), change).await {
        Ok(member) => Ok(go_to(&format!("/people/{}?done={done}", member.person))),
        Err(problem) if problem.kind.slug == "stale-version" => {
            let (problem, stale) = (None, true);
            shown(&visit, Wrong { problem, stale }).await
        }
        Err(problem) => {
            let (problem, stale) = (Some(refused(problem)?), false);
            shown(&visit, Wrong { problem, stale }).await
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::called;
    use super::*;

    #[test]
    fn a_person_without_a_name_is_called_by_tag_or_address() {
        use crate::actions::manage_people::Member;
        use crate::ledger::id::Id;
        let mut member = Member {
            person: Id::from_bits(7),
            email: "tam@tamarack.example".to_string(),
            roles: Vec::new(),
            disabled_at: None,
            has_password: false,
            has_factor: false,
            version: 1,
            tag: None,
            name: None,
        };
        assert_eq!(called(&member), "tam@tamarack.example");
        member.tag = Some("TAM".to_string());
        assert_eq!(called(&member), "TAM");
        assert_eq!(PersonRow::of(&member).state, "has no password yet");
    }

    #[test]
    fn only_what_was_done_is_said() {
        assert!(said("roles").is_some());
        assert_eq!(said("<script>"), None);
    }
}
