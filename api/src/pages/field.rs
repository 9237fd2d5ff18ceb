//! The field pages: what a technician holds in one hand at the unit, with or without signal.
//!
//! Each is a plain page that works without script. With script the weights are echoed as they are
//! typed, and what is posted is kept on the phone before it is sent (`api/assets/field`). A page
//! says whose it is, because what one person wrote is never sent by another.

pub mod assets;
pub mod cage;
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
use crate::ledger::tree::sha256;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::{CONTENT_SECURITY_POLICY, ETAG, HeaderName, HeaderValue};
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

/// A field page with its status and the print of what it says, so that a phone which has it is not
/// sent it again.
pub fn page(status: StatusCode, page: &impl Template) -> HttpResponse {
    let Ok(html) = page.render() else {
        // Writing into memory does not fail.
        return HttpResponse::InternalServerError().finish();
    };
    let print = print_of(&html);
    let mut response = super::way::written(status, html);
    let policy = HeaderValue::from_static(POLICY);
    response
        .headers_mut()
        .insert(CONTENT_SECURITY_POLICY, policy);
    if let Ok(print) = HeaderValue::from_str(&print) {
        response.headers_mut().insert(ETAG, print);
    }
    response
}

/// What is new each time a page is made, and says nothing: its instant, and ids for what may be
/// posted from it.
const EACH_TIME: [&str; 2] = ["data-made=\"", "name=\"entry_id\" value=\""];

/// The print of a page without what is new each time; weak (RFC 9110), because bytes may differ.
fn print_of(html: &str) -> String {
    let mut still = String::with_capacity(html.len());
    let mut rest = html;
    let next = |rest: &str| {
        let found = EACH_TIME.iter();
        let found = found.filter_map(|mark| Some(rest.find(mark)? + mark.len()));
        found.min()
    };
    while let Some(at) = next(rest) {
        still.push_str(&rest[..at]);
        let value = rest[at..].find('"').unwrap_or_default();
        rest = &rest[at + value..];
    }
    still.push_str(rest);
    weak_print(still.as_bytes())
}

/// A weak entity tag of these bytes.
pub fn weak_print(bytes: &[u8]) -> String {
    format!("W/\"{}\"", super::figures::print(&sha256(bytes), 24))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_print_changes_with_what_a_page_says_and_not_with_when_it_was_made() {
        let page = |made: &str, id: &str, says: &str| {
            format!(
                "<html data-made=\"{made}\"><input name=\"entry_id\" value=\"{id}\"><p>{says}</p>\
                 <input name=\"entry_id\" value=\"{id}\"></html>"
            )
        };
        let one = print_of(&page("2026-07-14T06:41:00Z", "1", "12 lb 2 oz"));
        assert_eq!(
            one,
            print_of(&page("2026-07-14T17:20:00Z", "2", "12 lb 2 oz"))
        );
        assert_ne!(
            one,
            print_of(&page("2026-07-14T06:41:00Z", "1", "12 lb 1 oz"))
        );
        assert!(one.starts_with("W/\"") && one.len() == 28, "{one}");
        // A mark that never ends is no page of ours, and stops nothing.
        assert_ne!(print_of("data-made=\""), print_of("data-made=\"a"));
    }
}
