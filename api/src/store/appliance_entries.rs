//! Which entries moved refrigerant into or out of an appliance, the newest first.
//!
//! The covering index of the histories answers it; corrections stand in it with what they take back
//! and what they put in its place.

use super::StoreError;
use super::columns::PlaceNumber;
use super::db::Db;
use super::flush::int;
use super::statement::{Bind, statement};
use diesel::sql_types::BigInt;

statement! {
    EntriesOfAppliance: "SELECT DISTINCT seq FROM movements WHERE org = ? AND appliance = ? \
                         AND seq < ? ORDER BY seq DESC LIMIT ?" => BigInt;
}

/// At most `most` numbers of entries before no. `before` (`None`: the newest).
pub fn before(
    db: &mut Db,
    org: i64,
    appliance: PlaceNumber,
    before: Option<u64>,
    most: usize,
) -> Result<Vec<u64>, StoreError> {
    let most = i64::try_from(most).unwrap_or(i64::MAX);
    let binds = [
        Bind::Int(org),
        Bind::Int(appliance.0),
        Bind::Int(before.map_or(i64::MAX, int)),
        Bind::Int(most),
    ];
    let numbers: Vec<i64> = db.rows(EntriesOfAppliance, &binds)?;
    Ok(numbers.into_iter().map(i64::unsigned_abs).collect())
}
