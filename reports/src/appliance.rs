//! An appliance as the rules see it: dated facts.
//!
//! Every fact holds from a day until the next value of the same fact. A fact that was never
//! recorded is absent, and a full charge may be recorded as *unknown*: neither ever becomes zero.

use crate::day::Day;
use crate::mass::Mass;
use crate::number::Decimal;
use std::collections::BTreeMap;

/// The value of a fact.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FactValue {
    /// Recorded as not known.
    Unknown,
    /// A mass, as of `full_charge`.
    Mass(Mass),
    /// A plain number, as of `motor_kw`.
    Number(Decimal),
    /// A day, as of `installed`.
    Day(Day),
    /// A word: category, region, refrigerant designation, `yes`, `no` and the like.
    Word(String),
}

/// The dated facts of one appliance (with those of its site folded in), by name.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    series: BTreeMap<String, Vec<(Day, FactValue)>>,
}

impl Facts {
    /// The first day of all: a fact that holds from it has always held.
    pub const ALWAYS: Day = Day::from_count(-719_162); // 0001-01-01

    /// Records that `name` is `value` from `from` on; a later record of the same day replaces it.
    pub fn set(&mut self, name: &str, from: Day, value: FactValue) {
        let series = self.series.entry(name.to_string()).or_default();
        match series.binary_search_by_key(&from, |(day, _)| *day) {
            Ok(at) => series[at].1 = value,
            Err(at) => series.insert(at, (from, value)),
        }
    }

    /// The value in force on a day; `None` when nothing was recorded by then.
    pub fn on(&self, name: &str, day: Day) -> Option<&FactValue> {
        let series = self.series.get(name)?;
        let after = series.partition_point(|(from, _)| *from <= day);
        after.checked_sub(1).map(|at| &series[at].1)
    }

    /// All values of a fact with their first days, ascending.
    pub fn series(&self, name: &str) -> &[(Day, FactValue)] {
        self.series.get(name).map_or(&[], Vec::as_slice)
    }

    /// Names of the facts that were recorded.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.series.keys().map(String::as_str)
    }

    /// The full charge in force on a day, if it is known then.
    pub fn full_charge(&self, day: Day) -> Option<Mass> {
        match self.on("full_charge", day) {
            Some(FactValue::Mass(mass)) => Some(*mass),
            _ => None,
        }
    }

    /// A word fact (category, refrigerant, region ...) in force on a day.
    pub fn word(&self, name: &str, day: Day) -> Option<&str> {
        match self.on(name, day) {
            Some(FactValue::Word(word)) => Some(word),
            _ => None,
        }
    }
}
