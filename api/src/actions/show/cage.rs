//! The cage: each cylinder with what is in it, how much may be in it, and what room is left.
//!
//! Everything is worked out as the door for facts does before somebody pours; here it is shown before
//! anybody asks. What a cylinder holds travels with it: owners and condition since it was last empty.

use super::lines::{self, Line};
use super::things::{self, Sort, ThingShown};
use super::{Page, Sees, reading, unknown};
use crate::actions::judge::limit_of;
use crate::actions::refusal::ActionError;
use crate::store::book::Brief;
use crate::store::columns::Class;
use crate::store::listing::{self, ThingRow};
use crate::store::open::Organisation;
use crate::store::{Db, StoreError, entries_about};
use reports::day::Day;
use reports::mass::Mass;
use reports::physics::{FillLimit, MassText};
use reports::refrigerant::Table;
use serde::Serialize;

/// A cylinder with its limit and room.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CylinderShown {
    /// What is registered of it.
    #[serde(flatten)]
    pub thing: ThingShown,
    /// What follows for filling it.
    pub fill: Fill,
    /// Whose its content is, by tag, since it was last empty.
    pub owners: Vec<String>,
    /// Condition of its content, the strictest since it was last empty.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub class: Option<String>,
    /// Why its content goes to reclaim or destruction only, quarantine aside: `mixed`, `several_owners`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub only_to_reclaim: Option<&'static str>,
    /// Content checks, the newest first.
    pub checks: Vec<CheckShown>,
    /// Entries that moved its content or observed it, the newest first.
    pub entries: Vec<EntryNamed>,
}

/// How much may be in a cylinder.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Fill {
    /// The limit with its rules; absent: it is empty, or neither capacity nor marking is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limit: Option<FillLimit>,
    /// What may still go in; nothing where it is full or closed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub room: Option<MassText>,
    /// Why nothing may go in, whatever the mass.
    pub closed: Vec<&'static str>,
    /// Net mass by the book, in steps.
    #[serde(skip)]
    pub net: i128,
    /// Room in steps, below zero where it is over-full.
    #[serde(skip)]
    pub room_steps: Option<i128>,
    /// What was read of its register.
    #[serde(skip)]
    pub brief: Brief,
}

/// A content check of a cylinder.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CheckShown {
    /// The entry.
    pub entry: u64,
    /// The day.
    pub day: String,
    /// What it says.
    pub verdict: String,
    /// What fits.
    pub compatible: Vec<String>,
    /// What cannot be excluded.
    pub not_excluded: Vec<String>,
    /// Can any of it burn?
    pub possibly_flammable: bool,
}

/// An entry by its number, day and kind.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct EntryNamed {
    /// Its number.
    pub entry: u64,
    /// The day it happened.
    pub day: String,
    /// The word of its kind.
    pub kind: String,
}

/// A cylinder of a list.
#[derive(Clone, Debug, PartialEq)]
pub struct Listed {
    /// What is registered of it.
    pub thing: ThingShown,
    /// What follows for filling it.
    pub fill: Fill,
    /// Condition of its content, the strictest since it was last empty.
    pub class: Option<String>,
    /// Whose its content is, by tag.
    pub owners: Vec<String>,
}

/// A cylinder whose test is due soon or overdue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Due {
    /// Its tag.
    pub tag: String,
    /// Its id.
    pub id: String,
    /// The day.
    pub on: Day,
}

/// Days before a test from which it is listed.
pub const DUE_WITHIN: i32 = 90;

/// Cylinders that are gone through for tests at a time.
const AT_A_TIME: usize = 500;

/// Entries that are gone through for condition and checks.
const LOOKED_AT: usize = 50;

/// At most `most` cylinders whose tags come after `after`, as they stand on a day.
pub fn page(
    db: &mut Db,
    of: &Organisation,
    after: &str,
    most: usize,
    on: Day,
) -> Result<Page<Listed>, ActionError> {
    reading(db, of, |db| {
        let rows = listing::things_after(db, of.org, Sort::Cylinder, after, most + 1)?;
        let page = Page::of(rows, most, |row| row.tag.clone());
        let mut items = Vec::with_capacity(page.items.len());
        for row in page.items {
            let fill = fill(db, of, &row, Some(on))?;
            let (owners, class) = of_whom(db, of, &row)?;
            let thing = things::show(db, of, Sort::Cylinder, row)?;
            let class = class_in(&thing, class);
            items.push(Listed {
                thing,
                fill,
                class,
                owners,
            });
        }
        Ok(Page {
            items,
            next: page.next,
        })
    })
}

/// Every cylinder of the book whose test is due within [`DUE_WITHIN`] days of a day or overdue, the
/// earliest first; what is never filled again needs no test.
pub fn tests_due(db: &mut Db, of: &Organisation, on: Day) -> Result<Vec<Due>, ActionError> {
    reading(db, of, |db| {
        let (table, mut due, mut after) = (Table::shipped(), Vec::new(), String::new());
        loop {
            let rows = listing::things_after(db, of.org, Sort::Cylinder, &after, AT_A_TIME)?;
            for row in &rows {
                let brief = Brief::of(&row.dossier, table);
                let gone = closed(&brief, None, None);
                let day = brief.retest_on.filter(|_| gone.is_empty());
                due.extend(
                    day.filter(|day| day.days_since(on) <= DUE_WITHIN)
                        .map(|on| Due {
                            tag: row.tag.clone(),
                            id: row.id.to_string(),
                            on,
                        }),
                );
            }
            match rows.last() {
                Some(last) if rows.len() == AT_A_TIME => after = last.tag.clone(),
                _ => break,
            }
        }
        due.sort_by(|a, b| (a.on, &a.tag).cmp(&(b.on, &b.tag)));
        Ok(due)
    })
}

