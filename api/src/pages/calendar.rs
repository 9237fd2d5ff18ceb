//! The calendars of who reads: make one, see when it was fetched, revoke it.

use super::figures;
use super::frame::{Around, Frame, Part};
use super::way::{Visit, go_to, page};
use crate::actions::show::instant;
use crate::auth::calendar::Calendar;
use crate::http::Problem;
use crate::http::calendar::{self, CalendarRequest};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "calendar.html")]
pub struct CalendarPage {
    /// Around the content.
    pub frame: Frame,
    /// Calendars that hold.
    pub rows: Vec<CalendarRow>,
    /// The address of one that was just made.
    pub new: Option<String>,
    /// The same for programs that open such addresses.
    pub webcal: String,
    /// May the reader follow the whole organisation?
    pub may_everything: bool,
}

/// A calendar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CalendarRow {
    /// Its id.
    pub id: String,
    /// What stands in it.
    pub holds: &'static str,
    /// Whether names do.
    pub names: &'static str,
    /// When it was made.
    pub made: String,
    /// When it was fetched last.
    pub read: String,
}

impl CalendarRow {
    fn of(calendar: &Calendar) -> CalendarRow {
        CalendarRow {
            id: calendar.id.to_string(),
            holds: match calendar.everything {
                true => "What the whole organisation owes",
                false => "What is assigned to you",
            },
            names: match calendar.names {
                true => "with names of sites",
                false => "without names of sites",
            },
            made: figures::instant(&instant(calendar.made_at)),
            read: match calendar.read_at {
                0 => "never".to_string(),
                at => figures::instant(&instant(at)),
            },
        }
    }
}

/// `GET /calendar`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    shown(&visit, None).await
}

async fn shown(visit: &Visit, new: Option<String>) -> Result<HttpResponse, Problem> {
    let around = Around::of(visit)?;
    let rows = calendar::own(&visit.asked).await?;
    let may_everything = calendar::may_follow_everything(visit.by()?);
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Duties)?;
        let rest = |new: &str| {
            new.split_once(':')
                .map(|(_, rest)| format!("webcal:{rest}"))
        };
        Ok(CalendarPage {
            frame,
            rows: rows.iter().map(CalendarRow::of).collect(),
            webcal: new.as_deref().and_then(rest).unwrap_or_default(),
            new,
            may_everything,
        })
    });
    let shown = read.await?;
    Ok(match shown.new {
        // The one page with a button that needs a script of ours, and the policy for it.
        Some(_) => super::field::page(StatusCode::OK, &shown),
        None => page(StatusCode::OK, &shown),
    })
}

/// `POST /calendar`: the address stands on the page that answers, and nowhere afterwards.
pub async fn make(visit: Visit) -> Result<HttpResponse, Problem> {
    let request = CalendarRequest {
        names: visit.filled("names") == "yes",
        everything: visit.filled("holds") == "everything",
    };
    let (_, secret) = calendar::made(&visit.asked, request).await?;
    let address = calendar::address(&visit.asked, &secret);
    shown(&visit, Some(address)).await
}

/// `POST /calendar/{id}/revoke`.
pub async fn revoke(visit: Visit) -> Result<HttpResponse, Problem> {
    calendar::revoked(&visit.asked).await?;
    Ok(go_to("/calendar"))
}
