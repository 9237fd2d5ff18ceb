//! One appliance: its standing with the arithmetic, what is owed first, its facts, its history.

use super::appliances::{fact, value};
use super::cautions;
use super::duty::DutyLine;
use super::figures;
use super::frame::Frame;
use super::frame::{Around, Part};
use super::lines::Row;
use super::loss::LossPicture;
use super::standing::{StandingLine, other_rates};
use super::way::{Visit, page};
use super::words;
use super::worked::Worked;
use crate::actions::permit;
use crate::actions::recorded::RecordLacks;
use crate::actions::show::Page;
use crate::actions::show::lines::Line;
use crate::actions::show::overview::Overview;
use crate::actions::show::things::Sort;
use crate::actions::show::{lines, overview};
use crate::http::Problem;
use crate::ledger::entry::EntryKind;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;
use reports::standing::{DutyShown, LimitToCome, SetShown, Standing};

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "appliance.html")]
pub struct AppliancePage {
    /// Around the content.
    pub frame: Frame,
    /// Its address.
    pub href: String,
    /// Its tag.
    pub tag: String,
    /// Its site.
    pub site: String,
    /// Where it stands there.
    pub place: String,
    /// The headline as one sentence.
    pub lede: String,
    /// May the reader post about it?
    pub may_post: bool,
    /// The day of the standing.
    pub day_hang: String,
    /// The standing line.
    pub standing: StandingLine,
    /// The arithmetic as fractions.
    pub worked: Option<Worked>,
    /// Two years in a picture; none: nothing happened that it could show.
    pub loss: Option<LossPicture>,
    /// What the other method gives.
    pub other_rates: Vec<String>,
    /// Facts.
    pub facts: Vec<FactLine>,
    /// What is owed first.
    pub duties: Vec<DutyLine>,
    /// What each rule set says.
    pub sets: Vec<SetLine>,
    /// Limits that are still to come, each in a sentence.
    pub to_come: Vec<String>,
    /// What the records of the last year lack, the newest first.
    pub records: Vec<RecordLacks>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// The history, newest first.
    pub lines: Vec<Row>,
    /// The address of older entries.
    pub older: Option<String>,
}

/// A fact.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FactLine {
    /// Its name.
    pub name: &'static str,
    /// Its value.
    pub value: String,
    /// The entry that said it.
    pub entry: Option<u64>,
}

/// What a rule set says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetLine {
    /// Its title.
    pub title: String,
    /// Whether it applies, with its clause.
    pub says: String,
    /// What its authors warn of.
    pub caution: String,
}

impl AppliancePage {
    /// The page of what was read.
    pub fn of(frame: Frame, overview: &Overview, history: Page<Line>) -> AppliancePage {
        let (thing, standing) = (&overview.thing, &overview.standing);
        let href = super::appliance_path(&thing.tag, &thing.id);
        let refrigerant = fact(thing, "refrigerant").unwrap_or_default();
        let posts = |role: &_| permit::posts(*role, EntryKind::Charge);
        let duties = (standing.duties.iter()).filter(|duty| is_recent(duty, &standing.day));
        AppliancePage {
            may_post: frame.roles.iter().any(posts),
            frame,
            tag: thing.tag.clone(),
            site: overview.site.clone(),
            place: fact(thing, "place").unwrap_or_default().to_string(),
            lede: lede(overview),
            day_hang: figures::day_text(&standing.day),
            standing: StandingLine::of(&thing.tag, standing),
            worked: Worked::of(standing),
            loss: (overview.course.as_ref())
                .and_then(|course| LossPicture::of(&thing.tag, standing, course)),
            other_rates: other_rates(standing, overview.course.as_ref()),
            facts: facts(overview),
            duties: duties
                .map(|duty| DutyLine::of(duty, &standing.day))
                .collect(),
            sets: standing.sets.iter().map(SetLine::of).collect(),
            to_come: overview.to_come.iter().map(limit_to_come).collect(),
            records: overview.records.iter().rev().cloned().collect(),
            cautions: cautions::of_class(refrigerant).into_iter().collect(),
            lines: (history.items.iter())
                .map(|line| Row::of_appliance(line, &thing.id))
                .collect(),
            older: history.next.map(|before| format!("{href}?before={before}")),
            href,
        }
    }
}

