//! Reports as files: the CSV for programs or for spreadsheets, its description, its evidence;
//! and all of it as a workbook.

use super::answer::Asked;
use super::problem::Problem;
use super::query::{Query, invalid};
use super::stream;
use crate::actions::permit::Deed;
use crate::actions::report::{self, AsOf, ReportAsked, ReportName};
use crate::actions::show;
use actix_web::HttpResponse;
use reports::leak_rate::{Method, Netting};
use reports::mass::Unit;
use reports::refrigerant::Basis;
use reports::sheet::{Decimal, Dialect, Options, Separator};
use std::io;

const CSV: &str = "text/csv; charset=utf-8; header=present";
/// ISO/IEC 29500-1, as registered at IANA.
pub(super) const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/// `GET /api/v1/reports/{name}.csv`.
pub async fn csv(asked: Asked) -> Result<HttpResponse, Problem> {
    let (of, mut what) = (asked.by()?.signed_in.of.clone(), question(&asked)?);
    what.options.dialect = dialect(&asked.query)?;
    asked.record(Deed::Report, "report", about(&asked)).await?;
    let mut answer = file(&asked, what.options.dialect, ".csv");
    if !what.options.dialect.is_for_spreadsheets() {
        // CSV on the Web (W3C), section 5.2: the description is found by this link.
        let described = asked.path().strip_suffix(".csv").unwrap_or_default();
        let query = plain_query(&asked);
        let link = format!(
            "<{described}.csv-metadata.json?{query}>; rel=\"describedby\"; \
             type=\"application/csvm+json\""
        );
        answer.insert_header(("Link", link));
    }
    stream::answer(&asked, answer, move |db, out| {
        report::report(db, &of, what, out, None).map(|_| ())
    })
    .await
}

/// `GET /api/v1/reports/{name}.evidence.csv`.
pub async fn evidence(asked: Asked) -> Result<HttpResponse, Problem> {
    let (of, mut what) = (asked.by()?.signed_in.of.clone(), question(&asked)?);
    what.options.dialect = dialect(&asked.query)?;
    asked
        .record(Deed::Report, "report_evidence", about(&asked))
        .await?;
    let answer = file(&asked, what.options.dialect, ".evidence.csv");
    stream::answer(&asked, answer, move |db, mut out| {
        report::report(db, &of, what, io::sink(), Some(&mut out)).map(|_| ())
    })
    .await
}

/// `GET /api/v1/reports/{name}.csv-metadata.json`.
pub async fn metadata(asked: Asked) -> Result<HttpResponse, Problem> {
    let (of, what) = (asked.by()?.signed_in.of.clone(), question(&asked)?);
    asked
        .record(Deed::Report, "report_metadata", about(&asked))
        .await?;
    let mut answer = HttpResponse::Ok();
    answer.content_type("application/csvm+json");
    let saved = saved_as(&asked, Dialect::Programs, ".csv");
    answer.insert_header(attached(&format!("{saved}-metadata.json")));
    // Seen from the description: beside it under the report's address, or as both are saved.
    let url = match asked.query.word("describes", &["address", "file"])? {
        "file" => saved,
        _ => format!("{}.csv?{}", what.name.word(), plain_query(&asked)),
    };
    stream::answer(&asked, answer, move |db, out| {
        let told = report::report(db, &of, what, io::sink(), None)?;
        Ok(out.write_all(told.description(&url).as_bytes())?)
    })
    .await
}

/// `GET /api/v1/reports/{name}.xlsx`: the table, its evidence and what both are, in one workbook.
pub async fn workbook(asked: Asked) -> Result<HttpResponse, Problem> {
    let (of, what) = (asked.by()?.signed_in.of.clone(), question(&asked)?);
    asked
        .record(Deed::Report, "report_workbook", about(&asked))
        .await?;
    let mut answer = HttpResponse::Ok();
    answer.content_type(XLSX);
    answer.insert_header(attached(&saved_as(&asked, Dialect::Programs, ".xlsx")));
    stream::answer(&asked, answer, move |db, out| {
        report::workbook(db, &of, what, out).map(|_| ())
    })
    .await
}

/// What the record of an export says: which report of which year.
fn about(asked: &Asked) -> String {
    format!(
        "{} {}",
        asked.name("name"),
        asked.query.text("year").unwrap_or_default()
    )
}

