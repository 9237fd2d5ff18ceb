//! What rests on what: a newer statement settles what earlier ones left open, and a correction of a
//! shipment or of a statement leaves a finding where an accepted statement counted on it.

use super::shipped::{Shipped, by_statement, is_accepted};
use super::{DISPUTED, OPEN};
use crate::actions::post::Intention;
use crate::store::StoreError;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use std::collections::BTreeSet;

/// Open findings of the counterparty that are about these shipments alone.
pub(super) fn settled(
    tx: &mut Tx<'_>,
    receiver: PlaceNumber,
    shipped: &Shipped,
) -> Result<Vec<(u64, String)>, StoreError> {
    let statements = by_statement(tx, receiver)?;
    let mut settled = Vec::new();
    for (entry, code) in tx.open_findings_of(receiver)? {
        let is_about = match code.as_str() {
            DISPUTED => statements
                .get(&entry)
                .is_some_and(|about| about.is_subset(&shipped.firsts)),
            OPEN => {
                let first = tx.first_of(entry)?;
                let about = tied_to(tx, first)?;
                shipped.firsts.contains(&first)
                    || (!about.is_empty() && about.is_subset(&shipped.firsts))
            }
            _ => false,
        };
        if is_about {
            settled.push((entry, code));
        }
    }
    Ok(settled)
}

/// First entries of the shipments that a statement is about, also of one that was taken back.
fn tied_to(tx: &mut Tx<'_>, statement: u64) -> Result<BTreeSet<u64>, StoreError> {
    let mut about = BTreeSet::new();
    let Some((bytes, _)) = tx.leaf(statement)? else {
        return Ok(about);
    };
    let leaf = super::shipped::parsed(&bytes, statement)?;
    let entries = leaf.body.entries.iter().flatten();
    let named: Vec<u64> = entries.map(|entry| entry.seq).collect();
    for entry in named {
        about.insert(tx.first_of(entry)?);
    }
    Ok(about)
}

/// What the correction of an entry does to statements: one that is taken back is disputed no longer; where
/// an accepted one counted on what is corrected, somebody looks at it.
pub fn rests(tx: &mut Tx<'_>, corrects: u64, what: &mut Intention) -> Result<(), StoreError> {
    let disputed = tx.findings_of(corrects)?.into_iter();
    let open = disputed.filter(|finding| finding.0 == DISPUTED && finding.3.is_none());
    what.settles
        .extend(open.map(|finding| (corrects, finding.0)));
    let first = tx.first_of(corrects)?;
    let own = tied_to(tx, corrects)?;
    let mut receivers = BTreeSet::new();
    for row in tx.movements_of(corrects)? {
        let ends = [row.src, row.dst].into_iter();
        receivers.extend(ends.filter(|place| place.sort() == Sort::Counterparty));
    }
    for receiver in receivers {
        for (statement, about) in by_statement(tx, receiver)? {
            let counts = about.contains(&first) || about.intersection(&own).next().is_some();
            // Without a statement that is taken back, older ones stand as they stood; a shipment that is
            // corrected once more is what they counted on, whenever they came.
            let rests = own.is_empty() || statement > corrects;
            if counts && rests && is_accepted(tx, statement)? {
                what.findings.push((OPEN, receiver));
            }
        }
    }
    Ok(())
}