/// `From 1 December 2026 on the limit is 15 % a year [ordinance 12 s. 3], by the layer county-901.`
fn limit_to_come(coming: &LimitToCome) -> String {
    let number = &coming.number;
    let unconfirmed = number
        .confidence
        .map_or(String::new(), |word| format!(", {word}"));
    let layer = number.overlay.as_ref();
    let layer = layer.map_or(String::new(), |layer| format!(", by the layer {layer}"));
    format!(
        "From {} on the limit is {} [{}{unconfirmed}]{layer}.",
        figures::day_text(&coming.from),
        super::rules::with_unit(&number.number, number.unit),
        number.clause
    )
}

/// Started within the year before the day of the standing.
fn is_recent(duty: &DutyShown, day: &str) -> bool {
    Day::parse(day).is_none_or(|day| duty.since >= day.plus(-365).to_string())
}

fn lede(overview: &Overview) -> String {
    let thing = &overview.thing;
    let category = fact(thing, "category").map(words::plain);
    let category = category.unwrap_or_else(|| "what it is used for is not known".to_string());
    let refrigerant = match fact(thing, "refrigerant") {
        Some(name) => match cautions::group(name) {
            Some(group) => format!("{name} (class {})", group.word()),
            None => format!("{name} (class not known)"),
        },
        None => "refrigerant not known".to_string(),
    };
    let full = match &overview.standing.full_charge {
        Some(full) => format!("full charge {}", figures::mass_both(full)),
        None => "full charge not known".to_string(),
    };
    format!("{}, {refrigerant}, {full}.", words::capital(&category))
}

/// Facts in the order of the page, the full charge first.
pub fn facts(overview: &Overview) -> Vec<FactLine> {
    let (thing, standing) = (&overview.thing, &overview.standing);
    let mut facts = Vec::new();
    let mut push = |name, value: String, entry| facts.push(FactLine { name, value, entry });
    let charge = value(thing, "full_charge");
    match (&standing.full_charge, charge) {
        (Some(full), Some((is, from, entry))) => {
            let method = is.get("method").and_then(|method| method.as_str());
            let method = method.map(|word| format!(", {}", words::charge_method(word)));
            let since = figures::day_text(from);
            let both = figures::mass_both(full);
            push(
                "Full charge",
                format!("{both}{}, since {since}", method.unwrap_or_default()),
                Some(entry),
            );
        }
        (Some(full), None) => push("Full charge", figures::mass_both(full), None),
        (None, charge) => {
            let entry = charge.map(|(.., entry)| entry);
            push(
                "Full charge",
                "not known: find it on the nameplate".to_string(),
                entry,
            );
        }
    }
    push(
        "Charged less recovered",
        figures::mass_both(&standing.balance),
        None,
    );
    match &standing.content {
        Some(content) => push("In it", figures::mass_both(content), None),
        None => push(
            "In it",
            "not known since it was last opened".to_string(),
            None,
        ),
    }
    if standing.presumed_leaked.g != "0" {
        push(
            "Presumed leaked",
            figures::mass_both(&standing.presumed_leaked),
            None,
        );
    }
    if let Some((is, _, entry)) = value(thing, "installed")
        && let Some(day) = is.as_str()
    {
        push("Installed", figures::day_text(day), Some(entry));
    }
    if let Some((is, _, entry)) = value(thing, "serial")
        && let Some(serial) = is.as_str()
    {
        push("Serial number", serial.to_string(), Some(entry));
    }
    if !overview.region.is_empty() {
        push("Region of its site", overview.region.clone(), None);
    }
    facts
}

impl SetLine {
    fn of(set: &SetShown) -> SetLine {
        let clause = set
            .clause
            .as_ref()
            .map_or(String::new(), |clause| format!(" [{clause}]"));
        let says = match set.applies {
            "yes" => format!("covers it{clause}."),
            "cannot_judge" => {
                format!(
                    "cannot judge whether it applies: find {}.",
                    words::facts(&set.missing)
                )
            }
            _ => "does not cover it.".to_string(),
        };
        let applies = set.applies != "no";
        SetLine {
            title: set.title.clone(),
            says,
            caution: if applies {
                set.caution.clone()
            } else {
                String::new()
            },
        }
    }
}

