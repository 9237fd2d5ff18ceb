//! Findings: what a person should look at, with the site and the entry that left each.
//!
//! What was asked for stands in the address, so that a view can be sent to a colleague. Each line
//! leads to the one finding, where it is settled.

use super::frame::{Around, Frame, Part};
use super::lines;
use super::taken::{self, Taken};
use super::way::{Visit, page};
use super::{figures, words};
use crate::actions::permit::Deed;
use crate::actions::show::Page;
use crate::actions::show::findings::FindingShown;
use crate::actions::show::found::{self, Found, FoundAsked};
use crate::http::Problem;
use crate::http::query::Query;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "findings.html")]
pub struct FindingsPage {
    /// Around the content.
    pub frame: Frame,
    /// What was asked for.
    pub asked: Asked,
    /// The findings.
    pub rows: Vec<FindingRow>,
    /// The address of what comes after.
    pub next: Option<String>,
    /// The same rows as a file; empty where there are none.
    pub taken: String,
}

/// The filters as they are filled in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs)]
pub struct Asked {
    pub site: String,
    pub thing: String,
    pub kind: String,
    pub state: String,
}

/// A finding.
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
    /// What the entry did.
    pub did: String,
    /// Its site.
    pub site: String,
    /// Since when.
    pub since: String,
    /// The entry that settled it.
    pub settled: Option<u64>,
}

/// Kinds of findings that can be asked for, with a short name each, the gravest first.
pub const KINDS: &[(&str, &str)] = &[
    ("mixing", "refrigerants mixed"),
    ("over_full", "over-full"),
    ("content_doubtful", "content doubtful"),
    ("expired", "filled after its retest date"),
    ("condemned", "condemned and filled"),
    ("disposable", "disposable refilled"),
    ("other_owner", "another owner's refrigerant"),
    ("quarantined", "taken out of quarantine"),
    ("mixed_content", "mixture taken"),
    ("several_owners", "several owners' refrigerant"),
    ("recovered_into_supply", "recovered into supply cylinder"),
    ("scale_tare", "scale: below the tare"),
    ("scale_exchange", "scale: another cylinder?"),
    ("scale_unposted", "scale and book differ"),
    ("statement_disputed", "statement disputed"),
    ("statement_open", "statement and book differ"),
    ("over_content", "more than it held"),
    ("balance_below_zero", "balance below zero"),
    ("look_alike", "booked twice?"),
    ("same_mass", "same weight twice"),
    ("rate_jump", "leak rate jumped"),
    ("over_full_charge", "above the full charge"),
    ("wrong_refrigerant_for_appliance", "wrong refrigerant"),
    ("registered_on_site", "registered on site"),
    ("test_not_decided", "test not decided"),
    ("above_design_pressure", "above the design pressure"),
    ("out_of_order_step", "step out of order"),
    ("over_room", "almost full"),
    ("old_day", "booked late"),
    ("future_day", "day in the future"),
    ("clock_skew", "clocks disagree"),
    ("tag_looks_alike", "tag like another"),
    ("tag_of_several_alphabets", "tag of several alphabets"),
    ("heel_left", "heel left"),
    ("water_capacity_below_tare", "water capacity below tare"),
    ("check_weight_far", "known weight far off"),
    ("content_class", "condition of the content"),
    ("content_renamed", "content renamed"),
    ("content_cleared", "condition made better"),
    ("count_differs", "count far from the book"),
    ("before_installed", "before it was installed"),
    ("unregistered_scale", "scale not registered"),
    ("swapped", "readings swapped"),
];

impl Asked {
    fn of(query: &Query) -> Result<Asked, Problem> {
        let text = |name| query.text(name).unwrap_or_default().trim().to_string();
        Ok(Asked {
            site: text("site"),
            thing: text("thing"),
            kind: text("kind"),
            state: match query.text("state").unwrap_or_default() {
                "" => String::new(),
                _ => query.word("state", &["open", "high", "all"])?.to_string(),
            },
        })
    }

    /// The address of the same view, and where it goes on.
    pub fn address(&self, after: &str) -> String {
        let members = [
            ("site", self.site.as_str()),
            ("thing", &self.thing),
            ("kind", &self.kind),
            ("state", &self.state),
            ("after", after),
        ];
        let members: Vec<String> = (members.into_iter())
            .filter(|(_, value)| !value.is_empty())
            .map(|(name, value)| format!("{name}={}", super::encoded(value)))
            .collect();
        match members.is_empty() {
            true => "/findings".to_string(),
            false => format!("/findings?{}", members.join("&")),
        }
    }

    fn is_narrow(&self) -> bool {
        *self != Asked::default()
    }
}

/// Where a finding is settled.
pub fn path(finding: &FindingShown) -> String {
    let entry = finding.entries.first().copied().unwrap_or_default();
    format!("/findings/{entry}/{}", finding.code)
}

impl FindingRow {
    /// The row of a finding.
    pub fn of(found: &Found) -> FindingRow {
        let shown = &found.finding;
        FindingRow {
            entry: shown.entries.first().copied().unwrap_or_default(),
            href: path(shown),
            high: shown.grade == "high",
            text: without_number(&shown.text),
            did: found.line.as_ref().map_or(String::new(), |line| {
                format!(
                    "{}, by {}, {}",
                    lines::what(line),
                    line.by,
                    lines::when(line)
                )
            }),
            site: found.site.clone(),
            since: figures::day_text(&shown.since),
            settled: shown.settled,
        }
    }
}

/// The text of a finding without the number of its entry, which stands beside it.
pub fn without_number(text: &str) -> String {
    let end = text.rfind(" (entry no. ").unwrap_or(text.len());
    words::capital(text[..end].trim_end_matches('.'))
}

impl FindingsPage {
    /// The page of what was read.
    pub fn of(frame: Frame, asked: Asked, page: &Page<Found>) -> FindingsPage {
        FindingsPage {
            frame,
            taken: String::new(),
            rows: page.items.iter().map(FindingRow::of).collect(),
            next: page.next.as_ref().map(|after| asked.address(after)),
            asked,
        }
    }

    fn lede(&self) -> String {
        let open = self.rows.iter().filter(|row| row.settled.is_none()).count();
        let what = match (self.asked.is_narrow(), self.next.is_some()) {
            (true, _) => "of what was asked for",
            (false, true) => "on this page",
            (false, false) => "in all",
        };
        match open {
            0 => format!("No finding is open {what}."),
            1 => format!("One finding is open {what}."),
            open => format!("{} findings are open {what}.", figures::number(open as u64)),
        }
    }
}

/// Findings of one page.
const MOST: usize = 50;

/// `GET /findings`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (around, of, sees) = (Around::of(&visit)?, by.signed_in.of.clone(), by.sees());
    let asked = Asked::of(&visit.asked.query)?;
    let after = visit.asked.query.text("after").unwrap_or_default();
    let wanted = FoundAsked {
        after: after.to_string(),
        settled: asked.state == "all",
        code: asked.kind.clone(),
        thing: asked.thing.clone(),
        site: asked.site.clone(),
        high: asked.state == "high",
        most: MOST,
    };
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Today)?;
        let read = |db: &mut _| found::page(db, &of, &wanted, sees);
        let found = state.desk.read(read)?;
        Ok(FindingsPage::of(frame, asked, &found))
    });
    let mut shown = read.await?;
    if taken::is_asked(&visit)? {
        return taken::answer(&visit, Deed::ReadFollowUps, Taken::from(&shown)).await;
    }
    shown.taken = taken::address(&visit, !shown.rows.is_empty());
    Ok(page(StatusCode::OK, &shown))
}
