//! What a correction, or another name of the content, makes of a cylinder: too full, or mixed.
//!
//! Nobody pours anything then, so nothing is stopped. The book says that it has happened already, and
//! that is what it leaves: the finding that the fill itself would have left, and quarantine.

use super::room::limit_of;
use super::{Case, Judged, Lens};
use crate::ledger::entry::EntryKind;
use crate::store::StoreError;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use std::collections::BTreeSet;

/// Looks at every cylinder in which there is more of something than before, once all has moved.
pub fn look(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    lens: &Lens,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let renamed = case.kind == EntryKind::Redesignate;
    if case.without.is_empty() && !renamed {
        return Ok(());
    }
    // What stands instead and goes into a cylinder was held against it at the door.
    let filled = |place| !renamed && case.moves.iter().any(|moving| moving.dst == place);
    let rose: BTreeSet<PlaceNumber> = (lens.changes.iter())
        .filter(|((place, _), by)| place.sort() == Sort::Cylinder && **by > 0)
        .map(|((place, _), _)| *place)
        .filter(|place| !filled(*place))
        .collect();
    for place in rose {
        cylinder(tx, lens, place, judged)?;
    }
    Ok(())
}

fn cylinder(
    tx: &mut Tx<'_>,
    lens: &Lens,
    place: PlaceNumber,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let table = tx.table;
    let cylinder = tx.subject(place)?;
    let mut codes = lens.codes(place, cylinder);
    let before = cylinder.holds().count();
    codes.retain(|code| lens.balance(place, cylinder, *code) > 0);
    if codes.len() > 1 && codes.len() > before {
        judged.happened.push(("mixing", place));
    }
    // Where a maker may have filled it, his marking counts.
    let by_maker = cylinder.brief.usage.as_deref() != Some("recovery");
    let limit = limit_of(&cylinder.brief, table, &codes, by_maker);
    let holds = lens.total(place, cylinder);
    if limit.is_some_and(|limit| holds > i128::from(limit.limit.steps())) {
        judged.happened.push(("over_full", place));
    }
    Ok(())
}
