//! Standings: worked out with every posting, and read by whoever asks.
//!
//! A posting works out the standing of each appliance it is about inside its own transaction, so
//! that its answer can say *over the limit*. Readers use a cached standing only while its stamp is
//! that of the book and of the day; every other is worked out anew from the history, once in a process.

mod lists;
mod posted;
mod remembered;

pub use lists::Listed;
pub use posted::after;

use super::recorded::{Reader, RecordLacks, lacking};
use super::report::{methods, netting};
use super::rules_in_force::judge_of;
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::book::Adopted;
use crate::store::booked::Booked;
use crate::store::columns::PlaceNumber;
use crate::store::db::Db;
use crate::store::open::{Organisation, judged_by, size};
use crate::store::scan::{Scanned, fleet, one};
use crate::store::tx::read_adopted;
use reports::day::{Day, MonthEnd, Zone};
use reports::event::Event;
use reports::rules::duties::KnownThen;
use reports::rules::review::{Review, SiteSettings};
use reports::rules::{Judge, OwnedJudge, PreparedAppliance};
use reports::standing::{Course, LimitToCome, Newest, Standing, assess, course};
use reports::standing::{limits_to_come, reviews_until};
use std::collections::HashMap;
use std::sync::Arc;

/// The newest standing of an appliance, as a posting answers it.
#[derive(Clone, Debug, PartialEq)]
pub struct NewStanding {
    /// Its id.
    pub appliance: Id,
    /// Its tag.
    pub tag: String,
    /// The last entry that was read.
    pub as_of: u64,
    /// What follows from the history.
    pub newest: Newest,
    /// What the record of the entry just booked lacks.
    pub records: Vec<RecordLacks>,
}

/// The settings of a site by what was adopted.
pub fn settings(adopted: &Adopted, site: Option<Id>, zone: &str, on: Day) -> SiteSettings {
    let of_all = adopted.setting("zone", on).unwrap_or("UTC");
    let zone = Zone::named(zone).or_else(|| Zone::named(of_all));
    SiteSettings {
        methods: methods(adopted, site),
        netting: netting(adopted, on),
        zone: zone.unwrap_or_else(Zone::utc),
    }
}

