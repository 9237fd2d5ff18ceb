//! A leaf against what lies beside it: the columns of a database, and the texts of its commitments.

use super::order::microseconds;
use super::report::{Check, Report};
use crate::ledger::canonical::commitment;
use crate::ledger::entry::{Body, EntryKind, Happened, Leaf, Moved, Words};
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::ledger::source::{ColumnMovement, Disclosure, ReadOfMovement, StoredEntry};
use reports::mass::Mass;
use std::borrow::Cow;

/// `reversed`: the appliance of the service event that a correction takes back.
pub(super) fn check_columns(
    entry: &StoredEntry,
    leaf: &Leaf<'_>,
    reversed: Option<Place>,
    report: &mut Report,
) {
    let Some(columns) = &entry.columns else {
        return;
    };
    report.columns += 1;
    let mut differ = |name: &str, expected: String, found: String| {
        report.add(
            Check::Columns,
            entry.seq,
            format!("{name} {expected}"),
            found,
        );
    };
    if columns.entry_id != leaf.id {
        differ("id", leaf.id.to_string(), columns.entry_id.to_string());
    }
    if columns.kind.word() != leaf.kind {
        differ(
            "kind",
            leaf.kind.to_string(),
            columns.kind.word().to_string(),
        );
    }
    if columns.day != leaf.happened.day {
        differ(
            "day",
            leaf.happened.day.to_string(),
            columns.day.to_string(),
        );
    }
    if microseconds(&leaf.booked_at).is_some_and(|time| time != columns.booked_at) {
        let found = format!("{} microseconds since 1970", columns.booked_at);
        differ("time of booking", leaf.booked_at.to_string(), found);
    }
    let mut said = said(leaf, reversed);
    if said != columns.movements {
        let mut kept = columns.movements.clone();
        said.sort_unstable();
        kept.sort_unstable();
        if said != kept {
            differ("movements", written(&said), written(&kept));
        }
    }
}

/// The rows a leaf asks for: its own, or those a correction reverses and puts in their place.
fn said<'a>(leaf: &'a Leaf<'_>, taken_back: Option<Place>) -> Vec<ColumnMovement<'a>> {
    let own = ReadOfMovement {
        kind: Cow::Borrowed(&leaf.kind),
        visit: leaf.visit,
        id_high: Some((leaf.id.bits() >> 64) as u64),
        ..stated(&leaf.happened, &leaf.body)
    };
    let reversed = ReadOfMovement {
        reverses: leaf.body.corrects.map(|corrects| corrects.seq),
        ..ReadOfMovement::default()
    };
    let mut said = Vec::new();
    said.extend(taken_back.map(|place| service(place, reversed.clone())));
    said.extend(serviced(&leaf.kind, &leaf.body).map(|place| service(place, own.clone())));
    for moved in leaf.body.movements.iter().flatten() {
        said.push(column(moved, &own));
    }
    for moved in leaf.body.reverse.iter().flatten() {
        said.push(column(moved, &reversed));
    }
    if let Some(new) = &leaf.body.replace {
        let read = ReadOfMovement {
            kind: Cow::Borrowed(&new.kind),
            visit: new.visit,
            ..stated(&new.happened, &new.body)
        };
        said.extend(serviced(&new.kind, &new.body).map(|place| service(place, read.clone())));
        let moved = new.body.movements.iter().flatten();
        said.extend(moved.map(|moved| column(moved, &read)));
    }
    said
}

/// The appliance a service event is about.
pub(super) fn serviced(kind: &str, body: &Body<'_>) -> Option<Place> {
    let is_service = EntryKind::named(kind).is_some_and(EntryKind::is_service);
    let subject = body.subject.as_deref().filter(|_| is_service)?;
    Place::parse(subject)
}

/// The row of a service event: no mass, both ends at its appliance (or, observed, its cylinder).
fn service<'a>(place: Place, read: ReadOfMovement<'a>) -> ColumnMovement<'a> {
    ColumnMovement {
        from: place,
        to: place,
        refrigerant: Cow::Borrowed(""),
        mass: Mass::ZERO,
        read: ReadOfMovement {
            appliance: Some(place).filter(|place| matches!(place, Place::Appliance(_))),
            ..read
        },
    }
}

