//! The vacuum rise test: pump down, close off, and watch how the pressure comes back.
//!
//! Published criteria differ, so the one that was used is stored with the result. It is judged in
//! exact decimals. The shape tells more than the end: a rise that levels off is moisture or
//! outgassing, a steady one is a leak. It takes an absolute vacuum gauge; manifold gauges cannot see
//! any of it.

mod criterion;
mod shape;

pub use criterion::{VACUUM_CRITERIA_BYTES, VacuumCriteria, VacuumCriterion, VacuumKind};
pub use shape::VacuumShape;

use super::exact;
use super::hint;
use super::pressure::{Against, Pressure, PressureUnit};
use super::problem::{Problem, ProblemCode};
use super::quantity::{Quantity, decimal_text};
use super::volume::VolumeUnit;
use crate::number::Decimal;
use serde::{Deserialize, Serialize};

/// What stands beside every vacuum test.
pub const VACUUM_CAUTION: &str = "Vacuum tests only 1 bar inward; not a substitute for the pressure \
     test.";

/// The highest pressure that is still taken for a vacuum, in kilopascal: the chiller manuals begin at
/// 41.
const MOST_KPA: f64 = 50.0;

/// A reading of the vacuum gauge so many minutes after the pump was closed off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct VacuumReading {
    /// Minutes since the pump was closed off.
    #[serde(with = "decimal_text")]
    pub minute: Decimal,
    /// What the gauge shows.
    pub pressure: Pressure,
}

/// A vacuum rise test as it was made.
#[derive(Clone, Debug, PartialEq)]
pub struct VacuumTest {
    /// Two readings at least, in the order they were taken.
    pub readings: Vec<VacuumReading>,
    /// The volume of the tested part, where it is known.
    pub volume: Option<Quantity<VolumeUnit>>,
    /// What it had to show.
    pub criterion: VacuumCriterion,
}

/// What a vacuum test shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VacuumVerdict {
    /// It met its criterion.
    Pass,
    /// It did not.
    Fail,
    /// Something has to be done first.
    NotDecided,
}

/// The result of a vacuum rise test.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct VacuumResult {
    /// What it shows.
    pub verdict: VacuumVerdict,
    /// What has to be done before it is decided.
    pub open: Vec<Problem>,
    /// What the shape of the rise says.
    pub shape: VacuumShape,
    /// Pressure at the start in pascal.
    pub start_pa: f64,
    /// Pressure at the end in pascal.
    pub end_pa: f64,
    /// The rise in microns a minute.
    pub rise_micron_per_minute: f64,
    /// V dp/dt in Pa m³/s, where the volume is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub leak_pa_m3_per_s: Option<f64>,
    /// How long it stood, in minutes.
    #[serde(with = "decimal_text")]
    pub minutes: Decimal,
    /// What it had to show.
    pub criterion: VacuumCriterion,
    /// [`VACUUM_CAUTION`].
    pub caution: &'static str,
}

/// Judges a vacuum rise test.
///
/// # Errors
/// [`ProblemCode::Missing`] with fewer than two readings; [`ProblemCode::OutOfRange`] for a gauge
/// pressure, one above 50 kPa (naming the unit that fits), a time that does not rise, no volume.
pub fn judge_vacuum_test(test: &VacuumTest) -> Result<VacuumResult, Problem> {
    let [first, .., last] = test.readings[..] else {
        return Err(Problem::missing(
            "readings",
            "a reading when the pump was closed off and one at the end",
            "Read the gauge at both times; one in between shows whether the rise levels off.",
        ));
    };
    check_readings(&test.readings)?;
    let elapsed = last.minute.fraction();
    let elapsed = exact::minus(elapsed, first.minute.fraction()).ok_or_else(too_large)?;
    let open = open_points(test, first, last, elapsed);
    let (start_pa, end_pa) = (pascal(first), pascal(last));
    let minutes = exact::float_of(elapsed);
    let pa_per_minute = (end_pa - start_pa) / minutes;
    let litres = test.volume.map(litres).transpose()?;
    Ok(VacuumResult {
        verdict: verdict(test, first, last, &open)?,
        open,
        shape: shape::shape_of(&test.readings),
        start_pa,
        end_pa,
        rise_micron_per_minute: pa_per_minute / (PressureUnit::MICRON.kilopascal() * 1_000.0),
        leak_pa_m3_per_s: litres.map(|litres| litres / 1_000.0 * pa_per_minute / 60.0),
        minutes: Decimal::parse(&elapsed.cut(6)).ok_or_else(too_large)?,
        criterion: test.criterion.clone(),
        caution: VACUUM_CAUTION,
    })
}

