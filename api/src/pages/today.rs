//! Today: appliances over a limit with what is owed first, and findings to look at.

use super::duty::{DutyLine, first_owed};
use super::figures;
use super::frame::Frame;
use super::frame::{Around, Part};
use super::way::{Visit, go_to, page};
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
use reports::standing::LineShown;

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
    /// Open findings, the gravest and then the oldest first.
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
    /// Where it is settled.
    pub href: String,
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
        findings: &[FindingShown],
        more_findings: bool,
    ) -> TodayPage {
        let rows: Vec<FlaggedRow> = flagged.items.iter().map(FlaggedRow::of).collect();
        let lede = lede(&flagged, findings.len(), more_findings);
        TodayPage {
            frame,
            day: figures::weekday(today),
            lede,
            next: flagged
                .next
                .map(|after| format!("/today?after={}", super::encoded(&after))),
            flagged: rows,
            more_findings,
            findings: findings.iter().map(FindingRow::of).collect(),
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
    let late = late(&flagged.items);
    let due = flagged.items.iter().filter_map(|item| {
        let ahead = |due: &&String| due.get(..10) >= item.day.get(..10);
        let owed = item.duties.iter().filter(|duty| duty.is_owed);
        owed.filter_map(|duty| duty.due.as_ref())
            .filter(ahead)
            .min()
    });
    let due = due.min().map(|due| figures::day_text(due));
    let due = due.map_or(String::new(), |day| format!("; the next date is {day}"));
    let look = match (findings, more) {
        (0, _) => "nothing else waits to be looked at".to_string(),
        (1, false) => "one finding waits to be looked at".to_string(),
        (count, false) => format!("{count} findings wait to be looked at"),
        (count, true) => format!("more than {count} findings wait to be looked at"),
    };
    format!("{late}{over}{due}; {look}.")
}

/// What is late comes before everything else; empty: nothing is.
fn late(flagged: &[FlaggedShown]) -> String {
    let late = || {
        let duties = flagged.iter().flat_map(|item| &item.duties);
        duties.filter(|duty| duty.state == "overdue")
    };
    let oldest = late().filter_map(|duty| duty.due.as_ref()).min();
    let oldest = oldest.map(|due| figures::day_text(due.get(..10).unwrap_or(due)));
    match (late().count(), oldest) {
        (0, _) => String::new(),
        (1, Some(day)) => format!("One step is late, due since {day}. "),
        (count, Some(day)) => format!("{count} steps are late, the oldest due since {day}. "),
        (count, None) => format!("Late steps: {count}. "),
    }
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
        // What is owed stands before what is over.
        let owed = first_owed(&shown.duties);
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
                .map(|bound| clause_text(&bound.number))
                .unwrap_or_default(),
            unconfirmed: bound.is_some_and(|bound| bound.number.confidence.is_some()),
            on: newest
                .map(|passed| figures::day_text(&passed.on))
                .unwrap_or_default(),
            duty: owed.map(|duty| DutyLine::of(duty, &shown.day)),
        }
    }
}

