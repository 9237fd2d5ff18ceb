//! One cylinder: room left, its limit with rule and source, content, whose it is, checks, history.

use super::appliance::FactLine;
use super::appliances::{fact, value};
use super::cage::{Bar, closed, content, days_left, only_to_reclaim, room, rule_name};
use super::cautions;
use super::figures;
use super::frame::{Around, Frame, Part};
use super::lines::Row;
use super::way::{Visit, page};
use super::words;
use crate::actions::judge::cut_text;
use crate::actions::permit::posts;
use crate::actions::show::Page;
use crate::actions::show::cage::{self, CheckShown, CylinderShown};
use crate::actions::show::found::{self, Found};
use crate::actions::show::lines::{self, Line};
use crate::actions::show::things::Sort;
use crate::actions::show::things::ThingShown;
use crate::http::Problem;
use crate::ledger::actor::Role;
use crate::ledger::entry::EntryKind;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;
use reports::mass;
use reports::physics::{CONTENT_CAUTION, RuleLimit};

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "cylinder.html")]
pub struct CylinderPage {
    /// Around the content.
    pub frame: Frame,
    /// Its address.
    pub href: String,
    /// Its tag.
    pub tag: String,
    /// Who has it.
    pub held_by: String,
    /// The headline as one sentence.
    pub lede: String,
    /// Why nothing may go in.
    pub closed: String,
    /// What to do about a quarantine; empty: there is none.
    pub quarantine: Option<Quarantine>,
    /// What is open about it, the oldest first.
    pub findings: Vec<OpenFinding>,
    /// Are there more than are shown?
    pub more_findings: bool,
    /// Its id.
    pub id: String,
    /// Where what is in it goes, and nowhere else; empty: nowhere in particular.
    pub only_to: String,
    /// What is stopped because of that.
    pub only_why: &'static str,
    /// The bar.
    pub bar: Option<Bar>,
    /// Room left.
    pub room: String,
    /// The largest reading of the scale.
    pub max_gross: String,
    /// The rules, the lowest first.
    pub rules: Vec<RuleLine>,
    /// What else is said of the limit.
    pub notes: Vec<String>,
    /// Facts.
    pub facts: Vec<FactLine>,
    /// Content checks.
    pub checks: Vec<CheckLine>,
    /// Where it is checked or weighed; empty: not by the reader.
    pub check: String,
    /// Cautions.
    pub cautions: Vec<String>,
    /// The history, newest first.
    pub lines: Vec<Row>,
    /// The address of older entries.
    pub older: Option<String>,
}

/// A quarantine and what ends it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quarantine {
    /// The entry that caused it.
    pub entry: u64,
    /// What to do.
    pub to_do: &'static str,
    /// May the reader settle it?
    pub may_settle: bool,
}

/// A finding about it that nobody has settled.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenFinding {
    /// Of the highest grade?
    pub high: bool,
    /// What it says.
    pub says: String,
    /// Where it is settled.
    pub href: String,
}

impl OpenFinding {
    /// What is open about a cylinder or an appliance, the oldest first, and whether there is more.
    pub fn all(open: &Page<Found>) -> (Vec<OpenFinding>, bool) {
        let findings = open.items.iter().map(OpenFinding::of).collect();
        (findings, open.next.is_some())
    }

    fn of(found: &Found) -> OpenFinding {
        let finding = &found.finding;
        OpenFinding {
            high: finding.grade == "high",
            says: words::capital(&finding.text),
            href: super::findings::path(finding),
        }
    }
}

/// One rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RuleLine {
    /// Its name.
    pub rule: String,
    /// The largest net mass.
    pub limit: String,
    /// What it says.
    pub text: String,
    /// Where it is from.
    pub source: String,
}

/// One check.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CheckLine {
    /// The entry.
    pub entry: u64,
    /// The day.
    pub on: String,
    /// What it says.
    pub says: String,
    /// Is the caution of flammable content due?
    pub burns: bool,
}

/// What ends a quarantine.
const QUARANTINE: &str = "Nothing leaves it except to reclaim or destruction. Find out what is in it \
     (refrigerant identifier, or a laboratory by the AHRI 700 method), name it in the book, label it; \
     then a compliance manager settles the finding.";

/// What is stopped of a mixture.
const MIXED: &str = "Charging from it, and pouring it into another cylinder, is stopped. A compliance \
     manager may lift that with a written reason.";
