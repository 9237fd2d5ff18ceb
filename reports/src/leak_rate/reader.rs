//! The walk through one appliance's history.
//!
//! Everything is worked out in one pass and in constant time per event, however strange the
//! history: a reader keeps its buffers from one appliance to the next. The places where the law is
//! silent are decided as the comments say; each such reading has a test.

use super::addition::{Addition, Baseline, Contribution, SplitVisit};
use super::pool::Pool;
use super::unit::{OpenDay, Units, is_charge, of_same_day};
use super::{FirstDays, Netting, Reading};
use crate::appliance::{FactValue, Facts};
use crate::day::Day;
use crate::event::{Event, Kind, Reason};
use crate::mass::Mass;
use std::collections::HashMap;

/// 82.152: "days since the last day refrigerant was added, or 365, whichever is less".
const MOST_DAYS: i32 = 365;

/// Works out the additions of one appliance after another.
#[derive(Debug, Default)]
pub struct Reader {
    additions: Vec<Addition>,
    splits: Vec<SplitVisit>,
    contributions: Vec<Contribution>,
    traces: bool,
    units: Units,
    groups: Vec<Group>,
    leaks: HashMap<u128, u32>,
    pool: Pool,
    earlier: Vec<(Day, u32)>,
    today: Vec<u32>,
}

impl Reader {
    /// Whether contributions are kept as well; the evidence of a report needs them.
    pub fn trace(mut self, traces: bool) -> Reader {
        self.traces = traces;
        self
    }

    /// Reads one appliance and returns its additions in the order in which they were judged.
    ///
    /// `events` are in the order of [`Event::sort`].
    pub fn read(&mut self, events: &[Event], facts: &Facts, reading: &Reading) -> &[Addition] {
        self.clear();
        let mut walk = Walk::new(self, events, facts, reading);
        for (at, event) in events.iter().enumerate() {
            walk.event(at, event);
        }
        &self.additions
    }

    /// The additions of the last appliance read.
    pub fn additions(&self) -> &[Addition] {
        &self.additions
    }

    /// The same, to keep.
    pub fn take_additions(&mut self) -> Vec<Addition> {
        std::mem::take(&mut self.additions)
    }

    /// Visits of the last appliance read that had to be split.
    pub fn split_visits(&self) -> &[SplitVisit] {
        &self.splits
    }

    /// What each event gave to each step, by step; empty unless asked for with `trace`.
    pub fn contributions(&self) -> &[Contribution] {
        &self.contributions
    }

    fn clear(&mut self) {
        self.additions.clear();
        self.splits.clear();
        self.contributions.clear();
        self.units.clear();
        self.groups.clear();
        self.leaks.clear();
        self.pool.clear();
        self.earlier.clear();
        self.today.clear();
    }
}

/// Additions that the annualising method takes as one: a visit, a day, a leak event.
#[derive(Debug)]
struct Group {
    sum: i128,
    days: i32,
    baseline: Baseline,
}

/// The state of one walk.
struct Walk<'a> {
    reader: &'a mut Reader,
    events: &'a [Event],
    facts: &'a Facts,
    full_charges: &'a [(Day, FactValue)],
    reading: &'a Reading,
    retrofitted: Option<Day>,
    restarted: Option<Day>,
    window_start: usize,
    window_sum: i128,
    open_day: Option<OpenDay>,
    today: Day,
    first_of_today: Option<u32>,
}

