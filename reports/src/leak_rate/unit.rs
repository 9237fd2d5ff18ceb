//! The unit of netting: one visit, or one local day of entries without a visit.

use crate::day::Day;
use crate::event::{Event, Kind};
use std::collections::HashMap;

/// Entries of one visit that lie further apart than this are two visits.
const LONGEST_GAP: i32 = 7;

/// What one visit (or day) has done so far.
#[derive(Debug)]
pub(super) struct Unit {
    /// Index of its first mass event.
    pub(super) first: Option<u32>,
    /// Index of its last mass event so far; on a day without a visit that of the whole day.
    pub(super) last: u32,
    /// Charged less recovered so far; below zero while more came out than went in.
    pub(super) net: i128,
    /// The net mass that stands: never below zero.
    pub(super) figure: i128,
    /// The leak event that its first charge with a key named.
    pub(super) leak: Option<u128>,
    /// Its group of the annualising method, from its first step on.
    pub(super) group: Option<u32>,
    /// Its last day that the search for a baseline passed over while nothing of it stood.
    pub(super) passed_over: Option<Day>,
    /// What events gave since the last step, where somebody wants to know.
    pub(super) pending: Vec<(u32, i128)>,
    last_day: Day,
}

impl Unit {
    fn new(day: Day) -> Unit {
        Unit {
            first: None,
            last: 0,
            net: 0,
            figure: 0,
            leak: None,
            group: None,
            passed_over: None,
            pending: Vec::new(),
            last_day: day,
        }
    }

    /// Notes that the mass event at this index belongs to the unit.
    pub(super) fn touch(&mut self, at: u32) {
        self.first.get_or_insert(at);
        self.last = self.last.max(at);
    }
}

/// All units of an appliance; visits are found by their id.
#[derive(Debug, Default)]
pub(super) struct Units {
    all: Vec<Unit>,
    visits: HashMap<u128, u32>,
    newest: Option<(u128, u32)>,
}

impl Units {
    pub(super) fn clear(&mut self) {
        self.all.clear();
        self.forget_visits();
    }

    /// After this, entries of an earlier visit open a new unit.
    pub(super) fn forget_visits(&mut self) {
        self.visits.clear();
        self.newest = None;
    }

    pub(super) fn open(&mut self, day: Day) -> u32 {
        self.all.push(Unit::new(day));
        self.all.len() as u32 - 1
    }

    /// The unit of a visit that has an entry on `day`, and the day before the gap where the visit
    /// had to be split.
    pub(super) fn of_visit(&mut self, visit: u128, day: Day) -> (u32, Option<Day>) {
        let known = match self.newest {
            Some((newest, unit)) if newest == visit => Some(unit),
            _ => self.visits.get(&visit).copied(),
        };
        let before = known.map(|unit| self[unit].last_day);
        let split = before.filter(|before| day.days_since(*before) > LONGEST_GAP);
        let unit = match known {
            Some(unit) if split.is_none() => unit,
            _ => {
                let unit = self.open(day);
                self.visits.insert(visit, unit);
                unit
            }
        };
        self.newest = Some((visit, unit));
        self[unit].last_day = day;
        (unit, split)
    }
}

impl std::ops::Index<u32> for Units {
    type Output = Unit;
    fn index(&self, unit: u32) -> &Unit {
        &self.all[unit as usize]
    }
}

impl std::ops::IndexMut<u32> for Units {
    fn index_mut(&mut self, unit: u32) -> &mut Unit {
        &mut self.all[unit as usize]
    }
}

/// A local day of entries without a visit: judged once, at its last charge.
#[derive(Clone, Copy, Debug)]
pub(super) struct OpenDay {
    pub(super) day: Day,
    pub(super) unit: u32,
    /// Index of the last charge of the day; none: nothing to judge.
    pub(super) last_charge: Option<usize>,
}

/// Charges and recoveries without a visit on the day of `events[from]`, up to a retrofit.
pub(super) fn of_same_day(events: &[Event], from: usize) -> impl Iterator<Item = (usize, &Event)> {
    let day = events[from].day;
    let same = move |event: &&Event| event.day == day && event.kind != Kind::Retrofit;
    let massive = |event: &Event| is_charge(event) || event.kind == Kind::Recover;
    let rest = events[from..].iter().take_while(same).enumerate();
    rest.filter(move |(_, event)| event.visit.is_none() && massive(event))
        .map(move |(offset, event)| (from + offset, event))
}

pub(super) fn is_charge(event: &Event) -> bool {
    matches!(event.kind, Kind::Charge | Kind::OutsideCharge)
}