/// What is stopped of several owners' refrigerant.
const OF_SEVERAL: &str = "No appliance gets it, whoever owns that: a charge is stopped. What it is poured \
     into belongs to all of them, too.";

/// Most rules that are shown; of unknown content there is one a refrigerant.
const MOST_RULES: usize = 8;

impl RuleLine {
    fn of(rule: &RuleLimit) -> RuleLine {
        let of = rule
            .refrigerant
            .as_ref()
            .map_or(String::new(), |name| format!(", {name}"));
        let is_said = rule.read_at_source || rule.source.contains("from memory");
        let memory = if is_said { "" } else { " (from memory)" };
        let density = rule.density_source.as_ref();
        let density = density.map_or(String::new(), |source| format!("; density: {source}"));
        RuleLine {
            rule: format!("{}{of}", rule_name(&rule.rule_id)),
            limit: cut_text(i128::from(rule.limit.steps())),
            text: rule.text.clone(),
            source: format!("{}{memory}{density}", rule.source),
        }
    }
}

impl CheckLine {
    fn of(check: &CheckShown) -> CheckLine {
        let fits = match check.compatible.is_empty() {
            true => String::new(),
            false => format!(" Fits: {}.", check.compatible.join(", ")),
        };
        let open = match check.not_excluded.is_empty() {
            true => String::new(),
            false => format!(" Not excluded: {}.", check.not_excluded.join(", ")),
        };
        let verdict = match check.verdict.as_str() {
            "ambiguous" => "Several refrigerants fit: nothing is identified.",
            "one_compatible" => "One of the table fits: that does not identify it.",
            "no_match" => {
                "Nothing of the table fits: a mixture, air, no liquid, or a wrong temperature."
            }
            _ => "Could not be judged: something that is needed was not read.",
        };
        CheckLine {
            entry: check.entry,
            on: figures::day_text(&check.day),
            says: format!("{verdict}{fits}{open}"),
            burns: check.possibly_flammable,
        }
    }
}

impl CylinderPage {
    /// The page of what was read.
    pub fn of(
        frame: Frame,
        today: Day,
        shown: &CylinderShown,
        history: Page<Line>,
    ) -> CylinderPage {
        let (thing, fill) = (&shown.thing, &shown.fill);
        let href = super::cylinder_path(&thing.tag, &thing.id);
        let limit = fill.limit.as_ref();
        let gross = limit.zip(fill.brief.tare).map(|(limit, tare)| {
            let steps = i128::from(limit.limit.steps()) + i128::from(tare.steps());
            format!("{} = {}", cut_text(steps), mass::kg_text(steps))
        });
        let lede = format!(
            "{}, holds {} = {}.",
            words::capital(&content(thing)),
            mass::lb_oz_text(fill.net),
            mass::kg_text(fill.net)
        );
        let rules = limit.map(|limit| limit.rules.iter().take(MOST_RULES).map(RuleLine::of));
        let mut warned = vec![
            cautions::PRESSURE.to_string(),
            cautions::FILLING.to_string(),
        ];
        let names = thing
            .balances
            .iter()
            .flatten()
            .map(|held| held.refrigerant.as_str());
        warned.extend(names.filter_map(cautions::of_class));
        let may_settle = frame.roles.contains(&Role::ComplianceManager);
        CylinderPage {
            frame,
            tag: thing.tag.clone(),
            held_by: fact(thing, "held_by").unwrap_or_default().to_string(),
            lede,
            closed: words::capital(&closed(&fill.closed)),
            quarantine: thing.quarantine.map(|entry| Quarantine {
                entry,
                to_do: QUARANTINE,
                may_settle,
            }),
            findings: Vec::new(),
            more_findings: false,
            id: thing.id.clone(),
            only_to: match thing.quarantine {
                // It says the same, and how it ends.
                Some(_) => String::new(),
                None => words::capital(only_to_reclaim(shown.only_to_reclaim)),
            },
            only_why: match shown.only_to_reclaim {
                Some("mixed") => MIXED,
                _ => OF_SEVERAL,
            },
            bar: Bar::of(fill, shown.class.as_deref()),
            room: room(fill),
            max_gross: gross.unwrap_or_default(),
            rules: rules.into_iter().flatten().collect(),
            notes: limit.map_or(Vec::new(), |limit| limit.notes.clone()),
            facts: facts(shown, today),
            checks: shown.checks.iter().map(CheckLine::of).collect(),
            check: String::new(),
            cautions: warned,
            lines: history.items.iter().map(Row::of).collect(),
            older: history.next.map(|before| format!("{href}?before={before}")),
            href,
        }
    }

