//! Leak rates against a slow second computation that shares no code with the first.
//!
//! The oracle below follows the sentences of the definition one by one and works out everything
//! anew at every event, in quadratic or cubic time. Histories are invented at random: charges,
//! recoveries, visits with gaps, leak events, follow-up tests, retrofits.

use crate::history::{History, day, facts};
use proptest::prelude::*;
use reports::day::Day;
use reports::event::{Event, Kind};
use reports::leak_rate::{Addition, Netting, Reader, Reading};
use reports::mass::Mass;
use std::collections::BTreeMap;

/// One event as the generator draws it: day, hour, what, mass, visit, leak.
type Draw = (i32, u32, u8, i64, u8, u8);

fn events_of(draws: &[Draw]) -> Vec<Event> {
    let mut history = History::default();
    for (offset, hour, what, mass, visit, leak) in draws {
        let on = day("2023-01-01").plus(*offset).to_string();
        let event = match what {
            0..=5 => history.push(Kind::Charge, &on, Mass::from_steps(*mass)),
            6..=8 => history.push(Kind::Recover, &on, Mass::from_steps(*mass)),
            9 => history.push(Kind::OutsideCharge, &on, Mass::from_steps(*mass)),
            10 => history.push(Kind::Retrofit, &on, Mass::ZERO),
            _ => history.follow_up_test(&on, if *mass % 2 == 0 { "yes" } else { "no" }),
        };
        event.second = Some(hour * 3600);
        // A visit has one leak key or none, so that no visit moves from one event to another.
        event.visit = (*visit < 6).then_some(u128::from(*visit));
        let key = if *visit < 6 { visit % 4 } else { *leak };
        event.leak = (key < 2).then_some(u128::from(key));
    }
    history.sorted()
}

fn draws() -> impl Strategy<Value = Vec<Draw>> {
    let one = (0..700_i32, 0..3_u32, 0..12_u8, 1..50_i64, 0..12_u8, 0..6_u8);
    let crowded = (0..25_i32, 0..3_u32, 0..12_u8, 1..50_i64, 0..12_u8, 0..6_u8);
    // Days about a year apart: the edge of the window lies inside the visits of the first week.
    let day = (0..9_i32, any::<bool>()).prop_map(|(day, later)| day + if later { 365 } else { 0 });
    let cut = (day, 0..3_u32, 0..12_u8, 1..50_i64, 0..12_u8, 0..6_u8);
    prop_oneof![
        proptest::collection::vec(one, 0..40),
        proptest::collection::vec(crowded, 0..40),
        proptest::collection::vec(cut, 0..40)
    ]
}

/// Names the unit of every event: life, visit and part of it, or the day.
fn labels(events: &[Event]) -> Vec<String> {
    let mut life = 0;
    let mut parts: BTreeMap<(i32, u128), (Day, i32)> = BTreeMap::new();
    let mut names = Vec::new();
    for event in events {
        let Some(visit) = event.visit else {
            life += i32::from(event.kind == Kind::Retrofit);
            names.push(format!("{life} day {}", event.day));
            continue;
        };
        let part = parts.entry((life, visit)).or_insert((event.day, 0));
        if event.day.days_since(part.0) > 7 {
            part.1 += 1;
        }
        part.0 = event.day;
        names.push(format!("{life} visit {visit} part {}", part.1));
        life += i32::from(event.kind == Kind::Retrofit);
    }
    names
}

fn signed(event: &Event, netting: Netting) -> i128 {
    match event.kind {
        Kind::Charge | Kind::OutsideCharge => i128::from(event.mass.steps()),
        Kind::Recover if netting == Netting::Visit => -i128::from(event.mass.steps()),
        _ => 0,
    }
}

fn is_charge(event: &Event) -> bool {
    matches!(event.kind, Kind::Charge | Kind::OutsideCharge)
}

struct Oracle<'a> {
    events: &'a [Event],
    labels: Vec<String>,
    netting: Netting,
}

