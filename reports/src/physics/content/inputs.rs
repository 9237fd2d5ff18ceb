//! From what was read to numbers, or to the list of what is missing or cannot be.

use super::{ContentReading, GaugeAccuracy};
use crate::mass::Mass;
use crate::number::Fraction;
use crate::physics::air::{GaugeKind, LocalAir, STANDARD_AIR_KPA};
use crate::physics::exact;
use crate::physics::hint;
use crate::physics::pressure::{Against, Pressure};
use crate::physics::problem::{Problem, ProblemCode};
use crate::physics::temperature::Temperature;

/// Lowest and highest wall temperature in kelvin: -40 to 65 °C.
const KELVIN: (f64, f64) = (233.15, 338.15);

/// Highest half-width of a wall temperature that is still one, in kelvin.
const MOST_DEGREES: f64 = 20.0;

/// The numbers of a reading.
#[derive(Clone, Copy, Debug)]
pub struct Numbers {
    /// Absolute pressure in kilopascal.
    pub kpa: f64,
    /// The error of the gauge in kilopascal.
    pub gauge_error: f64,
    /// The wall in kelvin.
    pub kelvin: f64,
    /// The error of the wall's temperature in kelvin.
    pub degrees: f64,
    /// What was weighed, where it was.
    pub weighed: Option<Weighed>,
}

/// What was weighed.
#[derive(Clone, Copy, Debug)]
pub struct Weighed {
    /// Net mass.
    pub net: Mass,
    /// Net mass in kilograms per cubic metre of the cylinder.
    pub kg_m3: f64,
}

/// The numbers, or everything that keeps them from being worked out.
pub fn numbers(reading: &ContentReading) -> Result<Numbers, Vec<Problem>> {
    let mut problems = Vec::new();
    let mut keep = |result: Result<f64, Problem>| match result {
        Ok(number) => number,
        Err(problem) => {
            // A pressure that is missing is missing once.
            if !problems.contains(&problem) {
                problems.push(problem);
            }
            f64::NAN
        }
    };
    let kpa = keep(pressure(reading));
    let gauge_error = keep(gauge_error(reading));
    let kelvin = keep(wall(reading));
    let degrees = keep(degrees(reading));
    if !gauge_error.is_nan() {
        keep(above_nothing(reading, gauge_error));
    }
    if reading.rested != Some(true) {
        problems.push(not_rested(reading.rested));
    }
    let weighed = match weighed(reading) {
        Ok(weighed) => weighed,
        Err(problem) => {
            problems.push(problem);
            None
        }
    };
    if problems.is_empty() {
        Ok(Numbers {
            kpa,
            gauge_error,
            kelvin,
            degrees,
            weighed,
        })
    } else {
        Err(problems)
    }
}

fn needed_pressure(reading: &ContentReading) -> Result<Pressure, Problem> {
    reading.pressure.ok_or_else(|| {
        let expected = "what the gauge on the cylinder shows, with its unit";
        Problem::missing("pressure", expected, "Read the gauge.")
    })
}

fn pressure(reading: &ContentReading) -> Result<f64, Problem> {
    let pressure = needed_pressure(reading)?;
    if pressure.unit.against == Against::Vacuum {
        return pressure.absolute_kpa("pressure", GaugeKind::Vented, LocalAir::SEA_LEVEL);
    }
    let gauge = reading.gauge.ok_or_else(|| {
        Problem::missing(
            "gauge",
            "vented (against the air of the place) or sealed (against sea level)",
            "Look at the gauge: manifold gauges are vented; a digital one says so in its sheet.",
        )
    })?;
    let air = match gauge {
        GaugeKind::Sealed => LocalAir {
            kpa: STANDARD_AIR_KPA,
            ..LocalAir::SEA_LEVEL
        },
        GaugeKind::Vented => LocalAir::from_either(reading.altitude, reading.barometer)?,
    };
    pressure.absolute_kpa("pressure", gauge, air)
}

fn gauge_error(reading: &ContentReading) -> Result<f64, Problem> {
    let pressure = needed_pressure(reading)?;
    let Some(accuracy) = reading.accuracy else {
        return Err(Problem::missing(
            "accuracy",
            "the accuracy of the gauge, in percent of its full scale or of the reading",
            "Read it on the dial or in the sheet of the gauge; 1 % of full scale is common.",
        ));
    };
    let share = accuracy.percent.fraction();
    if share <= Fraction::new(0, 1) || share > Fraction::new(10, 1) {
        return Err(Problem::new(
            ProblemCode::OutOfRange,
            "accuracy",
            "an accuracy above 0 and up to 10 percent",
            format!("{} percent", accuracy.percent),
            "Read it on the dial or in the sheet of the gauge.",
        ));
    }
    let whole = match (accuracy.of_reading, accuracy.full_scale) {
        (true, _) => pressure.size_kpa().abs(),
        (false, Some(full_scale)) => full_scale_kpa(pressure, full_scale)?,
        (false, None) => return Err(no_full_scale(accuracy)),
    };
    Ok(exact::float(accuracy.percent) / 100.0 * whole)
}

