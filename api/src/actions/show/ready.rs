//! Whether the book can be written: what a load balancer asks before it sends somebody.

use crate::store::db::Db;
use crate::store::{StoreError, open};

/// A clock that stands this far before the newest entry is wrong, in microseconds.
const TOLERANCE: i64 = 10 * 60 * 1_000_000;

/// What was found.
#[derive(Clone, Copy, Debug)]
pub struct Looked {
    /// The clock stands right.
    pub clock: bool,
}

/// Asks the database; `now`: microseconds since 1970 by the host's clock.
pub fn look(db: &mut Db, now: i64) -> Result<Looked, StoreError> {
    let newest = open::newest_booking(db)?;
    let right = now >= crate::store::writer::built_on() && now + TOLERANCE >= newest;
    // PostgreSQL dates entries by its own clock, which cannot be behind what it dated.
    Ok(Looked {
        clock: right || db.is_postgres(),
    })
}
