//! The year: which reports there are, what each is for, who asks for it, and where to take it.

mod drawing;
mod mass;

use super::figures;
use super::frame::Frame;
use super::frame::{Around, Part};
use super::way::{Visit, page};
use crate::actions::permit::Deed;
use crate::actions::report::balances;
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use mass::MassOfYear;
use reports::day::Day;
use reports::sheet::mass_balance::Balance;
use reports::sheet::{About, Options, Report};

/// Units a sheet can be asked in.
const UNITS: [&str; 4] = ["lb", "kg", "g", "ug"];

/// Decimal signs of files for spreadsheets, and how a spreadsheet of such a country writes a number.
const DECIMALS: [(&str, &str); 2] = [("point", "7.25"), ("comma", "7,25")];

/// Whether this program makes workbooks.
const WORKBOOKS: bool = cfg!(feature = "xlsx");

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
    /// The year of mass of one refrigerant.
    pub mass: Mass,
}

/// What the page shows of the mass of the year.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Mass {
    /// Nothing: the reader's role does not take yearly figures.
    NotYours,
    /// Nothing yet: the book is large, so it is worked out where it is asked for, at this address.
    Ask(String),
    /// Nothing moved.
    None,
    /// The picture.
    Drawn(Box<MassOfYear>),
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
    /// Where the workbook is; empty: this program makes none.
    pub workbook: String,
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
            workbook: match WORKBOOKS {
                true => address(".xlsx"),
                false => String::new(),
            },
            evidence: address(".evidence.csv"),
            description: format!("{}&describes=file", address(".csv-metadata.json")),
            about,
        }
    }
}

impl YearPage {
    /// The page of a year; `today` bounds the years that are offered.
    pub fn of(frame: Frame, today: Day, asked: &AskedYear) -> YearPage {
        let (year, unit, decimal) = (asked.of(today), asked.unit(), asked.decimal());
        let this_year = i16::try_from(today.ymd().0).unwrap_or(i16::MAX);
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
            mass: Mass::NotYours,
        }
    }

    /// With the balances of the year; `None`: they were not worked out.
    fn with(mut self, balances: Option<&[Balance]>, refrigerant: Option<&str>) -> YearPage {
        let address = format!("/year?year={}&unit={}", self.year, self.unit);
        self.mass = match balances {
            None => Mass::Ask(format!("{address}&draw=yes#mass")),
            Some(all) => match MassOfYear::of(all, refrigerant, self.year, &address) {
                None => Mass::None,
                Some(drawn) => Mass::Drawn(Box::new(drawn)),
            },
        };
        self
    }
}

/// What was asked of the page.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AskedYear {
    /// The year.
    pub year: Option<i16>,
    /// The unit of the files.
    pub unit: Option<String>,
    /// The decimal sign of files for spreadsheets.
    pub decimal: Option<String>,
    /// The refrigerant whose year is drawn.
    pub refrigerant: Option<String>,
    /// Is it to be drawn, however large the book?
    pub draw: bool,
}

impl AskedYear {
    /// A year that can be; else this one.
    fn of(&self, today: Day) -> i16 {
        let this_year = i16::try_from(today.ymd().0).unwrap_or(i16::MAX);
        let known = self.year.filter(|year| (1990..=this_year).contains(year));
        known.unwrap_or(this_year)
    }

    fn unit(&self) -> &'static str {
        let known = UNITS
            .into_iter()
            .find(|known| Some(*known) == self.unit.as_deref());
        known.unwrap_or("lb")
    }

    fn decimal(&self) -> &'static str {
        let known = (DECIMALS.into_iter().map(|(word, _)| word))
            .find(|known| Some(*known) == self.decimal.as_deref());
        known.unwrap_or("point")
    }
}

/// `GET /year`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (around, of) = (Around::of(&visit)?, visit.by()?.signed_in.of.clone());
    let query = &visit.asked.query;
    let text = |name: &str| query.text(name).map(str::to_string);
    let asked = AskedYear {
        year: query.text("year").and_then(|year| year.parse().ok()),
        unit: text("unit"),
        decimal: text("decimal"),
        refrigerant: text("refrigerant"),
        draw: text("draw").is_some(),
    };
    let read = visit.asked.read(move |state| {
        let (frame, today, _) = around.read(state, Part::Year)?;
        let page = YearPage::of(frame, today, &asked);
        if !page.may_export {
            return Ok(page);
        }
        let options = Options::of_year(page.year);
        let anyway = asked.draw || asked.refrigerant.is_some();
        let found = (state.desk).read(|db| balances(db, &of, &options, anyway))?;
        Ok(page.with(found.as_deref(), asked.refrigerant.as_deref()))
    });
    Ok(page(StatusCode::OK, &read.await?))
}

#[cfg(test)]
mod tests;
