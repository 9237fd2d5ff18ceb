//! What the annualising method takes as one, and the days it divides by.

use super::FirstDays;
use super::addition::Baseline;
use super::unit::Units;
use crate::appliance::{FactValue, Facts};
use crate::day::Day;
use std::collections::HashMap;

/// 82.152: the days since the last day refrigerant was added, or 365, whichever is less.
const MOST_DAYS: i32 = 365;

/// Additions that the annualising method takes as one: a visit, a day, a leak event.
#[derive(Clone, Copy, Debug)]
pub(super) struct Group {
    pub(super) number: u32,
    pub(super) sum: i128,
    pub(super) days: i32,
    pub(super) baseline: Baseline,
    first_days: i32,
    is_leak_event: bool,
}

impl Group {
    /// The days of the next charge. A visit is dated by each of its charges; the days of a leak
    /// event run to its first addition.
    fn count_days(&mut self, day: Day) {
        self.days = match self.baseline {
            _ if self.is_leak_event => self.first_days,
            Baseline::NoneKnown => MOST_DAYS,
            Baseline::Addition(from) | Baseline::Installed(from) | Baseline::Retrofit(from) => {
                days_between(from, day)
            }
        };
    }
}

/// Days of the formula: never more than 365, and 365 where it would divide by zero, which only a
/// charge on the very day of the installation or retrofit brings about.
fn days_between(from: Day, day: Day) -> i32 {
    match day.days_since(from) {
        0 => MOST_DAYS,
        days => days.min(MOST_DAYS),
    }
}

/// Where the days begin when no earlier addition is known.
pub(super) struct Start<'a> {
    pub(super) facts: &'a Facts,
    pub(super) first_days: FirstDays,
    pub(super) retrofitted: Option<Day>,
}

impl Start<'_> {
    fn baseline(&self, day: Day) -> Baseline {
        match (self.first_days, self.retrofitted) {
            (FirstDays::Year, _) => Baseline::NoneKnown,
            (FirstDays::SinceInstalled, Some(from)) => Baseline::Retrofit(from),
            (FirstDays::SinceInstalled, None) => match self.facts.on("installed", day) {
                Some(FactValue::Day(from)) if *from <= day => Baseline::Installed(*from),
                _ => Baseline::NoneKnown,
            },
        }
    }
}

/// The groups of one appliance.
#[derive(Debug)]
pub(super) struct Groups {
    all: Vec<Group>,
    leaks: HashMap<u128, u32>,
    /// Charges that were additions on days before `day`, ascending, with their units.
    earlier: Vec<(Day, u32)>,
    today: Vec<u32>,
    day: Day,
    first_of_day: Option<u32>,
}

impl Default for Groups {
    fn default() -> Groups {
        Groups {
            all: Vec::new(),
            leaks: HashMap::new(),
            earlier: Vec::new(),
            today: Vec::new(),
            day: Facts::ALWAYS,
            first_of_day: None,
        }
    }
}

impl Groups {
    pub(super) fn clear(&mut self) {
        self.all.clear();
        self.begin_new_life();
        self.day = Facts::ALWAYS;
    }

    /// A retrofit: baselines and leak events start anew.
    pub(super) fn begin_new_life(&mut self) {
        self.leaks.clear();
        self.earlier.clear();
        self.today.clear();
        self.first_of_day = None;
    }

    /// Adds a step of a unit to its group; `charged` tells a charge from a recovery.
    pub(super) fn add(
        &mut self,
        units: &mut Units,
        unit: u32,
        day: Day,
        mass: i128,
        charged: bool,
        start: &Start<'_>,
    ) -> Group {
        self.begin_day(day);
        let group = self.group_of(units, unit, day, start);
        let stood = units[unit].figure > 0;
        units[unit].figure += mass;
        if !stood {
            self.revive(units, unit);
        }
        let of_group = &mut self.all[group as usize];
        of_group.sum += mass;
        of_group.is_leak_event |= units[unit].leak.is_some();
        if charged {
            of_group.count_days(day);
            self.first_of_day.get_or_insert(group);
            self.today.push(unit);
        }
        *of_group
    }

    /// Makes what was added on days before this one a possible baseline.
    fn begin_day(&mut self, day: Day) {
        if day != self.day {
            let before = self.day;
            self.earlier
                .extend(self.today.drain(..).map(|unit| (before, unit)));
            self.day = day;
            self.first_of_day = None;
        }
    }

    fn group_of(&mut self, units: &mut Units, unit: u32, day: Day, start: &Start<'_>) -> u32 {
        let (own, leak, figure) = (units[unit].group, units[unit].leak, units[unit].figure);
        let of_leak = leak.and_then(|leak| self.leaks.get(&leak).copied());
        let group = match (own, of_leak) {
            (Some(own), Some(of_leak)) if own != of_leak => {
                // A later charge of the visit names a leak that is already known: the visit moves.
                self.all[own as usize].sum -= figure;
                self.all[of_leak as usize].sum += figure;
                of_leak
            }
            (Some(known), _) | (None, Some(known)) => known,
            // Same day, no key: grouped with the first. The formula would divide by zero days.
            (None, None) => match self.first_of_day.filter(|_| leak.is_none()) {
                Some(first) => first,
                None => self.open(units, day, start),
            },
        };
        if let Some(leak) = leak {
            self.leaks.entry(leak).or_insert(group);
        }
        units[unit].group = Some(group);
        group
    }

    fn open(&mut self, units: &mut Units, day: Day, start: &Start<'_>) -> u32 {
        let baseline = self.baseline(units, day, start);
        let number = self.all.len() as u32;
        let mut group = Group {
            number,
            sum: 0,
            days: MOST_DAYS,
            baseline,
            first_days: MOST_DAYS,
            is_leak_event: false,
        };
        group.count_days(day);
        group.first_days = group.days;
        self.all.push(group);
        number
    }

    /// The last addition of an earlier day, else as the rule says.
    fn baseline(&mut self, units: &mut Units, day: Day, start: &Start<'_>) -> Baseline {
        while let Some((before, unit)) = self.earlier.last().copied() {
            if units[unit].figure > 0 {
                return Baseline::Addition(before);
            }
            // What its own visit took out again was no addition and does not reset the days.
            self.earlier.pop();
            units[unit].passed_over.get_or_insert(before);
        }
        start.baseline(day)
    }

    /// A visit that had taken everything out again goes on: its start was never superseded, so its
    /// last earlier day counts again.
    fn revive(&mut self, units: &mut Units, unit: u32) {
        if let Some(before) = units[unit].passed_over.take() {
            let place = self.earlier.partition_point(|(day, _)| *day <= before);
            self.earlier.insert(place, (before, unit));
        }
    }
}