/// What reports read of the time and the body of an entry.
fn stated<'a>(happened: &Happened<'_>, body: &'a Body<'_>) -> ReadOfMovement<'a> {
    let second = |time: &str| reports::day::parse_clock(time).map(|(second, _)| second);
    ReadOfMovement {
        day: happened.day.count(),
        second: happened.time.as_deref().and_then(second),
        reason: body.reason.as_deref().map(Cow::Borrowed),
        returned: body.returned_to_full_charge == Some(true),
        leak: body.leak,
        words: body.words.as_ref().map(|words| {
            let pair = |(name, word): (&Cow<'_, str>, &Cow<'_, str>)| format!("{name}={word}");
            Cow::Owned(words.iter().map(pair).collect::<Vec<_>>().join(";"))
        }),
        ..ReadOfMovement::default()
    }
}

fn column<'a>(moved: &'a Moved<'_>, read: &ReadOfMovement<'a>) -> ColumnMovement<'a> {
    let mut read = read.clone();
    let is_appliance = |place: &Place| matches!(place, Place::Appliance(_));
    read.appliance = [moved.to, moved.from].into_iter().find(is_appliance);
    ColumnMovement {
        from: moved.from,
        to: moved.to,
        refrigerant: Cow::Borrowed(&moved.refrigerant),
        mass: moved.g,
        read,
    }
}

fn written(movements: &[ColumnMovement<'_>]) -> String {
    let text = |m: &ColumnMovement<'_>| {
        format!(
            "{} g of {} from {} to {} ({:?})",
            m.mass, m.refrigerant, m.from, m.to, m.read
        )
    };
    let texts: Vec<String> = movements.iter().map(text).collect();
    if texts.is_empty() {
        "none".to_string()
    } else {
        texts.join("; ")
    }
}

/// What is kept of a leaf until the texts of its block are opened: a whole leaf is over a thousand
/// bytes, and a block of them leaves no room in the processor's cache.
pub(super) struct Committed<'a> {
    id: Id,
    commit: Option<Words<'a>>,
}

impl<'a> Committed<'a> {
    pub(super) fn of(leaf: Leaf<'a>) -> Committed<'a> {
        Committed {
            id: leaf.id,
            commit: leaf.commit,
        }
    }
}

/// Every text that is shown opens the commitment of its entry. A commitment without its text is no
/// break: the text may be erased, or not for these eyes.
pub(super) fn check_disclosures(
    leaves: &[(u64, Option<Committed<'_>>)],
    disclosures: &[Disclosure],
    report: &mut Report,
) {
    for (_, leaf) in leaves {
        let commits = leaf.as_ref().and_then(|leaf| leaf.commit.as_ref());
        report.commitments += commits.map_or(0, |commits| commits.len() as u64);
    }
    for disclosure in disclosures {
        let Disclosure {
            seq,
            field,
            salt,
            value,
        } = disclosure;
        let leaf = match leaves.binary_search_by_key(seq, |(seq, _)| *seq) {
            // The entry is there but not understood: its commitments are not read.
            Ok(at) if leaves[at].1.is_none() => continue,
            Ok(at) => leaves[at].1.as_ref(),
            Err(_) => None,
        };
        let committed = leaf.and_then(|leaf| Some((leaf.id, leaf.commit.as_ref()?.get(&**field)?)));
        let Some((id, committed)) = committed else {
            let expected = format!("a commitment to `{field}`");
            report.add(Check::Commitment, *seq, expected, "none in the leaf");
            continue;
        };
        let opened = commitment(id, field, salt, value.as_bytes());
        if opened == **committed {
            report.disclosures += 1;
        } else {
            let expected = format!("the text and salt of `{field}` to give {committed}");
            report.add(Check::Commitment, *seq, expected, opened);
        }
    }
}
