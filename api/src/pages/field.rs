//! The field pages: what a technician holds in one hand at the unit, with or without signal.
//!
//! Each is a plain page that works without script. With script the weights are echoed as they are
//! typed, and what is posted is kept on the phone before it is sent (`api/assets/field`). A page
//! says whose it is, because what one person wrote is never sent by another.

pub mod assets;
pub mod card;
pub mod cylinder;
pub mod cylinders;
pub mod held;
pub mod me;
pub mod new;
pub mod outbox;
pub mod scale;
pub mod today;
pub mod tools;

use super::way::Visit;
use crate::actions::permit::posts;
use crate::actions::show;
use crate::http::Problem;
use crate::ledger::entry::EntryKind;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::{CONTENT_SECURITY_POLICY, HeaderName, HeaderValue};
use askama::Template;

/// What stands around a field page.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FieldFrame {
    /// The person who may post; empty for whoever only reads.
    pub person: String,
    /// When the page was made, an instant in UTC.
    pub made: String,
    /// Names what the page loads, so that an upgrade is loaded anew.
    pub version: &'static str,
}

impl FieldFrame {
    /// The frame of whoever asks.
    pub fn of(visit: &Visit) -> Result<FieldFrame, Problem> {
        let by = visit.by()?;
        let posting = by.signed_in.may(|role| posts(role, EntryKind::Charge));
        let person = by.signed_in.person.filter(|_| posting);
        Ok(FieldFrame {
            person: person.map(|person| person.to_string()).unwrap_or_default(),
            made: show::instant(visit.asked.now),
            version: assets::version(),
        })
    }

    /// Is there something for a script to do?
    pub fn posts(&self) -> bool {
        !self.person.is_empty()
    }
}

/// What a field page may load: script, style and signs of our own, and answers of our interface.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
                      connect-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; \
                      frame-ancestors 'none'";

/// A page that may open the camera of the phone, for labels; no other may.
pub fn with_camera(mut response: HttpResponse) -> HttpResponse {
    let name = HeaderName::from_static("permissions-policy");
    let own = HeaderValue::from_static("camera=(self), microphone=(), geolocation=()");
    response.headers_mut().insert(name, own);
    response
}

/// A field page with its status.
pub fn page(status: StatusCode, page: &impl Template) -> HttpResponse {
    let mut response = super::way::page(status, page);
    let policy = HeaderValue::from_static(POLICY);
    response
        .headers_mut()
        .insert(CONTENT_SECURITY_POLICY, policy);
    response
}
