//! Pressure tests with dry nitrogen.

use super::Given;
use reports::physics::{
    self, GaugeKind, LocalAir, PressureCriterion, PressureResult, PressureTest, PressureUnit,
    Problem, Quantity, SensorAnswers, TemperatureUnit, TestReading,
};

/// Answers what a pressure test shows.
///
/// # Errors
/// Those of reading and of judging.
pub fn pressure_test(given: &Given) -> Result<PressureResult, Problem> {
    physics::judge_pressure_test(&read(given)?)
}

/// Reads a pressure test.
///
/// # Errors
/// Those of reading.
pub fn read(given: &Given) -> Result<PressureTest, Problem> {
    let pressure = |name: &str, expected: &str| -> Result<Quantity<PressureUnit>, Problem> {
        given.needed_quantity(name, "pressure_unit", expected)
    };
    let temperature = |name: &str, expected: &str| -> Result<Quantity<TemperatureUnit>, Problem> {
        given.needed_quantity(name, "temperature_unit", expected)
    };
    let start = TestReading {
        pressure: pressure("start_pressure", "what the gauge shows at the start")?,
        temperature: temperature("start_temperature", "the tested part at the start")?,
    };
    let end = TestReading {
        pressure: pressure("end_pressure", "what the gauge shows at the end")?,
        temperature: temperature("end_temperature", "the tested part at the end")?,
    };
    let (gauge, air): (GaugeKind, LocalAir) = given.gauge_and_air(start.pressure.unit)?;
    let design = "the lowest design pressure on the nameplates";
    let minutes = given.needed_decimal("minutes", "how long the test stood, in minutes")?;
    let needs = "how long the criterion asks for, in minutes";
    Ok(PressureTest {
        start,
        end,
        gauge,
        air,
        pressure_accuracy: pressure("pressure_accuracy", "how far the gauge may be off")?,
        temperature_accuracy: temperature(
            "temperature_accuracy",
            "how far the thermometer may be off",
        )?,
        resolution: given.quantity("resolution", "pressure_unit")?,
        minutes,
        design_pressure: pressure("design_pressure", design)?,
        criterion: PressureCriterion {
            text: criterion_text(given),
            source: given
                .text("criterion_source")
                .unwrap_or("not stated")
                .to_string(),
            minutes: given.needed_decimal("criterion_minutes", needs)?,
            acceptance: given.quantity("acceptance", "pressure_unit")?,
        },
        sensors: SensorAnswers {
            in_shade: given.yes_no("in_shade")?,
            on_tested_part: given.yes_no("on_tested_part")?,
            same_place: given.yes_no("same_place")?,
            settled_after_filling: given.yes_no("settled_after_filling")?,
        },
    })
}

fn criterion_text(given: &Given) -> String {
    match (given.text("criterion"), given.text("criterion_minutes")) {
        (Some(text), _) => text.to_string(),
        (None, minutes) => format!(
            "no loss beyond uncertainty after {} minutes",
            minutes.unwrap_or("?")
        ),
    }
}
