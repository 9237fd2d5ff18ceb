//! Which entries moved refrigerant into or out of an appliance or a cylinder, the newest first, and
//! whose content a cylinder holds.
//!
//! For appliances the covering index of the histories answers it; corrections stand in it with what
//! they take back and what they put in its place. There is no index by cylinder: such a page is
//! asked rarely, and an index would be written with every movement. The newest entries are found
//! by going back from the end.

use super::StoreError;
use super::columns::{Class, PlaceNumber, Sort};
use super::db::Db;
use super::flush::int;
use super::statement::{Bind, statement};
use crate::ledger::id::Id;
use diesel::sql_types::{BigInt, Text};

statement! {
    EntriesOfAppliance: "SELECT DISTINCT seq FROM movements WHERE org = ? AND appliance = ? \
                         AND seq < ? ORDER BY seq DESC LIMIT ?" => BigInt;
    EntriesOfCylinder: "SELECT DISTINCT seq FROM movements WHERE org = ? AND (src = ? OR dst = ?) \
                        AND seq < ? ORDER BY seq DESC LIMIT ?" => BigInt;
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
    let before = Bind::Int(before.map_or(i64::MAX, int));
    let most = Bind::Int(i64::try_from(most).unwrap_or(i64::MAX));
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
