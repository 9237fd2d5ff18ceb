//! Cylinders that a posting may mean: those that hold the refrigerant, and those with room for it.
//!
//! It only helps the memory at the unit. What must not be poured is judged when it is posted, by
//! [`judge`](crate::actions::judge), whatever was offered here.

use super::reading;
use crate::actions::judge::{cut_text, limit_of};
use crate::actions::refusal::ActionError;
use crate::store::book::Brief;
use crate::store::columns::{Class, Sort};
use crate::store::listing::{self, ThingRow};
use crate::store::open::Organisation;
use crate::store::{Db, StoreError, entries_about};
use reports::day::Day;
use reports::mass;
use reports::refrigerant::Table;

/// Cylinders that are looked at: a firm has hundreds, and the form must come at once.
const LOOKED_AT: usize = 500;

/// A cylinder that fits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fitting {
    /// Its tag.
    pub tag: String,
    /// `holds 24 lb 0 oz`, `room for 4 lb 2 oz`.
    pub says: String,
}

/// At most `most` cylinders a charge with this refrigerant may come from, by tag.
pub fn to_charge(
    db: &mut Db,
    of: &Organisation,
    refrigerant: &str,
    most: usize,
) -> Result<Vec<Fitting>, ActionError> {
    looked_at(db, of, most, true, |row, _, held, table| {
        let code = table.code(refrigerant)?;
        let mass = held.iter().find(|(of, mass)| *of == code && *mass > 0)?.1;
        let alone = held.iter().all(|(of, _)| *of == code);
        (alone && row.quarantine.is_none()).then(|| format!("holds {}", mass::lb_oz_text(mass)))
    })
}

/// At most `most` cylinders that may take this refrigerant on a day, by tag.
pub fn to_recover(
    db: &mut Db,
    of: &Organisation,
    refrigerant: &str,
    on: Day,
    most: usize,
) -> Result<Vec<Fitting>, ActionError> {
    looked_at(db, of, most, false, |row, brief, held, table: &Table| {
        let code = table.code(refrigerant)?;
        let usable = brief.usage.as_deref() == Some("recovery")
            && brief.condition.as_deref() != Some("condemned")
            && brief.retest_on.is_none_or(|due| due >= on)
            && row.quarantine.is_none()
            && held.iter().all(|(of, _)| *of == code);
        let total: i128 = held.iter().map(|(_, mass)| mass).sum();
        let limit = limit_of(brief, table, &[code], false);
        let room = limit.map(|limit| i128::from(limit.limit.steps()) - total);
        match room {
            _ if !usable => None,
            Some(room) if room <= 0 => None,
            Some(room) => Some(format!("room for {}", cut_text(room))),
            None => Some("room not known".to_string()),
        }
    })
}

type Held = Vec<(u16, i128)>;

fn looked_at(
    db: &mut Db,
    of: &Organisation,
    most: usize,
    draws: bool,
    says: impl Fn(&ThingRow, &Brief, &Held, &Table) -> Option<String>,
) -> Result<Vec<Fitting>, ActionError> {
    let table = Table::shipped();
    reading(db, of, |db| {
        let rows = listing::things_after(db, of.org, Sort::Cylinder, "", LOOKED_AT)?;
        let mut fitting = Vec::new();
        for row in &rows {
            if fitting.len() == most {
                break;
            }
            let held: Result<Held, StoreError> = listing::balances(db, of.org, row.place);
            let said = says(row, &Brief::of(&row.dossier, table), &held?, table);
            if draws && said.is_some() && only_to_reclaim(db, of, row)? {
                continue;
            }
            fitting.extend(said.map(|says| Fitting {
                tag: row.tag.clone(),
                says,
            }));
        }
        Ok(fitting)
    })
}

/// Is what is in it mixed, or nobody's alone, so that no appliance gets it?
fn only_to_reclaim(db: &mut Db, of: &Organisation, row: &ThingRow) -> Result<bool, StoreError> {
    let (owners, class) = entries_about::content(db, of.org, row.place)?;
    Ok(class == Class::Mixed || owners.len() > 1)
}