/// A rise beyond the limit fails however short the test; that it stayed below takes its time.
fn verdict(
    test: &VacuumTest,
    first: VacuumReading,
    last: VacuumReading,
    open: &[Problem],
) -> Result<VacuumVerdict, Problem> {
    let is_met = test
        .criterion
        .is_met(first.pressure, last.pressure)
        .ok_or_else(too_large)?;
    Ok(match (is_met, open.is_empty()) {
        (false, _) => VacuumVerdict::Fail,
        (true, true) => VacuumVerdict::Pass,
        (true, false) => VacuumVerdict::NotDecided,
    })
}

fn open_points(
    test: &VacuumTest,
    first: VacuumReading,
    last: VacuumReading,
    elapsed: crate::number::Fraction,
) -> Vec<Problem> {
    let mut open = Vec::new();
    if elapsed < test.criterion.minutes.fraction() {
        open.push(Problem::new(
            ProblemCode::TooShort,
            "readings",
            format!("{} minutes, by the criterion", test.criterion.minutes),
            format!("{} minutes", elapsed.cut(1)),
            "Let it stand for the rest of the time and read again.",
        ));
    }
    if last.pressure.size_pascal_exact() < first.pressure.size_pascal_exact() {
        open.push(Problem::new(
            ProblemCode::Contradiction,
            "readings",
            "a pressure that does not fall once the pump is closed off",
            format!("{}, then {}", first.pressure.text(), last.pressure.text()),
            "Look whether the valve to the pump is closed and the gauge sits on the tested part.",
        ));
    }
    let most = test.criterion.most_at_start;
    if most.is_some_and(|most| first.pressure.size_pascal_exact() > most.size_pascal_exact()) {
        open.push(Problem::new(
            ProblemCode::OutOfRange,
            "readings",
            format!(
                "at most {} when the pump is closed off",
                most.map_or(String::new(), Quantity::text)
            ),
            first.pressure.text(),
            "Pump down further and begin again.",
        ));
    }
    open
}

fn check_readings(readings: &[VacuumReading]) -> Result<(), Problem> {
    let is_vacuum = |pressure: Pressure| {
        pressure.unit.against == Against::Vacuum && (0.0..=MOST_KPA).contains(&pressure.size_kpa())
    };
    for reading in readings {
        if is_vacuum(reading.pressure) {
            continue;
        }
        let to_do = match reading.pressure.unit.against {
            Against::Air => {
                "Read an absolute vacuum gauge: a manifold gauge cannot show this.".to_owned()
            }
            Against::Vacuum => hint::other_units(reading.pressure, is_vacuum)
                .unwrap_or_else(|| "Read the vacuum gauge again.".to_owned()),
        };
        let came = reading.pressure.text();
        let expected = format!("an absolute pressure from 0 to {MOST_KPA} kPa");
        return Err(Problem::new(
            ProblemCode::OutOfRange,
            "readings",
            expected,
            came,
            to_do,
        ));
    }
    let in_order = readings
        .windows(2)
        .all(|pair| pair[0].minute < pair[1].minute);
    if in_order
        && readings
            .first()
            .is_some_and(|first| first.minute >= Decimal::from(0))
    {
        return Ok(());
    }
    let minutes: Vec<String> = readings.iter().map(|it| it.minute.to_string()).collect();
    Err(Problem::new(
        ProblemCode::OutOfRange,
        "readings",
        "minutes that rise from reading to reading",
        minutes.join(", "),
        "Give the minutes since the pump was closed off, in the order of the readings.",
    ))
}

fn litres(volume: Quantity<VolumeUnit>) -> Result<f64, Problem> {
    let litres = volume.number() * exact::float_of(volume.unit.litres());
    if litres > 0.0 {
        return Ok(litres);
    }
    Err(Problem::new(
        ProblemCode::OutOfRange,
        "volume",
        "a volume above zero, or none",
        volume.text(),
        "Leave the volume out where it is not known.",
    ))
}

fn pascal(reading: VacuumReading) -> f64 {
    reading.pressure.size_kpa() * 1_000.0
}

fn too_large() -> Problem {
    Problem::new(
        ProblemCode::OutOfRange,
        "readings",
        "numbers with few digits",
        "numbers too long to compare exactly",
        "Give what the gauge and the clock show, without further digits.",
    )
}
