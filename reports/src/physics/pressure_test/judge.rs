//! Working a pressure test out, and what has to be asked before it counts.

use super::{
    PRESSURE_TEST_CAUTION, PressureResult, PressureTest, PressureVerdict, TestReading,
    check_design_pressure,
};
use crate::number::Decimal;
use crate::physics::hint;
use crate::physics::nitrogen::{NITROGEN_KELVIN, NITROGEN_MOST_KPA, Nitrogen, ideal_kpa};
use crate::physics::problem::{Problem, ProblemCode};
use crate::physics::temperature::Temperature;

/// Judges a pressure test.
///
/// loss = expected - measured;
/// U (k = 2) = 2 √{ [u_p² (1 + (T2/T1)²) + u_T² (s1² + s2²)] / 3 }, with the half-widths u_p and u_T of
/// rectangular distributions and s = p/T at each state. That is the slope of an ideal gas; with
/// nitrogen's own, U would be larger by up to 3 % at 150 psig, 6 % at 300, 10 % at 500 and 12 % at 600.
///
/// A reading above the design pressure has happened: it is judged all the same, and said. Who plans a
/// test asks [`check_design_pressure`] first.
///
/// # Errors
/// [`ProblemCode::OutOfRange`] for temperatures outside -30 to
/// 65 °C, pressures above 4 300 kPa, no accuracy, no time; [`ProblemCode::BelowVacuum`].
pub fn judge_pressure_test(test: &PressureTest) -> Result<PressureResult, Problem> {
    let above_design_pressure = above_design_pressure(test)?;
    let (start_kpa, start_kelvin) = state(test, test.start, "start")?;
    let (end_kpa, end_kelvin) = state(test, test.end, "end")?;
    let accuracy = test.pressure_accuracy.size_kpa();
    let degrees = test.temperature_accuracy.interval_kelvin();
    check_accuracies(test, accuracy, degrees)?;
    let gas = Nitrogen::filled_to(start_kpa, start_kelvin);
    let expected_kpa = gas.kpa_at(end_kelvin);
    let loss_kpa = expected_kpa - end_kpa;
    let ratio = end_kelvin / start_kelvin;
    let slopes = (start_kpa / start_kelvin).powi(2) + (expected_kpa / end_kelvin).powi(2);
    let variance = accuracy * accuracy * (1.0 + ratio * ratio) + degrees * degrees * slopes;
    let uncertainty_kpa = 2.0 * (variance / 3.0).sqrt();
    let by_numbers = if loss_kpa > uncertainty_kpa {
        PressureVerdict::LossBeyondUncertainty
    } else if loss_kpa < -uncertainty_kpa {
        PressureVerdict::GainBeyondUncertaintyTestInvalid
    } else {
        PressureVerdict::NoLossBeyondUncertainty
    };
    let mut open = open_questions(test, by_numbers, uncertainty_kpa);
    let (rose, cooled) = (end_kpa - start_kpa, start_kelvin - end_kelvin);
    let is_decided = by_numbers == PressureVerdict::GainBeyondUncertaintyTestInvalid;
    if rose > accuracy && cooled > degrees && !is_decided {
        open.push(rose_while_it_cooled(test));
    }
    let unit = test.start.pressure.unit;
    let shown = |kpa: f64| unit.from_absolute_kpa(kpa, test.gauge, test.air);
    Ok(PressureResult {
        verdict: if open.is_empty() {
            by_numbers
        } else {
            PressureVerdict::NotDecided
        },
        by_numbers,
        open,
        above_design_pressure,
        unit: crate::physics::quantity::Unit::code(unit),
        expected: shown(expected_kpa),
        expected_ideal: shown(ideal_kpa(start_kpa, start_kelvin, end_kelvin)),
        measured: shown(end_kpa),
        loss: loss_kpa / unit.kilopascal(),
        smallest_detectable_loss: uncertainty_kpa / unit.kilopascal(),
        expected_kpa,
        loss_kpa,
        uncertainty_kpa,
        minutes: test.minutes,
        criterion: test.criterion.clone(),
        caution: PRESSURE_TEST_CAUTION,
    })
}

/// The first reading above the nameplate, where there is one.
fn above_design_pressure(test: &PressureTest) -> Result<Option<Problem>, Problem> {
    for reading in [test.start, test.end] {
        match check_design_pressure(reading.pressure, test.design_pressure) {
            Err(problem) if problem.code == ProblemCode::AboveDesignPressure => {
                return Ok(Some(problem));
            }
            checked => checked?,
        }
    }
    Ok(None)
}

/// Too little to make the test invalid by itself, and still not what gas does.
fn rose_while_it_cooled(test: &PressureTest) -> Problem {
    let (start, end) = (test.start, test.end);
    Problem::new(
        ProblemCode::Contradiction,
        "end",
        "a pressure that falls when the temperature does",
        format!(
            "{} at {}, then {} at {}",
            start.pressure.text(),
            start.temperature.text(),
            end.pressure.text(),
            end.temperature.text()
        ),
        "The temperatures are not those of the gas, or the gauge was changed: read all again.",
    )
}

