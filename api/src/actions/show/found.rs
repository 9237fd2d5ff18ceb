//! Findings as somebody works through them: with the entry that left each, its site, what stands
//! beside it in the book, and what was asked and answered when it was booked.
//!
//! An entry that a telephone booked without signal, or a file brought, was asked nothing: its
//! findings are the questions that nobody has answered yet.

use super::entries;
use super::findings::{self, FindingShown, key, key_of};
use super::lines::{self, Line};
use super::things::{self, Sort, ThingShown};
use super::{Page, Sees, reading, unknown};
use crate::actions::refusal::ActionError;
use crate::ledger::tree::sha256;
use crate::store::columns::PlaceNumber;
use crate::store::listing::{self, FindingKey, FindingRow, FindingsWanted};
use crate::store::open::Organisation;
use crate::store::{Db, StoreError, entries_about};
use reports::day::Day;
use serde_json::Value;

/// What is asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FoundAsked {
    /// Where an earlier page ended.
    pub after: String,
    /// Also those that are settled?
    pub settled: bool,
    /// Of this code only.
    pub code: String,
    /// About the cylinder or appliance with this tag or id only.
    pub thing: String,
    /// Of the site with this tag or id only.
    pub site: String,
    /// Of the highest grade only?
    pub high: bool,
    /// At most so many.
    pub most: usize,
}

/// A finding of a list.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The finding.
    pub finding: FindingShown,
    /// The entry that left it, as a line; none: it is not for who asks.
    pub line: Option<Line>,
    /// Tag of the site; empty: none is known.
    pub site: String,
}

/// One finding, with all that settling it needs.
#[derive(Clone, Debug, PartialEq)]
pub struct OneFound {
    /// It, once for each thing it is about.
    pub rows: Vec<FindingShown>,
    /// The entry that left it.
    pub line: Line,
    /// Was it booked without signal?
    pub offline: bool,
    /// The answer that was given, `as_stated` and the like.
    pub answer: Option<String>,
    /// The appliances and cylinders it is about.
    pub things: Vec<ThingShown>,
    /// What looks like it and what corrects it, then what was booked before and since.
    pub beside: Vec<(Beside, Line)>,
    /// The entry that settled it.
    pub settled: Option<Line>,
    /// Names this state of it; another is named as soon as something is booked about its things.
    pub version: String,
}

/// What an entry is beside another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beside {
    /// Of the same kind, refrigerant and mass, within a day.
    Alike,
    /// The one before it at the same thing.
    Before,
    /// One after it at the same thing.
    Since,
    /// The correction that stands in its place.
    Corrects,
}

/// Findings that are read at once while those of a site are looked for.
const AT_ONCE: usize = 100;
/// Findings that stand on the page of one thing.
const MOST_ABOUT: usize = 12;
/// Most findings that are gone through for one page; the next page goes on from there.
const LOOKED_AT: usize = 2_000;
/// Entries among which those beside an entry are looked for.
const NEAR: usize = 60;

/// A page of findings, the oldest first.
pub fn page(
    db: &mut Db,
    of: &Organisation,
    asked: &FoundAsked,
    sees: Sees,
) -> Result<Page<Found>, ActionError> {
    let first = FindingKey {
        seq: -1,
        ..FindingKey::default()
    };
    let mut after = match asked.after.as_str() {
        "" => first,
        after => key_of(after)?,
    };
    reading(db, of, |db| {
        let wanted = FindingsWanted {
            settled: asked.settled,
            code: asked.code.clone(),
            place: place(db, of, &asked.thing)?,
            grade: if asked.high { "high" } else { "" },
        };
        let site = match asked.site.as_str() {
            "" => None,
            name => {
                let row = listing::thing(db, of.org, Sort::Site, name)?;
                Some(row.ok_or_else(|| unknown("site", name))?.tag)
            }
        };
        let (mut items, mut looked) = (Vec::new(), 0);
        loop {
            let rows = listing::findings_after(db, of.org, &after, &wanted, AT_ONCE)?;
            let is_end = rows.len() < AT_ONCE;
            let count = rows.len();
            for (at, row) in rows.into_iter().enumerate() {
                let own = key(&row);
                let found = found(db, of, row, sees)?;
                if site.as_ref().is_none_or(|site| *site == found.site) {
                    items.push(found);
                }
                looked += 1;
                let full = items.len() == asked.most || looked == LOOKED_AT;
                if full && !(is_end && at + 1 == count) {
                    let next = Some(own);
                    return Ok(Page { items, next });
                }
                after = key_of(&own)?;
            }
            if is_end {
                return Ok(Page { items, next: None });
            }
        }
    })
}

