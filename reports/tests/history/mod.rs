//! Histories written in one line per event, for the tests of leak rates and sheets.
#![allow(dead_code)] // Each test file uses its own part of it.

use reports::appliance::{FactValue, Facts};
use reports::day::Day;
use reports::event::{Event, Kind, Reason};
use reports::mass::Mass;

/// A date that exists.
pub fn day(text: &str) -> Day {
    Day::parse(text).unwrap_or_else(|| panic!("{text} is no date"))
}

/// Pounds with at most two decimals, read by hand so that no code under test is used.
pub fn pounds(text: &str) -> Mass {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let hundredths: i64 = format!("{whole}{part:0<2}").parse().unwrap();
    Mass::from_steps(hundredths * 453_592_370_000)
}

/// Ounces on top of pounds.
pub fn pounds_and_ounces(pounds: i64, ounces: i64) -> Mass {
    Mass::from_steps((pounds * 16 + ounces) * 2_834_952_312_500)
}

/// Events of one appliance; entries are numbered from 1 in the order in which they are written.
#[derive(Default)]
pub struct History {
    pub events: Vec<Event>,
}

impl History {
    pub fn push(&mut self, kind: Kind, on: &str, mass: Mass) -> &mut Event {
        let number = self.events.len() as u64 + 1;
        let mut event = Event::new(kind, day(on), mass);
        event.entry = number;
        event.chain = u128::from(number);
        self.events.push(event);
        self.events.last_mut().unwrap()
    }

    pub fn charge(&mut self, on: &str, lb: &str) -> &mut Event {
        self.push(Kind::Charge, on, pounds(lb))
    }

    pub fn recover(&mut self, on: &str, lb: &str) -> &mut Event {
        self.push(Kind::Recover, on, pounds(lb))
    }

    pub fn seasonal(&mut self, kind: Kind, on: &str, lb: &str) -> &mut Event {
        let event = self.push(kind, on, pounds(lb));
        event.reason = Some(Reason::Seasonal);
        event
    }

    pub fn follow_up_test(&mut self, on: &str, all_leaks: &str) -> &mut Event {
        let words = [
            ("stage", "follow_up"),
            ("result", "passed"),
            ("all_leaks", all_leaks),
        ];
        let words = words.map(|(name, word)| (name.to_string(), word.to_string()));
        let event = self.push(Kind::VerificationTest, on, Mass::ZERO);
        event.words = Some(Box::new(words.into_iter().collect()));
        event
    }

    /// The events in their order.
    pub fn sorted(&self) -> Vec<Event> {
        let mut events = self.events.clone();
        Event::sort(&mut events);
        events
    }
}

/// Facts that have always held: a full charge in pounds, an installation day.
pub fn facts(full_charge_lb: &str, installed: Option<&str>) -> Facts {
    let mut facts = Facts::default();
    facts.set(
        "full_charge",
        Facts::ALWAYS,
        FactValue::Mass(pounds(full_charge_lb)),
    );
    if let Some(installed) = installed {
        facts.set("installed", Facts::ALWAYS, FactValue::Day(day(installed)));
    }
    facts
}
