//! The pressure test with dry nitrogen after a repair: was gas lost, or did it only cool down?
//!
//! What the gauge should show at the end follows from the start, both temperatures and the real gas
//! (`nitrogen.rs`). The difference is judged against its uncertainty. A sensor in the sun makes a loss
//! of its own, so that a loss is not decided until the questions about the sensors are answered. A
//! pass shows no loss larger than the stated one; it never proves tightness.

mod judge;

pub use judge::judge_pressure_test;

use super::air::{GaugeKind, LocalAir};
use super::pressure::{Against, Pressure};
use super::problem::{Problem, ProblemCode};
use super::quantity::decimal_text;
use super::temperature::Temperature;
use crate::number::Decimal;
use serde::{Deserialize, Serialize};

/// What stands beside every pressure test.
pub const PRESSURE_TEST_CAUTION: &str = "Only dry nitrogen through a regulator with relief; never \
     oxygen, never refrigerant as pressure source. A pass shows no loss larger than the stated \
     value; it does not prove tightness.";

/// A gauge and a thermometer read together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TestReading {
    /// What the gauge shows.
    pub pressure: Pressure,
    /// The temperature of the tested part.
    pub temperature: Temperature,
}

/// What was said about the sensors; absent where nobody answered.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct SensorAnswers {
    /// Both temperatures were taken in the shade.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_shade: Option<bool>,
    /// The sensor sat on the part that is tested, not in the air beside it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on_tested_part: Option<bool>,
    /// Both temperatures were taken at the same place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub same_place: Option<bool>,
    /// The gas had settled after filling: it warms when it is compressed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settled_after_filling: Option<bool>,
}

/// What the test has to show, and who says so. Stored with the result.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PressureCriterion {
    /// In words: `no loss beyond uncertainty after 60 minutes`.
    pub text: String,
    /// Where it comes from: a code, a manufacturer's manual, the shop.
    pub source: String,
    /// How long it has to stand, in minutes.
    #[serde(with = "decimal_text")]
    pub minutes: Decimal,
    /// The loss that still passes, where the criterion names one.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub acceptance: Option<Pressure>,
}

/// A pressure test as it was made.
#[derive(Clone, Debug, PartialEq)]
pub struct PressureTest {
    /// The readings at the start, after the gas has settled.
    pub start: TestReading,
    /// The readings at the end.
    pub end: TestReading,
    /// What the gauge compares with.
    pub gauge: GaugeKind,
    /// The air at the site.
    pub air: LocalAir,
    /// How far a reading of the gauge may be off (half-width).
    pub pressure_accuracy: Pressure,
    /// How far a temperature may be off (half-width, a difference of degrees).
    pub temperature_accuracy: Temperature,
    /// The smallest step of the gauge, where the criterion names an acceptable loss.
    pub resolution: Option<Pressure>,
    /// How long it stood, in minutes.
    pub minutes: Decimal,
    /// The lowest design pressure on the nameplates: an input, never computed.
    pub design_pressure: Pressure,
    /// What it had to show.
    pub criterion: PressureCriterion,
    /// What was said about the sensors.
    pub sensors: SensorAnswers,
}

/// What a pressure test shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PressureVerdict {
    /// More was lost than the uncertainty explains.
    LossBeyondUncertainty,
    /// No loss larger than the smallest that can be detected.
    NoLossBeyondUncertainty,
    /// More pressure than the gas can have: a reading is not what it seems, the test is invalid.
    GainBeyondUncertaintyTestInvalid,
    /// Something has to be answered or done first.
    NotDecided,
}

/// The result of a pressure test. Pressures are in the unit of the start reading unless marked.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PressureResult {
    /// What it shows.
    pub verdict: PressureVerdict,
    /// What the numbers alone say.
    pub by_numbers: PressureVerdict,
    /// What has to be answered or done before it is decided.
    pub open: Vec<Problem>,
    /// That a reading was above the design pressure: it has happened, and must not happen again.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub above_design_pressure: Option<Problem>,
    /// The unit of the following.
    pub unit: &'static str,
    /// What the gauge should show at the end.
    pub expected: f64,
    /// What it should show if nitrogen were an ideal gas, for comparison with a chart.
    pub expected_ideal: f64,
    /// What it does show.
    pub measured: f64,
    /// Expected less measured; negative is a gain.
    pub loss: f64,
    /// The uncertainty of the loss (k = 2), which is the smallest loss that can be detected.
    pub smallest_detectable_loss: f64,
    /// Expected end pressure, absolute, in kilopascal.
    pub expected_kpa: f64,
    /// The loss in kilopascal.
    pub loss_kpa: f64,
    /// The uncertainty of the loss (k = 2) in kilopascal.
    pub uncertainty_kpa: f64,
    /// How long it stood, in minutes.
    #[serde(with = "decimal_text")]
    pub minutes: Decimal,
    /// What it had to show.
    pub criterion: PressureCriterion,
    /// [`PRESSURE_TEST_CAUTION`].
    pub caution: &'static str,
}

/// Whether a test pressure is not above the design pressure of the nameplate. Exact: no float decides.
///
/// # Errors
/// [`ProblemCode::AboveDesignPressure`]; [`ProblemCode::Contradiction`] when one is a gauge pressure
/// and the other absolute.
pub fn check_design_pressure(test: Pressure, design: Pressure) -> Result<(), Problem> {
    let word = |pressure: Pressure| match pressure.unit.against {
        Against::Air => "a gauge pressure",
        Against::Vacuum => "an absolute pressure",
    };
    if test.unit.against != design.unit.against {
        return Err(Problem::new(
            ProblemCode::Contradiction,
            "design_pressure",
            format!("{} like the test pressure of {}", word(test), test.text()),
            format!("{}, {}", design.text(), word(design)),
            "Nameplates print gauge pressures: give both the same way.",
        ));
    }
    let (tested, most) = (test.size_pascal_exact(), design.size_pascal_exact());
    // A number too large for 128 bits is above every nameplate.
    if tested.is_some() && most.is_some() && tested <= most {
        return Ok(());
    }
    Err(Problem::new(
        ProblemCode::AboveDesignPressure,
        "pressure",
        format!(
            "at most {}, the lowest design pressure on the nameplates",
            design.text()
        ),
        test.text(),
        "Let pressure off at the regulator; never test above the nameplate.",
    ))
}
