//! The card of an appliance: what must be known before a cylinder is opened, on one screen.
//!
//! Refrigerant with its safety class, full charge and how it is known, how much went in within a
//! year, what is owed, the last entries. Everything else is one link away.

use super::{FieldFrame, page};
use crate::actions::code;
use crate::actions::permit::Deed;
use crate::actions::show::found;
use crate::actions::show::lines::{self, Line};
use crate::actions::show::overview::{self, Overview};
use crate::actions::show::things::{self, Sort, ThingShown};
use crate::http::Problem;
use crate::ledger::id::Id;
use crate::pages::appliance::{FactLine, facts, standing_and_duties};
use crate::pages::appliances::fact;
use crate::pages::cylinder::OpenFinding;
use crate::pages::duty::DutyLine;
use crate::pages::standing::StandingLine;
use crate::pages::way::Visit;
use crate::pages::{cautions, figures, words};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;
use reports::mass::{self, Mass};
use reports::standing::Standing;

/// Entries that are shown.
const LAST: usize = 3;
/// Entries among which the last leak is looked for.
const LOOKED_AT: usize = 40;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "field/card.html")]
pub struct CardPage {
    /// Around the page.
    pub field: FieldFrame,
    /// Its tag.
    pub tag: String,
    /// The code of its label, without groups, by which a phone finds the card without signal.
    pub code: String,
    /// Its serial number, likewise.
    pub serial: String,
    /// Its site.
    pub site: String,
    /// Where it stands there.
    pub place: String,
    /// Its page with everything.
    pub href: String,
    /// The standing line.
    pub standing: StandingLine,
    /// What is owed first.
    pub duties: Vec<DutyLine>,
    /// What must be known.
    pub facts: Vec<FactLine>,
    /// The last entries, newest first.
    pub lines: Vec<CardLine>,
    /// Cautions of its class.
    pub cautions: Vec<String>,
    /// What is open about it.
    pub findings: Vec<OpenFinding>,
    /// Is there more of it?
    pub more_findings: bool,
}

/// An entry in two lines.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CardLine {
    /// Its number.
    pub entry: u64,
    /// What was done, and how much.
    pub what: String,
    /// When, by whom, and why.
    pub below: String,
    /// The correction that stands in its place.
    pub corrected_by: Option<u64>,
}

impl CardLine {
    /// The two lines of an entry.
    pub fn of(line: &Line) -> CardLine {
        let steps: i128 = line.moved.iter().map(|moved| i128::from(moved.steps)).sum();
        let what = match line.moved.is_empty() {
            true if line.annuls => crate::pages::lines::what(line),
            true => crate::pages::lines::deed(line),
            false => format!("{} {}", words::deed(&line.kind), mass::lb_oz_text(steps)),
        };
        let why = line.reason.as_deref().map(words::reason);
        let why = why.map(|why| format!(". {}", words::capital(&why)));
        CardLine {
            entry: line.seq,
            what,
            below: format!(
                "{}, {}{}.",
                figures::day_text(&line.day),
                line.by,
                why.unwrap_or_default()
            ),
            corrected_by: line.corrected_by,
        }
    }
}

impl CardPage {
    /// The card of what was read.
    pub fn of(overview: &Overview, history: &[Line]) -> CardPage {
        let (thing, standing) = (&overview.thing, &overview.standing);
        let refrigerant = fact(thing, "refrigerant").unwrap_or_default();
        let (line, mut duties) = standing_and_duties(&thing.tag, standing);
        // What is over stands on its page; here it would stand between the limit and the refrigerant.
        duties.retain(|duty| !["done", "waived"].contains(&duty.class));
        CardPage {
            field: FieldFrame::default(),
            tag: thing.tag.clone(),
            code: Id::parse(&thing.id)
                .and_then(|id| code::of(Sort::Appliance, id))
                .unwrap_or_default(),
            serial: fact(thing, "serial").unwrap_or_default().to_string(),
            site: overview.site.clone(),
            place: fact(thing, "place").unwrap_or_default().to_string(),
            href: crate::pages::appliance_path(&thing.tag, &thing.id),
            standing: line,
            duties,
            facts: known(overview, refrigerant)
                .into_iter()
                .chain(last_leak(history))
                .collect(),
            lines: history.iter().take(LAST).map(CardLine::of).collect(),
            cautions: cautions::of_class(refrigerant).into_iter().collect(),
            findings: Vec::new(),
            more_findings: false,
        }
    }
}

