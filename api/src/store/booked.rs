//! When the book knew: the rows of one appliance with the moment each was booked.
//!
//! A weight may be written down weeks after the service. What followed from it began on the day of
//! the service all the same; whether anybody could know then is told by the history as it stood in
//! the book on an earlier day, which is read here from the same rows.

use super::StoreError;
use super::columns::{PlaceNumber, What};
use super::db::Db;
use super::flush::{Rare, int};
use super::history::{Gathering, Row, columns};
use super::sql;
use super::statement::Bind;
use super::tx::Tx;
use reports::day::{Day, Zone};
use reports::event::Event;
use reports::standing::Replaced;

/// The rows and links of one appliance, and when its entries were booked.
pub struct Booked {
    rows: Vec<Row>,
    links: Vec<(u64, u64, String)>,
    /// The history that follows from them.
    events: Vec<Event>,
    /// What corrections took out of it.
    replaced: Vec<Replaced>,
    /// Entry and moment (microseconds since 1970), in the order of booking.
    moments: Vec<(u64, i64)>,
}

impl Booked {
    /// Reads what an appliance has up to an entry; damaged rows are an error.
    pub fn of(db: &mut Db, org: i64, place: PlaceNumber, cut: u64) -> Result<Booked, StoreError> {
        let binds = [Bind::Int(org), Bind::Int(place.0), Bind::Int(int(cut))];
        let rows: Vec<Row> = db.rows(sql::MovementsOfAppliance, &binds)?;
        let links: Vec<(i64, i64, String)> = db.rows(sql::LinksOf, &binds)?;
        let [org, place, _] = binds;
        let asked = [org, place, org, place, org];
        let mut moments: Vec<(i64, i64)> = db.rows(sql::BookedOf, &asked)?;
        moments.dedup();
        let positive = |(seq, entry, relation): (i64, i64, String)| {
            (seq.unsigned_abs(), entry.unsigned_abs(), relation)
        };
        let links: Vec<_> = links.into_iter().map(positive).collect();
        let moments = moments.into_iter();
        let moments = moments.map(|(seq, moment)| (seq.unsigned_abs(), moment));
        Booked::made(rows, links, moments.collect(), cut)
    }

    fn made(
        rows: Vec<Row>,
        links: Vec<(u64, u64, String)>,
        moments: Vec<(u64, i64)>,
        cut: u64,
    ) -> Result<Booked, StoreError> {
        let mut gathering = Gathering::default();
        for row in &rows {
            gathering.take(row.clone(), cut)?;
        }
        Ok(Booked {
            replaced: gathering.replaced(),
            events: gathering.finish(&links),
            rows,
            links,
            moments,
        })
    }

    /// The history as it stands.
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// What corrections took out of it, as it was first booked.
    pub fn replaced(&self) -> &[Replaced] {
        &self.replaced
    }

    /// The history up to an entry.
    fn history(&self, cut: u64) -> Vec<Event> {
        let mut gathering = Gathering::default();
        for row in &self.rows {
            // `of` has read every row once: none is damaged.
            let _ = gathering.take(row.clone(), cut);
        }
        let links: Vec<_> = (self.links.iter())
            .filter(|(seq, ..)| *seq <= cut)
            .cloned()
            .collect();
        gathering.finish(&links)
    }

    /// Whether anything of it was booked after its day, by the site's calendar, or taken back.
    pub fn is_late(&self, zone: &Zone) -> bool {
        let late = |event: &Event| {
            let known = self.day_of(event.entry, zone);
            known.is_some_and(|known| known > event.day)
        };
        self.events.iter().any(late) || !self.taken_back(zone).is_empty()
    }

    /// The days on which entries took something back, by the site's calendar.
    pub fn taken_back(&self, zone: &Zone) -> Vec<Day> {
        let is_reversal = |row: &&Row| What::unpack(row.2).is_some_and(|what| what.reversal);
        let by = self.rows.iter().filter(is_reversal);
        let days = by.filter_map(|row| self.day_of(row.1.unsigned_abs(), zone));
        days.collect()
    }

    /// The local day on which an entry was booked.
    fn day_of(&self, entry: u64, zone: &Zone) -> Option<Day> {
        let at = self.moments.binary_search_by_key(&entry, |it| it.0).ok()?;
        self.moments
            .get(at)
            .map(|(_, moment)| day_of(*moment, zone))
    }

    /// Tells each event of a history the day on which it was booked, by the site's calendar.
    pub fn date(&self, events: &mut [Event], zone: &Zone) {
        for event in events {
            if let Some(known) = self.day_of(event.entry, zone) {
                event.known = known;
            }
        }
    }

    /// The history as the book knew it at the end of a day at the site.
    pub fn known_on(&self, day: Day, zone: &Zone) -> Vec<Event> {
        let by_then = self
            .moments
            .partition_point(|(_, moment)| day_of(*moment, zone) <= day);
        match by_then.checked_sub(1).and_then(|at| self.moments.get(at)) {
            Some((seq, _)) => self.history(*seq),
            None => Vec::new(),
        }
    }
}

impl Tx<'_> {
    /// The same of what this book holds now, with what this batch has booked.
    pub fn booked(&mut self, place: PlaceNumber) -> Result<Booked, StoreError> {
        let Booked {
            mut rows,
            mut links,
            mut moments,
            ..
        } = Booked::of(self.db, self.book.org, place, int_max())?;
        let pending = &self.book.pending;
        let own = (pending.movements.iter()).filter(|row| row.appliance == Some(place));
        rows.extend(own.map(columns));
        for row in &pending.rare {
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
        let entries = pending.entries.iter();
        moments.extend(entries.map(|entry| (entry.seq, entry.booked_at)));
        Booked::made(rows, links, moments, u64::MAX)
    }
}

/// The highest number an entry can have.
fn int_max() -> u64 {
    i64::MAX.unsigned_abs()
}

fn day_of(moment: i64, zone: &Zone) -> Day {
    zone.day(jiff::Timestamp::from_microsecond(moment).unwrap_or(jiff::Timestamp::UNIX_EPOCH))
}
