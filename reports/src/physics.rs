//! Physics for the cage and the van: saturation, fill limits, what a gauge reading can mean, pressure
//! and vacuum tests, and how far a scale can be trusted.
//!
//! Every function here is pure: its tables are compiled in with their source, or handed over with
//! it. Where physics does not allow a number, the answer is a [`Problem`] that says what was
//! expected, what came and what to do. What stops somebody (a fill, a pressure above the nameplate)
//! is worked out in exact decimals; what is only shown is worked out in floating point.

// Equations of state, exponentials and square roots have no exact decimals, and their results are
// shown beside a decision, never compared for one. The files that decide deny floats again.
#![allow(clippy::float_arithmetic)]

mod air;
mod content;
mod curve;
mod exact;
mod fill;
mod fluid;
mod hint;
mod maker;
mod nitrogen;
mod pressure;
mod pressure_test;
mod problem;
mod quantity;
mod saturation;
mod table;
mod temperature;
mod trust;
mod vacuum;
mod volume;
mod weighing;

pub use air::{AirSource, GaugeKind, LengthUnit, LocalAir, STANDARD_AIR_KPA};
pub use content::{
    CONTENT_CAUTION, Candidate, ContentReading, ContentResult, ContentTables, ContentVerdict,
    GaugeAccuracy, NotJudged, Why, content_check,
};
pub use fill::{
    AddedDensities, Applies, Content, CylinderFacts, FILL_CAUTION, FILL_DENSITIES_BYTES,
    FILL_LISTED_BYTES, FILL_RULES_BYTES, FillDensities, FillLimit, FillRequest, FillRules,
    FillTemperature, FillVerdict, MassText, Room, RoomState, RuleKind, RuleLimit, Term, fill_limit,
    judge_fill, may_be_filled, room,
};
pub use fluid::{Fluid, Point, Saturated};
pub use nitrogen::{NITROGEN_KELVIN, NITROGEN_MOST_KPA, Nitrogen, ideal_kpa};
pub use pressure::{Against, Pressure, PressureUnit};
pub use pressure_test::{
    PRESSURE_TEST_CAUTION, PressureCriterion, PressureResult, PressureTest, PressureVerdict,
    SensorAnswers, TestReading, check_design_pressure, judge_pressure_test,
};
pub use problem::{Problem, ProblemCode};
pub use quantity::{Quantity, Unit, decimal_text};
pub use saturation::{
    MAKERS_CAUTION, SATURATION_CAUTION, SaturationAnswer, TemperatureAnswer, saturation,
    saturation_temperature,
};
pub use table::{FLUIDS_BYTES, ManufacturerTable, SATURATION_BYTES, SaturationTable};
pub use temperature::{Temperature, TemperatureUnit, degree_size_kelvin, fahrenheit_of};
pub use trust::{Trust, WeighedPart, range_doubt};
pub use vacuum::{
    VACUUM_CAUTION, VACUUM_CRITERIA_BYTES, VacuumCriteria, VacuumCriterion, VacuumKind,
    VacuumReading, VacuumResult, VacuumShape, VacuumTest, VacuumVerdict, judge_vacuum_test,
};
pub use volume::{DensityUnit, VolumeUnit, WaterCapacity, WaterUnit};
pub use weighing::{
    MassUncertainty, RateUncertainty, ScaleFacts, Weighing, WeightCheck, mass_uncertainty,
    rate_uncertainty,
};
