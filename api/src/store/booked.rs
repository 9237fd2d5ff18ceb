//! When the book knew: the rows of one appliance with the moment each was booked.
//!
//! A weight may be written down weeks after the service. What followed from it began on the day of
//! the service all the same; whether anybody could know then is told by the history as it stood in
//! the book on an earlier day, which is read here from the same rows.

use super::StoreError;
use super::columns::PlaceNumber;
use super::db::Db;
use super::flush::int;
use super::history::{Gathering, Row};
use super::sql;
use super::statement::Bind;
use reports::day::{Day, Zone};
use reports::event::Event;

/// The rows and links of one appliance, and when its entries were booked.
pub struct Booked {
    rows: Vec<Row>,
    links: Vec<(u64, u64, String)>,
    /// The history that follows from them.
    events: Vec<Event>,
    /// Entry and moment (microseconds since 1970), in the order of booking.
    moments: Vec<(u64, i64)>,
}

impl Booked {
    /// Reads what an appliance has up to an entry; damaged rows are an error.
    pub fn of(db: &mut Db, org: i64, place: PlaceNumber, cut: u64) -> Result<Booked, StoreError> {
        let binds = [Bind::Int(org), Bind::Int(place.0), Bind::Int(int(cut))];
        let rows: Vec<Row> = db.rows(sql::MovementsOfAppliance, &binds)?;
        let mut gathering = Gathering::default();
        for row in &rows {
            gathering.take(row.clone(), cut)?;
        }
        let links: Vec<(i64, i64, String)> = db.rows(sql::LinksOf, &binds)?;
        let [org, place, _] = binds;
        let asked = [org, org, place, org, place];
        let moments: Vec<(i64, i64)> = db.rows(sql::BookedOf, &asked)?;
        let positive = |(seq, entry, relation): (i64, i64, String)| {
            (seq.unsigned_abs(), entry.unsigned_abs(), relation)
        };
        let links: Vec<_> = links.into_iter().map(positive).collect();
        Ok(Booked {
            events: gathering.finish(&links),
            rows,
            links,
            moments: (moments.into_iter())
                .map(|(seq, moment)| (seq.unsigned_abs(), moment))
                .collect(),
        })
    }

    /// The history as it stands.
    pub fn events(&self) -> &[Event] {
        &self.events
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

    /// Whether anything of a history was booked after the day it happened, by the site's calendar;
    /// each of its events is told its day.
    pub fn date(&self, events: &mut [Event], zone: &Zone) -> bool {
        let mut late = false;
        for event in events {
            let at = self.moments.binary_search_by_key(&event.entry, |it| it.0);
            if let Some((_, moment)) = at.ok().and_then(|at| self.moments.get(at)) {
                event.known = day_of(*moment, zone);
                late |= event.known > event.day;
            }
        }
        late
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

fn day_of(moment: i64, zone: &Zone) -> Day {
    zone.day(jiff::Timestamp::from_microsecond(moment).unwrap_or(jiff::Timestamp::UNIX_EPOCH))
}
