//! Reports: gathers what a sheet needs, in one read transaction, and streams its rows.

mod sheets;
mod stock;
#[cfg(feature = "xlsx")]
mod workbook;

use super::refusal::{ActionError, Refusal};
use super::rules_in_force::InForce;
use crate::ledger::id::Id;
use crate::store::book::Adopted;
use crate::store::db::Db;
use crate::store::open::{Organisation, size};
use crate::store::scan::last_booked_by;
use crate::store::tx::read_adopted;
use crate::store::{Sight, StoreError};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use reports::day::{Day, Zone};
use reports::leak_rate::{Method, Netting};
use reports::refrigerant::Table;
use reports::rules::{Problem, RuleFile};
pub use reports::sheet::Report as ReportName;
use reports::sheet::{Designations, Options, Summary};
use sheets::Making;
use std::io::{self, Write};
pub use stock::{AT_ONCE, balances};
#[cfg(feature = "xlsx")]
pub use workbook::workbook;

/// Up to where the book is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AsOf {
    /// Up to and including this entry.
    Number(u64),
    /// Up to the last entry booked by this moment, microseconds since 1970.
    Instant(i64),
}

/// What is asked of a report.
pub struct ReportAsked {
    /// Which.
    pub name: ReportName,
    /// Year, unit, netting, method.
    pub options: Options,
    /// Files to judge by instead of what was adopted: file and its text.
    pub rules: Option<Vec<(RuleFile, String)>>,
    /// Where the book is cut.
    pub as_of: Option<AsOf>,
}

/// What is said beside a report.
#[derive(Debug)]
pub struct ReportTold {
    /// Rows and what could not be judged.
    pub summary: Summary,
    /// Last entry that was read.
    pub as_of: Option<u64>,
    /// Root over the entries read, base64.
    pub root: String,
    /// Rule sets by id and version.
    pub sets: Vec<(String, String)>,
    /// Adopted layers that do not fit their set and judged nothing, each in a sentence.
    pub left_off: Vec<String>,
    name: ReportName,
    options: Options,
}

impl ReportTold {
    /// Its description in the words of CSV on the Web; `url`: where the report lies, as seen from
    /// where the description will.
    pub fn description(&self, url: &str) -> String {
        use reports::sheet::metadata::{Provenance, document};
        let provenance = Provenance {
            as_of: self.as_of,
            root_hash: &self.root,
            rule_sets: &self.sets,
            unconfirmed: self.summary.unconfirmed,
        };
        let columns = self.name.header(self.options.unit);
        document(url, &columns, self.name.key(), &self.options, &provenance)
    }
}

impl From<io::Error> for ActionError {
    fn from(error: io::Error) -> ActionError {
        ActionError::Failed(StoreError::Output(error.to_string()))
    }
}

struct Named<'t>(&'t Table);

impl Designations for Named<'_> {
    fn designation(&self, code: u16) -> &str {
        self.0.designation(code).unwrap_or("unknown")
    }
}

/// Refuses a workbook: this program was built without them.
#[cfg(not(feature = "xlsx"))]
pub fn workbook(
    _: &mut Db,
    _: &Organisation,
    _: ReportAsked,
    _: &mut dyn Write,
) -> Result<ReportTold, ActionError> {
    let expected = "a report as CSV: this program was built without workbooks";
    let advice = "Take the CSV for a spreadsheet instead.";
    Err(Refusal::invalid("/as", expected, "xlsx", advice).into())
}

/// Writes a report to `out`, and its evidence where asked.
pub fn report<W: Write>(
    db: &mut Db,
    of: &Organisation,
    asked: ReportAsked,
    out: W,
    evidence: Option<&mut dyn Write>,
) -> Result<ReportTold, ActionError> {
    db.begin_reading_for(Sight::Organisations(&[of.org]))
        .map_err(StoreError::from)?;
    let told = read_and_write(db, of, asked, out, evidence);
    // A read transaction leaves nothing to keep.
    let _ = db.rollback();
    told
}

