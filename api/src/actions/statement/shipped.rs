//! The shipments that a statement is about: what was sent, and what the book has of it by now.

use crate::actions::correct::entry;
use crate::actions::judge::name_of;
use crate::actions::refusal::{ActionError, Refusal};
use crate::ledger::entry::{EntryRef, Leaf};
use crate::store::StoreError;
use crate::store::columns::{PlaceNumber, What};
use crate::store::shipments::Sent;
use crate::store::tx::Tx;
use reports::mass::Mass;
use std::collections::{BTreeMap, BTreeSet};

/// Shipments to one counterparty, added up by refrigerant.
#[derive(Debug, Default)]
pub(super) struct Shipped {
    /// What was sent, in steps.
    pub own: BTreeMap<u16, i128>,
    /// What the book has of it: the same with what accepted statements have changed.
    pub book: BTreeMap<u16, i128>,
    /// The smallest step of the scale of each weighing, by refrigerant.
    pub steps: Vec<(u16, Mass)>,
    /// First entries of the chains.
    pub firsts: BTreeSet<u64>,
    /// Accepted statements about them.
    pub accepted: Vec<u64>,
}

/// Reads the entries that a statement names; `accepts`: its difference is to be booked.
pub(super) fn read(
    tx: &mut Tx<'_>,
    names: &[String],
    receiver: PlaceNumber,
    accepts: bool,
) -> Result<(Vec<EntryRef>, Shipped), ActionError> {
    let (mut entries, mut shipped) = (Vec::new(), Shipped::default());
    for (at, name) in names.iter().enumerate() {
        let pointer = format!("/body/entries/{at}");
        let found = by_id_or_number(tx, name, &pointer)?;
        if !shipped.firsts.insert(tx.first_of(found.seq)?) {
            let remedy = "Name each shipment once.";
            return Err(Refusal::invalid(&pointer, "another shipment", name, remedy).into());
        }
        take(tx, found.seq, receiver, &pointer, &mut shipped)?;
        entries.push(found);
    }
    if entries.is_empty() {
        return Err(Refusal::Malformed {
            pointer: "/body/entries".to_string(),
            detail:
                "Expected at least one shipment, got none. Name the entries by which it was sent."
                    .to_string(),
        }
        .into());
    }
    shipped.book = shipped.own.clone();
    earlier(tx, receiver, accepts, &mut shipped)?;
    Ok((entries, shipped))
}

/// The entries that a statement names, whatever became of them.
pub(super) fn named(tx: &mut Tx<'_>, names: &[String]) -> Result<Vec<EntryRef>, ActionError> {
    let named = names.iter().enumerate();
    named
        .map(|(at, name)| by_id_or_number(tx, name, &format!("/body/entries/{at}")))
        .collect()
}

/// An earlier entry by its id, or by its number in the book.
fn by_id_or_number(tx: &mut Tx<'_>, name: &str, pointer: &str) -> Result<EntryRef, ActionError> {
    let Some(seq) = name.parse::<u64>().ok().filter(|_| name.len() < 19) else {
        return entry(tx, name, pointer);
    };
    let unknown = || Refusal::Unknown {
        pointer: pointer.to_string(),
        what: "entry".to_string(),
        name: name.to_string(),
    };
    let (bytes, _) = tx.leaf(seq)?.ok_or_else(unknown)?;
    let id = parsed(&bytes, seq)?.id;
    Ok(EntryRef { id, seq })
}

pub(super) fn parsed(bytes: &[u8], seq: u64) -> Result<Leaf<'_>, StoreError> {
    Leaf::parse(bytes)
        .map_err(|error| StoreError::Broken(format!("entry {seq} is unreadable: {error}")))
}

