//! The walk through one appliance's history.
//!
//! Everything is worked out in one pass and in constant time per event, however strange the
//! history: a reader keeps its buffers from one appliance to the next. The places where the law is
//! silent are decided as the comments say; each such reading has a test.

use super::addition::{Addition, Contribution, SplitVisit};
use super::annualising::{Groups, Start};
use super::pool::Pool;
use super::unit::{OpenDay, Units, is_charge, of_same_day};
use super::window::Window;
use super::{Netting, Reading};
use crate::appliance::{FactValue, Facts};
use crate::day::Day;
use crate::event::{Event, Kind, Reason};
use crate::mass::Mass;

/// Works out the additions of one appliance after another.
#[derive(Debug, Default)]
pub struct Reader {
    additions: Vec<Addition>,
    splits: Vec<SplitVisit>,
    contributions: Vec<Contribution>,
    traces: bool,
    units: Units,
    groups: Groups,
    pool: Pool,
    window: Window,
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

    /// The steps whose masses add up to the rolling sum of the step `index`, in their order.
    pub fn rolling_steps(&self, index: u32) -> Vec<u32> {
        self.window.sources(&self.additions, index)
    }

    /// The rolling sum on a day on or after the last event read. Days may only be asked in order.
    pub fn rolling_on(&mut self, day: Day) -> i128 {
        self.window.sum_on(&self.additions, day)
    }

    fn clear(&mut self) {
        self.additions.clear();
        self.splits.clear();
        self.contributions.clear();
        self.units.clear();
        self.groups.clear();
        self.pool.clear();
        self.window.clear();
    }

    /// Hands what events gave since the last step to the step that is about to be pushed.
    fn trace_step(&mut self, unit: u32) {
        if !self.traces {
            return;
        }
        let step = self.additions.len() as u32;
        let unit = &mut self.units[unit];
        // More came out than the unit had put in: the rest waits for the next charge.
        let excess = unit.net.min(0);
        let count = unit.pending.len();
        for (place, (event, mass)) in unit.pending.drain(..).enumerate() {
            let mass = if place + 1 == count {
                mass - excess
            } else {
                mass
            };
            self.contributions.push(Contribution { step, event, mass });
        }
        if excess < 0 {
            let last = self.contributions.last().map_or(0, |last| last.event);
            unit.pending.push((last, excess));
        }
    }
}

/// The state of one walk.
struct Walk<'a> {
    reader: &'a mut Reader,
    events: &'a [Event],
    full_charges: &'a [(Day, FactValue)],
    reading: &'a Reading,
    start: Start<'a>,
    open_day: Option<OpenDay>,
}

impl<'a> Walk<'a> {
    fn new(
        reader: &'a mut Reader,
        events: &'a [Event],
        facts: &'a Facts,
        reading: &'a Reading,
    ) -> Walk<'a> {
        let start = Start {
            facts,
            first_days: reading.first_days,
            retrofitted: None,
        };
        Walk {
            reader,
            events,
            full_charges: facts.series("full_charge"),
            reading,
            start,
            open_day: None,
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
            Kind::VerificationTest if shows_all_leaks_repaired(event) => {
                let reader = &mut *self.reader;
                reader.window.restart(&reader.additions, event.day);
            }
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
            let changed = self.step(unit, at);
            if counted > 0 && !changed {
                self.reader.window.judge_unchanged(unit);
            }
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

    /// Judges a unit at an event, if its figure has changed; says whether it has.
    fn step(&mut self, unit: u32, at: usize) -> bool {
        let event = &self.events[at];
        let (day, full_charge) = (event.day, self.full_charge(event.day));
        let reader = &mut *self.reader;
        let mass = reader.units[unit].net.max(0) - reader.units[unit].figure;
        if mass == 0 {
            return false;
        }
        let (units, charged) = (&mut reader.units, is_charge(event));
        let group = reader
            .groups
            .add(units, unit, day, mass, charged, &self.start);
        let figure = reader.units[unit].figure;
        let window = &mut reader.window;
        let rolling_mass = window.add(&reader.additions, unit, day, figure, charged);
        let rolling_from = window.start();
        reader.trace_step(unit);
        let of_unit = &reader.units[unit];
        reader.additions.push(Addition {
            day,
            first: of_unit.first.unwrap_or(at as u32),
            at: at as u32,
            last: of_unit.last,
            group: unit,
            event: group.number,
            mass,
            group_mass: figure,
            annualised_mass: group.sum,
            days: group.days,
            baseline: group.baseline,
            rolling_mass,
            rolling_from,
            full_charge,
        });
        true
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

    /// A retrofit: baseline, window and leak events start anew.
    fn begin_new_life(&mut self, day: Day) {
        self.start.retrofitted = Some(day);
        self.open_day = None;
        self.reader.window.empty(&self.reader.additions);
        self.reader.units.forget_visits();
        self.reader.groups.begin_new_life();
        self.reader.pool.clear();
    }
}

/// 82.152, rolling average: "the last successful follow-up verification test conducted to show
/// that all identified leaks in the appliance were successfully repaired".
pub(crate) fn shows_all_leaks_repaired(event: &Event) -> bool {
    event.word("stage") == Some("follow_up")
        && event.word("result") == Some("passed")
        && event.word("all_leaks") == Some("yes")
}