fn read_and_write<W: Write>(
    db: &mut Db,
    of: &Organisation,
    asked: ReportAsked,
    mut out: W,
    mut evidence: Option<&mut dyn Write>,
) -> Result<ReportTold, ActionError> {
    let evidence = evidence.as_mut().map(|out| out as &mut dyn Write);
    in_its_year(&asked.options)?;
    let entries = size(db, of.org)?;
    let cut = cut(db, of, asked.as_of, entries)?;
    let known = cut.unwrap_or(0);
    let adopted = read_adopted(db, of.org, known)?;
    let mut options = asked.options;
    // Without a day that was asked for, a report of a day stops at that of the newest entry: the
    // same book gives the same bytes on any day.
    let stops = asked.as_of.is_some() || (asked.name.is_of_a_day() && options.cut.is_none());
    if stops && cut.is_some() {
        let day = cut_day(db, of, known, &adopted)?;
        options.cut = Some(options.cut.map_or(day, |asked| asked.min(day)));
    }
    options.netting = options
        .netting
        .or_else(|| netting(&adopted, options.last_day()));
    // Everything the sheets borrow is declared before them.
    let in_force = match asked.rules {
        Some(files) => InForce::of_files(files)?,
        None => InForce::of_book(db, of.org, &adopted)?,
    };
    let versions = in_force.versions.clone();
    let left_off = in_force.left_off.iter().map(ToString::to_string).collect();
    let ready = in_force.judge().map_err(unusable)?;
    let making = Making {
        db: &mut *db,
        of,
        known,
        adopted: &adopted,
        options,
        judge: ready.judge(),
    };
    let summary = making.write(asked.name, &mut out, evidence)?;
    let ids = ready.judge().sets().map(|set| set.id.clone());
    let sets: Vec<(String, String)> = ids.zip(versions).collect();
    let root = STANDARD.encode(crate::store::log::root(
        db,
        of.org,
        cut.map_or(0, |cut| cut + 1),
    )?);
    Ok(ReportTold {
        summary,
        as_of: cut,
        root,
        sets,
        left_off,
        name: asked.name,
        options,
    })
}

fn unusable(problems: Vec<Problem>) -> Refusal {
    let lines: Vec<String> = problems.iter().map(ToString::to_string).collect();
    Refusal::InvalidValue {
        pointer: "/rules".to_string(),
        detail: lines.join("\n"),
    }
}

/// Refuses a last day that is none of the year asked for.
fn in_its_year(options: &Options) -> Result<(), Refusal> {
    match options.cut {
        Some(day) if i32::from(options.year) != day.ymd().0 => {
            let expected = format!("a day of the year {}", options.year);
            let advice = "Ask for the year of that day.";
            Err(Refusal::invalid("/on", &expected, &day.to_string(), advice))
        }
        _ => Ok(()),
    }
}

/// The last entry that is read; `None`: nothing at all.
fn cut(
    db: &mut Db,
    of: &Organisation,
    as_of: Option<AsOf>,
    entries: u64,
) -> Result<Option<u64>, ActionError> {
    match as_of {
        None => Ok(entries.checked_sub(1)),
        Some(AsOf::Number(number)) if number < entries => Ok(Some(number)),
        Some(AsOf::Number(number)) => {
            let newest = entries.saturating_sub(1);
            let expected = format!("an entry of the book of {} (newest: no. {newest})", of.name);
            Err(Refusal::invalid("/as_of", &expected, &number.to_string(), "").into())
        }
        Some(AsOf::Instant(moment)) => Ok(last_booked_by(db, of.org, moment)?),
    }
}

/// The local day on which the last entry read was booked.
fn cut_day(
    db: &mut Db,
    of: &Organisation,
    cut: u64,
    adopted: &Adopted,
) -> Result<Day, ActionError> {
    let booked_at = crate::store::scan::booked_at(db, of.org, cut)?;
    let far = Day::from_count(i32::MAX / 2);
    let zone = Zone::named(adopted.setting("zone", far).unwrap_or("UTC"));
    let instant = jiff::Timestamp::from_microsecond(booked_at).unwrap_or_default();
    Ok(zone.map_or(Day::from_count(0), |zone| zone.day(instant)))
}

/// The netting the organisation has set, where it has.
pub fn netting(adopted: &Adopted, on: Day) -> Option<Netting> {
    match adopted.setting("netting", on)? {
        "visit" => Some(Netting::Visit),
        "gross" => Some(Netting::Gross),
        "returned" => Some(Netting::Returned),
        _ => None,
    }
}

/// The dated methods of a site: its own, else those given for all.
pub fn methods(adopted: &Adopted, site: Option<Id>) -> Vec<(Day, Method)> {
    let of = |wanted: Option<Id>| {
        let mut list: Vec<(Day, Method)> = Vec::new();
        for (known, from, word) in &adopted.methods {
            if *known == wanted {
                let method = match word.as_str() {
                    "rolling" => Method::Rolling,
                    _ => Method::Annualising,
                };
                list.retain(|(day, _)| day != from);
                list.push((*from, method));
            }
        }
        list.sort_by_key(|(day, _)| *day);
        list
    };
    let own = if site.is_some() { of(site) } else { Vec::new() };
    if own.is_empty() { of(None) } else { own }
}
