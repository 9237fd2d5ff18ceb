//! What rests on what: a newer statement settles what earlier ones left open, and a correction of a
//! shipment or of a statement leaves a finding where an accepted statement counted on it.

mod after;

use super::shipped::{Shipped, by_statement};
use super::{DISPUTED, OPEN};
use crate::actions::post::Intention;
use crate::ledger::actor::{Actor, Role};
use crate::ledger::entry::EntryKind;
use crate::ledger::place::Place;
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
            OPEN => about_of(tx, entry)?.is_subset(&shipped.firsts),
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
/// the book is then not what an accepted one says, somebody looks at it, and where it is, nobody any more.
pub fn rests(
    tx: &mut Tx<'_>,
    actor: &Actor,
    corrects: u64,
    what: &mut Intention,
) -> Result<(), StoreError> {
    let disputed = tx.findings_of(corrects)?.into_iter();
    let open = disputed.filter(|finding| finding.0 == DISPUTED && finding.3.is_none());
    what.settles
        .extend(open.map(|finding| (corrects, finding.0)));
    // What is of the highest grade is settled by who keeps the book alone.
    let keeps = matches!(actor.role, Role::ComplianceManager | Role::Operator);
    let (own, by) = (tied_to(tx, corrects)?, stated_by(tx, corrects)?);
    let mut concerned = own.clone();
    concerned.insert(tx.first_of(corrects)?);
    let ends = what
        .moves
        .iter()
        .flat_map(|moving| [moving.src, moving.dst]);
    let ends = ends.chain(what.without.iter().map(|(place, ..)| *place));
    let changed: BTreeSet<PlaceNumber> = ends
        .filter(|place| place.sort() == Sort::Counterparty)
        .collect();
    let receivers: BTreeSet<PlaceNumber> = changed.iter().copied().chain(by).collect();
    for receiver in receivers {
        let is_left = after::differs(tx, receiver, corrects, &concerned, what)?;
        if is_left && !changed.contains(&receiver) {
            continue;
        }
        for (entry, code) in tx.open_findings_of(receiver)? {
            if keeps && code == OPEN && !about_of(tx, entry)?.is_disjoint(&concerned) {
                what.settles.push((entry, code));
            }
        }
        if is_left {
            what.findings.push((OPEN, receiver));
        }
    }
    Ok(())
}

/// The shipments that a finding of a correction is about.
fn about_of(tx: &mut Tx<'_>, entry: u64) -> Result<BTreeSet<u64>, StoreError> {
    let first = tx.first_of(entry)?;
    let stated = tied_to(tx, first)?;
    Ok(match stated.is_empty() {
        true => BTreeSet::from([first]),
        false => stated,
    })
}

/// Whose statement an entry is.
fn stated_by(tx: &mut Tx<'_>, entry: u64) -> Result<Option<PlaceNumber>, StoreError> {
    let Some((bytes, _)) = tx.leaf(entry)? else {
        return Ok(None);
    };
    let leaf = super::shipped::parsed(&bytes, entry)?;
    let is_statement = leaf.kind == EntryKind::Statement.word();
    let subject = leaf.body.subject.as_deref().filter(|_| is_statement);
    match subject.and_then(Place::parse) {
        Some(place) => tx.place_number(place),
        None => Ok(None),
    }
}
