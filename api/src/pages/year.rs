//! The year: which sheets there are, and where to take them.

use super::frame::Frame;
use super::frame::{Around, Part};
use super::way::{Visit, page};
use crate::actions::permit::Deed;
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// Units a sheet can be asked in.
const UNITS: [&str; 4] = ["lb", "kg", "g", "ug"];

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "year.html")]
pub struct YearPage {
    /// Around the content.
    pub frame: Frame,
    /// The year shown.
    pub year: i16,
    /// The years that can be asked for, newest first, and whether each is shown.
    pub years: Vec<(i16, bool)>,
    /// The unit of the masses.
    pub unit: &'static str,
    /// May the reader take them?
    pub may_export: bool,
    /// The sheets.
    pub sheets: Vec<SheetRow>,
}

/// A sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SheetRow {
    /// What it is called.
    pub title: &'static str,
    /// What stands in a row of it.
    pub row: &'static str,
    /// Its address.
    pub href: String,
    /// The name of the file.
    pub file: String,
}

/// Title, what stands in a row, name of the report.
const SHEETS: [(&str, &str, &str); 2] = [
    (
        "Appliances in the year",
        "An appliance and a refrigerant it held: full charge, opening, charged, recovered, \
         closing, additions, worst rates, limits passed",
        "appliance-year",
    ),
    (
        "Additions",
        "An addition: day, mass, days since the one before, both rates, whether a limit was passed",
        "additions",
    ),
];

impl YearPage {
    /// The page of a year; `today` bounds the years that are offered.
    pub fn of(frame: Frame, today: i16, year: Option<i16>, unit: Option<&str>) -> YearPage {
        let year = year
            .filter(|year| (1990..=today).contains(year))
            .unwrap_or(today);
        let unit = (UNITS.into_iter())
            .find(|known| Some(*known) == unit)
            .unwrap_or("lb");
        let mut years: Vec<i16> = (0..10).map(|back| today - back).collect();
        if !years.contains(&year) {
            years.push(year);
        }
        let sheet = |(title, row, name): (&'static str, &'static str, &str)| SheetRow {
            title,
            row,
            href: format!("/api/v1/reports/{name}.csv?year={year}&unit={unit}"),
            file: format!("{name}-{year}.csv"),
        };
        YearPage {
            may_export: frame.may(Deed::Report),
            frame,
            year,
            years: years.into_iter().map(|one| (one, one == year)).collect(),
            unit,
            sheets: SHEETS.into_iter().map(sheet).collect(),
        }
    }
}

/// `GET /year`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let around = Around::of(&visit)?;
    let query = &visit.asked.query;
    let year = query.text("year").and_then(|year| year.parse().ok());
    let unit = query.text("unit").map(str::to_string);
    let read = visit.asked.read(move |state| {
        let (frame, today, _) = around.read(state, Part::Year)?;
        Ok(YearPage::of(frame, today.year(), year, unit.as_deref()))
    });
    Ok(page(StatusCode::OK, &read.await?))
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::ledger::actor::Role;

    fn page(role: Role, year: Option<i16>, unit: Option<&str>) -> YearPage {
        YearPage::of(sample::frame(role, Part::Year), 2026, year, unit)
    }

    #[test]
    fn the_files_are_those_of_the_year_and_unit_asked_for() {
        let html = page(Role::Auditor, Some(2025), Some("kg"))
            .render()
            .unwrap();
        assert!(
            html.contains("/api/v1/reports/appliance-year.csv?year=2025&#38;unit=kg"),
            "{html}"
        );
        assert!(html.contains("/api/v1/reports/additions.csv?year=2025&#38;unit=kg"));
        assert!(html.contains("<option selected>2025</option>"));
    }

    #[test]
    fn a_year_or_unit_nobody_has_is_the_usual_one() {
        for (year, unit) in [
            (None, None),
            (Some(3000), Some("stone")),
            (Some(-5), Some("")),
        ] {
            let shown = page(Role::Auditor, year, unit);
            assert_eq!((shown.year, shown.unit), (2026, "lb"));
        }
        let html = page(Role::Technician, None, None).render().unwrap();
        assert!(!html.contains(".csv"), "{html}");
        assert!(html.contains("Ask the compliance manager."));
    }
}
