//! The fleet as a table: what went into each appliance in each of 24 months, ordered and shaded by
//! how much of its limit its rate uses.
//!
//! A true table, so that it can be read aloud and copied. Five classes of shade come from the style
//! sheet; words for readers, a corner from the limit on and dots on paper say the same.

use super::appliances::{fact, limit_of, rate_of};
use super::figures;
use super::frame::{Around, Frame, Part};
use super::way::{Visit, page};
use crate::actions::show::fleet::{self, Fleet, OfFleet};
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;
use reports::mass::Mass;
use reports::standing::AdditionShown;

/// Appliances of one page.
const MOST: usize = 50;

/// Months that are shown.
const MONTHS: i32 = 24;

/// Units that can be asked for.
const UNITS: [&str; 2] = ["lb", "kg"];

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "fleet.html")]
pub struct FleetPage {
    /// Around the content.
    pub frame: Frame,
    /// The headline as one sentence.
    pub lede: String,
    /// The unit of the masses.
    pub unit: &'static str,
    /// The other one, and the address of the page in it.
    pub other: (&'static str, String),
    /// Years with their number of months.
    pub years: Vec<(String, usize)>,
    /// Months.
    pub months: Vec<&'static str>,
    /// The appliances.
    pub rows: Vec<FleetRow>,
    /// Numbers of the first and the last row.
    pub shown: String,
    /// The address of the page before.
    pub back: Option<String>,
    /// The address of the next page.
    pub next: Option<String>,
}

/// One appliance.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FleetRow {
    /// Where its page is.
    pub href: String,
    /// Its tag.
    pub tag: String,
    /// Its site.
    pub site: String,
    /// Designation of its refrigerant.
    pub refrigerant: String,
    /// Its full charge.
    pub full: String,
    /// The rate that counts, or that there is none.
    pub rate: String,
    /// The limit of its day, in words.
    pub limit: String,
    /// One for each month.
    pub cells: Vec<Cell>,
}

/// One month of one appliance.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cell {
    /// The class of its shade; empty: none.
    pub class: &'static str,
    /// What stands in it.
    pub text: String,
    /// The same for those who hear it.
    pub says: &'static str,
}

/// The class of a part of the limit in ten-thousandths, and its words.
fn shade(share: u32) -> (&'static str, &'static str) {
    match share {
        0..2_500 => ("s1", "under a quarter of the limit"),
        2_500..5_000 => ("s2", "under half of the limit"),
        5_000..10_000 => ("s3", "under the limit"),
        10_000..15_000 => ("s4", "at the limit or over it"),
        15_000.. => ("s5", "half as much again as the limit, or more"),
    }
}

type Month = (i32, i8);

fn month_of(day: Day) -> Month {
    let (year, month, _) = day.ymd();
    (year, month)
}

/// The months up to the one of a day, the earliest first.
fn months_until(day: Day) -> Vec<Month> {
    let (year, month) = month_of(day);
    let newest = year * 12 + i32::from(month) - 1;
    (newest - MONTHS + 1..=newest)
        .map(|month| {
            (
                month.div_euclid(12),
                i8::try_from(month.rem_euclid(12)).unwrap_or(0) + 1,
            )
        })
        .collect()
}

/// Steps of a unit.
fn unit_steps(unit: &str) -> i128 {
    match unit {
        "kg" => 100_000_000_000_000,
        _ => 45_359_237_000_000,
    }
}

/// A mass with one decimal, half away from zero; what is less than that is not nothing.
fn tenths(steps: i128, unit: &str) -> String {
    let of = unit_steps(unit);
    match (steps * 20 + of) / (of * 2) {
        0 => "<0.1".to_string(),
        tenths => format!("{}.{}", tenths / 10, tenths % 10),
    }
}

impl Cell {
    fn of(month: Month, of: &OfFleet, additions: &[&AdditionShown], unit: &str) -> Cell {
        let plain = |text: &str, says| Cell {
            class: "",
            text: text.to_string(),
            says,
        };
        if of.retired.is_some_and(|day| month_of(day) < month) {
            return plain("×", "retired");
        }
        let own = additions
            .iter()
            .filter(|one| Day::parse(&one.day).is_some_and(|day| month_of(day) == month));
        let own: Vec<&AdditionShown> = own.copied().collect();
        if own.is_empty() {
            return match of.days.iter().any(|day| month_of(*day) == month) {
                true => plain("0", "nothing added"),
                false => plain("–", "no service"),
            };
        }
        if own.iter().all(|one| one.counting().is_none()) {
            return plain("?", "full charge unknown");
        }
        let grams = own
            .iter()
            .filter_map(|one| Mass::from_grams_text(&one.mass.g));
        let steps: i128 = grams.map(|mass| i128::from(mass.steps())).sum();
        let share = own.iter().filter_map(|one| one.counting()?.share()).max();
        let (class, says) = share.map_or(("", "no limit"), shade);
        Cell {
            class,
            text: tenths(steps, unit),
            says,
        }
    }
}

