//! The air a gauge reads against: a barometer, or the standard atmosphere at an altitude.
//!
//! p = 101.325 kPa × (1 − 0.0065 H / 288.15)^5.25588, H in metres (ISO 2533, the international
//! standard atmosphere). At 1 609 m that is 83.43 kPa; who ignores it reads R-134a a whole kelvin
//! wrong. Weather moves the real pressure by about 3 kPa, so a barometer is better, if it shows the
//! pressure of the place: forecasts give it reduced to sea level, which is asked about here.

use super::hint;
use super::pressure::Pressure;
use super::problem::{Problem, ProblemCode};
use super::quantity::{Quantity, Unit};
use serde::{Deserialize, Serialize};

/// The standard atmosphere at sea level in kilopascal.
pub const STANDARD_AIR_KPA: f64 = 101.325;

/// What a gauge compares with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GaugeKind {
    /// Open to the air around it, as manifold gauges are.
    Vented,
    /// Sealed at, or corrected to, the air of sea level (101.325 kPa), as some digital gauges are.
    Sealed,
}

/// A unit of altitude.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LengthUnit {
    /// Metres, `m`.
    Metre,
    /// International feet of 0.3048 m, `[ft_i]`.
    Foot,
}

impl Unit for LengthUnit {
    const QUANTITY: &'static str = "altitude";

    fn all() -> Vec<LengthUnit> {
        vec![LengthUnit::Metre, LengthUnit::Foot]
    }

    fn code(self) -> &'static str {
        match self {
            LengthUnit::Metre => "m",
            LengthUnit::Foot => "[ft_i]",
        }
    }

    fn from_code(code: &str) -> Option<LengthUnit> {
        match code {
            "m" => Some(LengthUnit::Metre),
            "[ft_i]" | "ft" => Some(LengthUnit::Foot),
            _ => None,
        }
    }
}

/// Where the pressure of the air comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum AirSource {
    /// The standard atmosphere at the altitude of the place.
    Altitude,
    /// A barometer at the place.
    Barometer,
}

/// The pressure of the air at a place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LocalAir {
    /// Absolute pressure in kilopascal.
    pub kpa: f64,
    /// Where it comes from.
    pub source: AirSource,
}

/// Lowest and highest altitude where people keep house, with some room (the shore of the Dead Sea is
/// at -430 m, the highest towns at 5 100 m; common knowledge, no source).
const LOWEST_M: f64 = -450.0;
const HIGHEST_M: f64 = 5_200.0;

/// How far weather can move a barometer from the standard atmosphere before it is asked about.
const WEATHER_KPA: f64 = 6.0;

impl LocalAir {
    /// Sea level in standard weather.
    pub const SEA_LEVEL: LocalAir = LocalAir {
        kpa: STANDARD_AIR_KPA,
        source: AirSource::Altitude,
    };

    /// The standard atmosphere at an altitude from -450 m to 5 200 m.
    ///
    /// # Errors
    /// [`ProblemCode::OutOfRange`], which names the other unit where the number fits that.
    pub fn at_altitude(altitude: Quantity<LengthUnit>) -> Result<LocalAir, Problem> {
        let inhabited = |q: Quantity<LengthUnit>| (LOWEST_M..=HIGHEST_M).contains(&metres(q));
        if !inhabited(altitude) {
            return Err(Problem::new(
                ProblemCode::OutOfRange,
                "altitude",
                "an altitude from -450 m to 5200 m (-1476 to 17060 ft)",
                altitude.text(),
                hint::other_units(altitude, inhabited)
                    .unwrap_or_else(|| "Give the altitude of the site above the sea.".to_owned()),
            ));
        }
        let ratio = 1.0 - 0.0065 * metres(altitude) / 288.15;
        Ok(LocalAir {
            kpa: STANDARD_AIR_KPA * ratio.powf(5.25588),
            source: AirSource::Altitude,
        })
    }

    /// What a barometer at the place shows, from 50 to 110 kPa, absolute.
    ///
    /// # Errors
    /// [`ProblemCode::OutOfRange`], which names the other unit where the number fits that.
    pub fn from_barometer(barometer: Pressure) -> Result<LocalAir, Problem> {
        let possible = |p: Pressure| {
            let absolute = p.unit.against == super::pressure::Against::Vacuum;
            absolute && (50.0..=110.0).contains(&p.size_kpa())
        };
        if !possible(barometer) {
            return Err(Problem::new(
                ProblemCode::OutOfRange,
                "barometer",
                "an absolute air pressure from 50 to 110 kPa",
                barometer.text(),
                hint::other_units(barometer, possible)
                    .unwrap_or_else(|| "Read the barometer at the site again.".to_owned()),
            ));
        }
        Ok(LocalAir {
            kpa: barometer.size_kpa(),
            source: AirSource::Barometer,
        })
    }

    /// From whichever was given; from both, the barometer, if it fits the altitude.
    ///
    /// # Errors
    /// [`ProblemCode::Missing`] when neither was given, [`ProblemCode::Contradiction`] when the
    /// barometer is more than 6 kPa from the standard atmosphere of the altitude.
    pub fn from_either(
        altitude: Option<Quantity<LengthUnit>>,
        barometer: Option<Pressure>,
    ) -> Result<LocalAir, Problem> {
        match (altitude, barometer) {
            (None, None) => Err(Problem::missing(
                "altitude",
                "the altitude of the site or a barometer reading",
                "Give one of them: a vented gauge reads against the air of the place.",
            )),
            (Some(altitude), None) => LocalAir::at_altitude(altitude),
            (None, Some(barometer)) => LocalAir::from_barometer(barometer),
            (Some(altitude), Some(barometer)) => {
                let standard = LocalAir::at_altitude(altitude)?;
                let local = LocalAir::from_barometer(barometer)?;
                if (standard.kpa - local.kpa).abs() <= WEATHER_KPA {
                    return Ok(local);
                }
                Err(Problem::new(
                    ProblemCode::Contradiction,
                    "barometer",
                    format!("about {:.1} kPa at {}", standard.kpa, altitude.text()),
                    barometer.text(),
                    "Give the pressure of the place: forecasts reduce it to sea level. Or check \
                     the unit of the altitude.",
                ))
            }
        }
    }
}

fn metres(altitude: Quantity<LengthUnit>) -> f64 {
    match altitude.unit {
        LengthUnit::Metre => altitude.number(),
        LengthUnit::Foot => altitude.number() * 0.3048,
    }
}