/// Whose the content of a cylinder is, by tag, and the condition that is stored of it.
fn of_whom(
    db: &mut Db,
    of: &Organisation,
    row: &ThingRow,
) -> Result<(Vec<String>, Class), StoreError> {
    let (ids, class) = entries_about::content(db, of.org, row.place)?;
    let mut owners = Vec::with_capacity(ids.len());
    for owner in ids {
        let owner = listing::thing(db, of.org, Sort::Counterparty, &owner.to_string())?;
        owners.extend(owner.map(|owner| owner.tag));
    }
    Ok((owners, class))
}

/// The cylinder with this id or tag; `on`: the day that its test is looked at, if any.
pub fn one(
    db: &mut Db,
    of: &Organisation,
    name: &str,
    on: Option<Day>,
    sees: Sees,
) -> Result<CylinderShown, ActionError> {
    let lines = lines::of_thing(db, of, (Sort::Cylinder, name), None, LOOKED_AT, sees)?.items;
    reading(db, of, |db| {
        let row = listing::thing(db, of.org, Sort::Cylinder, name)?;
        let row = row.ok_or_else(|| unknown("cylinder", name))?;
        let fill = fill(db, of, &row, on)?;
        let (owners, class) = of_whom(db, of, &row)?;
        let thing = things::show(db, of, Sort::Cylinder, row)?;
        let class = class_in(&thing, class);
        let checks = lines.iter().filter(|line| line.kind == "observation");
        Ok(CylinderShown {
            fill,
            only_to_reclaim: only_to_reclaim(class.as_deref(), owners.len()),
            owners,
            class,
            checks: checks.map(CheckShown::of).collect(),
            entries: lines.iter().map(EntryNamed::of).collect(),
            thing,
        })
    })
}

fn fill(
    db: &mut Db,
    of: &Organisation,
    row: &ThingRow,
    on: Option<Day>,
) -> Result<Fill, StoreError> {
    let table = Table::shipped();
    let brief = Brief::of(&row.dossier, table);
    let held = listing::balances(db, of.org, row.place)?;
    let net: i128 = held.iter().map(|(_, mass)| mass).sum();
    let mut codes: Vec<u16> = held
        .iter()
        .filter(|(_, mass)| *mass > 0)
        .map(|(code, _)| *code)
        .collect();
    if codes.is_empty() {
        codes.extend(brief.refrigerant.last().map(|(_, code)| *code));
    }
    let by_maker = brief.usage.as_deref() != Some("recovery");
    let limit = match codes.is_empty() {
        // The limit of an empty one follows from what is to go in.
        true => None,
        false => limit_of(&brief, table, &codes, by_maker),
    };
    let closed = closed(&brief, row.quarantine, on);
    let room_steps = limit
        .as_ref()
        .map(|limit| i128::from(limit.limit.steps()) - net);
    let room = match closed.is_empty() {
        true => room_steps.map(text_of),
        false => room_steps.map(|_| text_of(0)),
    };
    Ok(Fill {
        limit,
        room,
        closed,
        net,
        room_steps,
        brief,
    })
}

fn closed(brief: &Brief, quarantine: Option<u64>, on: Option<Day>) -> Vec<&'static str> {
    let is_overdue = || on.zip(brief.retest_on).is_some_and(|(on, due)| due < on);
    let reasons = [
        ("quarantined", quarantine.is_some()),
        ("disposable", brief.usage.as_deref() == Some("disposable")),
        ("condemned", brief.condition.as_deref() == Some("condemned")),
        ("retired", brief.condition.as_deref() == Some("retired")),
        ("expired", is_overdue()),
    ];
    let so = reasons.into_iter().filter(|(_, is_so)| *is_so);
    so.map(|(word, _)| word).collect()
}

fn text_of(steps: i128) -> MassText {
    let steps = i64::try_from(steps.max(0)).unwrap_or(i64::MAX);
    MassText::of(Mass::from_steps(steps))
}

/// The condition of a content by what is stored and by what its names say.
fn class_in(thing: &ThingShown, stored: Class) -> Option<String> {
    let held = (thing.balances.iter().flatten())
        .filter(|held| held.mass.g != "0" && !held.mass.g.starts_with('-'));
    let names: Vec<&str> = held.map(|held| held.refrigerant.as_str()).collect();
    stored.with_content(&names).word().map(str::to_string)
}

/// Why a content goes to reclaim or destruction only, as the stops of the door have it: `mixed_content`,
/// and `other_owner` where it is nobody's alone.
pub fn only_to_reclaim(class: Option<&str>, owners: usize) -> Option<&'static str> {
    match (class, owners) {
        (Some("mixed"), _) => Some("mixed"),
        (_, 2..) => Some("several_owners"),
        _ => None,
    }
}

impl CheckShown {
    fn of(line: &Line) -> CheckShown {
        let word = |name: &str| line.words.get(name).map(String::as_str);
        let list = |name: &str| -> Vec<String> {
            let names = word(name).unwrap_or_default().split(',');
            names
                .filter(|name| !name.is_empty())
                .map(str::to_string)
                .collect()
        };
        CheckShown {
            entry: line.seq,
            day: line.day.clone(),
            verdict: word("verdict").unwrap_or("refused").to_string(),
            compatible: list("compatible"),
            not_excluded: list("not_excluded"),
            possibly_flammable: word("possibly_flammable") != Some("no"),
        }
    }
}

impl EntryNamed {
    fn of(line: &Line) -> EntryNamed {
        EntryNamed {
            entry: line.seq,
            day: line.day.clone(),
            kind: line.kind.clone(),
        }
    }
}