fn file(asked: &Asked, dialect: Dialect, ending: &str) -> actix_web::HttpResponseBuilder {
    let mut answer = HttpResponse::Ok();
    answer.content_type(CSV);
    answer.insert_header(attached(&saved_as(asked, dialect, ending)));
    answer
}

fn attached(name: &str) -> (&'static str, String) {
    let disposition = format!("attachment; filename=\"{name}\"");
    ("Content-Disposition", disposition)
}

/// The name under which a browser saves a file; the two kinds of CSV never overwrite one another.
fn saved_as(asked: &Asked, dialect: Dialect, ending: &str) -> String {
    let year = asked.query.text("year").unwrap_or_default();
    let kind = match dialect.is_for_spreadsheets() {
        true => ".spreadsheet",
        false => "",
    };
    format!("{}-{year}{kind}{ending}", asked.name("name"))
}

/// The query without members that say only how a description is written: a report and its
/// description name each other by the same one.
fn plain_query(asked: &Asked) -> String {
    let members = asked.request.query_string().split('&');
    let plain = members.filter(|member| !member.starts_with("describes="));
    plain.collect::<Vec<_>>().join("&")
}

/// For whom the file is written.
fn dialect(query: &Query) -> Result<Dialect, Problem> {
    let (separator, decimal) = (
        query.word("separator", &["", "comma", "semicolon"])?,
        query.word("decimal", &["", "point", "comma"])?,
    );
    if query.word("for", &["programs", "spreadsheet"])? == "programs" {
        return match (separator, decimal) {
            ("", "") => Ok(Dialect::Programs),
            ("", came) => Err(invalid("decimal", "for=spreadsheet beside it", came)),
            (came, _) => Err(invalid("separator", "for=spreadsheet beside it", came)),
        };
    }
    let decimal = match decimal {
        "comma" => Decimal::Comma,
        _ => Decimal::Point,
    };
    let separator = match separator {
        "comma" => Some(Separator::Comma),
        "semicolon" => Some(Separator::Semicolon),
        _ => None,
    };
    Dialect::spreadsheet(separator, decimal).ok_or_else(|| {
        let expected = "separator=semicolon beside decimal=comma: a comma cannot be both";
        invalid("separator", expected, "comma")
    })
}

fn question(asked: &Asked) -> Result<ReportAsked, Problem> {
    let query = &asked.query;
    let word = asked.name("name");
    let name = ReportName::named(&word).ok_or_else(|| show::unknown("report", &word))?;
    let year = query.text("year").unwrap_or_default();
    let parsed = year
        .parse::<i16>()
        .ok()
        .filter(|number| (1..=9999).contains(number));
    let year = parsed.filter(|number| number.to_string() == year);
    let year = year.ok_or_else(|| {
        let came = query.text("year").unwrap_or_default();
        invalid("year", "a year from 1 to 9999", came)
    })?;
    let mut options = Options::of_year(year);
    options.unit = match query.word("unit", &["lb", "kg", "g", "ug"])? {
        "kg" => Unit::Kilogram,
        "g" => Unit::Gram,
        "ug" => Unit::Microgram,
        _ => Unit::Pound,
    };
    options.method = match query.word("method", &["", "annualising", "rolling"])? {
        "annualising" => Some(Method::Annualising),
        "rolling" => Some(Method::Rolling),
        _ => None,
    };
    options.netting = match query.word("netting", &["", "visit", "gross", "returned"])? {
        "visit" => Some(Netting::Visit),
        "gross" => Some(Netting::Gross),
        "returned" => Some(Netting::Returned),
        _ => None,
    };
    options.cut = query.day("on")?;
    let mut bases = vec![""];
    bases.extend(Basis::ALL.map(Basis::word));
    options.basis = Basis::from_word(query.word("gwp_basis", &bases)?);
    Ok(ReportAsked {
        name,
        options,
        rules: None,
        as_of: as_of(query)?,
    })
}

fn as_of(query: &Query) -> Result<Option<AsOf>, Problem> {
    let Some(text) = query.text("as_of") else {
        return Ok(None);
    };
    if text.bytes().all(|byte| byte.is_ascii_digit()) {
        return Ok(query.number("as_of")?.map(AsOf::Number));
    }
    let instant = text.parse::<jiff::Timestamp>().map_err(|_| {
        let expected = "the number of an entry, or an instant such as 2026-01-31T23:59:59Z";
        invalid("as_of", expected, text)
    })?;
    Ok(Some(AsOf::Instant(instant.as_microsecond())))
}
