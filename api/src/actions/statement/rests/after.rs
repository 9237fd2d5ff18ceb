//! Does the book say what a receiver says, once a correction has done its work?

use super::super::shipped::{by_statement, is_accepted, parsed};
use crate::actions::post::Intention;
use crate::store::StoreError;
use crate::store::columns::{PlaceNumber, What};
use crate::store::shipments::is_shipment;
use crate::store::tx::Tx;
use std::collections::{BTreeMap, BTreeSet};

/// Mass by refrigerant, in steps; what is none stands nowhere.
type Held = BTreeMap<u16, i128>;

/// Is there an accepted statement about these shipments that says something else than the book will?
pub(super) fn differs(
    tx: &mut Tx<'_>,
    receiver: PlaceNumber,
    corrects: u64,
    concerned: &BTreeSet<u64>,
    what: &Intention,
) -> Result<bool, StoreError> {
    let mut accepted: BTreeMap<u64, BTreeSet<u64>> = BTreeMap::new();
    for (statement, about) in by_statement(tx, receiver)? {
        if statement != corrects && is_accepted(tx, statement)? {
            accepted.insert(statement, about);
        }
    }
    // Of several about one shipment the newest holds.
    let newest = concerned.iter().filter_map(|first| {
        let mut about = accepted.iter().rev().filter(|(_, it)| it.contains(first));
        about.next().map(|(statement, _)| *statement)
    });
    for statement in newest.collect::<BTreeSet<u64>>() {
        let about = &accepted[&statement];
        let mut held = sent(tx, receiver, corrects, about, what)?;
        for (other, shared) in &accepted {
            if !shared.is_disjoint(about) {
                moved(tx, receiver, *other, &mut held)?;
            }
        }
        held.retain(|_, mass| *mass != 0);
        if held != stated(tx, statement)? {
            return Ok(true);
        }
    }
    Ok(false)
}

/// What was sent to the receiver by these shipments, as they will stand.
fn sent(
    tx: &mut Tx<'_>,
    receiver: PlaceNumber,
    corrects: u64,
    about: &BTreeSet<u64>,
    what: &Intention,
) -> Result<Held, StoreError> {
    let (corrected, mut held) = (tx.first_of(corrects)?, Held::new());
    for first in about {
        if *first == corrected {
            let kind = what.judged_as.as_ref().map(|(kind, ..)| *kind);
            let instead = what.moves.iter().filter(|_| kind.is_some_and(is_shipment));
            for moving in instead.filter(|moving| moving.dst == receiver) {
                let mass = i128::from(moving.mass.steps());
                *held.entry(moving.refrigerant).or_default() += mass;
            }
            continue;
        }
        let newest = tx.newest_of(*first)?;
        for one in tx.sent_by(newest)? {
            if one.to == receiver {
                *held.entry(one.refrigerant).or_default() += one.mass;
            }
        }
    }
    Ok(held)
}

/// Adds what a statement has changed at the receiver.
fn moved(
    tx: &mut Tx<'_>,
    receiver: PlaceNumber,
    statement: u64,
    held: &mut Held,
) -> Result<(), StoreError> {
    for row in tx.movements_of(statement)? {
        let Some(what) = What::unpack(row.what) else {
            continue;
        };
        let mass = i128::from(row.mass);
        let by = if row.dst == receiver { mass } else { -mass };
        *held.entry(what.refrigerant).or_default() += by;
    }
    Ok(())
}

/// What a statement says.
fn stated(tx: &mut Tx<'_>, statement: u64) -> Result<Held, StoreError> {
    let table = tx.table;
    let Some((bytes, _)) = tx.leaf(statement)? else {
        return Ok(Held::new());
    };
    let leaf = parsed(&bytes, statement)?;
    let lines = leaf.body.stated.iter().flatten();
    let lines = lines.filter_map(|line| {
        let steps = i128::from(line.g.steps());
        Some((table.code(&line.refrigerant)?, steps))
    });
    Ok(lines.filter(|(_, mass)| *mass != 0).collect())
}
