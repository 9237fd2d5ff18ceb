//! Calendars of what is owed: made and revoked by their person, fetched by whoever knows the address.

use super::answer::Asked;
use super::asker::Asker;
use super::listed;
use super::problem::Problem;
use crate::actions::calendar as content;
use crate::actions::permit::{self, Deed, Reach};
use crate::actions::refusal::ActionError;
use crate::actions::request;
use crate::actions::show::{self, Page};
use crate::auth::access::Asker as Recorder;
use crate::auth::calendar::{self, Calendar};
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use serde::Deserialize;
use serde_json::{Value, json};

/// A calendar that is asked for.
#[derive(Clone, Copy, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct CalendarRequest {
    /// Names of sites shall stand in it.
    pub names: bool,
    /// Of the whole organisation, not only what is assigned to the person.
    pub everything: bool,
}

/// Most bytes of a host's name (RFC 1035, section 2.3.4) with a port.
const LONGEST_HOST: usize = 261;

/// Where the service is reached, without a slash at its end.
pub fn base(asked: &Asked) -> String {
    if let Some(origin) = &asked.state.reached.origin {
        return origin.clone();
    }
    let host = asked.header("host").unwrap_or("localhost");
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b".-:[]".contains(&byte);
    let host = if host.len() <= LONGEST_HOST && host.bytes().all(plain) {
        host
    } else {
        "localhost"
    };
    let scheme = if asked.state.reached.secure {
        "https"
    } else {
        "http"
    };
    format!("{scheme}://{host}")
}

fn person(by: &Asker) -> Result<Id, Problem> {
    by.signed_in.person.ok_or_else(|| {
        let detail = "Expected a person who is signed in, or a token that acts for one, got a token \
                      of the organisation. Calendars belong to a person.";
        Problem::new("forbidden", detail)
    })
}

/// May they follow what the whole organisation owes?
pub fn may_follow_everything(by: &Asker) -> bool {
    by.reach(Deed::ReadFollowUps) == Reach::Whole
}

/// Makes a calendar; gives it with its secret.
pub async fn made(asked: &Asked, request: CalendarRequest) -> Result<(Calendar, String), Problem> {
    let by = asked.by()?.clone();
    let person = person(&by)?;
    if request.everything && !may_follow_everything(&by) {
        let detail = "Expected a role that follows what the whole organisation owes, got none. Take \
                      a calendar of what is assigned to you.";
        return Err(Problem::new("forbidden", detail));
    }
    let role = by.acting(Deed::OwnCalendars)?.role;
    let (now, source) = (asked.now, asked.source());
    let calendar = Calendar {
        org: by.signed_in.of.org,
        id: Id::random(),
        person,
        names: request.names,
        everything: request.everything,
        made_at: now,
        read_at: 0,
        revoked_at: 0,
    };
    let kept = calendar.clone();
    let made = asked.read(move |state| {
        let recorder = Recorder::new(&by.signed_in, role, &source);
        let of = &by.signed_in.of;
        Ok(state
            .desk
            .read(|db| calendar::make(db, of, &recorder, &kept))?)
    });
    let secret = made.await?.ok_or_else(|| {
        let most = calendar::MOST;
        let detail =
            format!("Expected at most {most} calendars of a person, got one more. Revoke one.");
        Problem::at("invalid-value", "", detail)
    })?;
    Ok((calendar, secret))
}

/// The address of a calendar.
pub fn address(asked: &Asked, secret: &str) -> String {
    format!("{}/calendar/{secret}.ics", base(asked))
}

fn shown(calendar: &Calendar) -> Value {
    json!({
        "id": calendar.id.to_string(),
        "names": calendar.names,
        "everything": calendar.everything,
        "made_at": show::instant(calendar.made_at),
        "read_at": (calendar.read_at > 0).then(|| show::instant(calendar.read_at)),
    })
}

/// `POST /api/v1/calendars`.
pub async fn make(mut asked: Asked) -> Result<HttpResponse, Problem> {
    let request: CalendarRequest = request::read(&std::mem::take(&mut asked.body), "")?;
    let (calendar, secret) = made(&asked, request).await?;
    let mut answer = shown(&calendar);
    answer["address"] = json!(address(&asked, &secret));
    Ok(HttpResponse::Created().json(answer))
}

/// The calendars of who asks.
pub async fn own(asked: &Asked) -> Result<Vec<Calendar>, Problem> {
    let by = asked.by()?;
    let (person, of) = (person(by)?, by.signed_in.of.clone());
    asked
        .read(move |state| Ok(state.desk.read(|db| calendar::list(db, &of, person))?))
        .await
}

/// `GET /api/v1/calendars`.
pub async fn list(asked: Asked) -> Result<HttpResponse, Problem> {
    let items = own(&asked).await?.iter().map(shown).collect();
    Ok(listed::answer(&asked, &Page { items, next: None }))
}

/// Revokes one of the calendars of who asks.
pub async fn revoked(asked: &Asked) -> Result<(), Problem> {
    let by = asked.by()?.clone();
    let person = person(&by)?;
    let role = by.acting(Deed::OwnCalendars)?.role;
    let (name, now, source) = (asked.name("id"), asked.now, asked.source());
    asked
        .read(move |state| {
            let unknown = || show::unknown("calendar", &name);
            let id = Id::parse(&name).ok_or_else(unknown)?;
            let recorder = Recorder::new(&by.signed_in, role, &source);
            let of = &by.signed_in.of;
            let revoke = |db: &mut _| calendar::revoke(db, of, &recorder, person, id, now);
            match state.desk.read(revoke)? {
                true => Ok(()),
                false => Err(unknown()),
            }
        })
        .await
}

/// `DELETE /api/v1/calendars/{id}`.
pub async fn revoke(asked: Asked) -> Result<HttpResponse, Problem> {
    revoked(&asked).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// `GET /calendar/{secret}.ics`. An address that was revoked, that never was, and that of somebody
/// who signs in no longer are answered alike.
pub async fn feed(asked: Asked) -> Result<HttpResponse, Problem> {
    let (secret, base, now) = (asked.name("secret"), base(&asked), asked.now);
    let read = asked.read(move |state| {
        let found = state.desk.read(|db| calendar::find(db, &secret))?;
        let follows = |role: &_| permit::may(*role, Deed::ReadFollowUps);
        let Some(found) = found.filter(|found| found.roles.iter().any(follows)) else {
            return Ok::<_, ActionError>(None);
        };
        let whole = |role: &_| permit::reach(*role, Deed::ReadFollowUps) == Reach::Whole;
        let everything = found.calendar.everything && found.roles.iter().any(whole);
        state
            .desk
            .report(|db| content::text(db, &found.of, &found.calendar, everything, &base, now))
    });
    let text = read.await?.ok_or_else(|| {
        let detail = "Expected the address of a calendar that holds, got another one. Make a new one \
                      on the page Duties.";
        Problem::new("not-found", detail)
    })?;
    let mut answer = HttpResponse::Ok();
    answer.content_type("text/calendar; charset=utf-8");
    answer.insert_header(("Content-Disposition", "inline; filename=\"duties.ics\""));
    Ok(answer.body(text))
}
