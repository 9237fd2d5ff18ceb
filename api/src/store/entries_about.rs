//! Which entries moved refrigerant into or out of an appliance or a cylinder, the newest first, and
//! whose content a cylinder holds.
//!
//! For appliances the covering index of the histories answers it; corrections stand in it with what
//! they take back and what they put in its place. There is no index by cylinder: such a page is
//! asked rarely, and an index would be written with every movement. The row of a cylinder says which
//! entry moved its content last and how many did, so that going back begins there and ends as soon
//! as all are found.

use super::StoreError;
use super::columns::{Class, PlaceNumber, Sort};
use super::db::Db;
use super::flush::int;
use super::statement::{Bind, statement};
use crate::ledger::id::Id;
use diesel::sql_types::{BigInt, Text};

statement! {
    /// The signs keep SQLite from walking the book backwards.
    EntriesOfAppliance: "SELECT DISTINCT +seq FROM movements WHERE org = ? AND appliance = ? \
                         AND +seq < ? ORDER BY +seq DESC LIMIT ?" => BigInt;
    EntriesOfCylinder: "SELECT DISTINCT seq FROM movements WHERE org = ? AND (src = ? OR dst = ?) \
                        AND seq < ? ORDER BY seq DESC LIMIT ?" => BigInt;
    Walk: "SELECT newest, moved FROM subjects WHERE org = ? AND place = ?" => (BigInt, BigInt);
    Content: "SELECT owners, class FROM subjects WHERE org = ? AND place = ?" => (Text, BigInt);
}

/// At most `most` numbers of entries before no. `before` (`None`: the newest).
pub fn before(
    db: &mut Db,
    org: i64,
    place: PlaceNumber,
    before: Option<u64>,
    most: usize,
) -> Result<Vec<u64>, StoreError> {
    let (org, thing) = (Bind::Int(org), Bind::Int(place.0));
    let mut before = before.map_or(i64::MAX, int);
    let mut most = i64::try_from(most).unwrap_or(i64::MAX);
    if place.sort() == Sort::Cylinder {
        let walk: Option<(i64, i64)> = db.first(Walk, &[org, thing])?;
        // A book that is older than the two numbers has not counted them: all of it is gone through.
        if let Some((newest, moved)) = walk.filter(|(newest, _)| *newest >= 0) {
            (before, most) = (before.min(newest + 1), most.min(moved));
        }
    }
    let (before, most) = (Bind::Int(before), Bind::Int(most));
    let numbers: Vec<i64> = match place.sort() {
        Sort::Appliance => db.rows(EntriesOfAppliance, &[org, thing, before, most])?,
        _ => db.rows(EntriesOfCylinder, &[org, thing, thing, before, most])?,
    };
    Ok(numbers.into_iter().map(i64::unsigned_abs).collect())
}

/// Owners whose appliances the content of a cylinder was recovered from since it was last empty, and
/// the condition it is in.
pub fn content(
    db: &mut Db,
    org: i64,
    cylinder: PlaceNumber,
) -> Result<(Vec<Id>, Class), StoreError> {
    let row: Option<(String, i64)> = db.first(Content, &[Bind::Int(org), Bind::Int(cylinder.0)])?;
    let (text, class) = row.unwrap_or_default();
    let owners = text.split_whitespace().filter_map(Id::parse).collect();
    Ok((owners, Class::stored(class)))
}
