//! The fleet by how much of its limit each appliance uses, with what was added month by month.
//!
//! The order comes from the cached standings; only the appliances that are shown are read in full.

use super::reading;
use super::things::{self, ThingShown};
use crate::actions::refusal::ActionError;
use crate::actions::standings::{Listed, Standings};
use crate::store::Db;
use crate::store::columns::Sort;
use crate::store::listing;
use crate::store::open::Organisation;
use reports::day::Day;
use reports::standing::{Over, Standing};
use std::cmp::Reverse;

/// A stretch of the fleet.
#[derive(Clone, Debug, PartialEq)]
pub struct Fleet {
    /// Today at the organisation.
    pub day: Day,
    /// How many appliances there are.
    pub all: usize,
    /// How many stand before the first one shown.
    pub before: usize,
    /// The appliances shown, what uses most of its limit first.
    pub rows: Vec<OfFleet>,
}

/// One appliance.
#[derive(Clone, Debug, PartialEq)]
pub struct OfFleet {
    /// What is registered of it.
    pub thing: ThingShown,
    /// Tag of its site; empty: none is known.
    pub site: String,
    /// What follows from its history.
    pub standing: Standing,
    /// Days on which something was booked about it, each once, in order.
    pub days: Vec<Day>,
    /// The day it was retired, if it was.
    pub retired: Option<Day>,
}

/// At most `most` appliances after the first `before`.
pub fn page(
    db: &mut Db,
    of: &Organisation,
    before: usize,
    most: usize,
    now: i64,
) -> Result<Fleet, ActionError> {
    reading(db, of, |db| {
        let standings = Standings::open(db, of, now)?;
        let mut all = standings.list(db)?;
        all.sort_by_key(rank);
        let mut rows = Vec::new();
        for listed in all.iter().skip(before).take(most) {
            let Some(row) = listing::thing_at(db, of.org, listed.place)? else {
                continue;
            };
            let Some((standing, course)) = standings.with_course(db, listed.place)? else {
                continue;
            };
            let site = row.dossier.newest("site").and_then(|site| site.as_str());
            let site = match site {
                Some(id) => listing::thing(db, of.org, Sort::Site, id)?,
                None => None,
            };
            rows.push(OfFleet {
                thing: things::show(db, of, Sort::Appliance, row)?,
                site: site.map(|site| site.tag).unwrap_or_default(),
                standing,
                days: course.days,
                retired: course.retired,
            });
        }
        Ok(Fleet {
            day: standings.today(),
            all: all.len(),
            before,
            rows,
        })
    })
}

/// The largest part of its limit first, then what nobody can judge, then what has a rate and no limit,
/// then the rest; of equals the one that was registered first.
fn rank(listed: &Listed) -> (Reverse<Option<u32>>, bool, bool, i64) {
    let row = &listed.row;
    let (unknown, rated) = (row.over == Over::CannotJudge, row.percent.is_some());
    (Reverse(row.share), !unknown, !rated, listed.place.0)
}
