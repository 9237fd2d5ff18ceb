//! Appliances with their standings: what a list and a page about one begin with.

use super::things::{self, ThingShown};
use super::{Page, reading, trust, unknown};
use crate::actions::recorded::RecordLacks;
use crate::actions::refusal::ActionError;
use crate::actions::standings::Standings;
use crate::store::columns::Sort;
use crate::store::listing::{self, ThingRow};
use crate::store::open::Organisation;
use crate::store::{Db, StoreError};
use reports::day::Day;
use reports::standing::{Course, LimitToCome, Standing};
use serde_json::Value;

/// An appliance with its standing today.
#[derive(Clone, Debug, PartialEq)]
pub struct Overview {
    /// What is registered of it.
    pub thing: ThingShown,
    /// Tag of its site; empty: none is known.
    pub site: String,
    /// Region of its site; empty: none is known.
    pub region: String,
    /// What follows from its history.
    pub standing: Standing,
    /// What it went through in 24 months; only where one appliance is shown.
    pub course: Option<Course>,
    /// Leak-rate limits that are still to come; empty in lists.
    pub to_come: Vec<LimitToCome>,
    /// What the records of its entries of the last year lack; empty in lists.
    pub records: Vec<RecordLacks>,
    /// The last entry that was read.
    pub as_of: u64,
}

/// At most `most` appliances whose tags come after `after`. `now`: microseconds since 1970.
pub fn page(
    db: &mut Db,
    of: &Organisation,
    after: &str,
    most: usize,
    now: i64,
) -> Result<Page<Overview>, ActionError> {
    reading(db, of, |db| {
        let standings = Standings::open(db, of, now)?;
        let rows = listing::things_after(db, of.org, Sort::Appliance, after, most + 1)?;
        let page = Page::of(rows, most, |row| row.tag.clone());
        let mut items = Vec::with_capacity(page.items.len());
        for row in page.items {
            items.extend(plain(db, of, &standings, row)?);
        }
        Ok(Page {
            items,
            next: page.next,
        })
    })
}

/// The appliance with this id or tag.
pub fn one(db: &mut Db, of: &Organisation, name: &str, now: i64) -> Result<Overview, ActionError> {
    read(db, of, name, now, false)
}

/// The same with its course: for a page that draws it.
pub fn with_course(
    db: &mut Db,
    of: &Organisation,
    name: &str,
    now: i64,
) -> Result<Overview, ActionError> {
    read(db, of, name, now, true)
}

fn read(
    db: &mut Db,
    of: &Organisation,
    name: &str,
    now: i64,
    draws: bool,
) -> Result<Overview, ActionError> {
    reading(db, of, |db| {
        let row = listing::thing(db, of.org, Sort::Appliance, name)?;
        let row = row.ok_or_else(|| unknown("appliance", name))?;
        let standings = Standings::open(db, of, now)?;
        let to_come = standings.to_come(db, row.place)?;
        let records = standings.records(db, row.place, None)?;
        let (id, dossier) = (row.id, row.dossier.clone());
        let found = match draws {
            true => drawn(db, of, &standings, row)?,
            false => plain(db, of, &standings, row)?,
        };
        let mut found = found.ok_or_else(|| unknown("appliance", name))?;
        trust::beside(db, of, id, &dossier, &mut found.standing)?;
        Ok(Overview {
            to_come,
            records,
            ..found
        })
    })
}

/// Today at the organisation, and the last entry of its book.
pub fn today(db: &mut Db, of: &Organisation, now: i64) -> Result<(Day, u64), ActionError> {
    reading(db, of, |db| {
        let standings = Standings::open(db, of, now)?;
        Ok((standings.today(), standings.as_of()))
    })
}

/// One appliance with its course.
pub(super) fn drawn(
    db: &mut Db,
    of: &Organisation,
    standings: &Standings,
    row: ThingRow,
) -> Result<Option<Overview>, StoreError> {
    let read = standings.with_course(db, row.place)?;
    let read = read.map(|(standing, course)| (standing, Some(course)));
    let shown = read.map(|read| beside(db, of, standings, row, read));
    shown.transpose()
}

/// One appliance without it.
fn plain(
    db: &mut Db,
    of: &Organisation,
    standings: &Standings,
    row: ThingRow,
) -> Result<Option<Overview>, StoreError> {
    let read = standings.of(db, row.place, None)?;
    let read = read.map(|(_, standing)| (standing, None));
    let shown = read.map(|read| beside(db, of, standings, row, read));
    shown.transpose()
}

/// A standing with what is registered of the appliance and its site.
fn beside(
    db: &mut Db,
    of: &Organisation,
    standings: &Standings,
    row: ThingRow,
    (standing, course): (Standing, Option<Course>),
) -> Result<Overview, StoreError> {
    let site = row.dossier.newest("site").and_then(Value::as_str);
    let site = match site {
        Some(id) => listing::thing(db, of.org, Sort::Site, id)?,
        None => None,
    };
    let region = site.as_ref().and_then(|site| site.dossier.newest("region"));
    let region = region.and_then(Value::as_str).unwrap_or_default();
    Ok(Overview {
        thing: things::show(db, of, Sort::Appliance, row)?,
        region: region.to_string(),
        site: site.map(|site| site.tag).unwrap_or_default(),
        standing,
        course,
        to_come: Vec::new(),
        records: Vec::new(),
        as_of: standings.as_of(),
    })
}