/// Nothing but the standing, for the receipt of a posting.
pub fn standing_and_duties(tag: &str, standing: &Standing) -> (StandingLine, Vec<DutyLine>) {
    let duties = (standing.duties.iter()).filter(|duty| is_recent(duty, &standing.day));
    let duties = duties
        .map(|duty| DutyLine::of(duty, &standing.day))
        .collect();
    (StandingLine::of(tag, standing), duties)
}

/// Entries of one page.
const MOST: usize = 50;

/// `GET /appliances/{id}`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (around, of, sees) = (Around::of(&visit)?, by.signed_in.of.clone(), by.sees());
    let (name, now) = (visit.asked.name("id").to_string(), visit.asked.now);
    let before = visit.asked.query.number("before")?;
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Appliances)?;
        let overview = state
            .desk
            .read(|db| overview::with_course(db, &of, &name, now))?;
        let history =
            |db: &mut _| lines::of_thing(db, &of, (Sort::Appliance, &name), before, MOST, sees);
        let history = state.desk.read(history)?;
        Ok(AppliancePage::of(frame, &overview, history))
    });
    Ok(page(StatusCode::OK, &read.await?))
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::ledger::actor::Role;
    use askama::Template;

    fn shown(role: Role, overview: &Overview, items: Vec<Line>) -> String {
        let page = Page { items, next: None };
        let frame = sample::frame(role, Part::Appliances);
        AppliancePage::of(frame, overview, page).render().unwrap()
    }

    #[test]
    fn the_page_shows_standing_arithmetic_duties_and_history() {
        let mut over = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
        over.duties = vec![sample::duty(Some("2026-08-13"))];
        let overview = sample::overview("HG-RACK-A", "R-448A", over);
        let html = shown(Role::Technician, &overview, vec![sample::line("HG-RACK-A")]);
        for part in [
            "Commercial refrigeration, R-448A (class A1), full charge 210 lb 0 oz = 95.254 kg.",
            "class=\"standing is-over\"",
            "26.25\u{202f}% a year",
            "Find the leaks and repair them",
            "href=\"/appliances/HG-RACK-A/charge\"",
            "By the other method, rolling year up to 14 July 2026: 11.3\u{202f}%.",
            "id=\"n4807\"",
        ] {
            assert!(html.contains(part), "{part} in {html}");
        }
        sample::is_clean(&html);
    }

    #[test]
    fn who_posts_nothing_sees_no_button_to_post() {
        let standing = sample::standing(None, Vec::new());
        let overview = sample::overview("PINE-AHU-2", "R-454B", standing);
        let html = shown(Role::Auditor, &overview, Vec::new());
        assert!(!html.contains("/charge\""), "{html}");
        assert!(html.contains("not known: find it on the nameplate"));
        assert!(
            html.contains("R-454B, class A2L, burns slowly."),
            "caution of the class"
        );
        assert!(html.contains("Nothing was moved into or out of it yet."));
        assert!(html.contains("No rule set is adopted for this book, so nothing is judged."));
    }

    #[test]
    fn hostile_names_stay_text_and_nobody_says_that_nothing_is_owed() {
        let standing = sample::standing(None, vec![sample::addition(None)]);
        let overview = sample::overview(&sample::hostile(), "R-448A", standing);
        let html = shown(
            Role::Technician,
            &overview,
            vec![sample::line(&sample::hostile())],
        );
        assert!(html.contains("What is owed cannot be said until it is judged."));
        assert!(!html.contains("Nothing is owed"));
        sample::is_clean(&html);
        assert!(html.contains("&#60;script&#62;"));
    }

    #[test]
    fn a_corrected_line_is_struck_and_both_name_each_other() {
        let mut old = sample::line("HG-RACK-A");
        old.corrected_by = Some(4_810);
        let mut new = sample::line("HG-RACK-A");
        (new.seq, new.corrects) = (4_810, Some(4_807));
        let overview = sample::overview("HG-RACK-A", "R-448A", sample::standing(None, Vec::new()));
        let html = shown(Role::Auditor, &overview, vec![new, old]);
        assert!(
            html.contains("<tr class=\"struck\" id=\"n4807\">"),
            "{html}"
        );
        assert!(html.contains("Replaced by <a href=\"/entries/4810\">no. 4\u{202f}810</a>"));
        assert!(html.contains("Corrects <a href=\"/entries/4807\">no. 4\u{202f}807</a>"));
        assert_eq!(
            html.matches("<del>").count(),
            7,
            "what, four columns, kilograms, and the mass as a telephone shows it"
        );
    }
}
