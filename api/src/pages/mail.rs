//! What goes to who reads by mail, and the page that stops it without signing in.

pub mod messages;

use super::frame::{Around, Frame, Part};
use super::way::{Visit, page};
use crate::http::Problem;
use crate::http::calendar::may_follow_everything;
use crate::http::mail::{self, Choice, Digest};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "mail.html")]
pub struct MailPage {
    /// Around the content.
    pub frame: Frame,
    /// What is chosen.
    pub choice: Choice,
    /// May the reader follow the whole organisation?
    pub may_everything: bool,
    /// Does mail go out at all?
    pub goes_out: bool,
    /// It was just kept.
    pub kept: bool,
}

impl MailPage {
    fn is(&self, word: &str) -> bool {
        self.choice.digest.word() == word
    }

    /// Whoever answers for the whole and has chosen nothing yet begins with the whole: what is
    /// assigned to nobody would be in nobody's mail.
    fn holds_everything(&self) -> bool {
        self.choice.everything || (self.may_everything && !self.choice.sends())
    }
}

/// The page of an address that stops mail.
#[derive(Clone, Debug, Template)]
#[template(path = "mail-stop.html")]
pub struct StopPage {
    /// Whose mail it is.
    pub organisation: String,
    /// It is stopped.
    pub stopped: bool,
}

/// `GET /mail`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let choice = mail::chosen(&visit.asked).await?;
    shown(&visit, choice, false).await
}

async fn shown(visit: &Visit, choice: Choice, kept: bool) -> Result<HttpResponse, Problem> {
    let around = Around::of(visit)?;
    let may_everything = may_follow_everything(visit.by()?);
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Duties)?;
        Ok(MailPage {
            frame,
            choice,
            may_everything,
            goes_out: state.sends_mail,
            kept,
        })
    });
    Ok(page(StatusCode::OK, &read.await?))
}

/// `POST /mail`.
pub async fn take(visit: Visit) -> Result<HttpResponse, Problem> {
    let yes = |name: &str| visit.filled(name) == "yes";
    let choice = Choice {
        digest: Digest::named(visit.filled("digest")).unwrap_or_default(),
        fortnight: yes("fortnight"),
        three_days: yes("three_days"),
        on_the_day: yes("on_the_day"),
        late: yes("late"),
        everything: visit.filled("holds") == "everything",
        names: yes("names"),
    };
    mail::choose(&visit.asked, choice).await?;
    let choice = mail::chosen(&visit.asked).await?;
    shown(&visit, choice, true).await
}

/// `GET /mail/stop/{secret}`: looking stops nothing, because mail programs open links by themselves.
pub async fn ask(visit: Visit) -> Result<HttpResponse, Problem> {
    let organisation = mail::stopping(&visit.asked).await?;
    let stopped = false;
    Ok(page(
        StatusCode::OK,
        &StopPage {
            organisation,
            stopped,
        },
    ))
}

/// `POST /mail/stop/{secret}`, from that page or from a mail program (RFC 8058).
pub async fn stop(visit: Visit) -> Result<HttpResponse, Problem> {
    let organisation = mail::stop(&visit.asked).await?;
    let stopped = true;
    Ok(page(
        StatusCode::OK,
        &StopPage {
            organisation,
            stopped,
        },
    ))
}
