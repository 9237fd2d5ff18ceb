//! Tests and checks that are measured: pressure test, vacuum test, run check.
//!
//! What was read stands in the leaf as decimals and words; the verdict is worked out when it is
//! posted and stands beside them. A verdict that waits for an answer (was the sensor in the shade?)
//! is booked as not decided and leaves a finding. What has happened is never refused, not even a test
//! above the design pressure: it is asked about, booked, and leaves its finding and caution.

mod open;

use super::physics::{self, Given};
use super::post::Intention;
use super::refusal::{ActionError, Refusal, shown};
use super::service::{Allowed, Word, YES_NO, must, need, of, word};
use crate::ledger::entry::{EntryKind, Words};
use crate::store::columns::PlaceNumber;
use crate::store::tx::Tx;
pub use open::{open_reasons, sentence};
use reports::physics::{
    PressureUnit, PressureVerdict, Problem, ProblemCode, Quantity, SaturationTable, VacuumShape,
    VacuumVerdict, judge_pressure_test, judge_vacuum_test, saturation_temperature,
};
use std::borrow::Cow;

use Allowed::{Decimal, Number};

const PRESSURES: &[&str] = &["psig", "kPa{gauge}", "bar{gauge}", "[psi]", "kPa", "bar"];
const VACUUMS: &[&str] = &["um[Hg]", "mm[Hg]", "Pa", "kPa", "mbar"];
const TEMPERATURES: &[&str] = &["[degF]", "Cel"];
const GAUGES: &[&str] = &["vented", "sealed"];
const LENGTHS: &[&str] = &["m", "[ft_i]"];
const STAGES: &[&str] = &["initial", "follow_up"];
/// Names of the shipped criteria of vacuum tests.
const CRITERIA: &[&str] = &[
    "END_500_20",
    "END_700_15",
    "END_500_30",
    "CHILLER_24H",
    "JOINT_1500_10",
    "EN378_270PA_30",
];

/// Words of a pressure test. Pressures and temperatures are each in one unit.
pub const PRESSURE_TEST: &[Word] = &[
    word("stage", STAGES),
    word("all_leaks", YES_NO),
    need("start_pressure", Number),
    need("end_pressure", Number),
    must("pressure_unit", PRESSURES),
    need("start_temperature", Number),
    need("end_temperature", Number),
    must("temperature_unit", TEMPERATURES),
    need("pressure_accuracy", Decimal),
    need("temperature_accuracy", Decimal),
    need("design_pressure", Decimal),
    need("minutes", Decimal),
    need("criterion_minutes", Decimal),
    of("acceptance", Decimal),
    of("resolution", Decimal),
    word("gauge", GAUGES),
    of("altitude", Number),
    word("altitude_unit", LENGTHS),
    of("barometer", Decimal),
    word("barometer_unit", &["kPa", "hPa", "mbar", "[in_i'Hg]"]),
    word("in_shade", YES_NO),
    word("on_tested_part", YES_NO),
    word("same_place", YES_NO),
    word("settled_after_filling", YES_NO),
];

/// Words of a vacuum test.
pub const VACUUM_TEST: &[Word] = &[
    word("stage", STAGES),
    word("all_leaks", YES_NO),
    need("start_pressure", Number),
    of("middle_minute", Decimal),
    of("middle_pressure", Number),
    need("end_pressure", Number),
    must("pressure_unit", VACUUMS),
    need("minutes", Decimal),
    must("criterion", CRITERIA),
    of("volume", Decimal),
    word("volume_unit", &["L", "[gal_us]", "[cft_i]", "m3"]),
];

/// Words of a run check.
pub const RUN_CHECK: &[Word] = &[
    must("mode", &["cooling", "heating"]),
    need("high_pressure", Number),
    need("low_pressure", Number),
    must("pressure_unit", PRESSURES),
    word("gauge", GAUGES),
    of("altitude", Number),
    word("altitude_unit", LENGTHS),
    of("barometer", Decimal),
    word("barometer_unit", &["kPa", "hPa", "mbar", "[in_i'Hg]"]),
    of("high_line_temperature", Number),
    of("low_line_temperature", Number),
    of("outdoor_temperature", Number),
    word("temperature_unit", TEMPERATURES),
];

