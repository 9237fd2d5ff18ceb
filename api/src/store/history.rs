//! Histories: the movements of an appliance as events.
//!
//! A reversal takes the rows of the entry it corrects out of the history; what a correction puts
//! in their place stands in the order of the chain's first entry. Links then say which entries
//! belong to one visit or one leak; of several links the newest holds.

use super::StoreError;
use super::columns::{Flow, PlaceNumber, Ties, What, event_kind, words_of};
use super::flush::{MovementRow, Rare, int};
use super::sql;
use super::statement::Bind;
use super::tx::Tx;
use reports::day::Day;
use reports::event::Event;
use reports::mass::Mass;
use reports::standing::Replaced;

/// A row of the covering index: day, entry, what, mass, half id, ties.
pub type Row = (i64, i64, i64, i64, i64, Option<Vec<u8>>);

/// Gathers the rows of one appliance into its history.
#[derive(Default)]
pub struct Gathering {
    events: Vec<Event>,
    /// Entries whose rows are taken back, and by which correction.
    reversed: Vec<(u64, u64)>,
}

impl Gathering {
    /// Takes a row; rows of entries after `cut` are not known yet.
    pub fn take(&mut self, row: Row, cut: u64) -> Result<(), StoreError> {
        if row.1.unsigned_abs() > cut {
            return Ok(());
        }
        let correction = row.1.unsigned_abs();
        match read(row)? {
            Read::Event(event) => self.events.push(event),
            Read::Reversal(entry) => {
                self.reversed.extend(entry.map(|entry| (entry, correction)));
            }
        }
        Ok(())
    }

    /// What corrections took out so far, as it was first booked.
    pub fn replaced(&self) -> Vec<Replaced> {
        let mut replaced = Vec::new();
        for (entry, by) in &self.reversed {
            let own = self.events.iter().filter(|event| event.entry == *entry);
            replaced.extend(own.map(|event| Replaced {
                event: event.clone(),
                by: *by,
                newest: newest(&self.reversed, *by),
            }));
        }
        replaced
    }

    /// The history in its order; the gathering is empty again.
    pub fn finish(&mut self, links: &[(u64, u64, String)]) -> Vec<Event> {
        let mut events = std::mem::take(&mut self.events);
        let reversed = std::mem::take(&mut self.reversed);
        if !reversed.is_empty() {
            events.retain(|event| !reversed.iter().any(|(gone, _)| *gone == event.entry));
        }
        for (link, entry, relation) in links {
            let key = 1_u128 << 127 | u128::from(*link);
            let entry = newest(&reversed, *entry);
            for event in events.iter_mut().filter(|event| event.entry == entry) {
                match relation.as_str() {
                    "same_visit" | "same_job" => event.visit = Some(key),
                    "same_leak" => event.leak = Some(key),
                    "not_the_same" | "two_jobs" => {
                        event.visit = Some(key | u128::from(entry) << 64);
                        event.leak = None;
                    }
                    _ => {}
                }
            }
        }
        Event::sort(&mut events);
        events
    }
}

/// The correction that stands in the place of an entry by now: what was said of the one holds of
/// the other.
fn newest(reversed: &[(u64, u64)], entry: u64) -> u64 {
    let mut entry = entry;
    while let Some((_, by)) = reversed.iter().find(|(gone, _)| *gone == entry) {
        entry = *by;
    }
    entry
}

/// What a row says.
enum Read {
    Event(Event),
    /// The entry whose rows it takes back.
    Reversal(Option<u64>),
}

fn read(row: Row) -> Result<Read, StoreError> {
    let (day, seq, packed, mass, id_high, ties) = row;
    let seq = seq.unsigned_abs();
    let damaged = || StoreError::Broken(format!("a movement of entry {seq} is damaged"));
    let what = What::unpack(packed).ok_or_else(damaged)?;
    let ties = Ties::unpack(ties.as_deref()).ok_or_else(damaged)?;
    if what.reversal {
        return Ok(Read::Reversal(ties.reverses));
    }
    let day = Day::from_count(i32::try_from(day).map_err(|_| damaged())?);
    Ok(Read::Event(Event {
        entry: seq,
        // The second half of an id decides only between entries of one kind and one second
        // whose first halves agree as well; no figure depends on that order.
        chain: u128::from((id_high as u64) ^ 1 << 63) << 64,
        kind: event_kind(what.kind).ok_or_else(damaged)?,
        day,
        known: day,
        second: what.second,
        visit: ties.visit.map(|id| id.bits()),
        leak: ties.leak.map(|id| id.bits()),
        mass: Mass::from_steps(mass),
        refrigerant: what.refrigerant,
        outflow: what.flow == Flow::Out,
        reason: what.reason,
        returned_to_full: what.returned,
        words: ties.words.map(|text| Box::new(words_of(&text))),
    }))
}

/// The columns of the covering index that a pending row will have.
pub(super) fn columns(row: &MovementRow) -> Row {
    let day = i64::from(row.day);
    (
        day,
        int(row.seq),
        row.what,
        row.mass,
        row.id_high,
        row.ties.clone(),
    )
}

/// Brings a history up to date with a row just booked; `false`: it must be read anew.
pub(super) fn extend(history: &mut Vec<Event>, row: &MovementRow) -> bool {
    let Ok(Read::Event(event)) = read(columns(row)) else {
        return false;
    };
    let at = history.partition_point(|known| known.order() <= event.order());
    history.insert(at, event);
    true
}

impl Tx<'_> {
    /// Whether anything happened to an appliance from a day on and before another.
    pub fn has_events(&mut self, from: Day, before: Day) -> Result<bool, StoreError> {
        let (first, last) = (from.count(), before.count());
        let pending = self.book.pending.movements.iter();
        let mut days = pending
            .filter(|row| row.appliance.is_some())
            .map(|row| row.day);
        if days.any(|day| (first..last).contains(&day)) {
            return Ok(true);
        }
        let days = [Bind::Int(i64::from(first)), Bind::Int(i64::from(last))];
        let binds = [Bind::Int(self.book.org), days[0], days[1]];
        let found: Option<i64> = self.db.first(sql::EventOfDays, &binds)?;
        Ok(found.is_some())
    }

    /// The history of an appliance, in its order, with what this batch has booked.
    pub fn history(&mut self, place: PlaceNumber) -> Result<&[Event], StoreError> {
        if !self.book.histories.contains_key(&place) {
            let mut gathering = Gathering::default();
            let everything = [
                Bind::Int(self.book.org),
                Bind::Int(place.0),
                Bind::Int(i64::MAX),
            ];
            let rows: Vec<Row> = self.db.rows(sql::MovementsOfAppliance, &everything)?;
            for row in rows {
                gathering.take(row, u64::MAX)?;
            }
            let pending = self.book.pending.movements.iter();
            for row in pending.filter(|row| row.appliance == Some(place)) {
                gathering.take(columns(row), u64::MAX)?;
            }
            let links: Vec<(i64, i64, String)> = self.db.rows(sql::LinksOf, &everything)?;
            let mut links: Vec<(u64, u64, String)> = links
                .into_iter()
                .map(|(seq, entry, relation)| (seq.unsigned_abs(), entry.unsigned_abs(), relation))
                .collect();
            for row in &self.book.pending.rare {
                if let Rare::Link {
                    seq,
                    entry,
                    place: about,
                    relation,
                } = row
                    && *about == place
                {
                    links.push((*seq, *entry, relation.clone()));
                }
            }
            self.book.histories.insert(place, gathering.finish(&links));
        }
        Ok(&self.book.histories[&place])
    }
}