/// Where a number stands, and in which layer where it is not the law's own.
fn clause_text(number: &LineShown) -> String {
    match &number.overlay {
        Some(layer) => format!("{}, local layer '{layer}'", number.clause),
        None => number.clause.clone(),
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
            href: super::findings::path(shown),
            high: shown.grade == "high",
            text: super::findings::without_number(&shown.text),
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
        // Whoever handles people, not figures, begins there.
        return Ok(go_to("/people"));
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
        let findings = |db: &mut _| findings::first(db, &of, MOST_FINDINGS);
        let (findings, more) = state.desk.read(findings)?;
        Ok(TodayPage::of(frame, today, flagged, &findings, more))
    });
    Ok(page(StatusCode::OK, &read.await?))
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::ledger::actor::Role;

    fn page<T>(items: Vec<T>, next: Option<&str>) -> Page<T> {
        let next = next.map(str::to_string);
        Page { items, next }
    }

    fn shown(flagged: Page<FlaggedShown>, findings: &Page<FindingShown>) -> String {
        let frame = sample::frame(Role::ComplianceManager, Part::Today);
        let day = Day::parse("2026-07-16").unwrap();
        let more = findings.next.is_some();
        TodayPage::of(frame, day, flagged, &findings.items, more)
            .render()
            .unwrap()
    }

    fn flagged(tag: &str) -> FlaggedShown {
        FlaggedShown {
            appliance: "id".to_string(),
            tag: tag.to_string(),
            as_of: 4_826,
            day: "2026-07-16".to_string(),
            exceedances: vec![sample::exceedance("2026-07-14")],
            duties: vec![sample::duty(Some("2026-08-13"))],
            first_due: Some("2026-08-13".to_string()),
        }
    }

    #[test]
    fn an_empty_day_says_so_and_is_calm() {
        let html = shown(page(Vec::new(), None), &page(Vec::new(), None));
        assert!(
            html.contains("No appliance passed a limit in the last 365 days; nothing else waits")
        );
        assert!(html.contains("No appliance passed a limit in the last 365 days.</p>"));
        assert!(html.contains("No finding is open."));
        assert!(
            !html.contains("class=\"word over\""),
            "red on an ordinary day"
        );
    }

    #[test]
    fn a_flagged_appliance_shows_value_limit_clause_and_the_first_duty() {
        let html = shown(
            page(vec![flagged("HG-RACK-A")], None),
            &page(Vec::new(), None),
        );
        for part in [
            "Thursday 16 July 2026",
            "One appliance passed a limit in the last 365 days; the next date is 13 August 2026",
            "href=\"/entries/4807\">4\u{202f}807</a>",
            "href=\"/appliances/HG-RACK-A\"",
            "26.3\u{202f}%",
            "20\u{202f}%<span class=\"more\">40 CFR 84.106(c)(2)(i)</span>",
            "due by 13 August 2026, not yet",
        ] {
            assert!(html.contains(part), "{part} in {html}");
        }
    }

    /// The late ones come first, counted, and what was done is not what is owed first. Days by hand.
    #[test]
    fn late_steps_are_said_first_and_a_done_step_is_not_owed() {
        let mut rack = flagged("HG-RACK-A");
        let mut done = sample::duty(Some("2026-06-01"));
        (done.state, done.is_owed) = ("done", false);
        let mut late = sample::duty(Some("2026-07-01"));
        late.state = "overdue";
        let mut later = sample::duty(Some("2026-07-10"));
        later.state = "overdue";
        rack.duties = vec![done, later, late, sample::duty(Some("2026-08-13"))];
        let html = shown(page(vec![rack], None), &page(Vec::new(), None));
        let says = "2 steps are late, the oldest due since 1 July 2026. One appliance passed a \
                    limit in the last 365 days; the next date is 13 August 2026";
        assert!(html.contains(says), "{html}");
        assert!(html.contains("late, was due 1 July 2026"), "{html}");
        assert!(!html.contains("done"), "{html}");
    }

    #[test]
    fn names_and_texts_are_text() {
        let finding = FindingShown {
            code: "mixing".to_string(),
            grade: "high".to_string(),
            subjects: Vec::new(),
            entries: vec![7],
            limits: serde_json::json!({}),
            since: "2026-07-14T17:53:02.000Z".to_string(),
            settled: None,
            text: sample::hostile(),
        };
        let flagged = page(vec![flagged(&sample::hostile())], Some(&sample::hostile()));
        let html = shown(flagged, &page(vec![finding], Some("7.8.mixing")));
        sample::is_clean(&html);
        assert!(html.contains("&#60;script&#62;"), "{html}");
        assert!(
            html.contains("href=\"/appliances/id\""),
            "a tag no address can carry"
        );
        assert!(html.contains("/today?after=%3C%2Ftd%3E%3Cscript%3E"));
        assert!(html.contains("More than 1 appliances") && html.contains("more than 1 findings"));
    }
}
