//! The chain that a correction belongs to: what is in force in it, and what later entries lack
//! without it.

use super::settled::Changes;
use crate::actions::post::Intention;
use crate::actions::refusal::ActionError;
use crate::ledger::entry::Moved;
use crate::store::columns::{PlaceNumber, Sort, What};
use crate::store::tx::Tx;
use std::borrow::Cow;

/// The movements in force in the chain with their ends exchanged, and what that does to balances.
#[allow(clippy::type_complexity)]
pub(super) fn reversals(
    tx: &mut Tx<'_>,
    seq: u64,
) -> Result<(Vec<Moved<'static>>, Vec<(PlaceNumber, u16, i128)>), ActionError> {
    let mut reverse = Vec::new();
    let mut without = Vec::new();
    for row in tx.movements_of(seq)? {
        let moved = |what: &What| !what.reversal && !what.kind.is_service();
        let Some(what) = What::unpack(row.what).filter(moved) else {
            continue;
        };
        let designation = tx
            .table
            .designation(what.refrigerant)
            .unwrap_or_default()
            .to_string();
        reverse.push(Moved {
            from: tx.place(row.dst)?,
            g: reports::mass::Mass::from_steps(row.mass),
            number: None,
            readings: None,
            refrigerant: Cow::Owned(designation),
            to: tx.place(row.src)?,
            typed: None,
        });
        without.push((row.src, what.refrigerant, i128::from(row.mass)));
        without.push((row.dst, what.refrigerant, -i128::from(row.mass)));
    }
    Ok((reverse, without))
}

/// All entries of the chain, newest first.
pub(super) fn chain(tx: &mut Tx<'_>, seq: u64) -> Result<Vec<u64>, ActionError> {
    let mut chain = vec![seq];
    let mut at = seq;
    while let Some((corrects, _)) = tx.correction_at(at)? {
        chain.push(corrects);
        at = corrects;
    }
    Ok(chain)
}

/// What a correction changes in balances: what it takes back, and what it says instead.
pub(super) fn changes(what: &Intention) -> Changes {
    let mut changes = Changes::new();
    for (place, code, by) in &what.without {
        *changes.entry((*place, *code)).or_insert(0_i128) += by;
    }
    for moving in &what.moves {
        let mass = i128::from(moving.mass.steps());
        *changes.entry((moving.src, moving.refrigerant)).or_insert(0) -= mass;
        *changes.entry((moving.dst, moving.refrigerant)).or_insert(0) += mass;
    }
    changes
}

/// What later movements then lack is a finding, never a refusal.
pub(super) fn lacking(
    tx: &mut Tx<'_>,
    changes: &Changes,
    what: &mut Intention,
) -> Result<(), ActionError> {
    for (&(place, code), &by) in changes {
        let counted = matches!(place.sort(), Sort::Appliance | Sort::Cylinder);
        if counted && by < 0 && tx.subject(place)?.balance(code) + by < 0 {
            what.findings.push(("balance_below_zero", place));
        }
    }
    Ok(())
}