/// Works out what a measured kind means and says it beside what was read.
pub fn work_out(
    tx: &mut Tx<'_>,
    kind: EntryKind,
    place: PlaceNumber,
    said: &mut Words<'static>,
    what: &mut Intention,
) -> Result<(), ActionError> {
    match kind {
        EntryKind::PressureTest => pressure_test(place, said, what),
        EntryKind::VacuumTest => vacuum_test(place, said, what),
        EntryKind::RunCheck => run_check(tx, place, said),
        _ => Ok(()),
    }
}

fn pressure_test(
    place: PlaceNumber,
    said: &mut Words<'static>,
    what: &mut Intention,
) -> Result<(), ActionError> {
    let texts = what
        .secrets
        .iter()
        .map(|(name, text)| (name.as_str(), text.as_str()));
    let given = given(said, texts, physics::PRESSURE_TEST)?;
    let test = physics::read_pressure_test(&given).map_err(refused)?;
    let result = match judge_pressure_test(&test) {
        Ok(result) => result,
        Err(problem) if is_beyond_judging(&problem) => {
            return not_judged(place, said, what);
        }
        Err(problem) => return Err(refused(problem)),
    };
    let (verdict, passed) = match result.verdict {
        PressureVerdict::LossBeyondUncertainty => ("loss_beyond_uncertainty", "failed"),
        PressureVerdict::NoLossBeyondUncertainty => ("no_loss_beyond_uncertainty", "passed"),
        PressureVerdict::GainBeyondUncertaintyTestInvalid => ("invalid_gain", "not_decided"),
        PressureVerdict::NotDecided => ("not_decided", "not_decided"),
    };
    say(said, "verdict", verdict);
    say(said, "result", passed);
    say(said, "expected_pressure", &two_decimals(result.expected));
    say(said, "loss", &two_decimals(result.loss));
    let smallest = two_decimals(result.smallest_detectable_loss);
    say(said, "smallest_detectable_loss", &smallest);
    if result.above_design_pressure.is_some() {
        say(said, "above_design", "yes");
    }
    if passed == "not_decided" {
        what.findings.push(("test_not_decided", place));
    }
    Ok(())
}

fn vacuum_test(
    place: PlaceNumber,
    said: &mut Words<'static>,
    what: &mut Intention,
) -> Result<(), ActionError> {
    let given = given(said, std::iter::empty(), physics::VACUUM_TEST)?;
    let test = physics::read_vacuum_test(&given).map_err(refused)?;
    let result = judge_vacuum_test(&test).map_err(refused)?;
    let (verdict, passed) = match result.verdict {
        VacuumVerdict::Pass => ("pass", "passed"),
        VacuumVerdict::Fail => ("fail", "failed"),
        VacuumVerdict::NotDecided => ("not_decided", "not_decided"),
    };
    let shape = match result.shape {
        VacuumShape::LevelsOff => "levels_off",
        VacuumShape::Steady => "steady",
        VacuumShape::Unclear => "unclear",
        VacuumShape::TooFewReadings => "too_few_readings",
        VacuumShape::NoRise => "no_rise",
    };
    say(said, "verdict", verdict);
    say(said, "result", passed);
    say(said, "shape", shape);
    if passed == "not_decided" {
        what.findings.push(("test_not_decided", place));
    }
    Ok(())
}

