//! What a correction or a late entry changed: the standing of an appliance as it was worked out before it, and as it
//! is worked out with it.

use super::{reading, unknown};
use crate::actions::refusal::ActionError;
use crate::actions::standings::Standings;
use crate::store::columns::Sort;
use crate::store::open::Organisation;
use crate::store::{Db, listing};
use reports::standing::Standing;

/// The standings of an appliance before entry no. `seq` and with it.
pub fn by_entry(
    db: &mut Db,
    of: &Organisation,
    appliance: &str,
    seq: u64,
    now: i64,
) -> Result<Option<(Standing, Standing)>, ActionError> {
    reading(db, of, |db| {
        let row = listing::thing(db, of.org, Sort::Appliance, appliance)?;
        let row = row.ok_or_else(|| unknown("appliance", appliance))?;
        let before = Standings::as_known(db, of, now, seq.saturating_sub(1))?;
        let before = before.of(db, row.place, None)?;
        let with = Standings::as_known(db, of, now, seq)?.of(db, row.place, None)?;
        Ok(before
            .zip(with)
            .map(|((_, before), (_, with))| (before, with)))
    })
}
