//! Vacuum rise tests.

use super::Given;
use reports::number::Decimal;
use reports::physics::{
    self, Problem, VacuumCriteria, VacuumReading, VacuumResult, VacuumTest, VolumeUnit,
};

/// Answers what a vacuum test shows.
///
/// # Errors
/// Those of reading and of judging.
pub fn vacuum_test(given: &Given) -> Result<VacuumResult, Problem> {
    physics::judge_vacuum_test(&read(given)?)
}

/// Reads a vacuum test: the readings when the pump was closed off and at the end, and one between
/// them, which alone shows whether the rise levels off.
///
/// # Errors
/// Those of reading.
pub fn read(given: &Given) -> Result<VacuumTest, Problem> {
    let needed =
        |name: &str, expected: &str| given.needed_quantity(name, "pressure_unit", expected);
    let mut readings = vec![VacuumReading {
        minute: Decimal::from(0),
        pressure: needed("start_pressure", "the vacuum when the pump was closed off")?,
    }];
    if let Some(minute) = given.decimal("middle_minute")? {
        readings.push(VacuumReading {
            minute,
            pressure: needed("middle_pressure", "the vacuum in between")?,
        });
    }
    readings.push(VacuumReading {
        minute: given.needed_decimal("minutes", "how long the test stood, in minutes")?,
        pressure: needed("end_pressure", "the vacuum at the end")?,
    });
    let criterion = given.needed("criterion", "the criterion, such as END_500_20")?;
    Ok(VacuumTest {
        readings,
        volume: given.quantity::<VolumeUnit>("volume", "volume_unit")?,
        criterion: VacuumCriteria::shipped().named(criterion)?.clone(),
    })
}
