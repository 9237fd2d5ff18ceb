//! How days and masses are written in a leaf.

use reports::day::Day;
use reports::mass::Mass;
use serde::de::{Error, Unexpected, Visitor};
use serde::{Deserializer, Serializer};
use std::fmt;

struct DayVisitor;

impl Visitor<'_> for DayVisitor {
    type Value = Day;
    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a day, YYYY-MM-DD")
    }
    fn visit_str<E: Error>(self, text: &str) -> Result<Day, E> {
        Day::parse(text).ok_or_else(|| E::invalid_value(Unexpected::Str(text), &self))
    }
}

/// `YYYY-MM-DD`.
pub mod day_text {
    use super::*;

    /// Writes the day.
    pub fn serialize<S: Serializer>(day: &Day, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(day)
    }

    /// Reads the day.
    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Day, D::Error> {
        deserializer.deserialize_str(DayVisitor)
    }

    /// The same for a member that may be absent.
    pub mod option {
        use super::*;

        /// Writes the day; an absent one is skipped before this is asked.
        pub fn serialize<S: Serializer>(day: &Option<Day>, s: S) -> Result<S::Ok, S::Error> {
            match day {
                Some(day) => super::serialize(day, s),
                None => s.serialize_none(),
            }
        }

        /// Reads the day.
        pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<Option<Day>, D::Error> {
            super::deserialize(d).map(Some)
        }
    }
}

struct MassVisitor;

impl Visitor<'_> for MassVisitor {
    type Value = Mass;
    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("exact grams as decimal text without trailing zeros")
    }
    fn visit_str<E: Error>(self, text: &str) -> Result<Mass, E> {
        Mass::from_grams_text(text).ok_or_else(|| E::invalid_value(Unexpected::Str(text), &self))
    }
}

/// Exact grams, `3288.5446825`.
pub mod mass_text {
    use super::*;

    /// Writes the mass.
    pub fn serialize<S: Serializer>(mass: &Mass, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(mass)
    }

    /// Reads the mass.
    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Mass, D::Error> {
        deserializer.deserialize_str(MassVisitor)
    }
}