/// Adds what an entry, as corrected since, sent to the receiver.
fn take(
    tx: &mut Tx<'_>,
    seq: u64,
    receiver: PlaceNumber,
    pointer: &str,
    shipped: &mut Shipped,
) -> Result<(), ActionError> {
    let newest = tx.newest_of(seq)?;
    let sent: Vec<Sent> = tx.sent_by(newest)?;
    let own = sent.iter().filter(|sent| sent.to == receiver);
    let own: Vec<Sent> = own.copied().collect();
    if own.is_empty() {
        let receiver = name_of(tx.subject(receiver)?);
        let came = match sent.first() {
            Some(other) => format!("it went to {}", name_of(tx.subject(other.to)?)),
            None if newest != seq => format!("no. {newest} has taken it back"),
            None => "it sent nothing".to_string(),
        };
        let detail = format!(
            "Expected a shipment to {receiver}, got entry no. {seq}: {came}. Name an entry that sent \
             refrigerant to {receiver} for reclaim or destruction."
        );
        let pointer = pointer.to_string();
        return Err(Refusal::InvalidValue { pointer, detail }.into());
    }
    for one in own {
        *shipped.own.entry(one.refrigerant).or_default() += one.mass;
    }
    steps(tx, newest, shipped)
}

/// The steps of the registered scales on which it was weighed.
fn steps(tx: &mut Tx<'_>, seq: u64, shipped: &mut Shipped) -> Result<(), ActionError> {
    let Some((bytes, _)) = tx.leaf(seq)? else {
        return Ok(());
    };
    let leaf = parsed(&bytes, seq)?;
    let body = leaf
        .body
        .replace
        .as_ref()
        .map_or(&leaf.body, |new| &new.body);
    for moved in body.movements.iter().flatten() {
        let scale = moved.readings.as_ref().and_then(|readings| readings.scale);
        let Some(scale) = scale.map(|id| tx.by_id(id)).transpose()?.flatten() else {
            continue;
        };
        let step = tx.subject(scale)?.brief.resolution;
        let code = tx.table.code(&moved.refrigerant);
        shipped.steps.extend(code.zip(step));
    }
    Ok(())
}

/// Adds what accepted statements about the same shipments have changed already.
fn earlier(
    tx: &mut Tx<'_>,
    receiver: PlaceNumber,
    accepts: bool,
    shipped: &mut Shipped,
) -> Result<(), ActionError> {
    for (statement, about) in by_statement(tx, receiver)? {
        let shared = about.intersection(&shipped.firsts).count();
        if shared == 0 || !is_accepted(tx, statement)? {
            continue;
        }
        if shared < about.len() {
            if !accepts {
                continue;
            }
            let missing: Vec<String> = (about.difference(&shipped.firsts))
                .map(|seq| format!("no. {seq}"))
                .collect();
            let detail = format!(
                "Expected all shipments of the accepted statement no. {statement}, which are about \
                 one weight together; missing: {}. Name these, too, or take that statement back.",
                missing.join(", ")
            );
            let pointer = "/body/entries".to_string();
            return Err(Refusal::InvalidValue { pointer, detail }.into());
        }
        shipped.accepted.push(statement);
        for row in tx.movements_of(statement)? {
            let Some(what) = What::unpack(row.what) else {
                continue;
            };
            let by = match row.dst == receiver {
                true => i128::from(row.mass),
                false => -i128::from(row.mass),
            };
            *shipped.book.entry(what.refrigerant).or_default() += by;
        }
    }
    shipped.book.retain(|_, mass| *mass != 0);
    Ok(())
}

/// The statements in force of a counterparty, each with the first entries of its shipments.
pub(super) fn by_statement(
    tx: &mut Tx<'_>,
    receiver: PlaceNumber,
) -> Result<BTreeMap<u64, BTreeSet<u64>>, StoreError> {
    let mut grouped: BTreeMap<u64, BTreeSet<u64>> = BTreeMap::new();
    for (statement, first) in tx.statements_of(receiver)? {
        grouped.entry(statement).or_default().insert(first);
    }
    Ok(grouped)
}

/// Was the difference of a statement booked?
pub(super) fn is_accepted(tx: &mut Tx<'_>, statement: u64) -> Result<bool, StoreError> {
    let leaf = tx.leaf(statement)?;
    let Some((bytes, _)) = leaf else {
        return Ok(false);
    };
    Ok(parsed(&bytes, statement)?.body.outcome.as_deref() == Some("accepted"))
}
