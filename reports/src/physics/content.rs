//! What a cylinder can hold, from its pressure and the temperature of its wall.
//!
//! A gauge separates families of refrigerants, never their members: R-410A, R-32 and R-454B read alike,
//! and two of these burn. So the answer is a list of what fits and of what cannot be excluded, each with
//! its distance in units of the error, and a verdict that never says "identified". It is stored as an
//! observation; it sets and changes no refrigerant. Where an input is missing or the reading cannot
//! mean anything, the verdict is `refused` and says why.

mod candidate;
mod check;
mod inputs;

pub use candidate::{Candidate, NotJudged, Why};
pub use check::content_check;

use super::air::{GaugeKind, LengthUnit};
use super::fill::{Content, FillDensities, FillRules};
use super::pressure::Pressure;
use super::problem::Problem;
use super::quantity::{Quantity, decimal_text};
use super::table::SaturationTable;
use super::temperature::Temperature;
use super::volume::WaterCapacity;
use crate::mass::Mass;
use crate::number::Decimal;
use serde::{Deserialize, Serialize};

/// What stands beside every content check.
pub const CONTENT_CAUTION: &str = "Pressure and temperature can only rule refrigerants out. They \
     cannot show a mixture or purity. Treat as unknown and possibly flammable until a refrigerant \
     identifier or laboratory analysis (AHRI 700 method) says otherwise. Do not charge, mix or vent \
     on this result.";

/// How exact a gauge is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct GaugeAccuracy {
    /// The percentage on its dial or sheet.
    #[serde(with = "decimal_text")]
    pub percent: Decimal,
    /// The full scale it is a percentage of; absent where it is one of the reading.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub full_scale: Option<Pressure>,
    /// Whether the percentage is one of the reading, as some digital gauges state it.
    #[serde(default)]
    pub of_reading: bool,
}

/// What was read and weighed; absent where nobody said it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ContentReading {
    /// What the gauge shows.
    pub pressure: Option<Pressure>,
    /// What the gauge compares with; not needed for an absolute pressure.
    pub gauge: Option<GaugeKind>,
    /// How exact the gauge is.
    pub accuracy: Option<GaugeAccuracy>,
    /// The temperature of the cylinder's wall, not of the air.
    pub wall_temperature: Option<Temperature>,
    /// How far that may be off; 1 K where nobody said.
    pub temperature_accuracy: Option<Temperature>,
    /// The altitude of the place, for a vented gauge.
    pub altitude: Option<Quantity<LengthUnit>>,
    /// A barometer at the place, for a vented gauge.
    pub barometer: Option<Pressure>,
    /// Whether the cylinder rested at a steady temperature in the shade.
    pub rested: Option<bool>,
    /// What the scale shows.
    pub gross: Option<Mass>,
    /// The tare on the collar.
    pub tare: Option<Mass>,
    /// The water capacity on the collar.
    pub water_capacity: Option<WaterCapacity>,
}

/// The tables that a check uses.
#[derive(Clone, Copy, Debug)]
pub struct ContentTables<'a> {
    /// Saturation.
    pub saturation: &'a SaturationTable,
    /// Rules of filling, to notice an over-full cylinder.
    pub rules: &'a FillRules,
    /// Densities for them.
    pub densities: &'a FillDensities,
}

impl ContentTables<'static> {
    /// The tables that are compiled in, with what was added when the program started.
    pub fn in_force() -> ContentTables<'static> {
        ContentTables {
            saturation: SaturationTable::in_force(),
            rules: FillRules::shipped(),
            densities: FillDensities::shipped(),
        }
    }
}

/// What a content check says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ContentVerdict {
    /// Two or more refrigerants fit: the normal case.
    Ambiguous,
    /// One fits. That does not identify it.
    OneCompatible,
    /// None fits: a mixture, air, no liquid, a wrong temperature, or a refrigerant without table.
    NoMatch,
    /// The reading cannot be judged.
    Refused,
}

/// The result of a content check.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ContentResult {
    /// What it says.
    pub verdict: ContentVerdict,
    /// Why it is refused; empty otherwise.
    pub refused: Vec<Problem>,
    /// What fits the reading, the nearest first.
    pub compatible: Vec<Candidate>,
    /// What does not fit well and cannot be excluded.
    pub not_excluded: Vec<Candidate>,
    /// What the pressure says nothing about at this temperature.
    pub not_judged: Vec<NotJudged>,
    /// How many known refrigerants have no saturation table and were not looked at.
    pub without_table: usize,
    /// Whether anything that fits or is not excluded can burn, or is not known not to.
    pub possibly_flammable: bool,
    /// The same of the higher toxicity.
    pub possibly_toxic: bool,
    /// What looks like a slip: a unit in which the reading would fit.
    pub doubts: Vec<String>,
    /// Absolute pressure in kilopascal, where it could be worked out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pressure_kpa: Option<f64>,
    /// The error of the gauge in kilopascal.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gauge_error_kpa: Option<f64>,
    /// Temperature of the wall in degrees Celsius.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temperature_cel: Option<f64>,
    /// [`CONTENT_CAUTION`].
    pub caution: &'static str,
}

impl ContentResult {
    /// The content as a fill limit should take it: everything that is not excluded, or unknown where
    /// the check excludes nothing.
    pub fn content(&self) -> Content {
        match self.verdict {
            ContentVerdict::Refused | ContentVerdict::NoMatch => Content::Unknown,
            ContentVerdict::Ambiguous | ContentVerdict::OneCompatible => {
                let listed = self.compatible.iter().chain(&self.not_excluded);
                let listed = listed.map(|candidate| candidate.refrigerant.clone());
                let others = self
                    .not_judged
                    .iter()
                    .map(|other| other.refrigerant.clone());
                Content::AnyOf(listed.chain(others).collect())
            }
        }
    }
}