impl<'a> Walk<'a> {
    fn new(
        reader: &'a mut Reader,
        events: &'a [Event],
        facts: &'a Facts,
        reading: &'a Reading,
    ) -> Walk<'a> {
        Walk {
            reader,
            events,
            facts,
            full_charges: facts.series("full_charge"),
            reading,
            retrofitted: None,
            restarted: None,
            window_start: 0,
            window_sum: 0,
            open_day: None,
            today: Facts::ALWAYS,
            first_of_today: None,
        }
    }

    fn event(&mut self, at: usize, event: &Event) {
        let unit = event
            .visit
            .map(|visit| self.unit_of_visit(visit, at, event.day));
        match event.kind {
            Kind::Charge | Kind::OutsideCharge => self.charge(at, event, unit),
            Kind::Recover => self.recover(at, event, unit),
            Kind::Retrofit => self.begin_new_life(event.day),
            Kind::VerificationTest if shows_all_leaks_repaired(event) => self.restart(event.day),
            _ => {}
        }
    }

    fn unit_of_visit(&mut self, visit: u128, at: usize, day: Day) -> u32 {
        let (unit, split) = self.reader.units.of_visit(visit, day);
        if let Some(before) = split {
            self.reader.splits.push(SplitVisit {
                visit,
                before,
                at: at as u32,
            });
        }
        unit
    }

    fn charge(&mut self, at: usize, event: &Event, visit: Option<u32>) {
        let counted = self.counted(event);
        let open = if visit.is_none() {
            self.open_day(at, event.day)
        } else {
            None
        };
        let Some(unit) = visit.or(open.map(|open| open.unit)) else {
            return;
        };
        self.reader.units[unit].touch(at as u32);
        self.book(unit, at, counted);
        let unit_now = &mut self.reader.units[unit];
        if counted > 0 && unit_now.leak.is_none() {
            unit_now.leak = event.leak;
        }
        // A visit is judged at each of its charges, a day without a visit once, at its last.
        if open.is_none_or(|open| open.last_charge == Some(at)) {
            self.step(unit, at);
        }
    }

    /// How much of a charge counts, in steps.
    fn counted(&mut self, event: &Event) -> i128 {
        let reading = self.reading;
        let mass = i128::from(event.mass.steps());
        let seasonal = reading.leaves_out_seasonal && event.reason == Some(Reason::Seasonal);
        let counted = match event.reason {
            Some(Reason::Installation) if reading.leaves_out_installation => 0,
            Some(Reason::AfterRetrofit) if reading.leaves_out_after_retrofit => 0,
            _ if seasonal || reading.netting == Netting::Returned => {
                mass - self.reader.pool.take(event.day, mass)
            }
            _ => mass,
        };
        let too_early = reading.counts_from.is_some_and(|from| event.day < from);
        if too_early { 0 } else { counted }
    }

    fn recover(&mut self, at: usize, event: &Event, visit: Option<u32>) {
        let mass = i128::from(event.mass.steps());
        if self.comes_back(event) {
            self.reader.pool.put(event.day, mass);
        }
        let Some(unit) = visit else {
            self.open_day(at, event.day);
            return;
        };
        self.reader.units[unit].touch(at as u32);
        if self.nets(event) {
            self.book(unit, at, -mass);
            // Charged, then partly taken out again: the visit put in less than it seemed. What an
            // earlier step has started stays started; only the figure is superseded.
            self.step(unit, at);
        }
    }

    /// Whether a recovery may be put back later without being an addition.
    fn comes_back(&self, event: &Event) -> bool {
        self.reading.netting == Netting::Returned || self.is_for_a_season(event)
    }

    /// Whether a recovery comes off what its visit or day charged. What was taken out for a season
    /// waits in the pool instead, or it would count twice.
    fn nets(&self, event: &Event) -> bool {
        self.reading.netting == Netting::Visit && !self.is_for_a_season(event)
    }

    fn is_for_a_season(&self, event: &Event) -> bool {
        self.reading.leaves_out_seasonal && event.reason == Some(Reason::Seasonal)
    }

    /// The unit of the entries without a visit of this day; all that is recovered on it is taken
    /// off at once, because the day is one judgement and has no steps.
    fn open_day(&mut self, at: usize, day: Day) -> Option<OpenDay> {
        if let Some(open) = self.open_day.filter(|open| open.day == day) {
            return Some(open);
        }
        let unit = self.reader.units.open(day);
        let mut open = OpenDay {
            day,
            unit,
            last_charge: None,
        };
        let events = self.events;
        for (index, event) in of_same_day(events, at) {
            self.reader.units[unit].touch(index as u32);
            if is_charge(event) {
                open.last_charge = Some(index);
            } else if self.nets(event) {
                self.book(unit, index, -i128::from(event.mass.steps()));
            }
        }
        self.open_day = Some(open);
        Some(open)
    }

    /// Adds what an event gives to its unit.
    fn book(&mut self, unit: u32, at: usize, mass: i128) {
        let traces = self.reader.traces;
        let unit = &mut self.reader.units[unit];
        unit.net += mass;
        if traces && mass != 0 {
            unit.pending.push((at as u32, mass));
        }
    }

    /// Judges a unit at an event, if its figure has changed.
    fn step(&mut self, unit: u32, at: usize) {
        let event = &self.events[at];
        let figure = self.reader.units[unit].net.max(0);
        let mass = figure - self.reader.units[unit].figure;
        if mass == 0 {
            return;
        }
        self.begin_day(event.day);
        let group = self.group_of(unit, event.day);
        self.reader.units[unit].figure = figure;
        self.reader.groups[group as usize].sum += mass;
        if is_charge(event) {
            self.first_of_today.get_or_insert(group);
            self.reader.today.push(unit);
        }
        self.trace(unit);
        self.push(unit, at, mass, group);
    }

    fn push(&mut self, unit: u32, at: usize, mass: i128, group: u32) {
        let day = self.events[at].day;
        let rolling_mass = self.rolling(day, mass);
        let full_charge = self.full_charge(day);
        let of_unit = &self.reader.units[unit];
        let of_group = &self.reader.groups[group as usize];
        self.reader.additions.push(Addition {
            day,
            first: of_unit.first.unwrap_or(at as u32),
            at: at as u32,
            last: of_unit.last,
            group: unit,
            mass,
            group_mass: of_unit.figure,
            annualised_mass: of_group.sum,
            days: of_group.days,
            baseline: of_group.baseline,
            rolling_mass,
            full_charge,
        });
    }

    /// The sum of the steps dated in (day - 365, day] and after the last restart, with this one.
    fn rolling(&mut self, day: Day, mass: i128) -> i128 {
        let additions = &self.reader.additions;
        while let Some(oldest) = additions.get(self.window_start) {
            if day.days_since(oldest.day) < MOST_DAYS {
                break;
            }
            self.window_sum -= oldest.mass;
            self.window_start += 1;
        }
        if self.restarted.is_some_and(|test| day <= test) {
            // Dated on the day of the test: 82.152 is silent; it is taken as before the test.
            self.window_start = additions.len() + 1;
        } else {
            self.window_sum += mass;
        }
        self.window_sum.max(0)
    }

    fn full_charge(&mut self, day: Day) -> Option<Mass> {
        while self
            .full_charges
            .get(1)
            .is_some_and(|(from, _)| *from <= day)
        {
            self.full_charges = &self.full_charges[1..];
        }
        match self.full_charges.first()? {
            (from, FactValue::Mass(mass)) if *from <= day && *mass > Mass::ZERO => Some(*mass),
            _ => None,
        }
    }

    /// The annualising group of a unit that takes a step on `day`.
    fn group_of(&mut self, unit: u32, day: Day) -> u32 {
        let (own, leak) = (self.reader.units[unit].group, self.reader.units[unit].leak);
        let of_leak = leak.and_then(|leak| self.reader.leaks.get(&leak).copied());
        let group = match (own, of_leak) {
            (Some(own), Some(of_leak)) if own != of_leak => {
                // A later charge of the visit names a leak that is already known: the visit moves.
                let figure = self.reader.units[unit].figure;
                self.reader.groups[own as usize].sum -= figure;
                self.reader.groups[of_leak as usize].sum += figure;
                of_leak
            }
            (Some(own), _) => own,
            (None, Some(of_leak)) => of_leak,
            // Same day, no key: grouped with the first. The formula would divide by zero days.
            (None, None) if leak.is_none() => {
                self.first_of_today.unwrap_or_else(|| self.new_group(day))
            }
            (None, None) => self.new_group(day),
        };
        if let Some(leak) = leak {
            self.reader.leaks.entry(leak).or_insert(group);
        }
        self.reader.units[unit].group = Some(group);
        group
    }

    fn new_group(&mut self, day: Day) -> u32 {
        let (days, baseline) = self.baseline(day);
        self.reader.groups.push(Group {
            sum: 0,
            days,
            baseline,
        });
        self.reader.groups.len() as u32 - 1
    }

    /// Days since the last addition of an earlier day, else as the rule says, else 365.
    fn baseline(&mut self, day: Day) -> (i32, Baseline) {
        let reader = &mut *self.reader;
        while let Some((before, unit)) = reader.earlier.last() {
            if reader.units[*unit].figure > 0 {
                let days = day.days_since(*before).min(MOST_DAYS);
                return (days, Baseline::Addition(*before));
            }
            // What its own visit took out again was no addition and does not reset the days.
            reader.earlier.pop();
        }
        let start = match (self.reading.first_days, self.retrofitted) {
            (FirstDays::Year, _) => None,
            (FirstDays::SinceInstalled, Some(retrofit)) => Some(Baseline::Retrofit(retrofit)),
            (FirstDays::SinceInstalled, None) => self.installed(day),
        };
        match start {
            Some(Baseline::Retrofit(from) | Baseline::Installed(from)) => {
                let days = day.days_since(from).min(MOST_DAYS);
                (
                    if days == 0 { MOST_DAYS } else { days },
                    start.unwrap_or(Baseline::NoneKnown),
                )
            }
            _ => (MOST_DAYS, Baseline::NoneKnown),
        }
    }

    fn installed(&self, day: Day) -> Option<Baseline> {
        match self.facts.on("installed", day) {
            Some(FactValue::Day(installed)) if *installed <= day => {
                Some(Baseline::Installed(*installed))
            }
            _ => None,
        }
    }

    /// Makes what was added on days before this one a possible baseline.
    fn begin_day(&mut self, day: Day) {
        if day == self.today {
            return;
        }
        let (today, reader) = (self.today, &mut *self.reader);
        reader
            .earlier
            .extend(reader.today.drain(..).map(|unit| (today, unit)));
        self.today = day;
        self.first_of_today = None;
    }

    /// A follow-up verification test showed all identified leaks repaired: the window restarts.
    fn restart(&mut self, day: Day) {
        self.restarted = Some(day);
        self.empty_window();
    }

    /// A retrofit: baseline, window and leak events start anew.
    fn begin_new_life(&mut self, day: Day) {
        self.retrofitted = Some(day);
        self.empty_window();
        self.open_day = None;
        self.first_of_today = None;
        let reader = &mut *self.reader;
        reader.units.forget_visits();
        reader.leaks.clear();
        reader.pool.clear();
        reader.earlier.clear();
        reader.today.clear();
    }

    fn empty_window(&mut self) {
        self.window_start = self.reader.additions.len();
        self.window_sum = 0;
    }

    /// Hands what events gave since the last step to the step that is about to be pushed.
    fn trace(&mut self, unit: u32) {
        let reader = &mut *self.reader;
        if !reader.traces {
            return;
        }
        let step = reader.additions.len() as u32;
        let unit = &mut reader.units[unit];
        // More came out than the unit had put in: the rest waits for the next charge.
        let excess = unit.net.min(0);
        let count = unit.pending.len();
        for (place, (event, mass)) in unit.pending.drain(..).enumerate() {
            let mass = if place + 1 == count {
                mass - excess
            } else {
                mass
            };
            reader
                .contributions
                .push(Contribution { step, event, mass });
        }
        if excess < 0 {
            let last = reader.contributions.last().map_or(0, |last| last.event);
            unit.pending.push((last, excess));
        }
    }
}

/// 82.152, rolling average: "the last successful follow-up verification test conducted to show
/// that all identified leaks in the appliance were successfully repaired".
fn shows_all_leaks_repaired(event: &Event) -> bool {
    event.word("stage") == Some("follow_up")
        && event.word("result") == Some("passed")
        && event.word("all_leaks") == Some("yes")
}