/// What is open about a cylinder or an appliance, as its pages show it, the oldest first.
pub fn about(
    db: &mut Db,
    of: &Organisation,
    thing: &str,
    sees: Sees,
) -> Result<Page<Found>, ActionError> {
    let asked = FoundAsked {
        thing: thing.to_string(),
        most: MOST_ABOUT,
        ..FoundAsked::default()
    };
    page(db, of, &asked, sees)
}

/// The findings that an entry left, open and settled.
pub fn of_entry(
    db: &mut Db,
    of: &Organisation,
    name: &str,
) -> Result<Vec<FindingShown>, ActionError> {
    reading(db, of, |db| {
        let seq = entries::number_of(db, of, name)?.ok_or_else(|| unknown("entry", name))?;
        let rows = left_by(db, of, seq)?;
        Ok(rows.into_iter().map(findings::show).collect())
    })
}

/// The finding of this code that an entry left.
pub fn one(
    db: &mut Db,
    of: &Organisation,
    name: &str,
    code: &str,
    sees: Sees,
) -> Result<OneFound, ActionError> {
    let leaf = entries::one(db, of, name, sees)?.value;
    reading(db, of, |db| {
        let line = lines::read(db, of, name, sees)?.ok_or_else(|| unknown("entry", name))?;
        let mut rows = left_by(db, of, line.seq)?;
        rows.retain(|row| row.code == code);
        if rows.is_empty() {
            return Err(unknown("finding", code));
        }
        let mut things = Vec::new();
        for row in &rows {
            let sort = row.number.sort();
            if let Some(thing) = listing::thing_at(db, of.org, row.number)? {
                things.push(things::show(db, of, sort, thing)?);
            }
        }
        let settled = match rows.iter().find_map(|row| row.settled) {
            Some(seq) => lines::read(db, of, &seq.to_string(), sees)?,
            None => None,
        };
        let about = rows[0].number;
        Ok(OneFound {
            version: version(&rows, &things, &line),
            beside: beside(db, of, &line, about, sees)?,
            offline: leaf["captured_offline"] == true,
            answer: leaf["answers"][code].as_str().map(str::to_string),
            rows: rows.into_iter().map(findings::show).collect(),
            line,
            things,
            settled,
        })
    })
}

fn left_by(db: &mut Db, of: &Organisation, seq: u64) -> Result<Vec<FindingRow>, ActionError> {
    /// No entry leaves more.
    const MOST: usize = 200;
    let after = key_of(&findings::before(seq))?;
    let wanted = FindingsWanted {
        settled: true,
        ..FindingsWanted::default()
    };
    let mut rows = listing::findings_after(db, of.org, &after, &wanted, MOST)?;
    rows.retain(|row| row.seq == seq);
    Ok(rows)
}

/// The place that a filter names by its tag: a cylinder, else an appliance.
fn place(db: &mut Db, of: &Organisation, name: &str) -> Result<Option<PlaceNumber>, ActionError> {
    if name.is_empty() {
        return Ok(None);
    }
    for sort in [Sort::Cylinder, Sort::Appliance] {
        if let Some(row) = listing::thing(db, of.org, sort, name)? {
            return Ok(Some(row.place));
        }
    }
    Err(unknown("cylinder or appliance", name))
}

