//! The receipt of an entry: its number, what moved, its print, the standing it led to.
//!
//! The same page is shown right after a posting and whenever the entry is opened again, so a
//! receipt that was lost with a signal is never lost.

pub mod may;

use super::appliance::standing_and_duties;
use super::cautions;
use super::duty::DutyLine;
use super::field::{FieldFrame, page};
use super::figures;
use super::frame::{Around, Frame, Part};
use super::lines::{self, when};
use super::standing::StandingLine;
use super::way::Visit;
use super::words;
use super::worked::Worked;
use crate::actions::ActionError;
use crate::actions::show::findings::FindingShown;
use crate::actions::show::lines::Line;
use crate::actions::show::overview::Overview;
use crate::actions::show::{Organisation, changed, findings, lines as book_lines, overview};
use crate::http::{Problem, State};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::mass;

/// The page in the field.
#[derive(Clone, Debug, Template)]
#[template(path = "field/receipt.html")]
pub struct FieldReceipt {
    /// Around the page.
    pub field: FieldFrame,
    /// What it says.
    pub receipt: ReceiptPage,
}

/// The page in the office.
#[derive(Clone, Debug, Template)]
#[template(path = "receipt-office.html")]
pub struct OfficeReceipt {
    /// Around the page.
    pub frame: Frame,
    /// What it says.
    pub receipt: ReceiptPage,
}

/// What a receipt says.
#[derive(Clone, Debug, Template)]
#[template(path = "receipt.html")]
pub struct ReceiptPage {
    /// The title.
    pub title: String,
    /// Above the number.
    pub heading: &'static str,
    /// The number.
    pub entry: u64,
    /// That it was booked before.
    pub again: Option<String>,
    /// When it happened and was booked.
    pub when: String,
    /// What moved.
    pub moved: Vec<MovedLine>,
    /// What was done, where nothing moved.
    pub what: String,
    /// The tally of its hash.
    pub tally: String,
    /// The beginning of its hash.
    pub print: String,
    /// The entry it corrects.
    pub corrects: Option<u64>,
    /// The correction that stands in its place.
    pub corrected_by: Option<u64>,
    /// What else it says.
    pub notes: Vec<String>,
    /// Findings it left.
    pub findings: Vec<Left>,
    /// What its record lacks under the rules.
    pub lacks: Vec<String>,
    /// The appliances it is about, as they stand now.
    pub appliances: Vec<ApplianceNow>,
    /// What a correction changed, old and new.
    pub changed: Vec<String>,
    /// Where it can be corrected by who reads.
    pub correct: Option<String>,
    /// Why who may correct it finds no form here.
    pub uncorrected: &'static str,
    /// Where its proof is, for whom it is.
    pub proof: Option<String>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// A finding that the entry left and that is open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Left {
    /// What it says.
    pub says: String,
    /// Where it is settled.
    pub href: String,
}

/// One mass that moved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MovedLine {
    /// What was done.
    pub verb: String,
    /// How much, in three forms.
    pub mass: String,
    /// Of what.
    pub refrigerant: String,
    /// Where.
    pub way: String,
}

/// An appliance as it stands now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ApplianceNow {
    /// Its tag.
    pub tag: String,
    /// Its page.
    pub href: String,
    /// The standing line.
    pub standing: StandingLine,
    /// How its rate was worked out.
    pub worked: Option<Worked>,
    /// What is due first.
    pub first: Option<String>,
    /// What follows.
    pub duties: Vec<DutyLine>,
}

impl ApplianceNow {
    fn of(overview: &Overview) -> ApplianceNow {
        let tag = overview.thing.tag.clone();
        let (standing, duties) = standing_and_duties(&tag, &overview.standing);
        ApplianceNow {
            href: super::appliance_path(&tag, &overview.thing.id),
            tag,
            standing,
            worked: Worked::of(&overview.standing),
            first: due_first(overview),
            duties,
        }
    }
}