impl Oracle<'_> {
    /// The net mass of a unit as it stands after event `i`; a day is seen only at its last charge.
    fn figure(&self, unit: &str, i: usize) -> i128 {
        let own = |j: &usize| self.labels[*j] == unit;
        let all: Vec<usize> = (0..self.events.len()).filter(own).collect();
        let counted = if unit.contains("day") {
            let massive: Vec<usize> = all
                .iter()
                .copied()
                .filter(|j| self.events[*j].visit.is_none())
                .collect();
            match massive.iter().rev().find(|j| is_charge(&self.events[**j])) {
                Some(last) if *last <= i => massive,
                _ => Vec::new(),
            }
        } else {
            all.into_iter().filter(|j| *j <= i).collect()
        };
        let net: i128 = counted
            .iter()
            .map(|j| signed(&self.events[*j], self.netting))
            .sum();
        net.max(0)
    }

    fn figure_before(&self, unit: &str, i: usize) -> i128 {
        if i == 0 { 0 } else { self.figure(unit, i - 1) }
    }

    /// Events at which the figure of their unit changes, with the change.
    fn steps(&self) -> Vec<(usize, i128)> {
        let change = |i: usize| {
            let unit = &self.labels[i];
            (i, self.figure(unit, i) - self.figure_before(unit, i))
        };
        (0..self.events.len())
            .map(change)
            .filter(|(_, mass)| *mass != 0)
            .collect()
    }

    fn life(&self, i: usize) -> &str {
        self.labels[i].split(' ').next().unwrap()
    }

    /// Of each unit its figure now, less the least figure at a charge since the last one outside.
    fn rolling(&self, steps: &[(usize, i128)], i: usize) -> i128 {
        let on = self.events[i].day;
        let test = |event: &&Event| {
            event.kind == Kind::VerificationTest && event.word("all_leaks") == Some("yes")
        };
        let restart = self.events[..i].iter().rfind(test).map(|event| event.day);
        let inside = |j: &usize| {
            let day = self.events[*j].day;
            *j <= i
                && self.life(*j) == self.life(i)
                && on.days_since(day) < 365
                && restart.is_none_or(|restart| day > restart)
        };
        let mut units: Vec<&String> = steps.iter().map(|(j, _)| &self.labels[*j]).collect();
        units.sort();
        units.dedup();
        let held = units.into_iter().map(|unit| {
            let (now, charges) = (self.figure(unit, i), self.charges(unit, i));
            let last_outside = charges.iter().rposition(|j| !inside(j));
            let since = last_outside.map(|j| &charges[j..]);
            let figures = since
                .unwrap_or(&charges)
                .iter()
                .map(|j| self.figure(unit, *j));
            // A visit that began inside had put in nothing before.
            let before = last_outside.is_none().then_some(0);
            now - figures.chain(before).chain([now]).min().unwrap()
        });
        held.sum()
    }

    /// Charges of a unit up to event `i`.
    fn charges(&self, unit: &str, i: usize) -> Vec<usize> {
        let own = |j: &usize| self.labels[*j] == unit && is_charge(&self.events[*j]);
        let loose = |j: &usize| self.events[*j].visit.is_none() || unit.contains("visit");
        (0..=i).filter(own).filter(loose).collect()
    }

    /// Key of the unit's first charge that has one.
    fn leak(&self, unit: &str, i: usize) -> Option<u128> {
        let last = if unit.contains("day") {
            self.events.len() - 1
        } else {
            i
        };
        let own = |j: &usize| self.labels[*j] == unit && is_charge(&self.events[*j]);
        let loose = |j: &usize| self.events[*j].visit.is_none() || unit.contains("visit");
        (0..=last)
            .filter(own)
            .filter(loose)
            .find_map(|j| self.events[j].leak)
    }

    /// The annualising group of each unit: its leak event, else the first addition of the day on
    /// which the unit took its first step, else itself. Also the day on which the group began.
    fn groups(&self, steps: &[(usize, i128)]) -> BTreeMap<String, (String, usize)> {
        let mut groups: BTreeMap<String, (String, usize)> = BTreeMap::new();
        for (i, _) in steps {
            let unit = &self.labels[*i];
            if groups.contains_key(unit) {
                continue;
            }
            let first_of_day = steps.iter().find(|(j, _)| {
                j < i
                    && is_charge(&self.events[*j])
                    && self.events[*j].day == self.events[*i].day
                    && self.life(*j) == self.life(*i)
            });
            let name = match (self.leak(unit, *i), first_of_day) {
                (Some(leak), _) => format!("{} leak {leak}", self.life(*i)),
                (None, Some((j, _))) => groups[&self.labels[*j]].0.clone(),
                (None, None) => unit.clone(),
            };
            let began = groups
                .values()
                .find(|(other, _)| *other == name)
                .map(|(_, began)| *began);
            groups.insert(unit.clone(), (name, began.unwrap_or(*i)));
        }
        groups
    }

    /// Days since the last addition of an earlier day that still stands: to the first addition of a
    /// leak event, else to the newest charge of the group.
    fn days(&self, steps: &[(usize, i128)], began: usize, newest: usize) -> i32 {
        let before = steps.iter().rev().find(|(j, _)| {
            *j < began
                && is_charge(&self.events[*j])
                && self.events[*j].day < self.events[began].day
                && self.life(*j) == self.life(began)
                && self.figure(&self.labels[*j], began) > 0
        });
        let retrofit = |event: &&Event| event.kind == Kind::Retrofit;
        let retrofitted = self.events[..began].iter().rfind(retrofit);
        let from = match (before, retrofitted) {
            (Some((j, _)), _) => self.events[*j].day,
            (None, Some(retrofit)) => retrofit.day,
            (None, None) => day("2022-12-01"),
        };
        let days = self.events[newest].day.days_since(from);
        if days == 0 { 365 } else { days.min(365) }
    }

    fn agrees(&self, found: &[Addition]) {
        let steps = self.steps();
        let groups = self.groups(&steps);
        let seen: Vec<_> = found.iter().map(|a| (a.at as usize, a.mass)).collect();
        assert_eq!(seen, steps, "steps");
        for (addition, (i, _)) in found.iter().zip(&steps) {
            let unit = &self.labels[*i];
            let (group, began) = &groups[unit];
            let members = groups.iter().filter(|(_, (name, _))| name == group);
            let sum: i128 = members.map(|(member, _)| self.figure(member, *i)).sum();
            assert_eq!(addition.day, self.events[*i].day, "day at {i}");
            assert_eq!(
                addition.group_mass,
                self.figure(unit, *i),
                "group_mass at {i}"
            );
            assert_eq!(addition.annualised_mass, sum, "annualised_mass at {i}");
            let of_group = |j: &usize| {
                *j <= *i && is_charge(&self.events[*j]) && groups[&self.labels[*j]].0 == *group
            };
            let mut charges = steps.iter().map(|(j, _)| *j).filter(of_group);
            let newest = if group.contains("leak") {
                *began
            } else {
                charges.next_back().unwrap()
            };
            assert_eq!(
                addition.days,
                self.days(&steps, *began, newest),
                "days at {i}"
            );
            assert_eq!(
                addition.rolling_mass,
                self.rolling(&steps, *i),
                "rolling_mass at {i}"
            );
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn the_walk_agrees_with_the_slow_computation(draws in draws(), gross in any::<bool>()) {
        let events = events_of(&draws);
        let netting = if gross { Netting::Gross } else { Netting::Visit };
        let reading = Reading { netting, ..Reading::default() };
        let mut reader = Reader::default().trace(true);
        let found = reader.read(&events, &facts("100", Some("2022-12-01")), &reading).to_vec();
        let oracle = Oracle { events: &events, labels: labels(&events), netting };
        oracle.agrees(&found);
        let mut given = vec![0_i128; found.len()];
        for contribution in reader.contributions() {
            given[contribution.step as usize] += contribution.mass;
        }
        let masses: Vec<i128> = found.iter().map(|step| step.mass).collect();
        prop_assert_eq!(&given, &masses, "contributions");
        for (step, addition) in found.iter().enumerate() {
            let sources = reader.rolling_steps(step as u32);
            let sum: i128 = sources.iter().map(|source| given[*source as usize]).sum();
            prop_assert_eq!(sum, addition.rolling_mass, "evidence of the window at step {}", step);
        }
    }
}
