//! Which entries moved refrigerant into or out of a cylinder or observed it, and whose it holds.
//!
//! There is no index by cylinder: such a page is asked rarely, and an index would be written with
//! every movement. The newest entries are found by going back from the end.

use super::StoreError;
use super::columns::PlaceNumber;
use super::db::Db;
use super::flush::int;
use super::statement::{Bind, statement};
use crate::ledger::id::Id;
use diesel::sql_types::{BigInt, Text};

statement! {
    EntriesOfCylinder: "SELECT DISTINCT seq FROM movements WHERE org = ? AND (src = ? OR dst = ?) \
                        AND seq < ? ORDER BY seq DESC LIMIT ?" => BigInt;
    OwnersOfContent: "SELECT owners FROM subjects WHERE org = ? AND place = ?" => Text;
}

/// At most `most` numbers of entries before no. `before` (`None`: the newest).
pub fn before(
    db: &mut Db,
    org: i64,
    cylinder: PlaceNumber,
    before: Option<u64>,
    most: usize,
) -> Result<Vec<u64>, StoreError> {
    let most = i64::try_from(most).unwrap_or(i64::MAX);
    let binds = [
        Bind::Int(org),
        Bind::Int(cylinder.0),
        Bind::Int(cylinder.0),
        Bind::Int(before.map_or(i64::MAX, int)),
        Bind::Int(most),
    ];
    let numbers: Vec<i64> = db.rows(EntriesOfCylinder, &binds)?;
    Ok(numbers.into_iter().map(i64::unsigned_abs).collect())
}

/// Owners whose appliances its content was recovered from since it was last empty.
pub fn owners(db: &mut Db, org: i64, cylinder: PlaceNumber) -> Result<Vec<Id>, StoreError> {
    let text: Option<String> =
        db.first(OwnersOfContent, &[Bind::Int(org), Bind::Int(cylinder.0)])?;
    let text = text.unwrap_or_default();
    Ok(text.split_whitespace().filter_map(Id::parse).collect())
}