/// What must be known at the unit, the refrigerant first.
fn known(overview: &Overview, refrigerant: &str) -> Vec<FactLine> {
    let standing = &overview.standing;
    let class = cautions::group(refrigerant).map(|group| group.word());
    let of = |name, value| FactLine {
        name,
        value,
        entry: None,
    };
    let mut known = vec![of(
        "Refrigerant",
        match (refrigerant, class) {
            ("", _) => "not known: find it on the nameplate".to_string(),
            (refrigerant, Some(class)) => format!("{refrigerant}, class {class}"),
            (refrigerant, None) => format!("{refrigerant}, class not known"),
        },
    )];
    known.extend(facts(overview).into_iter().take(1));
    known.push(of("Last addition", last(standing)));
    known.push(of("Added in 365 days", within_a_year(standing)));
    known
}

/// Where a leak was found last.
fn last_leak(history: &[Line]) -> Option<FactLine> {
    let is_leak = |line: &&Line| line.kind == "leak_found" && line.corrected_by.is_none();
    let line = history.iter().find(is_leak)?;
    let place = line.texts.iter().find(|(name, _)| name.ends_with("place"));
    let place = place.map_or("place not stated", |(_, place)| place.as_str());
    Some(FactLine {
        name: "Last leak",
        value: format!("{place}, {}", figures::day_text(&line.day)),
        entry: Some(line.seq),
    })
}

fn last(standing: &Standing) -> String {
    let Some(newest) = standing.additions.last() else {
        return "none since the book began".to_string();
    };
    let day = figures::day_text(&newest.day);
    match (Day::parse(&standing.day), Day::parse(&newest.day)) {
        (Some(today), Some(then)) if today > then => {
            let ago = figures::counted(
                usize::try_from(today.days_since(then)).unwrap_or_default(),
                "day",
                "days",
            );
            format!("{}, {day}, {ago} ago", newest.mass.lb_oz)
        }
        _ => format!("{}, {day}", newest.mass.lb_oz),
    }
}

/// What was added on the last 365 days, the day of the standing included.
fn within_a_year(standing: &Standing) -> String {
    let Some(today) = Day::parse(&standing.day) else {
        return "not known".to_string();
    };
    let since = today.plus(-364).to_string();
    let recent = standing.additions.iter().filter(|added| added.day >= since);
    let steps: Option<Vec<i128>> = recent
        .map(|added| Mass::from_grams_text(&added.mass.g).map(|mass| i128::from(mass.steps())))
        .collect();
    match steps {
        Some(steps) if steps.is_empty() => "nothing".to_string(),
        Some(steps) => {
            let sum: i128 = steps.iter().sum();
            format!("{} = {}", mass::lb_oz_text(sum), mass::kg_text(sum))
        }
        None => "not known".to_string(),
    }
}

/// `GET /field/appliances/{id}`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (of, sees) = (by.signed_in.of.clone(), by.sees());
    let (name, now) = (visit.asked.name("id").to_string(), visit.asked.now);
    let (field, person) = (FieldFrame::of(&visit)?, by.signed_in.person);
    let follows = by.may(Deed::ReadFollowUps);
    let read = visit.asked.read(move |state| {
        let overview = state.desk.read(|db| overview::one(db, &of, &name, now))?;
        let history =
            |db: &mut _| lines::of_thing(db, &of, (Sort::Appliance, &name), None, LOOKED_AT, sees);
        let history = state.desk.read(history)?;
        let open = |db: &mut _| found::about(db, &of, &overview.thing.id, sees);
        let (findings, more_findings) = match follows {
            true => OpenFinding::all(&state.desk.read(open)?),
            false => Default::default(),
        };
        let mut card = CardPage {
            field,
            findings,
            more_findings,
            ..CardPage::of(&overview, &history.items)
        };
        if let Some(id) = person.map(|id| id.to_string()) {
            let person = |db: &mut _| things::one(db, &of, Sort::Person, &id);
            let person = state.desk.read(person)?;
            card.cautions.extend(certificate_fits(&person, &overview));
        }
        Ok(card)
    });
    Ok(page(StatusCode::OK, &read.await?))
}

/// Refrigerants of low-pressure appliances (40 CFR 82.152 names the pressure at 104 °F, not the
/// refrigerants; which these are is from memory).
const LOW_PRESSURE: [&str; 7] = [
    "R-11",
    "R-113",
    "R-123",
    "R-245fa",
    "R-514A",
    "R-1233zd(E)",
    "R-1336mzz(Z)",
];
/// Small appliances hold at most 5 lb (40 CFR 82.152).
const SMALL: i128 = 5 * 45_359_237_000_000;

