//! The appliances by tag, each with its standing in a word.

use super::cautions;
use super::figures;
use super::frame::Frame;
use super::frame::{Around, Part};
use super::picture::Drawing;
use super::spark;
use super::standing::{StandingLine, State};
use super::taken::{self, Taken};
use super::way::{Visit, go_to, page};
use super::words;
use crate::actions::permit::Deed;
use crate::actions::show::Page;
use crate::actions::show::overview;
use crate::actions::show::overview::Overview;
use crate::actions::show::things::ThingShown;
use crate::actions::show::things::{self, Sort};
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::standing::{AdditionShown, Standing};
use serde_json::Value;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "appliances.html")]
pub struct AppliancesPage {
    /// Around the content.
    pub frame: Frame,
    /// The headline as one sentence.
    pub lede: String,
    /// What was looked for.
    pub find: String,
    /// The rows.
    pub rows: Vec<ApplianceRow>,
    /// The address of the next page.
    pub next: Option<String>,
    /// The same rows as a file; empty where there are none.
    pub taken: String,
}

/// One appliance.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ApplianceRow {
    /// Where its page is.
    pub href: String,
    /// Its tag.
    pub tag: String,
    /// Its site.
    pub site: String,
    /// Designation of its refrigerant.
    pub refrigerant: String,
    /// Safety class of the refrigerant, where it is known.
    pub class: String,
    /// The full charge, or that it is not known.
    pub full_charge: String,
    /// The rate that counts, or that there is none.
    pub rate: String,
    /// The limit of its day.
    pub limit: String,
    /// Its last half year, drawn small; none: nothing was added in it.
    pub spark: Option<Drawing>,
    /// The state.
    pub state: State,
    /// The state in words.
    pub standing: String,
}

impl AppliancesPage {
    /// The page of what was read.
    pub fn of(frame: Frame, find: &str, page: Page<Overview>) -> AppliancesPage {
        let rows: Vec<ApplianceRow> = page.items.iter().map(ApplianceRow::of).collect();
        let count = |state| rows.iter().filter(|row| row.state == state).count();
        let (over, unknown) = (count(State::Over), count(State::Unknown));
        let shown = figures::counted(rows.len(), "appliance", "appliances");
        let lede = match (over, unknown) {
            (0, 0) => format!("On this page: {shown}, none over a limit."),
            (over, 0) => format!("On this page: {shown}, {over} over a limit."),
            (0, unknown) => {
                format!("On this page: {shown}, none over a limit; {unknown} cannot be judged.")
            }
            (over, unknown) => {
                format!("On this page: {shown}, {over} over a limit; {unknown} cannot be judged.")
            }
        };
        AppliancesPage {
            frame,
            lede: if rows.is_empty() {
                "Nothing to show here.".to_string()
            } else {
                lede
            },
            find: find.to_string(),
            taken: String::new(),
            rows,
            next: page
                .next
                .map(|after| format!("/appliances?after={}", super::encoded(&after))),
        }
    }
}

impl ApplianceRow {
    fn of(overview: &Overview) -> ApplianceRow {
        let (thing, standing) = (&overview.thing, &overview.standing);
        let line = StandingLine::of(&thing.tag, standing);
        let refrigerant = fact(thing, "refrigerant")
            .unwrap_or("not known")
            .to_string();
        let class = cautions::group(&refrigerant).map_or("", |group| group.word());
        ApplianceRow {
            href: super::appliance_path(&thing.tag, &thing.id),
            tag: thing.tag.clone(),
            site: overview.site.clone(),
            class: class.to_string(),
            refrigerant,
            full_charge: (standing.full_charge.as_ref())
                .map_or("not known".to_string(), |full| full.lb_oz.clone()),
            rate: rate_of(standing),
            limit: limit_of(standing),
            spark: spark::of(standing),
            standing: state_words(&line, &standing.missing),
            state: line.state,
        }
    }
}

fn state_words(line: &StandingLine, missing: &[&str]) -> String {
    match line.state {
        State::Over => "over".to_string(),
        State::Under => "under".to_string(),
        State::Unknown if missing.is_empty() => "cannot judge".to_string(),
        State::Unknown => format!("cannot judge: find {}", words::facts(missing)),
        State::Quiet => line.word.trim_end_matches('.').to_lowercase(),
    }
}

