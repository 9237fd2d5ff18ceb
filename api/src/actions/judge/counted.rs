//! A count that is far from the book: the wrong cylinder, another unit, an old tare, or what nobody posted.
//!
//! A count writes off what it does not find, without a way that anybody could follow. So beyond a
//! difference that scales and hoses make it is asked about, and leaves a finding.

use super::stops::name_of;
use super::{Case, Judged, Lens, as_stated};
use crate::actions::moves::Moving;
use crate::ledger::entry::EntryKind;
use crate::store::StoreError;
use crate::store::columns::Sort;
use crate::store::tx::Tx;
use reports::mass::{Mass, lb_oz_text};

/// A difference up to here is no question, unless it is a tenth of the book (common practice, no source).
const LARGEST: Mass = Mass::from_steps(Mass::POUND);

/// Looks at the difference that a count books.
pub fn look(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    moving: &Moving,
    lens: &Lens,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    if case.kind != EntryKind::Count {
        return Ok(());
    }
    let steps = i128::from(moving.mass.steps());
    let (place, by) = match moving.src.sort() {
        Sort::Cylinder => (moving.src, -steps),
        _ => (moving.dst, steps),
    };
    let cylinder = tx.subject(place)?;
    let book = lens.balance(place, cylinder, moving.refrigerant);
    if moving.mass <= LARGEST && steps * 10 <= book.abs() {
        return Ok(());
    }
    let text = format!(
        "By the scale cylinder {} holds {}, by the book {}. Are it, its tare and the unit the right \
         ones, and is no entry missing?",
        name_of(cylinder),
        lb_oz_text(book + by),
        lb_oz_text(book)
    );
    let books = "the difference as unexplained; the office looks at it";
    judged
        .questions
        .push((as_stated("count_differs", text, books), place));
    Ok(())
}
