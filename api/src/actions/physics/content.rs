//! Content checks: what a cylinder can hold, by its pressure and the temperature of its wall.

use super::Given;
use reports::physics::{
    self, ContentReading, ContentResult, ContentTables, GaugeAccuracy, Problem,
};

/// Answers a content check. What is missing is no error here but a reason to refuse.
///
/// # Errors
/// Those of reading.
pub fn content_check(given: &Given) -> Result<ContentResult, Problem> {
    let accuracy = given.decimal("accuracy_percent")?;
    let reading = ContentReading {
        pressure: given.quantity("pressure", "pressure_unit")?,
        gauge: given.gauge()?,
        accuracy: match accuracy {
            Some(percent) => Some(GaugeAccuracy {
                percent,
                full_scale: given.quantity("full_scale", "pressure_unit")?,
                of_reading: given.yes_no("of_reading")? == Some(true),
            }),
            None => None,
        },
        wall_temperature: given.quantity("wall_temperature", "temperature_unit")?,
        temperature_accuracy: given.quantity("temperature_accuracy", "temperature_unit")?,
        altitude: given.altitude()?,
        barometer: given.barometer()?,
        rested: given.yes_no("rested")?,
        gross: given.mass("gross")?,
        tare: given.mass("tare")?,
        water_capacity: given.quantity("water_capacity", "water_capacity_unit")?,
    };
    Ok(physics::content_check(ContentTables::in_force(), &reading))
}
