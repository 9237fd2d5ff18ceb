//! The year: which reports there are, what each is for, who asks for it, and where to take it.

use super::figures;
use super::frame::Frame;
use super::frame::{Around, Part};
use super::way::{Visit, page};
use crate::actions::permit::Deed;
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;
use reports::sheet::{About, Report};

/// Units a sheet can be asked in.
const UNITS: [&str; 4] = ["lb", "kg", "g", "ug"];

/// Decimal signs of files for spreadsheets, and how a spreadsheet of such a country writes a number.
const DECIMALS: [(&str, &str); 2] = [("point", "7.25"), ("comma", "7,25")];

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
    /// The decimal sign in files for spreadsheets.
    pub decimal: &'static str,
    /// May the reader take them?
    pub may_export: bool,
    /// The sheets.
    pub sheets: Vec<SheetRow>,
}

/// A report.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SheetRow {
    /// What is said of it.
    pub about: About,
    /// The day on which things stand as it says; empty: the whole year.
    pub stands_on: String,
    /// Its address.
    pub href: String,
    /// The name of the file.
    pub file: String,
    /// Where the file for a spreadsheet is.
    pub spreadsheet: String,
    /// Where its evidence is: which entry gave what to which figure.
    pub evidence: String,
    /// Where its columns are described.
    pub description: String,
}

impl SheetRow {
    /// The row of a report; `today` is asked for where how things stand matters and the year runs.
    fn of(report: Report, year: i16, unit: &str, decimal: &str, today: Day) -> SheetRow {
        let about = report.about();
        let runs = report.is_of_a_day() && i32::from(year) == today.ymd().0;
        let on = if runs {
            format!("&on={today}")
        } else {
            String::new()
        };
        let address = |ending: &str| {
            let name = about.word;
            format!("/api/v1/reports/{name}{ending}?year={year}&unit={unit}{on}")
        };
        SheetRow {
            stands_on: if runs {
                figures::day(today)
            } else {
                String::new()
            },
            href: address(".csv"),
            file: format!("{}-{year}.csv", about.word),
            spreadsheet: format!("{}&for=spreadsheet&decimal={decimal}", address(".csv")),
            evidence: address(".evidence.csv"),
            description: format!("{}&describes=file", address(".csv-metadata.json")),
            about,
        }
    }
}

impl YearPage {
    /// The page of a year; `today` bounds the years that are offered.
    pub fn of(
        frame: Frame,
        today: Day,
        year: Option<i16>,
        (unit, decimal): (Option<&str>, Option<&str>),
    ) -> YearPage {
        let this_year = i16::try_from(today.ymd().0).unwrap_or(i16::MAX);
        let year = year
            .filter(|year| (1990..=this_year).contains(year))
            .unwrap_or(this_year);
        let unit = (UNITS.into_iter())
            .find(|known| Some(*known) == unit)
            .unwrap_or("lb");
        let decimal = (DECIMALS.into_iter().map(|(word, _)| word))
            .find(|known| Some(*known) == decimal)
            .unwrap_or("point");
        let mut years: Vec<i16> = (0..10).map(|back| this_year - back).collect();
        if !years.contains(&year) {
            years.push(year);
        }
        let sheet = |report: Report| SheetRow::of(report, year, unit, decimal, today);
        YearPage {
            may_export: frame.may(Deed::Report),
            frame,
            year,
            years: years.into_iter().map(|one| (one, one == year)).collect(),
            unit,
            decimal,
            sheets: Report::ALL.into_iter().map(sheet).collect(),
        }
    }
}

/// `GET /year`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let around = Around::of(&visit)?;
    let query = &visit.asked.query;
    let year = query.text("year").and_then(|year| year.parse().ok());
    let unit = query.text("unit").map(str::to_string);
    let decimal = query.text("decimal").map(str::to_string);
    let read = visit.asked.read(move |state| {
        let (frame, today, _) = around.read(state, Part::Year)?;
        let choices = (unit.as_deref(), decimal.as_deref());
        Ok(YearPage::of(frame, today, year, choices))
    });
    Ok(page(StatusCode::OK, &read.await?))
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::ledger::actor::Role;

    fn page(role: Role, year: Option<i16>, unit: Option<&str>) -> YearPage {
        let today = Day::parse("2026-11-26").expect("a day");
        YearPage::of(sample::frame(role, Part::Year), today, year, (unit, None))
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
        // A year that is over needs no day; each report has four files.
        assert!(!html.contains("on=2026"), "{html}");
        assert_eq!(html.matches("/api/v1/reports/").count(), 4 * 8);
        let both = "kg&#38;for=spreadsheet&#38;decimal=point";
        assert!(
            html.contains(both) && html.contains("kg&#38;describes=file"),
            "{html}"
        );
    }

    #[test]
    fn how_things_stand_is_asked_for_today_while_the_year_runs() {
        let html = page(Role::Auditor, None, None).render().unwrap();
        let dated = "follow-ups.csv?year=2026&#38;unit=lb&#38;on=2026-11-26";
        assert!(html.contains(dated), "{html}");
        assert!(html.contains("appliance-year.csv?year=2026&#38;unit=lb\""));
        assert!(html.contains("82.157(d)") && html.contains("Who asks for it"));
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