fn found(
    db: &mut Db,
    of: &Organisation,
    row: FindingRow,
    sees: Sees,
) -> Result<Found, ActionError> {
    let line = lines::read(db, of, &row.seq.to_string(), sees)?;
    let about = row.place().and_then(|place| place.id());
    let appliance = match row.number.sort() {
        Sort::Appliance => about,
        // A cylinder is at the site at which it was filled or emptied.
        _ => line.as_ref().and_then(|line| {
            let ends = line.moved.iter().flat_map(|moved| [&moved.from, &moved.to]);
            let mut ends = ends.filter(|end| end.word == "appliance");
            ends.find_map(|end| end.id)
        }),
    };
    let site = match appliance {
        Some(id) => site_of(db, of, &id.to_string())?,
        None => String::new(),
    };
    Ok(Found {
        finding: findings::show(row),
        line,
        site,
    })
}

fn site_of(db: &mut Db, of: &Organisation, appliance: &str) -> Result<String, StoreError> {
    let row = listing::thing(db, of.org, Sort::Appliance, appliance)?;
    let site = row.and_then(|row| {
        let site = row.dossier.newest("site").and_then(Value::as_str);
        site.map(str::to_string)
    });
    let row = match site {
        Some(id) => listing::thing(db, of.org, Sort::Site, &id)?,
        None => None,
    };
    Ok(row.map(|row| row.tag).unwrap_or_default())
}

/// Entries at the same thing: what looks like it, the one before, up to three since.
fn beside(
    db: &mut Db,
    of: &Organisation,
    line: &Line,
    about: PlaceNumber,
    sees: Sees,
) -> Result<Vec<(Beside, Line)>, StoreError> {
    let numbers = match about.sort() {
        Sort::Appliance | Sort::Cylinder => entries_about::before(db, of.org, about, None, NEAR)?,
        _ => Vec::new(),
    };
    let mut all = Vec::new();
    for seq in numbers.iter().rev().filter(|seq| **seq != line.seq) {
        let near = lines::read(db, of, &seq.to_string(), sees)?;
        all.extend(near.filter(|near| near.corrected_by.is_none()));
    }
    let mut shown: Vec<(Beside, Line)> = Vec::new();
    let how = |other: &Line| match () {
        () if line.corrected_by == Some(other.seq) => Some(Beside::Corrects),
        () if is_alike(line, other) => Some(Beside::Alike),
        () => None,
    };
    for other in &all {
        shown.extend(how(other).map(|how| (how, other.clone())));
    }
    let rest = |other: &&Line| how(other).is_none();
    let before = all.iter().filter(rest).rfind(|other| other.seq < line.seq);
    shown.extend(before.map(|other| (Beside::Before, other.clone())));
    let since = all.iter().filter(rest).filter(|other| other.seq > line.seq);
    shown.extend(since.take(3).map(|other| (Beside::Since, other.clone())));
    let order = |how: &Beside| match how {
        Beside::Alike => 0,
        Beside::Corrects => 1,
        Beside::Before | Beside::Since => 2,
    };
    shown.sort_by_key(|(how, other)| (order(how), other.seq));
    Ok(shown)
}

/// The same refrigerant, the same mass to an ounce, at most a day apart.
fn is_alike(line: &Line, other: &Line) -> bool {
    /// An ounce in steps.
    const OUNCE: i64 = 2_834_952_312_500;
    let days = Day::parse(&line.day).zip(Day::parse(&other.day));
    let near = days.is_some_and(|(one, two)| one.days_since(two).abs() <= 1);
    let pair = line.moved.first().zip(other.moved.first());
    near && line.kind == other.kind
        && pair.is_some_and(|(one, two)| {
            one.refrigerant == two.refrigerant && (one.steps - two.steps).abs() <= OUNCE
        })
}

fn version(rows: &[FindingRow], things: &[ThingShown], line: &Line) -> String {
    let mut text = format!("{:?} ", line.corrected_by);
    for row in rows {
        text.push_str(&format!("{}:{:?} ", row.number.0, row.settled));
    }
    for thing in things {
        text.push_str(&format!("{} ", thing.version));
    }
    sha256(text.as_bytes())[..12]
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}
