//! A situation made into facts and events: what was known on the day asked.
//!
//! Entries that happened or were booked later are not seen. A correction names the newest entry
//! of its chain and states the whole; a replaced entry acts at its own time, an annulled one not
//! at all.

use super::facts::Fact;
use super::situation::{DatedText, SituationEvent};
use super::text::TextOr;
use super::words::EventKind;
use crate::appliance::{FactValue, Facts};
use crate::day::{Day, Zone, parse_clock};
use crate::event::{Event, Kind};
use crate::mass::{self, Mass};
use crate::number::Decimal;
use jiff::Timestamp;
use std::collections::BTreeMap;

/// The dated facts of an appliance of a situation.
pub(super) fn facts_of(texts: &BTreeMap<String, TextOr<DatedText>>) -> Result<Facts, String> {
    let mut facts = Facts::default();
    for (name, given) in texts {
        let known = super::facts::recorded_facts();
        let fact = Fact::named(name).ok_or_else(|| super::problem::unknown_word(name, &known))?;
        match given {
            TextOr::Text(text) => facts.set(name, Facts::ALWAYS, value(fact, text)?),
            TextOr::List(rows) => {
                for row in rows {
                    facts.set(name, row.from.0, value(fact, &row.is)?);
                }
            }
        }
    }
    Ok(facts)
}

fn value(fact: Fact, text: &str) -> Result<FactValue, String> {
    if text == "unknown" {
        return Ok(FactValue::Unknown);
    }
    let name = fact.name();
    Ok(match fact {
        Fact::FullCharge => FactValue::Mass(mass_of(text)?),
        Fact::MotorKw => FactValue::Number(
            Decimal::parse(text).ok_or_else(|| format!("{name}: '{text}' is no number"))?,
        ),
        Fact::Installed => {
            FactValue::Day(Day::parse(text).ok_or_else(|| format!("{name}: '{text}' is no date"))?)
        }
        _ => FactValue::Word(text.to_string()),
    })
}

fn mass_of(text: &str) -> Result<Mass, String> {
    match mass::read(text, None) {
        mass::Reading::Mass(mass) => Ok(mass),
        mass::Reading::Question { why, .. } | mass::Reading::Refused { why, .. } => {
            Err(format!("mass '{text}': {why}"))
        }
    }
}

/// The events of an appliance as they were known on a day, in their order.
pub(super) fn events_of(
    written: &[SituationEvent],
    zone: &Zone,
    on: Day,
) -> Result<Vec<Event>, String> {
    let mut chains: BTreeMap<u64, Chain> = BTreeMap::new();
    let mut corrections = Vec::new();
    for (at, event) in written.iter().enumerate() {
        let number = event.n.unwrap_or(at as u64 + 1);
        if event.booked.is_some_and(|booked| booked.0 > on) {
            continue;
        }
        if event.kind == Some(EventKind::Correction) {
            if when(event, zone)?.0 <= on {
                corrections.push((number, event));
            }
        } else {
            let chain = Chain {
                newest: number,
                event: Some(event.clone()),
                known: event.booked.map(|booked| booked.0),
            };
            if chains.insert(number, chain).is_some() {
                return Err(format!("two entries have the number {number}"));
            }
        }
    }
    corrections.sort_by_key(|(number, _)| *number);
    for (number, correction) in corrections {
        correct(&mut chains, number, correction, zone)?;
    }
    let mut names = Names::default();
    let mut events = Vec::new();
    for (first, chain) in &chains {
        let Some(event) = &chain.event else { continue };
        let mut read = names.event(event, *first, chain.newest, zone)?;
        read.known = chain.known.unwrap_or(read.day);
        if read.day <= on {
            events.push(read);
        }
    }
    Event::sort(&mut events);
    Ok(events)
}

/// The days on which corrections were booked by a day: each took something back.
pub(super) fn taken_back(written: &[SituationEvent], zone: &Zone, on: Day) -> Vec<Day> {
    let corrections = (written.iter()).filter(|event| event.kind == Some(EventKind::Correction));
    let booked = corrections.filter_map(|event| match event.booked {
        Some(booked) => Some(booked.0),
        None => when(event, zone).ok().map(|(day, _)| day),
    });
    booked.filter(|day| *day <= on).collect()
}

/// A chain of corrections: its newest number, and what stands.
struct Chain {
    newest: u64,
    event: Option<SituationEvent>,
    /// When it was booked, or corrected last; absent: known at once.
    known: Option<Day>,
}

fn correct(
    chains: &mut BTreeMap<u64, Chain>,
    number: u64,
    correction: &SituationEvent,
    zone: &Zone,
) -> Result<(), String> {
    let reversed = correction.reverses.ok_or("a correction needs 'reverses'")?;
    let chain = chains.values_mut().find(|chain| chain.newest == reversed);
    let chain = chain.ok_or_else(|| {
        format!("correction {number}: no entry {reversed}, or it has been corrected already")
    })?;
    let old = chain.event.take();
    chain.newest = number;
    let booked = correction.booked.map(|booked| booked.0);
    chain.known = Some(booked.map_or_else(|| Ok(when(correction, zone)?.0), Ok::<_, String>)?);
    chain.event = correction.replacement.as_deref().map(|new| match old {
        Some(old) => replaced(old, new),
        None => new.clone(),
    });
    Ok(())
}

