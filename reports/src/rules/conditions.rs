//! Tests on the facts of an appliance: one line per fact, and all lines must hold.
//!
//! `covers`, `exempt` and `bands` carry a test in their own table; elsewhere it stands under
//! `when`. The facts are a closed list, so a misspelt fact is found when the file is read.

use super::text::Date;
use super::words::{AtEnd, Confidence, YesNo};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A quantity against named values: ≥ > < ≤; two may stand together.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct NumberTest {
    pub at_least: Option<String>,
    pub over: Option<String>,
    pub below: Option<String>,
    pub at_most: Option<String>,
}

/// A word, or a region code (a code holds its parts).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct WordTest {
    pub is: Option<Vec<String>>,
    pub is_not: Option<Vec<String>>,
}

/// A refrigerant against a dated list.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct ListTest {
    pub contains: Option<String>,
    pub lacks: Option<String>,
    pub only: Option<String>,
}

/// A date: from `since` on, before `before`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct DateTest {
    pub since: Option<Date>,
    pub before: Option<Date>,
}

/// Defines a table that carries a test beside fields of its own.
macro_rules! with_test {
    ($(#[$about:meta])* $name:ident {
        $($(#[$note:meta])* $field:ident : $kind:ty),* $(,)?
    }) => {
        $(#[$about])*
        #[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        #[allow(missing_docs)]
        pub struct $name {
            $($(#[$note])* pub $field: $kind,)*
            pub full_charge: Option<NumberTest>,
            pub co2e: Option<NumberTest>,
            pub gwp: Option<NumberTest>,
            pub motor_kw: Option<NumberTest>,
            pub category: Option<WordTest>,
            pub region: Option<WordTest>,
            pub owner_class: Option<WordTest>,
            pub land: Option<WordTest>,
            pub equipment: Option<WordTest>,
            pub band: Option<WordTest>,
            pub refrigerant: Option<ListTest>,
            pub hermetic: Option<YesNo>,
            pub residential: Option<YesNo>,
            pub detector: Option<YesNo>,
            pub mobile: Option<YesNo>,
            pub process_shutdown: Option<YesNo>,
            pub evacuated: Option<YesNo>,
            pub ghg_reporter: Option<YesNo>,
            pub year_round: Option<YesNo>,
            pub indoors: Option<YesNo>,
            pub installed: Option<DateTest>,
        }

        impl $name {
            /// The test alone.
            pub fn test(&self) -> Test {
                Test {
                    full_charge: self.full_charge.clone(),
                    co2e: self.co2e.clone(),
                    gwp: self.gwp.clone(),
                    motor_kw: self.motor_kw.clone(),
                    category: self.category.clone(),
                    region: self.region.clone(),
                    owner_class: self.owner_class.clone(),
                    land: self.land.clone(),
                    equipment: self.equipment.clone(),
                    band: self.band.clone(),
                    refrigerant: self.refrigerant.clone(),
                    hermetic: self.hermetic,
                    residential: self.residential,
                    detector: self.detector,
                    mobile: self.mobile,
                    process_shutdown: self.process_shutdown,
                    evacuated: self.evacuated,
                    ghg_reporter: self.ghg_reporter,
                    year_round: self.year_round,
                    indoors: self.indoors,
                    installed: self.installed.clone(),
                }
            }
        }
    };
}

with_test! {
    /// A test on facts.
    Test {}
}
with_test! {
    /// Which appliances are covered, from a day on.
    Covers {
        /// First day; absent: always.
        from: Option<Date>,
        /// Last day, inclusive.
        until: Option<Date>,
        clause: String,
        confidence: Option<Confidence>,
        /// What happens to open duties when this block's time is over.
        at_end: Option<AtEnd>,
    }
}
with_test! {
    /// Which of them are left out.
    Exempt {
        from: Option<Date>,
        until: Option<Date>,
        clause: String,
        confidence: Option<Confidence>,
    }
}
with_test! {
    /// A category or size; the first that fits is the band.
    Band {
        name: String,
    }
}

impl Test {
    /// The quantities it compares, by fact name.
    pub fn numbers(&self) -> impl Iterator<Item = (&'static str, &NumberTest)> {
        [
            ("full_charge", &self.full_charge),
            ("co2e", &self.co2e),
            ("gwp", &self.gwp),
            ("motor_kw", &self.motor_kw),
        ]
        .into_iter()
        .filter_map(|(name, test)| test.as_ref().map(|test| (name, test)))
    }

    /// The words it compares, by fact name (region and band among them).
    pub fn words(&self) -> impl Iterator<Item = (&'static str, &WordTest)> {
        [
            ("category", &self.category),
            ("region", &self.region),
            ("owner_class", &self.owner_class),
            ("land", &self.land),
            ("equipment", &self.equipment),
            ("band", &self.band),
        ]
        .into_iter()
        .filter_map(|(name, test)| test.as_ref().map(|test| (name, test)))
    }

    /// The yes/no facts it asks for.
    pub fn yes_no(&self) -> impl Iterator<Item = (&'static str, YesNo)> {
        [
            ("hermetic", self.hermetic),
            ("residential", self.residential),
            ("detector", self.detector),
            ("mobile", self.mobile),
            ("process_shutdown", self.process_shutdown),
            ("evacuated", self.evacuated),
            ("ghg_reporter", self.ghg_reporter),
            ("year_round", self.year_round),
            ("indoors", self.indoors),
        ]
        .into_iter()
        .filter_map(|(name, answer)| answer.map(|answer| (name, answer)))
    }
}

impl NumberTest {
    /// The comparisons with the value each names.
    pub fn comparisons(&self) -> impl Iterator<Item = (super::number::Comparison, &str)> {
        use super::number::Comparison as C;
        [
            (C::AtLeast, &self.at_least),
            (C::Over, &self.over),
            (C::Below, &self.below),
            (C::AtMost, &self.at_most),
        ]
        .into_iter()
        .filter_map(|(comparison, name)| name.as_deref().map(|name| (comparison, name)))
    }
}
