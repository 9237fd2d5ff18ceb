//! The reader's own sign-in: where it is open, another password, and the password once more for what
//! asks for a sign-in of the last five minutes.

use super::{called, refused};
use crate::actions::permit::Deed;
use crate::actions::show::instant;
use crate::auth::password::SHORTEST;
use crate::auth::session;
use crate::http::{Problem, factor, people, sessions};
use crate::pages::factor::said;
use crate::pages::frame::{Around, Frame, Part};
use crate::pages::sign_in;
use crate::pages::way::{Visit, go_to, page, with_cookies};
use crate::pages::{figures, words};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "own.html")]
pub struct OwnPage {
    /// Around the content.
    pub frame: Frame,
    /// The reader's name.
    pub name: String,
    /// Where the reader signs in.
    pub email: String,
    /// The reader's roles.
    pub roles: String,
    /// Sessions of the reader.
    pub rows: Vec<SessionRow>,
    /// Was the password shown within five minutes?
    pub fresh: bool,
    /// How the second factor stands, in words.
    pub factor: String,
    /// There is one.
    pub has_factor: bool,
    /// Does the reader read duties?
    pub may_calendars: bool,
    /// What was just done.
    pub done: Option<&'static str>,
    /// Why nothing was done.
    pub problem: Option<String>,
}

/// A session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SessionRow {
    /// Its id.
    pub id: String,
    /// From where.
    pub source: String,
    /// When it was opened.
    pub opened: String,
    /// When it was seen last.
    pub seen: String,
    /// When it ends at the latest.
    pub ends: String,
    /// It is the one that reads.
    pub current: bool,
}

/// `GET /me`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    shown(&visit, None).await
}

async fn shown(visit: &Visit, problem: Option<String>) -> Result<HttpResponse, Problem> {
    let around = Around::of(visit)?;
    let (by, now) = (visit.by()?, visit.asked.now);
    let (person, current) = (by.signed_in.person, by.signed_in.key);
    let (fresh, may_calendars) = (
        session::is_fresh(&by.signed_in, now),
        by.may(Deed::OwnCalendars),
    );
    let roles: Vec<&str> = by
        .signed_in
        .roles
        .iter()
        .map(|role| words::role(*role))
        .collect();
    let member = people::members(&visit.asked).await?;
    let member = member.into_iter().find(|it| Some(it.person) == person);
    let standing = factor::standing(&visit.asked).await?;
    let open = sessions::all_of_mine(&visit.asked).await?;
    let at = |moment: i64| figures::instant(&instant(moment));
    let rows = open.iter().map(|it| SessionRow {
        id: it.id.to_string(),
        source: it.source.clone(),
        opened: at(it.signed_in_at),
        seen: at(it.seen_at),
        ends: at(it.expires_at),
        current: it.id == current,
    });
    let rows: Vec<SessionRow> = rows.collect();
    let done = match visit.asked.query.text("done") {
        Some("password") => Some("Your password is changed. Every other session of yours ended."),
        Some("factor-off") => {
            Some("You have no second factor any more. Every other session ended.")
        }
        Some("ended") => Some("That session ended."),
        _ => None,
    };
    let status = match problem {
        None => StatusCode::OK,
        Some(_) => StatusCode::UNPROCESSABLE_ENTITY,
    };
    let roles = roles.join(", ");
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Own)?;
        Ok(OwnPage {
            frame,
            name: member
                .as_ref()
                .map(|it| called(it).to_string())
                .unwrap_or_default(),
            email: member.map(|it| it.email).unwrap_or_default(),
            roles,
            rows,
            fresh,
            factor: said(&standing),
            has_factor: standing.since.is_some(),
            may_calendars,
            done: done.filter(|_| problem.is_none()),
            problem,
        })
    });
    Ok(page(status, &read.await?))
}

/// `POST /me/again`: the password once more; the session is fresh afterwards.
pub async fn again(visit: Visit) -> Result<HttpResponse, Problem> {
    let next = sign_in::path(visit.filled("next"));
    let password = visit.filled("password").to_string();
    let why = match sessions::shown_again(&visit.asked, password).await {
        Ok(opened) => return Ok(with_cookies(go_to(&next), &opened)),
        Err(problem) => problem,
    };
    let said = match why.kind.slug {
        "not-signed-in" => "This is not your password. Check it and try again.".to_string(),
        "too-many" => why.detail,
        _ => return Err(why),
    };
    shown(&visit, Some(said)).await
}

/// `POST /me/password`: another password.
pub async fn password(visit: Visit) -> Result<HttpResponse, Problem> {
    let (new, repeated) = (visit.filled("password"), visit.filled("repeated"));
    if new != repeated {
        let why = "Expected the same password twice, got two. Type it again.".to_string();
        return shown(&visit, Some(why)).await;
    }
    match sessions::password_set(&visit.asked, new.to_string()).await {
        Ok(()) => Ok(go_to("/me?done=password")),
        Err(problem) => shown(&visit, Some(refused(problem)?)).await,
    }
}

/// `POST /me/sessions/{id}/end`.
pub async fn end(visit: Visit) -> Result<HttpResponse, Problem> {
    sessions::end_one(visit.asked).await?;
    Ok(go_to("/me?done=ended"))
}
