//! Today: appliances over a limit with what is owed first, and findings to look at.

use super::figures;
use super::frame::Frame;
use super::frame::{Around, Part};
use super::message::MessagePage;
use super::standing::DutyLine;
use super::way::{Visit, page};
use super::words;
use crate::actions::permit::Deed;
use crate::actions::show::Page;
use crate::actions::show::findings::FindingShown;
use crate::actions::show::flagged::FlaggedAsked;
use crate::actions::show::flagged::FlaggedShown;
use crate::actions::show::{findings, flagged};
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "today.html")]
pub struct TodayPage {
    /// Around the content.
    pub frame: Frame,
    /// Today, written out.
    pub day: String,
    /// The headline as one sentence.
    pub lede: String,
    /// Appliances over a limit.
    pub flagged: Vec<FlaggedRow>,
    /// The address of the appliances further on.
    pub next: Option<String>,
    /// Open findings, oldest first.
    pub findings: Vec<FindingRow>,
    /// Are there more findings?
    pub more_findings: bool,
}

/// An appliance over a limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FlaggedRow {
    /// The newest entry that passed the limit.
    pub entry: Option<u64>,
    /// Where its page is.
    pub href: String,
    /// Its tag.
    pub tag: String,
    /// What the limit means.
    pub site: String,
    /// What passed the limit.
    pub value: String,
    /// The limit.
    pub limit: String,
    /// Its clause.
    pub clause: String,
    /// The clause itself was not read.
    pub unconfirmed: bool,
    /// Since when.
    pub on: String,
    /// What is owed first.
    pub duty: Option<DutyLine>,
}

/// An open finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FindingRow {
    /// The entry that left it.
    pub entry: u64,
    /// Of the highest grade.
    pub high: bool,
    /// What it says.
    pub text: String,
    /// Since when.
    pub since: String,
}

impl TodayPage {
    /// The page of what was read.
    pub fn of(
        frame: Frame,
        today: Day,
        flagged: Page<FlaggedShown>,
        findings: Page<FindingShown>,
    ) -> TodayPage {
        let rows: Vec<FlaggedRow> = flagged.items.iter().map(FlaggedRow::of).collect();
        let lede = lede(&flagged, findings.items.len(), findings.next.is_some());
        TodayPage {
            frame,
            day: figures::weekday(today),
            lede,
            next: flagged
                .next
                .map(|after| format!("/today?after={}", super::encoded(&after))),
            flagged: rows,
            more_findings: findings.next.is_some(),
            findings: findings.items.iter().map(FindingRow::of).collect(),
        }
    }
}

fn lede(flagged: &Page<FlaggedShown>, findings: usize, more: bool) -> String {
    let count = flagged.items.len();
    let over = match (count, &flagged.next) {
        (0, _) => "No appliance passed a limit in the last 365 days".to_string(),
        (1, None) => "One appliance passed a limit in the last 365 days".to_string(),
        (count, None) => format!("{count} appliances passed a limit in the last 365 days"),
        (count, Some(_)) => {
            format!("More than {count} appliances passed a limit in the last 365 days")
        }
    };
    let due = flagged.items.iter().filter_map(|item| {
        let ahead = |due: &&String| due.get(..10) >= item.day.get(..10);
        item.duties
            .iter()
            .filter_map(|duty| duty.due.as_ref())
            .find(ahead)
    });
    let due = due.min().map(|due| figures::day_text(due));
    let due = due.map_or(String::new(), |day| format!("; the next date is {day}"));
    let look = match (findings, more) {
        (0, _) => "nothing else waits to be looked at".to_string(),
        (1, false) => "one finding waits to be looked at".to_string(),
        (count, false) => format!("{count} findings wait to be looked at"),
        (count, true) => format!("more than {count} findings wait to be looked at"),
    };
    format!("{over}{due}; {look}.")
}

impl FlaggedRow {
    fn of(shown: &FlaggedShown) -> FlaggedRow {
        let newest = shown.exceedances.last();
        let bound = newest.and_then(|passed| passed.bounds.first());
        let limits: Vec<&str> = (newest.iter())
            .flat_map(|passed| {
                passed
                    .bounds
                    .iter()
                    .map(|bound| bound.number.number.as_str())
            })
            .collect();
        let owed = shown.duties.iter().find(|duty| duty.due.is_some());
        let owed = owed.or(shown.duties.first());
        FlaggedRow {
            entry: newest.and_then(|passed| passed.entries.last().copied()),
            href: super::appliance_path(&shown.tag, &shown.appliance),
            tag: shown.tag.clone(),
            site: newest
                .map(|passed| passed.means.clone())
                .unwrap_or_default(),
            value: newest
                .map(|it| figures::value(&it.value, &limits))
                .unwrap_or_default(),
            limit: bound
                .map(|bound| limit_text(&bound.number.number, bound.number.unit))
                .unwrap_or_default(),
            clause: bound
                .map(|bound| bound.number.clause.clone())
                .unwrap_or_default(),
            unconfirmed: bound.is_some_and(|bound| bound.number.confidence.is_some()),
            on: newest
                .map(|passed| figures::day_text(&passed.on))
                .unwrap_or_default(),
            duty: owed.map(|duty| DutyLine::of(duty, &shown.day)),
        }
    }
}

/// A limit with its unit.
fn limit_text(number: &str, unit: &str) -> String {
    if unit.starts_with("percent") {
        figures::percent(number)
    } else {
        format!("{number} {}", unit.replace('_', " "))
    }
}

impl FindingRow {
    /// The row of a finding.
    pub fn of(shown: &FindingShown) -> FindingRow {
        FindingRow {
            entry: shown.entries.first().copied().unwrap_or_default(),
            high: shown.grade == "high",
            text: words::capital(&shown.text),
            since: figures::day_text(&shown.since),
        }
    }
}

/// Appliances of one page.
const MOST: usize = 50;
/// Findings of the page.
const MOST_FINDINGS: usize = 20;

/// `GET /today`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    if !by.may(Deed::ReadBook) || !by.may(Deed::ReadFollowUps) {
        let nothing = MessagePage::nothing_for_you(&visit.token);
        return Ok(page(StatusCode::FORBIDDEN, &nothing));
    }
    let (around, of) = (Around::of(&visit)?, by.signed_in.of.clone());
    let asked = FlaggedAsked {
        after: visit
            .asked
            .query
            .text("after")
            .unwrap_or_default()
            .to_string(),
        most: MOST,
        since: None,
        now: visit.asked.now,
    };
    let read = visit.asked.read(move |state| {
        let (frame, today, _) = around.read(state, Part::Today)?;
        let flagged = state.desk.read(|db| flagged::page(db, &of, &asked))?;
        let findings = |db: &mut _| findings::page(db, &of, None, false, MOST_FINDINGS);
        let findings = state.desk.read(findings)?;
        Ok(TodayPage::of(frame, today, flagged, findings))
    });
    Ok(page(StatusCode::OK, &read.await?))
}
