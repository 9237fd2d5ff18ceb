//! The owner's service record: what was done at a visit, on one sheet of paper.
//!
//! It says each thing that 40 CFR 82.157(l)(2), (3) and (5) name for a visit, an inspection and a
//! test, as far as the book knows it; what the book does not know is said in words and left for a
//! pen. Its code follows from the prints of its entries, so a sheet and the book can be compared.

#[cfg(feature = "pdf")]
mod pdf;
mod rows;

use super::appliance::standing_and_duties;
use super::duty::DutyLine;
use super::frame::Seal;
use super::loss::LossPicture;
use super::picture::Picture;
use super::qr::{self, Square};
use super::standing::StandingLine;
use super::way::{Visit, page};
use super::worked::Worked;
use super::{figures, words};
use crate::actions::code;
use crate::actions::show::lines::Line;
use crate::actions::show::record::{self, Record, on};
use crate::actions::show::things::ThingShown;
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::standing::{AdditionShown, Standing};
use rows::{MovedRow, StepRow, net};

/// What is owed that fits on the sheet.
const MOST_OWED: usize = 5;
/// Entries of a visit that leave room for a drawing on one sheet: the law asks for the lines, not for it.
const MOST_BESIDE_A_PICTURE: usize = 2;

/// Who signs the sheet, each with a line above.
const SIGN: [&str; 2] = [
    "Technician: name, signature, date",
    "Owner, or who stands for the owner: name, signature, date",
];

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "record.html")]
pub struct RecordPage {
    /// The contractor.
    pub contractor: String,
    /// The owner.
    pub owner: String,
    /// The appliance's tag.
    pub tag: String,
    /// The day of the work.
    pub day: String,
    /// Owner, site, place, appliance.
    pub of: Vec<(&'static str, String)>,
    /// When, by whom, full charge, booked.
    pub done: Vec<(&'static str, String)>,
    /// What was moved.
    pub moved: Vec<MovedRow>,
    /// What the visit comes to, where more than one mass moved.
    pub net: Option<MovedRow>,
    /// What was done without a weight.
    pub steps: Vec<StepRow>,
    /// The standing after this visit; none: nothing was added.
    pub standing: Option<StandingLine>,
    /// The arithmetic.
    pub worked: Option<Worked>,
    /// By which method.
    pub method: String,
    /// Two years of the appliance, drawn; none: nothing happened that it could show.
    pub loss: Option<Picture>,
    /// What is owed.
    pub owed: Vec<DutyLine>,
    /// How many more duties stand in the book.
    pub more: usize,
    /// The code of this record.
    pub code: String,
    /// Its square.
    pub square: Square,
    /// Numbers and prints of the entries.
    pub prints: String,
    /// What the newest checkpoint says of them.
    pub seal: String,
    /// Corrections since.
    pub corrected: String,
    /// The receipt.
    pub back: String,
    /// Its own address.
    pub own: String,
}

fn or_not_known(known: Option<String>) -> String {
    let known = known.filter(|text| !text.trim().is_empty());
    known.unwrap_or_else(|| "not known to the book".to_string())
}

fn word(thing: &ThingShown, name: &str, day: &str) -> Option<String> {
    on(thing, name, day)?.as_str().map(str::to_string)
}

impl RecordPage {
    /// Was the program built with PDF?
    fn has_pdf(&self) -> bool {
        cfg!(feature = "pdf")
    }

    /// The page of a record; `named`: the entry it was asked by, `link`: where it is found again.
    pub fn of(record: &Record, contractor: &str, named: &str, link: &str) -> RecordPage {
        let in_force = record
            .lines
            .iter()
            .filter(|line| line.corrected_by.is_none());
        let last = in_force.max_by_key(|line| line.seq).or(record.lines.last());
        let day = last.map(|line| line.day.clone()).unwrap_or_default();
        let (thing, standing) = (&record.overview.thing, &record.overview.standing);
        let owner = or_not_known(record.owner.as_ref().map(name_of));
        let added = addition(record, standing);
        let (line, duties) = standing_and_duties(&thing.tag, standing);
        let owed: Vec<DutyLine> = duties
            .into_iter()
            .filter(|duty| !["done", "waived"].contains(&duty.class))
            .collect();
        let hashes: Vec<[u8; 32]> = record.lines.iter().map(|line| line.hash).collect();
        RecordPage {
            contractor: contractor.to_string(),
            tag: thing.tag.clone(),
            day: figures::day_text(&day),
            of: of_what(record, &owner, &day),
            done: by_whom(record, &day),
            moved: record.lines.iter().flat_map(MovedRow::all).collect(),
            net: net(record),
            steps: record.lines.iter().filter_map(StepRow::of).collect(),
            standing: added.map(|at| line_at(&thing.tag, standing, at).unwrap_or(line)),
            worked: added.and_then(|at| Worked::of_addition(standing, &standing.additions[at])),
            method: added.map_or(String::new(), |at| method(&standing.additions[at])),
            loss: (record.overview.course.as_ref())
                .filter(|_| record.lines.len() <= MOST_BESIDE_A_PICTURE)
                .and_then(|course| LossPicture::of(&thing.tag, standing, course))
                .map(|loss| loss.picture),
            more: owed.len().saturating_sub(MOST_OWED),
            owed: owed.into_iter().take(MOST_OWED).collect(),
            code: code::grouped(&code::of_record(&hashes)),
            square: qr::square(link).unwrap_or_default(),
            prints: prints(record),
            seal: seal(record),
            corrected: corrected(record),
            back: format!("/entries/{named}"),
            own: format!("/r/{named}"),
            owner,
        }
    }
}

fn name_of(thing: &ThingShown) -> String {
    let name = super::appliances::fact(thing, "name");
    name.unwrap_or(&thing.tag).to_string()
}

/// What the record is about.
fn of_what(record: &Record, owner: &str, day: &str) -> Vec<(&'static str, String)> {
    let thing = &record.overview.thing;
    let site = record.site.as_ref().map(|site| {
        let address = word(site, "place", day);
        let address = address.unwrap_or_else(|| "address not known to the book".to_string());
        format!("{}, {address}", name_of(site))
    });
    let category = word(thing, "category", day).map(|category| words::plain(&category));
    let appliance = format!(
        "{}{}",
        or_not_known(category),
        word(thing, "serial", day).map_or(String::new(), |serial| format!(", serial {serial}"))
    );
    vec![
        ("Owner", owner.to_string()),
        ("Site", or_not_known(site)),
        ("Place", or_not_known(word(thing, "place", day))),
        ("Appliance", appliance),
        ("Refrigerant", or_not_known(word(thing, "refrigerant", day))),
    ]
}

/// When and by whom it was done.
fn by_whom(record: &Record, day: &str) -> Vec<(&'static str, String)> {
    let zone = record
        .site
        .as_ref()
        .and_then(|site| word(site, "zone", day));
    let zone = zone.map_or(String::new(), |zone| format!(", {zone}"));
    let who = |person: &ThingShown| {
        let (number, class) = (
            word(person, "serial", day),
            word(person, "certificate_class", day),
        );
        let certificate = match (number, class) {
            (Some(number), Some(class)) => {
                format!("certificate {number}, {}", words::plain(&class))
            }
            (Some(number), None) => format!("certificate {number}"),
            _ => "certificate not known here".to_string(),
        };
        format!("{}, {certificate}", name_of(person))
    };
    let mut by: Vec<String> = record.people.iter().map(who).collect();
    if by.is_empty() {
        by.extend(record.lines.first().map(|line| line.by.clone()));
    }
    let late = match record.lines.iter().any(|line| line.late) {
        true => "; late",
        false => "; not late",
    };
    let booked = record
        .lines
        .iter()
        .map(|line| line.booked_at.as_str())
        .max();
    let booked = booked.map(|at| format!("{}{late}", figures::instant(at)));
    vec![
        ("Serviced", format!("{}{zone}", figures::day_text(day))),
        ("By", or_not_known(Some(by.join("; ")))),
        ("Full charge", full_charge(record)),
        ("Booked", or_not_known(booked)),
    ]
}

fn full_charge(record: &Record) -> String {
    let facts = super::appliance::facts(&record.overview);
    let known = record.overview.standing.full_charge.is_some();
    let text = facts.into_iter().next().map(|fact| fact.value);
    or_not_known(text.filter(|_| known))
}

/// The newest addition of the standing that an entry of the record is part of.
fn addition(record: &Record, standing: &Standing) -> Option<usize> {
    let own = |addition: &AdditionShown| {
        let in_it = |line: &Line| addition.entries.contains(&line.seq);
        record.lines.iter().any(in_it)
    };
    standing.additions.iter().rposition(own)
}

/// The standing as it was with this addition as the newest.
fn line_at(tag: &str, standing: &Standing, at: usize) -> Option<StandingLine> {
    let mut then = standing.clone();
    then.additions.truncate(at + 1);
    let day = then.additions.last()?.day.clone();
    then.exceedances.retain(|passed| passed.on <= day);
    Some(StandingLine::of(tag, &then))
}

fn method(addition: &AdditionShown) -> String {
    match addition.method {
        "rolling" => "By the rolling-average method: what went in within 365 days.",
        _ => "By the annualising method: from the addition before to this one.",
    }
    .to_string()
}

fn prints(record: &Record) -> String {
    let print = |line: &Line| {
        let print = figures::print(&line.hash, 16);
        format!("no. {} {print}", figures::number(line.seq))
    };
    let prints: Vec<String> = record.lines.iter().map(print).collect();
    prints.join(", ")
}

fn seal(record: &Record) -> String {
    let newest = record.lines.iter().map(|line| line.seq).max();
    let Some((size, note)) = &record.checkpoint else {
        return "No checkpoint is signed yet.".to_string();
    };
    let Some(seal) = Seal::of(note) else {
        return "The newest checkpoint cannot be read.".to_string();
    };
    let covered = newest.is_some_and(|newest| newest < *size);
    let covers = match covered {
        true => "covers them",
        false => "is older than they are; the next one covers them",
    };
    format!(
        "Checkpoint of {} entries, root {}, {covers}.",
        seal.size, seal.root
    )
}

fn corrected(record: &Record) -> String {
    let pair = |old: u64, new: u64, annuls: bool| {
        let (old, new) = (figures::number(old), figures::number(new));
        let how = if annuls { "taken back" } else { "replaced" };
        format!("no. {old} is {how} by no. {new}")
    };
    let is_here = |seq: u64| record.lines.iter().any(|line| line.seq == seq);
    // A correction says who made it and why; an entry only which correction it has.
    let by: Vec<String> = (record.lines.iter())
        .filter_map(|line| match (line.corrects, line.corrected_by) {
            (Some(old), _) => {
                let said = super::lines::correcting(line).unwrap_or_default();
                Some(format!("{}, {said}", pair(old, line.seq, line.annuls)))
            }
            (None, Some(new)) if !is_here(new) => Some(pair(line.seq, new, false)),
            _ => None,
        })
        .collect();
    match by.is_empty() {
        true => "No corrections so far.".to_string(),
        false => format!("Corrected: {}.", by.join("; ")),
    }
}

/// `GET /r/{id}`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    Ok(page(StatusCode::OK, &read(&visit).await?))
}

/// `GET /r/{id}/pdf`: the record as a file; `paper` is letter or a4.
#[cfg(feature = "pdf")]
pub async fn file(visit: Visit) -> Result<HttpResponse, Problem> {
    let paper = visit.asked.query.word("paper", &["letter", "a4"])?;
    let record = read(&visit).await?;
    let name = format!("inline; filename=\"record-{}.pdf\"", record.code);
    let mut answer = HttpResponse::Ok();
    answer.content_type("application/pdf");
    answer.insert_header(("Content-Disposition", name));
    Ok(answer.body(pdf::bytes(&record, pdf::Paper::named(Some(paper)))))
}

/// `GET /r/{id}/pdf` of a program that was built without it.
#[cfg(not(feature = "pdf"))]
pub async fn file(_: Visit) -> Result<HttpResponse, Problem> {
    let detail = "This program was built without PDF. Open the record and print it instead.";
    Err(Problem::new("not-found", detail))
}

async fn read(visit: &Visit) -> Result<RecordPage, Problem> {
    let by = visit.by()?;
    let (of, sees, asks) = (by.signed_in.of.clone(), by.sees(), by.signed_in.person);
    let (name, now) = (visit.asked.name("id").to_string(), visit.asked.now);
    let origin = super::way::origin(visit);
    let read = visit.asked.read(move |state| {
        let read = |db: &mut _| record::of_entry(db, &of, &name, sees, asks, now);
        let record = state.desk.read(read)?;
        let link = format!("{origin}/r/{name}");
        Ok(RecordPage::of(&record, &of.name, &name, &link))
    });
    read.await
}

#[cfg(test)]
mod tests;