/// Why the page is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Occasion {
    /// Right after it was booked.
    Booked,
    /// The same form was sent again.
    Again,
    /// Somebody opened it.
    Opened,
}

impl ReceiptPage {
    /// The page of an entry.
    pub fn of(
        line: &Line,
        appliances: &[Overview],
        findings: &[FindingShown],
        occasion: Occasion,
    ) -> ReceiptPage {
        let number = figures::number(line.seq);
        let booked = figures::instant(&line.booked_at);
        let moved: Vec<MovedLine> = (line.moved.iter())
            .map(|moved| MovedLine {
                verb: words::deed(&line.kind),
                mass: mass::echo(i128::from(moved.steps)),
                refrigerant: moved.refrigerant.clone(),
                way: lines::way(moved),
            })
            .collect();
        let mut cautioned: Vec<&str> = line
            .moved
            .iter()
            .map(|it| it.refrigerant.as_str())
            .collect();
        cautioned.dedup();
        ReceiptPage {
            title: match occasion {
                Occasion::Opened => format!("Entry no. {number}"),
                _ => format!("Booked, no. {number}"),
            },
            heading: match occasion {
                Occasion::Booked => "Booked as",
                Occasion::Again => "Already booked: this is",
                Occasion::Opened => "Entry",
            },
            entry: line.seq,
            again: (occasion == Occasion::Again).then(|| "Nothing was added.".to_string()),
            when: format!(
                "{} at the site by {}; in the book since {booked}.",
                when(line),
                line.by
            ),
            moved,
            what: format!("{}.", lines::what(line)),
            tally: figures::tally(&line.hash),
            print: figures::print(&line.hash, 16),
            corrects: line.corrects,
            corrected_by: line.corrected_by,
            notes: lines::notes(line),
            findings: (findings.iter())
                .map(|finding| Left {
                    says: words::capital(&finding.text),
                    href: super::findings::path(finding),
                })
                .collect(),
            lacks: (appliances.iter().flat_map(|it| &it.records))
                .filter(|lacks| lacks.entry == line.seq)
                .map(|lacks| lacks.sentence.clone())
                .collect(),
            appliances: appliances.iter().map(ApplianceNow::of).collect(),
            changed: Vec::new(),
            correct: None,
            uncorrected: "",
            proof: None,
            cautions: cautioned
                .into_iter()
                .filter_map(cautions::of_class)
                .collect(),
        }
    }
}

/// What is owed and has the earliest date, in a sentence.
fn due_first(overview: &Overview) -> Option<String> {
    let owed = overview.standing.duties.iter().filter(|duty| duty.is_owed);
    let dated = owed.filter_map(|duty| Some((duty.due.as_deref()?, duty)));
    let (due, duty) = dated.min_by_key(|(due, _)| *due)?;
    let day = figures::day_text(due.get(..10).unwrap_or(due));
    Some(format!("Due first: {}, by {day}.", duty.means))
}

/// Findings of one entry.
const MOST_FINDINGS: usize = 20;

/// `GET /entries/{id}`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (of, sees) = (by.signed_in.of.clone(), by.sees());
    let (asker, around) = (by.clone(), Around::of(&visit)?);
    let (name, now) = (visit.asked.name("id").to_string(), visit.asked.now);
    let occasion = match visit.asked.query.text("posted") {
        Some("again") => Occasion::Again,
        Some(_) => Occasion::Booked,
        None => Occasion::Opened,
    };
    let read = visit.asked.read(move |state| {
        let line = state
            .desk
            .read(|db| book_lines::one(db, &of, &name, sees))?;
        let appliances = appliances_of(state, &of, &line, now)?;
        let left = left_by(state, &of, line.seq)?;
        let mut shown = ReceiptPage::of(&line, &appliances, &left, occasion);
        // What comes late or corrects may move figures that somebody has seen.
        if line.corrects.is_some() || line.late {
            shown.changed = changed_by(state, &of, &line, &appliances, now)?;
        }
        shown.correct = may::correct(&asker, &line);
        shown.uncorrected = may::uncorrected(&asker, &line);
        shown.proof = may::proof(&asker, &line);
        let frame = match may::reads_at_a_desk(&asker) {
            true => Some(around.read(state, Part::Book)?.0),
            false => None,
        };
        Ok((frame, shown))
    });
    match read.await? {
        (Some(frame), receipt) => {
            let shown = OfficeReceipt { frame, receipt };
            Ok(super::way::page(StatusCode::OK, &shown))
        }
        (None, receipt) => {
            let field = FieldFrame::of(&visit)?;
            Ok(page(StatusCode::OK, &FieldReceipt { field, receipt }))
        }
    }
}

