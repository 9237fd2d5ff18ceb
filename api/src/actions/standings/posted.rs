//! The standings that a posting leads to: worked out in its own transaction, kept, and answered.

use super::super::post::{organisation_zone, today};
use super::super::recorded::{RecordLacks, lacking};
use super::super::rules_in_force::judge;
use super::{NewStanding, instant, known, settings};
use crate::store::StoreError;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::standings::StandingRow;
use crate::store::tx::Tx;
use reports::appliance::Facts;
use reports::day::Day;
use reports::event::Event;
use reports::rules::PreparedAppliance;
use reports::standing::{Newest, newest_of};

/// Works out and keeps the standings of the appliances that an entry is about (its number, where
/// its record is to be judged). `about`: the days it speaks of.
pub fn after(
    tx: &mut Tx<'_>,
    places: &[PlaceNumber],
    entry: Option<u64>,
    about: &[Day],
) -> Result<Vec<NewStanding>, StoreError> {
    let mut found = Vec::new();
    for place in places
        .iter()
        .filter(|place| place.sort() == Sort::Appliance)
    {
        let (row, newest, records) = newest_at(tx, *place, entry, about)?;
        tx.keep_standing(*place, row);
        let as_of = tx.next_seq() - 1;
        let subject = tx.subject(*place)?;
        if let Some(appliance) = subject.id {
            let tag = subject.tag.clone().unwrap_or_default();
            found.push(NewStanding {
                appliance,
                tag,
                as_of,
                newest,
                records,
            });
        }
    }
    Ok(found)
}

fn newest_at(
    tx: &mut Tx<'_>,
    place: PlaceNumber,
    entry: Option<u64>,
    about: &[Day],
) -> Result<(StandingRow, Newest, Vec<RecordLacks>), StoreError> {
    let ready = judge(tx)?;
    let zone = organisation_zone(tx)?;
    let on = today(tx, &zone);
    let assessed = tx.assessed(place, on, |adopted, site, zone| {
        settings(adopted, site, zone, on)
    })?;
    // The day at the site may be another than at the office.
    let day = assessed.settings.zone.day(instant(tx.now));
    let stamp = tx.stamp(place, day)?;
    let (facts, of_site) = (&assessed.facts, &assessed.settings);
    let prepared = ready.judge().appliance(facts);
    let events = tx.history(place)?;
    let mut newest = newest_of(&prepared, facts, events, of_site, day, None, about);
    if is_past_due(&newest, day) {
        // Only what was due by now can have been due before the book knew.
        let booked = tx.booked(place)?;
        newest = known(
            Some(&booked),
            booked.events(),
            &of_site.zone,
            |events, then| newest_of(&prepared, facts, events, of_site, day, then, about),
        );
    }
    let records = match entry {
        Some(entry) => records_of(tx, &prepared, facts, place, entry)?,
        None => Vec::new(),
    };
    Ok((StandingRow::new(stamp, &newest), newest, records))
}

/// Whether the day of anything that is shown is over.
fn is_past_due(newest: &Newest, day: Day) -> bool {
    let today = day.to_string();
    let mut due = newest
        .standing
        .duties
        .iter()
        .filter_map(|duty| duty.due.as_deref());
    due.any(|due| due < today.as_str())
}

/// What the record of one entry of a history lacks.
fn records_of(
    tx: &mut Tx<'_>,
    prepared: &PreparedAppliance<'_>,
    facts: &Facts,
    place: PlaceNumber,
    entry: u64,
) -> Result<Vec<RecordLacks>, StoreError> {
    let history = tx.history(place)?;
    let Some(own) = history.iter().find(|event| event.entry == entry) else {
        return Ok(Vec::new());
    };
    if !prepared.asks_record(own) {
        return Ok(Vec::new());
    }
    // Only what can belong to the same job is looked at beside it.
    let near =
        |other: &&Event| other.day == own.day || (own.visit.is_some() && other.visit == own.visit);
    let near: Vec<Event> = history.iter().filter(near).cloned().collect();
    lacking(tx, prepared, facts, &near, |event| event.entry == entry)
}
