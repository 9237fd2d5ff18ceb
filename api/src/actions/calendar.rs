//! What is owed, as a calendar that other programs read (RFC 5545).
//!
//! One all-day event for each step that is owed and has a day. What changed since the calendar was
//! fetched last raises the sequence of its event; a step that is over is called off for thirty
//! days, so that it goes away everywhere. Neither customers nor figures stand in it: calendars lie
//! with whoever keeps them for a person.

use super::refusal::ActionError;
use super::show::duties::{Row, Walked, Word, over_before_known, walked};
use super::show::reading;
use super::standings::Standings;
use crate::ledger::id::Id;
use crate::store::calendars::{self, Calendar, Said};
use crate::store::open::Organisation;
use crate::store::{Db, Sight};
use icalendar::{Component, Event, EventStatus, Property};
use reports::day::Day;
use std::collections::{BTreeSet, HashMap, HashSet};

/// Most steps of a calendar, the earliest due; one that it named once stays in it.
const MOST: usize = 2_000;
/// How long a step that is over is called off.
const CALLED_OFF: i64 = 30 * 86_400 * 1_000_000;

/// What is said of a step whose day was over before the book knew of what began it.
const UNFORESEEN: &str = " Its day was over before the book knew of it.";

/// The text of a calendar as it is now; `None`: it was revoked meanwhile. `everything`: of the
/// whole organisation; `base`: where the service is reached, without a slash at its end.
pub fn text(
    db: &mut Db,
    of: &Organisation,
    calendar: &Calendar,
    everything: bool,
    base: &str,
    now: i64,
) -> Result<Option<String>, ActionError> {
    let own = |row: &Row| everything || row.assigned == Some(calendar.person);
    let (walked, unforeseen) = reading(db, of, |db| {
        let standings = Standings::open(db, of, now)?;
        let walked = walked(db, of, &standings, None, |row| {
            row.word.is_owed() && row.due.is_some() && own(row)
        })?;
        let late: Vec<&Row> = (walked.rows.iter())
            .filter(|row| row.word == Word::Late)
            .collect();
        let unforeseen = over_before_known(db, &standings, &late)?;
        Ok((walked, unforeseen))
    })?;
    let sight = Sight::Organisations(std::slice::from_ref(&of.org));
    let steps = db.writing(sight, |db| {
        let Some(mut steps) = calendars::steps(db, calendar, now)? else {
            return Ok(None);
        };
        for (step, said) in changes(&steps, &walked, calendar.names, &unforeseen, now) {
            calendars::say(db, calendar, step, &said)?;
            steps.insert(step, said);
        }
        Ok(Some(steps))
    })?;
    Ok(steps.map(|mut steps| {
        // What it said stays known: a step that comes back must not begin to count anew.
        steps.retain(|_, said| said.over_at == 0 || now - said.over_at <= CALLED_OFF);
        written(&steps, &of.name, base)
    }))
}

/// What is to be said otherwise than last time.
///
/// `unforeseen`: the steps that were over before the book knew of what began them.
fn changes(
    known: &HashMap<Id, Said>,
    walked: &Walked,
    names: bool,
    unforeseen: &BTreeSet<Id>,
    now: i64,
) -> Vec<(Id, Said)> {
    let owed: HashSet<Id> = walked.rows.iter().map(|row| row.step).collect();
    let mut changes = Vec::new();
    for (at, row) in walked.rows.iter().enumerate() {
        let said = known.get(&row.step);
        if said.is_none() && at >= MOST {
            continue;
        }
        let mut new = said_of(row, names, said.map_or(0, |said| said.sequence + 1), now);
        if unforeseen.contains(&row.step) {
            new.details.push_str(UNFORESEEN);
        }
        if said.is_none_or(|said| said.over_at > 0 || !says_the_same(said, &new)) {
            changes.push((row.step, new));
        }
    }
    let over = known.iter().filter(|(step, _)| !owed.contains(step));
    for (step, said) in over.filter(|(_, said)| said.over_at == 0) {
        let over = Said {
            sequence: said.sequence + 1,
            said_at: now,
            over_at: now,
            ..said.clone()
        };
        changes.push((*step, over));
    }
    changes
}

fn says_the_same(one: &Said, other: &Said) -> bool {
    let words = |said: &Said| (said.day, said.summary.clone(), said.details.clone());
    words(one) == words(other) && one.link == other.link
}

fn said_of(row: &Row, names: bool, sequence: i64, now: i64) -> Said {
    let mut about = match row.appliance {
        Some(_) => row.tag.clone(),
        None => "The whole organisation".to_string(),
    };
    if names && !row.site_tag.is_empty() {
        about = format!("{about}, {}", row.site_tag);
    }
    let late = if row.word == Word::Late { "Late: " } else { "" };
    Said {
        sequence,
        day: row.due.unwrap_or(row.since),
        summary: format!("{late}{about}: {}", row.means),
        details: format!("{}. Owed since {}.", row.cites(), row.since),
        link: match row.appliance {
            Some(id) => format!("/appliances/{id}"),
            None => "/duties".to_string(),
        },
        said_at: now,
        over_at: 0,
    }
}

fn written(steps: &HashMap<Id, Said>, organisation: &str, base: &str) -> String {
    let mut calendar = icalendar::Calendar::empty();
    let name = format!("Duties, {organisation}");
    calendar.append_property(Property::new("VERSION", "2.0"));
    calendar.append_property(Property::new("PRODID", "-//tarebook//duties//EN"));
    calendar.append_property(Property::new("CALSCALE", "GREGORIAN"));
    calendar.append_property(Property::new("X-WR-CALNAME", name.as_str()));
    let mut refresh = Property::new("REFRESH-INTERVAL", "PT6H");
    refresh.add_parameter("VALUE", "DURATION");
    calendar.append_property(refresh);
    calendar.append_property(Property::new("X-PUBLISHED-TTL", "PT6H"));
    let mut steps: Vec<(&Id, &Said)> = steps.iter().collect();
    steps.sort_by_key(|(step, said)| (said.day, **step));
    for (step, said) in steps {
        calendar.push(event(*step, said, base));
    }
    calendar.to_string()
}

fn event(step: Id, said: &Said, base: &str) -> Event {
    let mut event = Event::new();
    let compact = |day: Day| day.to_string().replace('-', "");
    let mut starts = Property::new("DTSTART", compact(said.day));
    starts.add_parameter("VALUE", "DATE");
    let mut ends = Property::new("DTEND", compact(said.day.plus(1)));
    ends.add_parameter("VALUE", "DATE");
    event
        .uid(&step.to_string())
        .append_property(starts)
        .append_property(ends)
        .add_property("DTSTAMP", moment(said.said_at))
        .add_property("LAST-MODIFIED", moment(said.said_at))
        .add_property("SEQUENCE", said.sequence.to_string())
        .add_property("TRANSP", "TRANSPARENT")
        .add_property("URL", format!("{base}{}", said.link))
        .summary(&said.summary)
        .description(&said.details)
        .status(match said.over_at {
            0 => EventStatus::Confirmed,
            _ => EventStatus::Cancelled,
        });
    event.done()
}

/// `20260714T175302Z`.
fn moment(microseconds: i64) -> String {
    let text = super::show::instant(microseconds);
    let digits: String = text.chars().filter(|c| !matches!(c, '-' | ':')).collect();
    format!("{}Z", digits.get(..15).unwrap_or_default())
}