/// A warning where the certificate of who looks does not cover the appliance (40 CFR 82.161: type I
/// small appliances, type II high pressure, type III low pressure, universal all).
fn certificate_fits(person: &ThingShown, overview: &Overview) -> Option<String> {
    let class = fact(person, "certificate_class")?;
    let refrigerant = fact(&overview.thing, "refrigerant").unwrap_or_default();
    let full = overview.standing.full_charge.as_ref();
    let full = full.and_then(|full| Mass::from_grams_text(&full.g));
    let large = full.is_some_and(|full| i128::from(full.steps()) > SMALL);
    let low = LOW_PRESSURE.contains(&refrigerant);
    let covers = match class {
        "universal" => return None,
        "type_1" if large => "small appliances of at most 5 lb",
        "type_2" if low => "appliances of higher pressure",
        "type_3" if !low && !refrigerant.is_empty() => "low-pressure appliances",
        "none" => "no appliance",
        _ => return None,
    };
    let class = words::plain(class);
    Some(format!(
        "Your certificate ({class}) covers {covers}. Ask who may open this one."
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pages::sample;

    #[test]
    fn a_card_says_what_must_be_known_at_the_unit() {
        let mut over = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
        let mut over_with = sample::duty(Some("2026-07-21"));
        (over_with.state, over_with.is_owed) = ("done", false);
        over.duties = vec![sample::duty(Some("2026-08-13")), over_with];
        let rack = sample::overview("HG-RACK-A", "R-448A", over);
        let mut card = CardPage::of(&rack, &[sample::line("HG-RACK-A")]);
        assert!(
            !card.render().unwrap().contains("/charge\""),
            "who only reads"
        );
        card.field.person = "somebody".to_string();
        let html = card.render().unwrap();
        assert!(!html.contains("done"), "what is over is owed by nobody");
        // 14 lb 8 oz = 14.5 x 0.45359237 kg = 6.577 kg; the sample's day is two days after it.
        for part in [
            "class=\"standing is-over\"",
            "13 August 2026",
            "R-448A, class A1",
            "210 lb 0 oz = 95.254 kg",
            "<dt>Added in 365 days</dt><dd>14 lb 8 oz = 6.577 kg</dd>",
            "href=\"/appliances/HG-RACK-A/charge\"",
            "href=\"/appliances/HG-RACK-A/recover\"",
            "no. 4\u{202f}807",
        ] {
            assert!(html.contains(part), "{part} in {html}");
        }
    }

    #[test]
    fn a_certificate_that_does_not_cover_the_appliance_is_said() {
        let mut person = sample::overview("", "", sample::standing(None, Vec::new())).thing;
        let rack = sample::overview("A", "R-448A", sample::standing(Some(210), Vec::new()));
        let small = sample::overview("B", "R-134a", sample::standing(Some(5), Vec::new()));
        let chiller = sample::overview("C", "R-123", sample::standing(Some(210), Vec::new()));
        for (class, fits) in [
            ("universal", [true, true, true]),
            ("type_1", [false, true, false]),
            ("type_2", [true, true, false]),
            ("type_3", [false, false, true]),
            ("none", [false, false, false]),
        ] {
            let shown = crate::actions::show::things::FactShown {
                from: "2019-04-01".to_string(),
                is: class.into(),
                entry: 3,
            };
            let facts = &mut person.facts;
            facts.insert("certificate_class".to_string(), vec![shown]);
            let found = [&rack, &small, &chiller].map(|it| certificate_fits(&person, it).is_none());
            assert_eq!(found, fits, "{class}");
        }
    }

    #[test]
    fn the_last_leak_stands_on_the_card() {
        let mut line = sample::line("HG-RACK-A");
        line.kind = "leak_found".to_string();
        line.texts = [("place".to_string(), "flare nut".to_string())].into();
        let leak = last_leak(&[sample::line("HG-RACK-A"), line.clone()]).unwrap();
        assert_eq!(leak.value, "flare nut, 14 July 2026");
        line.corrected_by = Some(4_810);
        assert_eq!(last_leak(&[line]), None);
    }

    #[test]
    fn what_is_not_known_is_said_and_hostile_names_stay_text() {
        let standing = sample::standing(None, Vec::new());
        let hostile = sample::overview(&sample::hostile(), "", standing);
        let html = CardPage::of(&hostile, &[sample::line(&sample::hostile())])
            .render()
            .unwrap();
        sample::is_clean(&html);
        assert!(
            html.contains("not known: find it on the nameplate"),
            "{html}"
        );
        assert!(html.contains("none since the book began"));
    }
}
