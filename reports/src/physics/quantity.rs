//! A number as it was typed, with its unit.
//!
//! The decimal is kept as it came, so that a record can show it unchanged and an exact comparison
//! can use it; floating point begins only where a formula needs it. In JSON it is
//! `{"value": "130.6", "unit": "psig"}`; a plain number is read as well as a text.

use super::exact;
use super::problem::{Problem, ProblemCode};
use crate::number::Decimal;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A unit that travels under a code, UCUM's (the Unified Code for Units of Measure) where it has one.
pub trait Unit: Copy + PartialEq + 'static {
    /// What is measured, as errors name it.
    const QUANTITY: &'static str;

    /// All units that are read, in the order in which help texts list them.
    fn all() -> Vec<Self>;

    /// The code that is written.
    fn code(self) -> &'static str;

    /// The unit of a code or of a word of the trade.
    fn from_code(code: &str) -> Option<Self>;
}

/// A decimal number and its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Quantity<U> {
    /// The number as typed.
    pub value: Decimal,
    /// Its unit.
    pub unit: U,
}

impl<U: Unit> Quantity<U> {
    /// Reads a number and the code of its unit; `field` is what an error calls them.
    ///
    /// # Errors
    /// [`ProblemCode::NotANumber`], [`ProblemCode::UnknownUnit`].
    pub fn read(field: &str, number: &str, code: &str) -> Result<Quantity<U>, Problem> {
        let value = read_decimal(field, number)?;
        let Some(unit) = U::from_code(code.trim()) else {
            let codes: Vec<&str> = U::all().into_iter().map(U::code).collect();
            return Err(Problem::new(
                ProblemCode::UnknownUnit,
                field,
                format!("a unit of {}: {}", U::QUANTITY, codes.join(", ")),
                format!("\"{code}\""),
                "Give the unit that stands on the instrument.",
            ));
        };
        Ok(Quantity { value, unit })
    }

    /// The number for a formula.
    pub fn number(self) -> f64 {
        exact::float(self.value)
    }

    /// As people read it: `130.6 psig`.
    pub fn text(self) -> String {
        format!("{} {}", self.value, self.unit.code())
    }
}

fn read_decimal(field: &str, number: &str) -> Result<Decimal, Problem> {
    Decimal::parse(number.trim()).ok_or_else(|| {
        Problem::new(
            ProblemCode::NotANumber,
            field,
            "a decimal number such as 130.6, with at most 18 digits",
            format!("\"{number}\""),
            "Write digits and a point; no comma, no exponent.",
        )
    })
}

#[derive(Serialize, Deserialize)]
struct Shape {
    #[serde(with = "decimal_text")]
    value: Decimal,
    unit: String,
}

impl<U: Unit> Serialize for Quantity<U> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let shape = Shape {
            value: self.value,
            unit: self.unit.code().to_owned(),
        };
        shape.serialize(serializer)
    }
}

impl<'de, U: Unit> Deserialize<'de> for Quantity<U> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let shape = Shape::deserialize(deserializer)?;
        Quantity::read(U::QUANTITY, &shape.value.to_string(), &shape.unit)
            .map_err(serde::de::Error::custom)
    }
}

/// Decimals in JSON: written as text, read from text or from a plain number.
pub mod decimal_text {
    use crate::number::Decimal;
    use serde::{Deserialize, Deserializer, Serializer};

    /// Writes the decimal as text, so that no reader rounds it.
    ///
    /// # Errors
    /// Those of the serializer.
    pub fn serialize<S: Serializer>(value: &Decimal, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(value)
    }

    /// Reads a text such as `"130.6"` or a number such as `130.6`.
    ///
    /// # Errors
    /// When it is neither, or has an exponent or more than 18 digits.
    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Decimal, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Typed {
            Text(String),
            Number(serde_json::Number),
        }
        let text = match Typed::deserialize(deserializer)? {
            Typed::Text(text) => text,
            Typed::Number(number) => number.to_string(),
        };
        // Whole floats are written `60.0`, and `Decimal` takes that; exponents it does not.
        Decimal::parse(text.trim()).ok_or_else(|| {
            serde::de::Error::custom(format!(
                "expected a decimal number such as 130.6 with at most 18 digits, came \"{text}\""
            ))
        })
    }
}