    /// What stands beside every content check.
    pub fn content_caution(&self) -> &'static str {
        CONTENT_CAUTION
    }
}

/// Tare, water capacity and marking.
fn masses(thing: &ThingShown) -> Vec<FactLine> {
    let mut lines = Vec::new();
    for (name, label) in [
        ("tare", "Tare"),
        ("water_capacity", "Water capacity"),
        ("capacity", "Marked for"),
    ] {
        let weighs = value(thing, name).and_then(|(is, from, entry)| {
            let grams = is.get("g")?.as_str()?;
            let steps = i128::from(mass::Mass::from_grams_text(grams)?.steps());
            let both = format!("{} = {}", mass::lb_oz_text(steps), mass::kg_text(steps));
            Some((format!("{both}, since {}", figures::day_text(from)), entry))
        });
        let missing = "not known: read TW on the collar, or weigh it empty";
        let (value, entry) = match weighs {
            Some((text, entry)) => (text, Some(entry)),
            None if name == "tare" => (missing.to_string(), None),
            None => continue,
        };
        lines.push(FactLine {
            name: label,
            value,
            entry,
        });
    }
    lines
}

/// When its test is due, and how far away that is.
fn test_due(shown: &CylinderShown, today: Day) -> FactLine {
    let value_of = |due: Day| {
        let left = due.days_since(today);
        match left <= 90 {
            true => format!("{}, {}", figures::day(due), days_left(left)),
            false => figures::day(due),
        }
    };
    let missing = || "not recorded: read the stamp on the collar".to_string();
    FactLine {
        name: "Test due",
        value: shown.fill.brief.retest_on.map_or_else(missing, value_of),
        entry: value(&shown.thing, "retest_on").map(|(.., entry)| entry),
    }
}

/// What is registered of it and what follows.
pub fn facts(shown: &CylinderShown, today: Day) -> Vec<FactLine> {
    let thing = &shown.thing;
    let mut facts = masses(thing);
    facts.push(test_due(shown, today));
    let mut push = |name, value: String, entry| facts.push(FactLine { name, value, entry });
    let owners = match shown.owners.is_empty() {
        true => "the firm's own, or none".to_string(),
        false => shown.owners.join(", "),
    };
    push("Content belongs to", owners, None);
    let class = shown
        .class
        .as_deref()
        .map_or("not stated".to_string(), words::class);
    push("Condition of the content", class, None);
    for (name, label) in [
        ("use", "For"),
        ("condition", "Condition"),
        ("held_by", "Held by"),
        ("specification", "Specification"),
        ("retest_years", "Years between tests"),
        ("serial", "Serial number"),
    ] {
        if let Some((is, _, entry)) = value(thing, name)
            && let Some(text) = is.as_str()
        {
            push(label, words::plain(text), Some(entry));
        }
    }
    facts
}

/// Entries of one page.
const MOST: usize = 50;

/// `GET /cylinders/{id}`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (around, of, sees) = (Around::of(&visit)?, by.signed_in.of.clone(), by.sees());
    let checks = by.signed_in.may(|role| posts(role, EntryKind::Observation));
    let name = visit.asked.name("id").to_string();
    let before = visit.asked.query.number("before")?;
    let read = visit.asked.read(move |state| {
        let (frame, today, _) = around.read(state, Part::Cylinders)?;
        let shown = state
            .desk
            .read(|db| cage::one(db, &of, &name, Some(today), sees))?;
        let history =
            |db: &mut _| lines::of_thing(db, &of, (Sort::Cylinder, &name), before, MOST, sees);
        let history = state.desk.read(history)?;
        let open = |db: &mut _| found::about(db, &of, &shown.thing.id, sees);
        let open = state.desk.read(open)?;
        let mut page = CylinderPage::of(frame, today, &shown, history);
        (page.findings, page.more_findings) = OpenFinding::all(&open);
        if checks {
            page.check = format!("{}/check", page.href);
        }
        Ok(page)
    });
    Ok(page(StatusCode::OK, &read.await?))
}
