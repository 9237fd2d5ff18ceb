//! Histories: the movements of an appliance as events.
//!
//! A reversal takes the rows of the entry it corrects out of the history; what a correction puts
//! in their place stands in the order of the chain's first entry. Links then say which entries
//! belong to one visit or one leak; of several links the newest holds.

use super::StoreError;
use super::columns::{Flow, PlaceNumber, Ties, What, event_kind};
use super::flush::{Rare, int};
use super::sql;
use super::statement::Bind;
use super::tx::Tx;
use reports::day::Day;
use reports::event::Event;
use reports::mass::Mass;

/// A row of the covering index: day, entry, what, mass, half id, ties.
pub type Row = (i64, i64, i64, i64, i64, Option<Vec<u8>>);

/// Gathers the rows of one appliance into its history.
#[derive(Default)]
pub struct Gathering {
    events: Vec<Event>,
    reversed: Vec<u64>,
}

impl Gathering {
    /// Takes a row; rows of entries after `cut` are not known yet.
    pub fn take(&mut self, row: Row, cut: u64) -> Result<(), StoreError> {
        let (day, seq, packed, mass, id_high, ties) = row;
        let seq = seq.unsigned_abs();
        if seq > cut {
            return Ok(());
        }
        let damaged = || StoreError::Broken(format!("a movement of entry {seq} is damaged"));
        let what = What::unpack(packed).ok_or_else(damaged)?;
        let ties = Ties::unpack(ties.as_deref()).ok_or_else(damaged)?;
        if what.reversal {
            self.reversed.extend(ties.reverses);
            return Ok(());
        }
        self.events.push(Event {
            entry: seq,
            // The second half of an id decides only between entries of one kind and one second
            // whose first halves agree as well; no figure depends on that order.
            chain: u128::from((id_high as u64) ^ 1 << 63) << 64,
            kind: event_kind(what.kind).ok_or_else(damaged)?,
            day: Day::from_count(i32::try_from(day).map_err(|_| damaged())?),
            second: what.second,
            visit: ties.visit.map(|id| id.bits()),
            leak: ties.leak.map(|id| id.bits()),
            mass: Mass::from_steps(mass),
            refrigerant: what.refrigerant,
            outflow: what.flow == Flow::Out,
            reason: what.reason,
            words: None,
        });
        Ok(())
    }

    /// The history in its order; the gathering is empty again.
    pub fn finish(&mut self, links: &[(u64, u64, String)]) -> Vec<Event> {
        let mut events = std::mem::take(&mut self.events);
        if !self.reversed.is_empty() {
            events.retain(|event| !self.reversed.contains(&event.entry));
            self.reversed.clear();
        }
        for (link, entry, relation) in links {
            let key = 1_u128 << 127 | u128::from(*link);
            for event in events.iter_mut().filter(|event| event.entry == *entry) {
                match relation.as_str() {
                    "same_visit" | "same_job" => event.visit = Some(key),
                    "same_leak" => event.leak = Some(key),
                    "not_the_same" | "two_jobs" => {
                        event.visit = Some(key | u128::from(*entry) << 64);
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

impl Tx<'_> {
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
                let day = i64::from(row.day);
                let ties = row.ties.clone();
                gathering.take(
                    (day, int(row.seq), row.what, row.mass, row.id_high, ties),
                    u64::MAX,
                )?;
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
