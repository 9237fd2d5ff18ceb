//! Who read personal data, took reports away, signed in or changed who may: the newest first.
//!
//! Everybody sees what they did themselves; administrators what concerns security; managers and
//! auditors everything.

use super::called;
use crate::actions::manage_people::Member;
use crate::actions::permit::{Deed, Reach};
use crate::actions::show::instant;
use crate::auth::access::AccessRecord;
use crate::http::{Problem, access, people};
use crate::pages::frame::{Around, Frame, Part};
use crate::pages::way::{Visit, page};
use crate::pages::{encoded, figures, words};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "records.html")]
pub struct RecordsPage {
    /// Around the content.
    pub frame: Frame,
    /// May the reader see the page of everybody?
    pub office: bool,
    /// Whose records these are.
    pub lede: &'static str,
    /// For how many days a record is kept.
    pub days: u32,
    /// Records, newest first.
    pub rows: Vec<RecordRow>,
    /// Where older ones stand.
    pub next: Option<String>,
}

/// A record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordRow {
    /// When.
    pub at: String,
    /// Who.
    pub who: String,
    /// In which role.
    pub role: &'static str,
    /// What they did.
    pub what: String,
    /// To what.
    pub about: String,
    /// From where.
    pub source: String,
}

impl RecordRow {
    fn of(record: &AccessRecord, everybody: &[Member]) -> RecordRow {
        let named = |id: &str| {
            let found = everybody.iter().find(|it| it.person.to_string() == id);
            found.map(|it| called(it).to_string())
        };
        let who = match record.person {
            Some(person) => named(&person.to_string()).unwrap_or_else(|| "somebody".to_string()),
            None if record.source == "host" => "a command on the host".to_string(),
            None => "a program".to_string(),
        };
        // An id at the beginning reads as the name it belongs to.
        let about = match record.about.get(..36).and_then(named) {
            Some(name) => {
                let rest = record.about.get(36..).unwrap_or_default();
                format!("{name}{}", words::plain(rest))
            }
            // A calendar has no name: its id says nothing to anybody.
            None if record.what.starts_with("calendar_") => "a calendar of theirs".to_string(),
            None if record.what == "factor_required" => words::plain(&record.about),
            None => record.about.clone(),
        };
        RecordRow {
            at: figures::instant(&instant(record.at)),
            who,
            role: record.role.map_or("", words::role),
            what: deed(&record.what),
            about,
            source: record.source.clone(),
        }
    }
}

/// What was done, in words; a word that has none here stands as it is.
fn deed(word: &str) -> String {
    let said = match word {
        "sign_in" => "Signed in",
        "sign_in_failed" => "Failed to sign in",
        "sign_out" => "Signed out",
        "code_asked" => "Showed the password, was asked for a code",
        "code_failed" => "Failed to show a code",
        "factor_on" => "Set a second factor up",
        "factor_off" => "Gave the second factor up",
        "factor_reset" => "Reset a second factor",
        "factor_required" => "Said who must have a second factor",
        "recovery_codes_made" => "Made recovery codes",
        "recovery_code_used" => "Used a recovery code",
        "people_read" => "Read names and addresses",
        "person_added" => "Added somebody",
        "roles_set" => "Changed roles",
        "person_disabled" => "Shut somebody out",
        "person_enabled" => "Let somebody in again",
        "password_set" => "Set a password",
        "sessions_ended" => "Ended sessions",
        "token_issued" => "Issued a token",
        "token_revoked" => "Revoked a token",
        "calendar_made" => "Made a calendar",
        "calendar_revoked" => "Revoked a calendar",
        "report" => "Took a report away",
        "report_evidence" => "Took the evidence of a report away",
        "report_metadata" => "Took the description of a report away",
        "report_workbook" => "Took a report as a workbook away",
        "list" => "Took a list away",
        "access_records_cleaned" => "Removed records after their time",
        "bundle" => "Took the whole book away",
        other => return words::capital(&words::plain(other)),
    };
    said.to_string()
}

/// `GET /records`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let around = Around::of(&visit)?;
    let office = super::of_the_office(&visit).is_ok();
    let lede = match visit.by()?.reach(Deed::ReadAccessRecords) {
        Reach::Whole => {
            "Who signed in, read names and addresses, took reports away or changed who may."
        }
        Reach::Security => "Who signed in and who changed who may.",
        _ => "What you did: signing in, taking things away.",
    };
    let records = access::read(&visit.asked).await?;
    let everybody = people::members(&visit.asked).await?;
    let next = records
        .next
        .as_deref()
        .map(|after| format!("/records?after={}", encoded(after)));
    let rows: Vec<RecordRow> = records
        .items
        .iter()
        .map(|record| RecordRow::of(record, &everybody))
        .collect();
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::People)?;
        Ok(RecordsPage {
            frame,
            office,
            lede,
            days: state.access_days,
            rows,
            next,
        })
    });
    Ok(page(StatusCode::OK, &read.await?))
}
