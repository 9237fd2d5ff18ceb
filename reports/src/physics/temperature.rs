//! Temperatures in what thermometers show, and in kelvin for the formulas.
//!
//! t(°C) = (t(°F) − 32) / 1.8, T(K) = t(°C) + 273.15, T(°R) = t(°F) + 459.67, all exact by definition
//! (NIST Special Publication 811). Differences of temperature have no offset.

use super::problem::{Problem, ProblemCode};
use super::quantity::{Quantity, Unit};

/// A temperature as it was typed.
pub type Temperature = Quantity<TemperatureUnit>;

/// A unit of temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TemperatureUnit {
    /// Degrees Celsius, `Cel`.
    Celsius,
    /// Degrees Fahrenheit, `[degF]`.
    Fahrenheit,
    /// Kelvin, `K`.
    Kelvin,
    /// Degrees Rankine, `[degR]`.
    Rankine,
}

impl Unit for TemperatureUnit {
    const QUANTITY: &'static str = "temperature";

    fn all() -> Vec<TemperatureUnit> {
        vec![
            TemperatureUnit::Celsius,
            TemperatureUnit::Fahrenheit,
            TemperatureUnit::Kelvin,
            TemperatureUnit::Rankine,
        ]
    }

    fn code(self) -> &'static str {
        match self {
            TemperatureUnit::Celsius => "Cel",
            TemperatureUnit::Fahrenheit => "[degF]",
            TemperatureUnit::Kelvin => "K",
            TemperatureUnit::Rankine => "[degR]",
        }
    }

    fn from_code(code: &str) -> Option<TemperatureUnit> {
        match code {
            "degF" | "F" => Some(TemperatureUnit::Fahrenheit),
            "degC" | "C" => Some(TemperatureUnit::Celsius),
            _ => TemperatureUnit::all()
                .into_iter()
                .find(|unit| unit.code() == code),
        }
    }
}

/// Degrees Fahrenheit of degrees Celsius.
pub fn fahrenheit_of(celsius: f64) -> f64 {
    TemperatureUnit::Fahrenheit.from_kelvin(TemperatureUnit::Celsius.to_kelvin(celsius))
}

impl TemperatureUnit {
    /// This unit's number for an absolute temperature.
    pub fn from_kelvin(self, kelvin: f64) -> f64 {
        match self {
            TemperatureUnit::Celsius => kelvin - 273.15,
            TemperatureUnit::Fahrenheit => (kelvin - 273.15) * 1.8 + 32.0,
            TemperatureUnit::Kelvin => kelvin,
            TemperatureUnit::Rankine => kelvin * 1.8,
        }
    }

    fn to_kelvin(self, number: f64) -> f64 {
        match self {
            TemperatureUnit::Celsius => number + 273.15,
            TemperatureUnit::Fahrenheit => (number - 32.0) / 1.8 + 273.15,
            TemperatureUnit::Kelvin => number,
            TemperatureUnit::Rankine => number / 1.8,
        }
    }
}

/// How many kelvin one degree of a unit is: a difference of 10 °F is 5.556 K.
pub fn degree_size_kelvin(unit: TemperatureUnit) -> f64 {
    match unit {
        TemperatureUnit::Celsius | TemperatureUnit::Kelvin => 1.0,
        TemperatureUnit::Fahrenheit | TemperatureUnit::Rankine => 1.0 / 1.8,
    }
}

impl Temperature {
    /// The absolute temperature in kelvin.
    ///
    /// # Errors
    /// [`ProblemCode::OutOfRange`] below absolute zero.
    pub fn kelvin(self, field: &str) -> Result<f64, Problem> {
        let kelvin = self.unit.to_kelvin(self.number());
        if kelvin < 0.0 {
            return Err(Problem::new(
                ProblemCode::OutOfRange,
                field,
                "a temperature above absolute zero (-273.15 Cel)",
                self.text(),
                "Check the sign and the unit.",
            ));
        }
        Ok(kelvin)
    }

    /// A difference of temperature in kelvin, as an accuracy or a change is given: no offset.
    pub fn interval_kelvin(self) -> f64 {
        self.number() * degree_size_kelvin(self.unit)
    }
}