/// What an entry changed of each appliance it is about.
fn changed_by(
    state: &State,
    of: &Organisation,
    line: &Line,
    appliances: &[Overview],
    now: i64,
) -> Result<Vec<String>, ActionError> {
    let mut lines = Vec::new();
    for appliance in appliances {
        let (id, tag) = (&appliance.thing.id, &appliance.thing.tag);
        let read = |db: &mut _| changed::by_entry(db, of, id, line.seq, now);
        if let Some((before, with)) = state.desk.read(read)? {
            lines.extend(super::changed::lines(tag, &before, &with));
        }
    }
    Ok(lines)
}

/// The appliances that an entry moved something into or out of.
fn appliances_of(
    state: &State,
    of: &Organisation,
    line: &Line,
    now: i64,
) -> Result<Vec<Overview>, ActionError> {
    let ends = line.moved.iter().flat_map(|moved| [&moved.from, &moved.to]);
    let mut ids: Vec<String> = ends
        .chain(line.about.as_ref())
        .filter(|named| named.word == "appliance")
        .filter_map(|named| named.id.map(|id| id.to_string()))
        .collect();
    ids.sort();
    ids.dedup();
    let read = |id: &String| state.desk.read(|db| overview::one(db, of, id, now));
    ids.iter().map(read).collect()
}

/// Findings that an entry left and that are open.
fn left_by(state: &State, of: &Organisation, seq: u64) -> Result<Vec<FindingShown>, ActionError> {
    let after = findings::before(seq);
    let page = state
        .desk
        .read(|db| findings::page(db, of, Some(&after), false, MOST_FINDINGS))?;
    let own = |finding: &FindingShown| finding.entries.first() == Some(&seq);
    Ok(page.items.into_iter().filter(own).collect())
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    #[test]
    fn a_receipt_says_number_masses_print_and_the_standing() {
        let over = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
        let rack = sample::overview("HG-RACK-A", "R-448A", over);
        let line = sample::line("HG-RACK-A");
        let html = ReceiptPage::of(&line, &[rack], &[], Occasion::Booked)
            .render()
            .unwrap();
        for part in [
            "Booked as <span class=\"num\">no. 4\u{202f}807</span>",
            "<b>14 lb 8 oz = 14.5 lb = 6.577 kg</b> R-448A into HG-RACK-A from SUP-88231.",
            "5a5a5a5a5a5a5a5a",
            "class=\"standing is-over\"",
        ] {
            assert!(html.contains(part), "{part} in {html}");
        }
        sample::is_clean(&html);
    }

    #[test]
    fn a_second_press_is_told_that_nothing_was_added() {
        let line = sample::line(&sample::hostile());
        let html = ReceiptPage::of(&line, &[], &[], Occasion::Again)
            .render()
            .unwrap();
        assert!(html.contains("Already booked: this is") && html.contains("Nothing was added."));
        sample::is_clean(&html);
        let opened = ReceiptPage::of(&line, &[], &[], Occasion::Opened)
            .render()
            .unwrap();
        assert!(opened.contains("Entry <span class=\"num\">no. 4\u{202f}807</span>"));
        assert!(!opened.contains("Nothing was added."));
    }
}
