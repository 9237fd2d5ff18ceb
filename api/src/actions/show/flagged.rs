//! The flagged list: appliances over a limit, with the limit, its clause, and what is owed first.

use super::{Page, reading};
use crate::actions::refusal::ActionError;
use crate::actions::standings::{Listed, Standings};
use crate::store::listing::{self, ThingRow};
use crate::store::open::Organisation;
use crate::store::{Db, StoreError};
use reports::day::Day;
use reports::standing::{DutyShown, ExceedanceShown, Standing};
use serde::Serialize;

/// An appliance over a limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlaggedShown {
    /// Its id.
    pub appliance: String,
    /// Its tag.
    pub tag: String,
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
    /// Limits passed from this day on; by default 365 days before today.
    pub since: Option<Day>,
    /// Now, microseconds since 1970.
    pub now: i64,
}

/// A page of the flagged list as it is today, by tag.
pub fn page(
    db: &mut Db,
    of: &Organisation,
    asked: &FlaggedAsked,
) -> Result<Page<FlaggedShown>, ActionError> {
    reading(db, of, |db| {
        let standings = Standings::open(db, of, asked.now)?;
        let since = asked.since.unwrap_or(standings.today().plus(-365));
        let over = |listed: &Listed| listed.row.exceeded_on.is_some_and(|day| day >= since);
        let mut rows = Vec::new();
        for listed in standings.list(db)?.iter().filter(|listed| over(listed)) {
            let row = listing::thing_at(db, of.org, listed.place)?;
            rows.extend(row.filter(|row| row.tag > asked.after));
        }
        rows.sort_by(|a, b| a.tag.cmp(&b.tag));
        let page = Page::of(rows, asked.most, |row| row.tag.clone());
        let mut items = Vec::with_capacity(page.items.len());
        for row in &page.items {
            items.extend(shown(db, &standings, row, since)?);
        }
        Ok(Page {
            items,
            next: page.next,
        })
    })
}

fn shown(
    db: &mut Db,
    standings: &Standings,
    row: &ThingRow,
    since: Day,
) -> Result<Option<FlaggedShown>, StoreError> {
    let Some((tag, standing)) = standings.of(db, row.place, None)? else {
        return Ok(None);
    };
    let (exceedances, duties) = passed(&standing, since);
    Ok(Some(FlaggedShown {
        appliance: row.id.to_string(),
        tag,
        as_of: standings.as_of(),
        day: standing.day,
        first_due: (duties.iter())
            .filter(|duty| duty.is_owed)
            .find_map(|duty| duty.due.clone()),
        exceedances,
        duties,
    }))
}

/// The limits passed since a day, and what is owed because of them or was.
fn passed(standing: &Standing, since: Day) -> (Vec<ExceedanceShown>, Vec<DutyShown>) {
    let since = since.to_string();
    let over = standing
        .exceedances
        .iter()
        .filter(|passed| passed.on >= since);
    let of_case = standing.duties.iter().filter(|duty| duty.case.is_some());
    let duties = of_case.filter(|duty| duty.since >= since);
    (over.cloned().collect(), duties.cloned().collect())
}
