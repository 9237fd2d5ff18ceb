//! The standings of a whole fleet: what lists show, and whether what is cached is right.

use super::{Standings, instant, remembered, settings};
use crate::store::StoreError;
use crate::store::columns::PlaceNumber;
use crate::store::db::Db;
use crate::store::scan::{Scanned, one};
use crate::store::standings::{Cached, Stamp, StandingRow, cached, counts};
use reports::day::Day;
use reports::rules::review::SiteSettings;
use reports::standing::assess_newest;
use std::collections::{HashMap, HashSet};

/// An appliance in a list of standings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// Its place.
    pub place: PlaceNumber,
    /// What the list shows.
    pub row: StandingRow,
}

impl Standings {
    /// What the lists show of every appliance today, in the order of registration. Rows with the right
    /// stamp are taken as they are, the others worked out anew.
    pub fn list(&self, db: &mut Db) -> Result<Vec<Listed>, StoreError> {
        let (kept, today) = (cached(db, self.org)?, self.today());
        let mut listed = Vec::new();
        let mut others = Vec::new();
        let counts = counts(db, self.org)?;
        for (place, nth) in &counts {
            match kept.get(place).filter(|kept| self.is_fresh(kept, today)) {
                Some(kept) => listed.push(Listed {
                    place: *place,
                    row: kept.row.clone(),
                }),
                None => others.push((*place, *nth)),
            }
        }
        let now = instant(self.now);
        let (rows, stale) = remembered::split(&self.log, others, self.judged_by, now);
        listed.extend(rows.into_iter().map(|(place, row)| Listed { place, row }));
        let anew = |scanned: &Scanned<'_>, settings: &SiteSettings, day| {
            (
                self.worked_out(scanned, settings, day),
                settings.zone.clone(),
            )
        };
        let mut fresh = Vec::new();
        // One pass over the fleet costs less than many single look-ups.
        if stale.len() > 200 {
            let stale: HashSet<PlaceNumber> = stale.into_iter().collect();
            self.each(db, |scanned, settings, day| {
                if stale.contains(&scanned.place) {
                    fresh.push(anew(scanned, settings, day));
                }
            })?;
        } else {
            for place in stale {
                fresh.extend(self.at(db, place, anew)?);
            }
        }
        let counts: HashMap<PlaceNumber, u64> = counts.into_iter().collect();
        let mut rows = Vec::with_capacity(fresh.len());
        for (Listed { place, mut row }, zone) in fresh {
            row.stamp.nth = counts.get(&place).copied().unwrap_or_default();
            let shown = row.clone();
            listed.push(Listed { place, row: shown });
            rows.push((place, row, zone));
        }
        remembered::remember(&self.log, rows);
        listed.sort_by_key(|listed| listed.place);
        Ok(listed)
    }

    /// Is the cached row that of this state and day? A site in another zone is for some hours a day
    /// ahead of the office or behind it: its row is then the one of the office's day.
    fn is_fresh(&self, cached: &Cached, day: Day) -> bool {
        let stamp = &cached.row.stamp;
        stamp.nth == cached.nth_now && stamp.judged_by == self.judged_by && stamp.day == day
    }

    /// What a list shows of an appliance on a day, from its history. Its count of entries is left open.
    fn worked_out(&self, scanned: &Scanned<'_>, settings: &SiteSettings, day: Day) -> Listed {
        let (facts, events) = (scanned.facts, scanned.events);
        let newest = assess_newest(self.judge.judge(), facts, events, settings, day, None, &[]);
        let stamp = Stamp {
            nth: 0,
            judged_by: self.judged_by,
            day,
        };
        Listed {
            place: scanned.place,
            row: StandingRow::new(stamp, &newest),
        }
    }

    /// Compares every cached standing whose stamp is still that of the book with what follows from
    /// the history on the day it is stamped with.
    pub fn check(&self, db: &mut Db) -> Result<Vec<String>, StoreError> {
        let mut differences = Vec::new();
        for (place, cached) in cached(db, self.org)? {
            let day = cached.row.stamp.day;
            if !self.is_fresh(&cached, day) {
                continue;
            }
            let worked_out = one(db, self.org, self.known, day, place, |scanned| {
                let settings = settings(&self.adopted, scanned.site, scanned.zone, day);
                self.worked_out(scanned, &settings, day).row.line()
            })?;
            let worked_out = worked_out.unwrap_or_else(|| "nothing".to_string());
            let stored = cached.row.line();
            if stored != worked_out {
                differences.push(format!(
                    "standing of place {} on {day}: stored {stored}; worked out {worked_out}",
                    place.0
                ));
            }
        }
        Ok(differences)
    }
}