/// The rate that counts, or that there is none.
pub fn rate_of(standing: &Standing) -> String {
    match standing.additions.last().map(AdditionShown::counting) {
        None => "no addition".to_string(),
        Some(None) => "no rate".to_string(),
        Some(Some(rate)) => figures::rate(rate),
    }
}

/// The limit of its day. Without a rate nothing is compared, whatever limit there may be.
pub fn limit_of(standing: &Standing) -> String {
    let rate = (standing.additions.last()).and_then(AdditionShown::counting);
    match rate.map(|rate| rate.threshold.as_deref()) {
        None => "not compared".to_string(),
        Some(None) => "none".to_string(),
        Some(Some(limit)) => figures::percent(limit),
    }
}

/// The newest value of a fact that is a word.
pub fn fact<'t>(thing: &'t ThingShown, name: &str) -> Option<&'t str> {
    thing.facts.get(name)?.last()?.is.as_str()
}

/// The newest value of any fact, with its first day and entry.
pub fn value<'t>(thing: &'t ThingShown, name: &str) -> Option<(&'t Value, &'t str, u64)> {
    let newest = thing.facts.get(name)?.last()?;
    Some((&newest.is, &newest.from, newest.entry))
}

/// Appliances of one page.
const MOST: usize = 50;

/// `GET /appliances`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (around, of) = (Around::of(&visit)?, visit.by()?.signed_in.of.clone());
    let now = visit.asked.now;
    let text = |name| {
        visit
            .asked
            .query
            .text(name)
            .unwrap_or_default()
            .trim()
            .to_string()
    };
    let (find, after) = (text("find"), text("after"));
    let read = visit.asked.read(move |state| {
        let mut after = after;
        if !find.is_empty() {
            let exact = state
                .desk
                .read(|db| things::meant(db, &of, Sort::Appliance, &find));
            if let Some(found) = exact? {
                return Ok(Err(super::appliance_path(&found.tag, &found.id)));
            }
            let begins = |db: &mut _| things::beginning(db, &of, Sort::Appliance, &find);
            after = state.desk.read(begins)?;
        }
        let (frame, ..) = around.read(state, Part::Appliances)?;
        let page = state
            .desk
            .read(|db| overview::page(db, &of, &after, MOST, now))?;
        Ok(Ok(AppliancesPage::of(frame, &find, page)))
    });
    match read.await? {
        Ok(shown) if taken::is_asked(&visit)? => {
            taken::answer(&visit, Deed::ReadBook, Taken::from(&shown)).await
        }
        Ok(mut shown) => {
            shown.taken = taken::address(&visit, !shown.rows.is_empty());
            Ok(page(StatusCode::OK, &shown))
        }
        Err(found) => Ok(go_to(&found)),
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::ledger::actor::Role;

    fn shown(find: &str, items: Vec<Overview>) -> String {
        let frame = sample::frame(Role::Technician, Part::Appliances);
        let page = Page { items, next: None };
        AppliancesPage::of(frame, find, page).render().unwrap()
    }

    #[test]
    fn every_state_has_its_word() {
        let over = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
        let mut unknown = sample::standing(None, vec![sample::addition(None)]);
        unknown.missing = vec!["full_charge"];
        let none = sample::standing(Some(210), Vec::new());
        let html = shown(
            "",
            vec![
                sample::overview("HG-RACK-A", "R-448A", over),
                sample::overview("PINE-AHU-2", "R-454B", unknown),
                sample::overview("LS-RINK-1", "R-22", none),
            ],
        );
        assert!(
            html.contains("3 appliances, 1 over a limit; 1 cannot be judged."),
            "{html}"
        );
        assert!(html.contains("<td>over</td>"));
        assert!(html.contains("<td>cannot judge: find the full charge</td>"));
        assert!(html.contains("<td>no addition</td>"));
        // Without a rate nothing is called *no limit*.
        assert!(html.contains("not compared") && !html.contains(">none</td>"));
        assert!(html.contains("class A2L"));
    }

    #[test]
    fn an_empty_list_says_what_to_do_next() {
        assert!(shown("", Vec::new()).contains("No appliance is registered in this book."));
        let nothing = shown("\"><script>", Vec::new());
        assert!(nothing.contains("No tag begins so or comes after it."));
        sample::is_clean(&nothing);
    }
}