fn no_full_scale(accuracy: GaugeAccuracy) -> Problem {
    let to_do = "Read the largest number on the dial: 800 psig, for example.";
    let expected = format!(
        "the full scale that {} percent is counted from",
        accuracy.percent
    );
    Problem::missing("accuracy.full_scale", expected, to_do)
}

fn full_scale_kpa(pressure: Pressure, full_scale: Pressure) -> Result<f64, Problem> {
    let most = full_scale.size_kpa();
    if most > 0.0 && pressure.size_kpa() <= most {
        return Ok(most);
    }
    let fits = |other: Pressure| other.size_kpa() >= pressure.size_kpa() && most > 0.0;
    Err(Problem::new(
        ProblemCode::Contradiction,
        "accuracy.full_scale",
        format!("a full scale not below the reading of {}", pressure.text()),
        full_scale.text(),
        hint::other_units(full_scale, fits).unwrap_or_else(|| {
            "Read the largest number on the dial, and the unit of both.".to_owned()
        }),
    ))
}

fn wall(reading: &ContentReading) -> Result<f64, Problem> {
    let Some(wall) = reading.wall_temperature else {
        return Err(Problem::missing(
            "wall_temperature",
            "the temperature of the cylinder's wall",
            "Strap a thermometer to the wall below the liquid level; the air is not the wall.",
        ));
    };
    let kelvin = wall.kelvin("wall_temperature")?;
    let inside = |kelvin: f64| (KELVIN.0..=KELVIN.1).contains(&kelvin);
    if inside(kelvin) {
        return Ok(kelvin);
    }
    let fits = |other: Temperature| other.kelvin("wall_temperature").is_ok_and(inside);
    Err(Problem::new(
        ProblemCode::OutsideTable,
        "wall_temperature",
        "a temperature from -40 to 65 Cel (-40 to 149 [degF])",
        wall.text(),
        hint::other_units(wall, fits)
            .unwrap_or_else(|| "Bring the cylinder to such a temperature first.".to_owned()),
    ))
}

fn degrees(reading: &ContentReading) -> Result<f64, Problem> {
    let Some(accuracy) = reading.temperature_accuracy else {
        return Ok(1.0);
    };
    let degrees = accuracy.interval_kelvin();
    if degrees > 0.0 && degrees <= MOST_DEGREES {
        return Ok(degrees);
    }
    Err(Problem::new(
        ProblemCode::OutOfRange,
        "temperature_accuracy",
        format!("an accuracy above 0 and up to {MOST_DEGREES} K"),
        accuracy.text(),
        "Read it in the sheet of the thermometer, or leave it out: 1 K is taken then.",
    ))
}

/// A gauge that shows hardly more than its own error shows nothing.
fn above_nothing(reading: &ContentReading, gauge_error: f64) -> Result<f64, Problem> {
    let pressure = needed_pressure(reading)?;
    let shown = pressure.size_kpa();
    if pressure.unit.against == Against::Vacuum || shown.abs() >= gauge_error {
        return Ok(shown);
    }
    Err(Problem::new(
        ProblemCode::OutOfRange,
        "pressure",
        format!("a reading beyond the error of the gauge, {gauge_error:.1} kPa"),
        pressure.text(),
        "The cylinder may be empty, or open to the air. Weigh it, or read a finer gauge.",
    ))
}

fn not_rested(rested: Option<bool>) -> Problem {
    let code = match rested {
        None => ProblemCode::Missing,
        Some(_) => ProblemCode::Contradiction,
    };
    Problem::new(
        code,
        "rested",
        "a cylinder that rested at a steady temperature in the shade",
        rested.map_or("no answer", |_| "one that did not"),
        "Let it stand in the shade until wall and air agree: 1 K is 3 % of the pressure.",
    )
}

fn weighed(reading: &ContentReading) -> Result<Option<Weighed>, Problem> {
    let (gross, tare, capacity) = match (reading.gross, reading.tare, reading.water_capacity) {
        (None, ..) => return Ok(None),
        (Some(gross), Some(tare), Some(capacity)) => (gross, tare, capacity),
        (Some(_), None, _) => {
            let expected = "the tare of the cylinder (TW on the collar)";
            return Err(Problem::missing(
                "tare",
                expected,
                "Read it off the collar.",
            ));
        }
        (Some(_), _, None) => {
            let expected = "the water capacity of the cylinder (WC on the collar)";
            return Err(Problem::missing(
                "water_capacity",
                expected,
                "Read it off the collar.",
            ));
        }
    };
    let Some(net) = gross.checked_sub(tare) else {
        return Err(Problem::new(
            ProblemCode::Contradiction,
            "gross",
            format!("a mass not below the tare of {tare} g"),
            format!("{gross} g"),
            "Weigh again; check the unit of the scale and whether this is the right cylinder.",
        ));
    };
    let Some(litres) = capacity.litres() else {
        return Err(Problem::new(
            ProblemCode::OutOfRange,
            "water_capacity",
            "a water capacity above zero",
            capacity.text(),
            "Read WC on the collar again, with its unit.",
        ));
    };
    // Grams per litre are kilograms per cubic metre.
    let grams = net.steps() as f64 / Mass::GRAM as f64;
    Ok(Some(Weighed {
        net,
        kg_m3: grams / exact::float_of(litres),
    }))
}