/// Hands on a history, with what was known when where anything of it came late or was taken back.
pub fn known<T>(
    booked: Option<&Booked>,
    events: &[Event],
    zone: &Zone,
    run: impl FnOnce(&[Event], Option<KnownThen<'_>>) -> T,
) -> T {
    let Some(booked) = booked.filter(|booked| booked.is_late(zone)) else {
        return run(events, None);
    };
    let mut dated = events.to_vec();
    booked.date(&mut dated, zone);
    let taken_back = booked.taken_back(zone);
    let then = |day: Day| booked.known_on(day, zone);
    let known = KnownThen {
        then: &then,
        taken_back: &taken_back,
    };
    run(&dated, Some(known))
}

fn instant(microseconds: i64) -> jiff::Timestamp {
    jiff::Timestamp::from_microsecond(microseconds).unwrap_or(jiff::Timestamp::UNIX_EPOCH)
}

/// A reader of standings: one state of one book, at one moment.
pub struct Standings {
    org: i64,
    log: String,
    known: u64,
    judged_by: u64,
    now: i64,
    adopted: Adopted,
    judge: Arc<OwnedJudge>,
}

impl Standings {
    /// Reads what was adopted; `db` is in a read transaction, `now` in microseconds since 1970.
    pub fn open(db: &mut Db, of: &Organisation, now: i64) -> Result<Standings, StoreError> {
        let known = size(db, of.org)?.saturating_sub(1);
        Standings::as_known(db, of, now, known)
    }

    /// The same as the book was up to and including entry no. `known`.
    pub fn as_known(
        db: &mut Db,
        of: &Organisation,
        now: i64,
        known: u64,
    ) -> Result<Standings, StoreError> {
        let adopted = read_adopted(db, of.org, known)?;
        Ok(Standings {
            org: of.org,
            log: of.log.clone(),
            known,
            judged_by: judged_by(db, of.org)?,
            now,
            judge: judge_of(db, of.org, &adopted)?,
            adopted,
        })
    }

    /// The last entry read.
    pub fn as_of(&self) -> u64 {
        self.known
    }

    /// What was adopted by then.
    pub fn adopted(&self) -> &Adopted {
        &self.adopted
    }

    /// Today at a site with these settings.
    pub fn day_at(&self, settings: &SiteSettings) -> Day {
        settings.zone.day(instant(self.now))
    }

    /// Today at the organisation.
    pub fn today(&self) -> Day {
        self.zone().day(instant(self.now))
    }

    /// The rule sets in force, made ready.
    pub fn judge(&self) -> &Judge<'_> {
        self.judge.judge()
    }

    /// The zone of the organisation.
    pub fn zone(&self) -> Zone {
        let far = Day::from_count(i32::MAX / 2);
        let zone = Zone::named(self.adopted.setting("zone", far).unwrap_or("UTC"));
        zone.unwrap_or_else(Zone::utc)
    }

    /// Hands every appliance to `with`, with the settings of its site and the day it is there.
    pub fn each(
        &self,
        db: &mut Db,
        mut with: impl FnMut(&Scanned<'_>, &SiteSettings, Day),
    ) -> Result<(), StoreError> {
        let on = self.today();
        let mut of_sites: HashMap<Option<Id>, (SiteSettings, Day)> = HashMap::new();
        fleet(db, self.org, self.known, on, |scanned| {
            let (settings, day) = of_sites.entry(scanned.site).or_insert_with(|| {
                let settings = settings(&self.adopted, scanned.site, scanned.zone, on);
                let day = self.day_at(&settings);
                (settings, day)
            });
            with(scanned, settings, *day);
            Ok::<(), StoreError>(())
        })
    }

    /// Hands one appliance to `with` in the same way; `None`: there is none at that place.
    pub fn at<T>(
        &self,
        db: &mut Db,
        place: PlaceNumber,
        with: impl FnOnce(&Scanned<'_>, &SiteSettings, Day) -> T,
    ) -> Result<Option<T>, StoreError> {
        let on = self.today();
        one(db, self.org, self.known, on, place, |scanned| {
            let settings = settings(&self.adopted, scanned.site, scanned.zone, on);
            let day = self.day_at(&settings);
            with(scanned, &settings, day)
        })
    }

    /// The whole standing of one appliance on a day (today by default), with its tag.
    pub fn of(
        &self,
        db: &mut Db,
        place: PlaceNumber,
        day: Option<Day>,
    ) -> Result<Option<(String, Standing)>, StoreError> {
        let on = day.unwrap_or_else(|| self.today());
        one(db, self.org, self.known, on, place, |scanned| {
            let settings = settings(&self.adopted, scanned.site, scanned.zone, on);
            let day = day.unwrap_or_else(|| settings.zone.day(instant(self.now)));
            (
                scanned.tag.to_string(),
                self.standing(scanned, &settings, day),
            )
        })
    }

    /// The whole standing of one appliance today, with its course of the 24 months up to today.
    pub fn with_course(
        &self,
        db: &mut Db,
        place: PlaceNumber,
    ) -> Result<Option<(Standing, Course)>, StoreError> {
        self.at(db, place, |scanned, settings, day| {
            let standing = self.standing(scanned, settings, day);
            let entries = standing.additions.iter().flat_map(|one| &one.entries);
            let entries = entries.copied().collect();
            let replaced = scanned.booked.map_or(&[][..], Booked::replaced);
            let first = day.plus_months(-24, MonthEnd::LastDay).plus(1);
            let (judge, facts) = (self.judge.judge(), scanned.facts);
            let days = (first, day);
            let course = course(
                judge,
                facts,
                scanned.events,
                settings,
                days,
                &entries,
                replaced,
            );
            (standing, course)
        })
    }

    /// What the records of the entries about an appliance lack, of the year up to a day (today by
    /// default), the newest last.
    pub fn records(
        &self,
        db: &mut Db,
        place: PlaceNumber,
        day: Option<Day>,
    ) -> Result<Vec<RecordLacks>, StoreError> {
        let on = day.unwrap_or_else(|| self.today());
        let read = one(db, self.org, self.known, on, place, |scanned| {
            (scanned.facts.clone(), scanned.events.to_vec())
        })?;
        let Some((facts, events)) = read else {
            return Ok(Vec::new());
        };
        let prepared = self.judge.judge().appliance(&facts);
        let source = &mut Reader { db, org: self.org };
        let recent = |event: &Event| event.day <= on && event.day > on.plus(-365);
        lacking(source, &prepared, &facts, &events, recent)
    }

    /// The leak-rate limits of an appliance that are still to come.
    pub fn to_come(&self, db: &mut Db, place: PlaceNumber) -> Result<Vec<LimitToCome>, StoreError> {
        let on = self.today();
        let coming = one(db, self.org, self.known, on, place, |scanned| {
            let settings = settings(&self.adopted, scanned.site, scanned.zone, on);
            let today = settings.zone.day(instant(self.now));
            limits_to_come(self.judge.judge(), scanned.facts, today)
        });
        Ok(coming?.unwrap_or_default())
    }

    /// What each set makes of the history of an appliance, with what was known when.
    pub fn reviews<'j>(
        &self,
        prepared: &PreparedAppliance<'j>,
        scanned: &Scanned<'_>,
        settings: &SiteSettings,
        day: Day,
    ) -> Vec<Review<'j>> {
        known(
            scanned.booked,
            scanned.events,
            &settings.zone,
            |events, then| reviews_until(prepared, scanned.facts, events, settings, day, then),
        )
    }

    /// The standing of an appliance, with what was known when, if anything was booked late.
    fn standing(&self, scanned: &Scanned<'_>, settings: &SiteSettings, day: Day) -> Standing {
        let (judge, facts) = (self.judge.judge(), scanned.facts);
        known(
            scanned.booked,
            scanned.events,
            &settings.zone,
            |events, then| assess(judge, facts, events, settings, day, then),
        )
    }
}
