//! The standing of one appliance: what `assess` says of it on a day, worked out from its entries.

use super::{reading, trust, unknown};
use crate::actions::recorded::RecordLacks;
use crate::actions::refusal::ActionError;
use crate::actions::standings::{NewStanding, Standings};
use crate::store::Db;
use crate::store::columns::Sort;
use crate::store::listing;
use crate::store::open::Organisation;
use reports::day::Day;
use reports::standing::Standing;
use serde::Serialize;

/// A standing with what it is about.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StandingShown {
    /// Id of the appliance.
    pub appliance: String,
    /// Its tag.
    pub tag: String,
    /// The last entry that was read.
    pub as_of: u64,
    /// What `assess` says.
    #[serde(flatten)]
    pub standing: Standing,
    /// What the records of its entries of the last year lack; of a posting: of that entry.
    pub records: Vec<RecordLacks>,
}

/// What a posting says of the standing it leads to: of the lists only the newest.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NewStandingShown {
    /// The standing with its newest addition and its newest exceedance.
    #[serde(flatten)]
    pub standing: StandingShown,
    /// Whether the newest addition passes its limit: `yes`, `no`, `cannot_judge`.
    pub over: &'static str,
    /// How many limits were passed in all.
    pub exceeded: u32,
    /// When a limit was passed last.
    pub exceeded_on: Option<String>,
    /// The earliest date of what is owed.
    pub due: Option<String>,
}

impl From<NewStanding> for NewStandingShown {
    fn from(new: NewStanding) -> NewStandingShown {
        let newest = new.newest;
        NewStandingShown {
            over: newest.over.word(),
            exceeded: newest.exceedances,
            exceeded_on: newest.exceeded_on.map(|day| day.to_string()),
            due: newest.due.map(|day| day.to_string()),
            standing: StandingShown {
                appliance: new.appliance.to_string(),
                tag: new.tag,
                as_of: new.as_of,
                standing: newest.standing,
                records: new.records,
            },
        }
    }
}

/// The standing of the appliance with this id or tag on a day, by default today at its site.
/// `now`: microseconds since 1970.
pub fn one(
    db: &mut Db,
    of: &Organisation,
    name: &str,
    on: Option<Day>,
    now: i64,
) -> Result<StandingShown, ActionError> {
    reading(db, of, |db| {
        let row = listing::thing(db, of.org, Sort::Appliance, name)?;
        let row = row.ok_or_else(|| unknown("appliance", name))?;
        let standings = Standings::open(db, of, now)?;
        let found = standings.of(db, row.place, on)?;
        let (tag, mut standing) = found.ok_or_else(|| unknown("appliance", name))?;
        trust::beside(db, of, row.id, &row.dossier, &mut standing)?;
        let (appliance, as_of) = (row.id.to_string(), standings.as_of());
        let records = standings.records(db, row.place, on)?;
        Ok(StandingShown {
            appliance,
            tag,
            as_of,
            standing,
            records,
        })
    })
}