/// The old entry with every word that the replacement states.
fn replaced(old: SituationEvent, new: &SituationEvent) -> SituationEvent {
    let new = new.clone();
    SituationEvent {
        kind: new.kind.or(old.kind),
        at: new.at.or(old.at),
        n: old.n,
        booked: old.booked,
        mass: new.mass.or(old.mass),
        visit: new.visit.or(old.visit),
        leak: new.leak.or(old.leak),
        reason: new.reason.or(old.reason),
        has: new.has.or(old.has),
        reverses: None,
        replacement: None,
        stage: new.stage.or(old.stage),
        result: new.result.or(old.result),
        choice: new.choice.or(old.choice),
        what: new.what.or(old.what),
        of: new.of.or(old.of),
        ground: new.ground.or(old.ground),
        all_leaks: new.all_leaks.or(old.all_leaks),
        certified: new.certified.or(old.certified),
        found_by: new.found_by.or(old.found_by),
        kind_of: new.kind_of.or(old.kind_of),
        delivered_on: new.delivered_on.or(old.delivered_on),
        until: new.until.or(old.until),
        run_hours: new.run_hours.or(old.run_hours),
        estimated: new.estimated.or(old.estimated),
        process_shutdown: new.process_shutdown.or(old.process_shutdown),
        evacuated: new.evacuated.or(old.evacuated),
        ghg_reporter: new.ghg_reporter.or(old.ghg_reporter),
    }
}

/// Day and second of an event. Only an instant is converted; a date or local time stays.
fn when(event: &SituationEvent, zone: &Zone) -> Result<(Day, Option<u32>), String> {
    let text = event.at.as_deref().ok_or("an event needs 'at'")?;
    let wrong = || format!("'{text}' is no date, local time or instant");
    let Some((date, clock)) = text.split_once('T') else {
        return Ok((Day::parse(text).ok_or_else(wrong)?, None));
    };
    if clock.ends_with('Z') || clock.contains(['+', '-']) {
        let at: Timestamp = text.parse().map_err(|_| wrong())?;
        let local = zone.local(at);
        return Ok((local.day, Some(local.second)));
    }
    let day = Day::parse(date).ok_or_else(wrong)?;
    let (second, _) = parse_clock(clock).ok_or_else(wrong)?;
    Ok((day, Some(second)))
}

/// Names of visits and leaks, numbered as they are met.
#[derive(Default)]
struct Names {
    visits: BTreeMap<String, u128>,
    leaks: BTreeMap<String, u128>,
}

impl Names {
    fn event(
        &mut self,
        written: &SituationEvent,
        first: u64,
        newest: u64,
        zone: &Zone,
    ) -> Result<Event, String> {
        let kind = written
            .kind
            .and_then(EventKind::kind)
            .ok_or("an event needs 'kind'")?;
        let (day, second) = when(written, zone)?;
        let mass = match &written.mass {
            Some(text) => mass_of(text)?,
            None if moves_mass(kind) => {
                return Err(format!("entry {newest}: '{kind:?}' needs a mass"));
            }
            None => Mass::ZERO,
        };
        let number = |names: &mut BTreeMap<String, u128>, name: &String| {
            let next = names.len() as u128 + 1;
            *names.entry(name.clone()).or_insert(next)
        };
        let words = words_of(written);
        Ok(Event {
            entry: newest,
            chain: u128::from(first),
            second,
            visit: written
                .visit
                .as_ref()
                .map(|name| number(&mut self.visits, name)),
            leak: written
                .leak
                .as_ref()
                .map(|name| number(&mut self.leaks, name)),
            reason: written.reason.map(super::words::ReasonWord::reason),
            words: (!words.is_empty()).then(|| Box::new(words)),
            ..Event::new(kind, day, mass)
        })
    }
}

fn moves_mass(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::Charge | Kind::OutsideCharge | Kind::Loss | Kind::Opening
    )
}

fn words_of(event: &SituationEvent) -> BTreeMap<String, String> {
    let texts = [
        ("stage", event.stage.clone()),
        ("result", event.result.clone()),
        ("choice", event.choice.clone()),
        ("what", event.what.clone()),
        ("of", event.of.clone()),
        ("ground", event.ground.clone()),
        ("found_by", event.found_by.clone()),
        ("type", event.kind_of.clone()),
        ("run_hours", event.run_hours.clone()),
        (
            "delivered_on",
            event.delivered_on.map(|day| day.to_string()),
        ),
        ("until", event.until.map(|day| day.to_string())),
        ("all_leaks", event.all_leaks.map(|word| word.to_string())),
        ("certified", event.certified.map(|word| word.to_string())),
        ("has", event.has.as_ref().map(|fields| fields.join(","))),
        ("estimated", event.estimated.map(|word| word.to_string())),
        (
            "process_shutdown",
            event.process_shutdown.map(|word| word.to_string()),
        ),
        ("evacuated", event.evacuated.map(|word| word.to_string())),
        (
            "ghg_reporter",
            event.ghg_reporter.map(|word| word.to_string()),
        ),
    ];
    texts
        .into_iter()
        .filter_map(|(name, text)| Some((name.to_string(), text?)))
        .collect()
}