/// High and low side as saturation temperatures at the air of the site: bubble on the high side,
/// dew on the low side. Nothing is judged that needs a licensed eye.
fn run_check(
    tx: &mut Tx<'_>,
    place: PlaceNumber,
    said: &mut Words<'static>,
) -> Result<(), ActionError> {
    let given = given(said, std::iter::empty(), FIELDS_OF_RUN_CHECK)?;
    let read = |name| -> Result<Quantity<PressureUnit>, ActionError> {
        let expected = "what the gauge shows";
        given
            .needed_quantity(name, "pressure_unit", expected)
            .map_err(refused)
    };
    let (high, low) = (read("high_pressure")?, read("low_pressure")?);
    let (gauge, air) = given.gauge_and_air(high.unit).map_err(refused)?;
    for (name, pressure) in [("high_pressure", high), ("low_pressure", low)] {
        pressure.absolute_kpa(name, gauge, air).map_err(refused)?;
    }
    if low.value >= high.value {
        say(said, "pair", "implausible");
    }
    let newest = tx.subject(place)?.brief.refrigerant.last().copied();
    let Some(name) = newest.and_then(|(_, code)| tx.table.designation(code)) else {
        return Ok(());
    };
    let table = SaturationTable::in_force();
    let at = |pressure| saturation_temperature(table, name, pressure, gauge, air);
    if let Ok(at) = at(high) {
        say(said, "high_saturation_cel", &one_decimal(at.bubble_cel));
    }
    if let Ok(at) = at(low) {
        say(said, "low_saturation_cel", &one_decimal(at.dew_cel));
    }
    Ok(())
}

const FIELDS_OF_RUN_CHECK: &[&str] = &[
    "high_pressure",
    "low_pressure",
    "pressure_unit",
    "gauge",
    "altitude",
    "altitude_unit",
    "barometer",
    "barometer_unit",
];

/// A reading beyond what the physics knows: it has happened, and nobody can judge it.
fn is_beyond_judging(problem: &Problem) -> bool {
    let of_a_reading = ["start.", "end."]
        .iter()
        .any(|at| problem.field.starts_with(at));
    problem.code == ProblemCode::OutOfRange && of_a_reading
}

fn not_judged(
    place: PlaceNumber,
    said: &mut Words<'static>,
    what: &mut Intention,
) -> Result<(), ActionError> {
    say(said, "judged", "no");
    say(said, "verdict", "not_decided");
    say(said, "result", "not_decided");
    what.findings.push(("test_not_decided", place));
    Ok(())
}

/// The words that a question of physics knows, with texts of the same names.
pub(super) fn given<'t>(
    said: &'t Words<'static>,
    texts: impl Iterator<Item = (&'t str, &'t str)>,
    known: &[&str],
) -> Result<Given, ActionError> {
    let words = said.iter().map(|(name, word)| (&**name, &**word));
    let pairs = words.chain(texts).filter(|(name, _)| known.contains(name));
    Given::of(pairs, known).map_err(refused)
}

/// A problem of physics as a refusal.
pub(super) fn refused(problem: Problem) -> ActionError {
    let field = problem.field.replace("sensors.", "").replace('.', "_");
    let (expected, to_do) = (&problem.expected, &problem.to_do);
    // What came is quoted already where it was typed.
    let came = match problem.came.as_str() {
        "nothing" => "nothing".to_string(),
        quoted if quoted.starts_with('"') => shown(quoted.trim_matches('"')),
        plain => shown(plain),
    };
    Refusal::InvalidValue {
        pointer: format!("/body/{field}"),
        detail: format!("Expected {expected}, got {came}. {to_do}"),
    }
    .into()
}

pub(super) fn say(said: &mut Words<'static>, name: &'static str, word: &str) {
    said.insert(Cow::Borrowed(name), Cow::Owned(word.to_string()));
}

/// Rounded for the record; nothing is decided by it.
fn two_decimals(number: f64) -> String {
    without_minus(format!("{number:.2}"))
}

fn one_decimal(number: f64) -> String {
    without_minus(format!("{number:.1}"))
}

/// Nothing has no sign.
fn without_minus(text: String) -> String {
    let is_nothing = text.bytes().all(|byte| b"-0.".contains(&byte));
    match text.strip_prefix('-') {
        Some(rest) if is_nothing => rest.to_string(),
        _ => text,
    }
}
