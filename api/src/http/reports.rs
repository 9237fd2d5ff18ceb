//! Reports as files: the machine's CSV, its description, its evidence.

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
use reports::sheet::Options;
use std::io;

const CSV: &str = "text/csv; charset=utf-8; header=present";

/// `GET /api/v1/reports/{name}.csv`.
pub async fn csv(asked: Asked) -> Result<HttpResponse, Problem> {
    let (of, what) = (asked.by()?.signed_in.of.clone(), question(&asked)?);
    asked.record(Deed::Report, "report", about(&asked)).await?;
    let mut answer = file(&asked, ".csv", CSV);
    // CSV on the Web (W3C), section 5.2: the description is found by this link.
    let described = asked.path().strip_suffix(".csv").unwrap_or_default();
    let query = asked.request.query_string();
    let link = format!(
        "<{described}.csv-metadata.json?{query}>; rel=\"describedby\"; \
         type=\"application/csvm+json\""
    );
    answer.insert_header(("Link", link));
    stream::answer(&asked, answer, move |db, out| {
        report::report(db, &of, what, out, None).map(|_| ())
    })
    .await
}

/// `GET /api/v1/reports/{name}.evidence.csv`.
pub async fn evidence(asked: Asked) -> Result<HttpResponse, Problem> {
    let (of, what) = (asked.by()?.signed_in.of.clone(), question(&asked)?);
    asked
        .record(Deed::Report, "report_evidence", about(&asked))
        .await?;
    let answer = file(&asked, ".evidence.csv", CSV);
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
    let answer = file(&asked, ".csv-metadata.json", "application/csvm+json");
    stream::answer(&asked, answer, move |db, out| {
        let told = report::report(db, &of, what, io::sink(), None)?;
        Ok(out.write_all(told.metadata.as_bytes())?)
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

fn file(asked: &Asked, ending: &str, media: &str) -> actix_web::HttpResponseBuilder {
    let (name, year) = (
        asked.name("name"),
        asked.query.text("year").unwrap_or_default(),
    );
    let mut answer = HttpResponse::Ok();
    answer.content_type(media);
    let disposition = format!("attachment; filename=\"{name}-{year}{ending}\"");
    answer.insert_header(("Content-Disposition", disposition));
    answer
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
