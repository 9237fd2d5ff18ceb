//! The frame of each entry, and what must hold from one entry to the next.

use super::report::{Check, Report};
use crate::ledger::entry::Leaf;
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use foldhash::HashMap;
use serde::Deserialize;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// What is read of every entry, understood or not.
pub(super) struct Frame<'a> {
    pub seq: u64,
    pub id: Id,
    pub kind: Cow<'a, str>,
    pub log: Cow<'a, str>,
    pub booked_at: Cow<'a, str>,
    pub nth: Cow<'a, BTreeMap<Place, u64>>,
}

static NO_COUNTS: BTreeMap<Place, u64> = BTreeMap::new();

impl<'a> Frame<'a> {
    pub(super) fn of(leaf: &'a Leaf<'_>) -> Frame<'a> {
        Frame {
            seq: leaf.seq,
            id: leaf.id,
            kind: Cow::Borrowed(&leaf.kind),
            log: Cow::Borrowed(&leaf.log),
            booked_at: Cow::Borrowed(&leaf.booked_at),
            nth: Cow::Borrowed(leaf.nth.as_ref().unwrap_or(&NO_COUNTS)),
        }
    }

    /// Reads the frame of an entry whose body or other members this program does not know.
    pub(super) fn parse(leaf: &'a [u8]) -> Option<Frame<'a>> {
        #[derive(Deserialize)]
        struct Members<'a> {
            seq: u64,
            id: Id,
            #[serde(borrow)]
            kind: Cow<'a, str>,
            #[serde(borrow)]
            log: Cow<'a, str>,
            #[serde(borrow)]
            booked_at: Cow<'a, str>,
            #[serde(default)]
            nth: BTreeMap<Place, u64>,
        }
        let Members {
            seq,
            id,
            kind,
            log,
            booked_at,
            nth,
        } = serde_json::from_slice(leaf).ok()?;
        Some(Frame {
            seq,
            id,
            kind,
            log,
            booked_at,
            nth: Cow::Owned(nth),
        })
    }
}

/// What the entries so far have in common.
#[derive(Default)]
pub(super) struct Order {
    log: Option<String>,
    booked_at: String,
    /// By number; `None` where an entry is missing or has no frame.
    ids: Vec<Option<Id>>,
    places: HashMap<Place, Seen>,
}

/// What is known of a place.
struct Seen {
    /// The how many-th place that was met, from 0.
    number: u32,
    /// Entries about it.
    count: u64,
}

impl Order {
    /// An entry that is missing or no entry.
    pub(super) fn gap(&mut self) {
        self.ids.push(None);
    }

    fn seen(&mut self, place: Place) -> &mut Seen {
        let number = self.places.len() as u32;
        let new = Seen { number, count: 0 };
        self.places.entry(place).or_insert(new)
    }

    /// The number of a place: smaller to keep than the place. One table holds numbers and counts,
    /// because looking a place up is what costs.
    pub(super) fn place(&mut self, place: Place) -> u32 {
        self.seen(place).number
    }

    /// The place with a number, for a person to read.
    pub(super) fn place_numbered(&self, number: u32) -> Option<Place> {
        let mut places = self.places.iter();
        let found = places.find(|(_, seen)| seen.number == number);
        found.map(|(place, _)| *place)
    }

    /// The id of an earlier entry.
    pub(super) fn id_of(&self, seq: u64) -> Option<Id> {
        self.ids.get(usize::try_from(seq).ok()?).copied().flatten()
    }

    pub(super) fn check(&mut self, seq: u64, frame: &Frame<'_>, report: &mut Report) {
        self.ids.push(Some(frame.id));
        if frame.seq != seq {
            let found = format!("`seq` {} in the leaf", frame.seq);
            report.add(Check::Frame, seq, format!("`seq` {seq}"), found);
        }
        match &self.log {
            None => {
                self.log = Some(frame.log.to_string());
                report.origin = self.log.clone();
            }
            Some(log) if *log != frame.log => {
                report.add(Check::Frame, seq, format!("the book {log}"), &frame.log);
            }
            Some(_) => {}
        }
        self.check_time(seq, &frame.booked_at, report);
        for (place, nth) in frame.nth.as_ref() {
            if !matches!(place, Place::Appliance(_) | Place::Cylinder(_)) {
                report.add(Check::Nth, seq, "an appliance or cylinder", place);
                continue;
            }
            let count = &mut self.seen(*place).count;
            if *nth != *count + 1 {
                let expected = format!("{place} to be at {}", *count + 1);
                report.add(Check::Nth, seq, expected, nth);
            }
            *count = *nth;
        }
    }

    fn check_time(&mut self, seq: u64, booked_at: &str, report: &mut Report) {
        if microseconds(booked_at).is_none() {
            let expected = "a time in UTC such as 2026-01-05T15:00:02.417Z";
            report.add(Check::BookedAt, seq, expected, booked_at);
            return;
        }
        // All times have the same width, so they compare as text.
        if *booked_at < *self.booked_at {
            report.add(
                Check::BookedAt,
                seq,
                format!("{} or later", self.booked_at),
                booked_at,
            );
        }
        self.booked_at.clear();
        self.booked_at.push_str(booked_at);
    }

    /// Ids are compared once all are known: sorting them is cheaper than a set of a million.
    pub(super) fn finish(&self, report: &mut Report) {
        let mut sorted: Vec<Id> = self.ids.iter().copied().flatten().collect();
        sorted.sort_unstable();
        let repeated = sorted
            .windows(2)
            .filter(|pair| pair[0] == pair[1])
            .map(|pair| pair[0]);
        let mut repeated: Vec<Id> = repeated.collect();
        repeated.dedup();
        for id in repeated {
            let has_it = |(seq, other): (usize, &Option<Id>)| (*other == Some(id)).then_some(seq);
            let mut numbers = self.ids.iter().enumerate().filter_map(has_it);
            let first = numbers.next().unwrap_or_default();
            for seq in numbers {
                let found = format!("{id}, which is no. {first}");
                report.add(Check::Id, seq as u64, "an id of its own", found);
            }
        }
    }
}

/// Microseconds since 1970 of `YYYY-MM-DDThh:mm:ss.mmmZ`; `None` for any other spelling.
pub(super) fn microseconds(text: &str) -> Option<i64> {
    let bytes: &[u8; 24] = text.as_bytes().try_into().ok()?;
    let digits = |from: usize, to: usize, below: i64| {
        let digit = |number: i64, b: &u8| {
            b.is_ascii_digit()
                .then(|| number * 10 + i64::from(b - b'0'))
        };
        bytes[from..to]
            .iter()
            .try_fold(0, digit)
            .filter(|number| *number < below)
    };
    let signs = [(10, b'T'), (13, b':'), (16, b':'), (19, b'.'), (23, b'Z')];
    if !signs.iter().all(|(at, sign)| bytes[*at] == *sign) {
        return None;
    }
    let day = i64::from(reports::day::Day::parse(text.get(..10)?)?.count());
    let (hour, minute) = (digits(11, 13, 24)?, digits(14, 16, 60)?);
    let (second, millisecond) = (digits(17, 19, 60)?, digits(20, 23, 1000)?);
    Some((((day * 24 + hour) * 60 + minute) * 60 + second) * 1_000_000 + millisecond * 1000)
}
