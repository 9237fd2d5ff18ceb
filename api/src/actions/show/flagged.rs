//! The flagged list: appliances over a limit, with the limit, its clause, and what is owed first.

use super::standing::Court;
use super::{Page, reading};
use crate::actions::refusal::ActionError;
use crate::store::Db;
use crate::store::columns::Sort;
use crate::store::listing;
use crate::store::open::Organisation;
use crate::store::scan;
use reports::day::Day;
use reports::rules::Tables;
use reports::standing::{DutyShown, ExceedanceShown, Standing};
use serde::Serialize;

/// Appliances that are looked at for one page: work stays bounded in a fleet where few are over.
const LOOKED_AT: usize = 1_000;

/// An appliance over a limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlaggedShown {
    /// Its id.
    pub appliance: String,
    /// Its tag.
    pub tag: String,
    /// Tag of its site.
    pub site: String,
    /// The last entry that was read.
    pub as_of: u64,
    /// The day it was judged on.
    pub day: String,
    /// Limits that were passed, the newest last.
    pub exceedances: Vec<ExceedanceShown>,
    /// What is owed because of them, the earliest due first.
    pub duties: Vec<DutyShown>,
    /// The earliest due date.
    pub first_due: Option<String>,
}

/// What is asked of the list.
#[derive(Clone, Debug)]
pub struct FlaggedAsked {
    /// Appliances whose tags come after.
    pub after: String,
    /// At most so many.
    pub most: usize,
    /// Judged on this day; by default today at each site.
    pub on: Option<Day>,
    /// Limits passed from this day on; by default 365 days before the day of judging.
    pub since: Option<Day>,
    /// Now, microseconds since 1970.
    pub now: i64,
}

/// A page of the flagged list, by tag. It may hold fewer items than asked for and still have a
/// next page.
pub fn page(
    db: &mut Db,
    of: &Organisation,
    asked: &FlaggedAsked,
) -> Result<Page<FlaggedShown>, ActionError> {
    reading(db, of, |db| {
        let court = Court::of_book(db, of, asked.now)?;
        let tables = Tables::shipped();
        let judge = court.judge(&tables)?;
        let day = asked.on.unwrap_or(court.today());
        let rows = listing::things_after(db, of.org, Sort::Appliance, &asked.after, LOOKED_AT + 1)?;
        let more = rows.len() > LOOKED_AT;
        let mut items = Vec::new();
        let mut next = None;
        for (at, row) in rows.iter().take(LOOKED_AT).enumerate() {
            let one = scan::one(db, of.org, court.cut, day, row)?;
            let standing = court.assess(&judge, &one, asked.on)?;
            let shown = over(&standing, asked.since).map(|(exceedances, duties)| FlaggedShown {
                appliance: row.id.to_string(),
                tag: one.tag,
                site: one.site_tag,
                as_of: court.cut,
                day: standing.day,
                first_due: duties.iter().find_map(|duty| duty.due.clone()),
                exceedances,
                duties,
            });
            items.extend(shown);
            let last = at + 1 == rows.len().min(LOOKED_AT);
            if items.len() == asked.most && !last || last && more {
                next = Some(row.tag.clone());
                break;
            }
        }
        Ok(Page { items, next })
    })
}

/// The limits passed since a day and the duties they started; `None`: none was passed.
fn over(standing: &Standing, since: Option<Day>) -> Option<(Vec<ExceedanceShown>, Vec<DutyShown>)> {
    let day = Day::parse(&standing.day)?;
    let since = since.unwrap_or(day.plus(-365)).to_string();
    let over: Vec<_> = standing
        .exceedances
        .iter()
        .filter(|it| it.on >= since)
        .cloned()
        .collect();
    let duties = standing
        .duties
        .iter()
        .filter(|duty| duty.since >= since)
        .cloned()
        .collect();
    (!over.is_empty()).then_some((over, duties))
}