/// Absolute kilopascal and kelvin of a reading.
fn state(test: &PressureTest, reading: TestReading, field: &str) -> Result<(f64, f64), Problem> {
    let field_of = |what: &str| format!("{field}.{what}");
    let kpa = reading
        .pressure
        .absolute_kpa(&field_of("pressure"), test.gauge, test.air)?;
    if kpa > NITROGEN_MOST_KPA {
        return Err(Problem::new(
            ProblemCode::OutOfRange,
            &field_of("pressure"),
            format!("at most {NITROGEN_MOST_KPA} kPa absolute (609 psig), where this was compared"),
            reading.pressure.text(),
            "Check the unit; above it the correction for the real gas is not known well enough.",
        ));
    }
    let kelvin = reading.temperature.kelvin(&field_of("temperature"))?;
    let inside = |kelvin: f64| (NITROGEN_KELVIN.0..=NITROGEN_KELVIN.1).contains(&kelvin);
    if !inside(kelvin) {
        let fits = |other: Temperature| other.kelvin("temperature").is_ok_and(inside);
        let meant = hint::other_units(reading.temperature, fits);
        return Err(Problem::new(
            ProblemCode::OutOfRange,
            &field_of("temperature"),
            "a temperature from -30 to 65 Cel (-22 to 149 [degF])",
            reading.temperature.text(),
            meant.unwrap_or_else(|| "Read the thermometer again.".to_owned()),
        ));
    }
    Ok((kpa, kelvin))
}

fn check_accuracies(test: &PressureTest, kpa: f64, kelvin: f64) -> Result<(), Problem> {
    let refuse = |field: &str, expected: &str, came: String, to_do: &str| {
        Err(Problem::new(
            ProblemCode::OutOfRange,
            field,
            expected,
            came,
            to_do,
        ))
    };
    let to_do = "Give the accuracy that the instrument's sheet states, as a number above zero.";
    if kpa <= 0.0 {
        let came = test.pressure_accuracy.text();
        return refuse("pressure_accuracy", "an accuracy above zero", came, to_do);
    }
    if kelvin <= 0.0 {
        let came = test.temperature_accuracy.text();
        return refuse(
            "temperature_accuracy",
            "an accuracy above zero",
            came,
            to_do,
        );
    }
    let none = Decimal::from(0);
    if test.minutes <= none {
        let came = format!("{} minutes", test.minutes);
        return refuse(
            "minutes",
            "a time above zero",
            came,
            "Give how long the test stood.",
        );
    }
    Ok(())
}

fn open_questions(test: &PressureTest, found: PressureVerdict, uncertainty: f64) -> Vec<Problem> {
    let mut open = sensor_questions(test, found == PressureVerdict::LossBeyondUncertainty);
    // A loss is a loss however short the test; that nothing was lost takes its time.
    if found != PressureVerdict::NoLossBeyondUncertainty {
        return open;
    }
    if test.minutes < test.criterion.minutes {
        open.push(Problem::new(
            ProblemCode::TooShort,
            "minutes",
            format!("{} minutes, by the criterion", test.criterion.minutes),
            format!("{} minutes", test.minutes),
            "Let it stand for the rest of the time and read again.",
        ));
    }
    let Some(acceptance) = test.criterion.acceptance else {
        return open;
    };
    let step = test.resolution.map(super::Pressure::size_kpa);
    if step.is_none_or(|step| 4.0 * step > acceptance.size_kpa()) {
        open.push(Problem::new(
            ProblemCode::OutOfRange,
            "resolution",
            format!(
                "a gauge that shows a quarter of the acceptable loss, {}",
                acceptance.text()
            ),
            test.resolution
                .map_or("nothing".to_owned(), super::Pressure::text),
            "Read a finer gauge.",
        ));
    }
    if uncertainty > acceptance.size_kpa() {
        open.push(Problem::new(
            ProblemCode::OutOfRange,
            "pressure_accuracy",
            format!(
                "an uncertainty of at most the acceptable loss, {}",
                acceptance.text()
            ),
            format!("{uncertainty:.1} kPa"),
            "This test cannot see such a loss: use better instruments or a higher pressure.",
        ));
    }
    open
}

/// What was answered with no stays open whatever was found; what nobody answered, when there is a
/// loss.
fn sensor_questions(test: &PressureTest, is_loss: bool) -> Vec<Problem> {
    let sensors = test.sensors;
    let questions = [
        (
            sensors.in_shade,
            "sensors.in_shade",
            "both temperatures taken in the shade",
            "Shade the sensor, wait until it has settled and read again: 15 degF of sun looks like \
             a loss of 5 psi.",
        ),
        (
            sensors.on_tested_part,
            "sensors.on_tested_part",
            "temperatures of the tested part, not of the air beside it",
            "Strap the sensor to the tested part and read again.",
        ),
        (
            sensors.same_place,
            "sensors.same_place",
            "both temperatures from the same place",
            "Measure again where the first temperature was taken.",
        ),
        (
            sensors.settled_after_filling,
            "sensors.settled_after_filling",
            "a start reading after the gas has settled",
            "Gas warms when it is compressed: take a new start reading and let it stand again.",
        ),
    ];
    let is_open = |answer: &Option<bool>| match answer {
        Some(answered_yes) => !answered_yes,
        None => is_loss,
    };
    let open = questions.into_iter().filter(|(answer, ..)| is_open(answer));
    open.map(|(answer, field, expected, to_do)| {
        let came = if answer.is_some() { "no" } else { "no answer" };
        let code = match answer {
            Some(_) => ProblemCode::Contradiction,
            None => ProblemCode::Missing,
        };
        Problem::new(code, field, expected, came, to_do)
    })
    .collect()
}