impl FleetRow {
    fn of(of: &OfFleet, months: &[Month], unit: &str) -> FleetRow {
        let standing = &of.standing;
        let full = (standing.full_charge.as_ref())
            .map_or("full charge unknown", |full| full.lb_oz.as_str());
        let refrigerant = fact(&of.thing, "refrigerant").unwrap_or("refrigerant not known");
        let additions = standing.settled();
        FleetRow {
            href: super::appliance_path(&of.thing.tag, &of.thing.id),
            tag: of.thing.tag.clone(),
            site: of.site.clone(),
            refrigerant: refrigerant.to_string(),
            full: full.to_string(),
            rate: rate_of(standing),
            limit: match limit_of(standing).as_str() {
                "none" => "no limit".to_string(),
                "not compared" => String::new(),
                limit => format!("limit {limit}"),
            },
            cells: (months.iter())
                .map(|month| Cell::of(*month, of, &additions, unit))
                .collect(),
        }
    }
}

impl FleetPage {
    /// The page of what was read.
    pub fn of(frame: Frame, fleet: &Fleet, unit: &str) -> FleetPage {
        let unit = UNITS
            .into_iter()
            .find(|known| *known == unit)
            .unwrap_or(UNITS[0]);
        let months = months_until(fleet.day);
        let mut years: Vec<(String, usize)> = Vec::new();
        for (year, _) in &months {
            let year = year.to_string();
            match years.last_mut().filter(|(last, _)| *last == year) {
                Some((_, count)) => *count += 1,
                None => years.push((year, 1)),
            }
        }
        let rows: Vec<FleetRow> = (fleet.rows.iter())
            .map(|of| FleetRow::of(of, &months, unit))
            .collect();
        let over = fleet.rows.iter().filter(|of| {
            let newest = of
                .standing
                .additions
                .last()
                .and_then(|newest| newest.counting());
            newest.and_then(|rate| rate.over) == Some(true)
        });
        let (over, last) = (over.count(), fleet.before + rows.len());
        let at = |before: usize, unit: &str| format!("/fleet?before={before}&unit={unit}");
        let other = if unit == "lb" { "kg" } else { "lb" };
        FleetPage {
            frame,
            lede: match (rows.is_empty(), over) {
                (true, _) => "Nothing to show here.".to_string(),
                (false, 0) => {
                    "On this page none is over its limit by its newest addition.".to_string()
                }
                (false, over) => format!(
                    "On this page {} over the limit by the newest addition.",
                    match over {
                        1 => "one appliance is".to_string(),
                        over => format!("{over} appliances are"),
                    }
                ),
            },
            shown: match rows.is_empty() {
                true => String::new(),
                false => format!(
                    "{} to {} of {}",
                    figures::number(fleet.before + 1),
                    figures::number(last),
                    figures::number(fleet.all)
                ),
            },
            months: (months.iter())
                .map(|(_, month)| figures::month_short(*month))
                .collect(),
            back: (fleet.before > 0).then(|| at(fleet.before.saturating_sub(MOST), unit)),
            next: (last < fleet.all).then(|| at(last, unit)),
            other: (other, at(fleet.before, other)),
            unit,
            years,
            rows,
        }
    }
}

/// `GET /fleet`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (around, of) = (Around::of(&visit)?, visit.by()?.signed_in.of.clone());
    let now = visit.asked.now;
    let before = visit.asked.query.number("before")?.unwrap_or(0);
    let before = usize::try_from(before).unwrap_or(usize::MAX);
    let unit = match visit.asked.query.text("unit") {
        None => "lb".to_string(),
        Some(_) => visit.asked.query.word("unit", &UNITS)?.to_string(),
    };
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Appliances)?;
        let read = |db: &mut _| fleet::page(db, &of, before, MOST, now);
        let fleet = state.desk.read(read)?;
        Ok(FleetPage::of(frame, &fleet, &unit))
    });
    Ok(page(StatusCode::OK, &read.await?))
}

#[cfg(test)]
mod tests;
