//! The balance of the cylinders for a page: the figures of the report `mass-balance`, without its file.

use super::Named;
use crate::actions::refusal::ActionError;
use crate::actions::show::reading;
use crate::store::Db;
use crate::store::open::{Organisation, size};
use crate::store::stock::stock;
use reports::refrigerant::Table;
use reports::sheet::Options;
use reports::sheet::mass_balance::{Balance, Stock};
use std::collections::BTreeSet;

/// Entries up to which a page works the balance out unasked: it reads every movement of the book.
pub const AT_ONCE: u64 = 50_000;

/// The balances of a year by the book as it stands, by refrigerant; `None`: the book has more than
/// [`AT_ONCE`] entries, and nobody insists (`anyway`).
pub fn balances(
    db: &mut Db,
    of: &Organisation,
    options: &Options,
    anyway: bool,
) -> Result<Option<Vec<Balance>>, ActionError> {
    reading(db, of, |db| {
        let entries = size(db, of.org)?;
        if entries > AT_ONCE && !anyway {
            return Ok(None);
        }
        let mut account = Stock::new(options.first_day());
        let newest = entries.saturating_sub(1);
        stock(db, of.org, newest, options.last_day(), |moved| {
            account.take(moved);
            Ok::<(), ActionError>(())
        })?;
        let names = Named(Table::shipped());
        Ok(Some(account.balances(&names, &BTreeSet::new())))
    })
}
