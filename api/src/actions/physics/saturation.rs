//! Saturation: of a refrigerant at a temperature, or at a pressure.

use super::Given;
use reports::physics::{
    self, Pressure, Problem, ProblemCode, SaturationAnswer, SaturationTable, Temperature,
    TemperatureAnswer,
};
use serde::Serialize;

/// Pressures at a temperature, or temperatures at a pressure.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Saturation {
    /// At a temperature.
    Pressures(SaturationAnswer),
    /// At a pressure.
    Temperatures(TemperatureAnswer),
}

/// Answers a question about saturation.
///
/// # Errors
/// Those of reading and of the table.
pub fn saturation(given: &Given) -> Result<Saturation, Problem> {
    let refrigerant = given.needed("refrigerant", "a designation such as R-410A")?;
    let temperature: Option<Temperature> = given.quantity("temperature", "unit")?;
    let pressure: Option<Pressure> = given.quantity("pressure", "unit")?;
    let table = SaturationTable::in_force();
    match (temperature, pressure) {
        (Some(temperature), None) => {
            physics::saturation(table, refrigerant, temperature).map(Saturation::Pressures)
        }
        (None, Some(pressure)) => {
            let (gauge, air) = given.gauge_and_air(pressure.unit)?;
            physics::saturation_temperature(table, refrigerant, pressure, gauge, air)
                .map(Saturation::Temperatures)
        }
        (None, None) => Err(Problem::missing(
            "temperature",
            "a temperature, or a pressure",
            "Give the temperature of the liquid, or what the gauge shows.",
        )),
        (Some(temperature), Some(pressure)) => Err(Problem::new(
            ProblemCode::Contradiction,
            "pressure",
            "either a temperature or a pressure",
            format!("{} and {}", temperature.text(), pressure.text()),
            "Leave one of them out.",
        )),
    }
}
