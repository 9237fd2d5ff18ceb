//! Why physics gives no answer: what was expected, what came, what to do.
//!
//! A technician who reads one of these can correct his entry without asking anybody. The code is for
//! programs and never changes; the texts are for people.

use serde::Serialize;
use std::fmt;

/// What kind of problem it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ProblemCode {
    /// The text is no decimal number.
    NotANumber,
    /// The unit is not one of those that are read.
    UnknownUnit,
    /// The number lies outside what can be, or what this is made for.
    OutOfRange,
    /// A pressure below a perfect vacuum.
    BelowVacuum,
    /// A temperature or pressure outside the table: nothing is extrapolated.
    OutsideTable,
    /// There is no liquid above the critical temperature.
    AboveCritical,
    /// No saturation table is known for the refrigerant.
    NoTable,
    /// The designation is not in the table of refrigerants.
    UnknownRefrigerant,
    /// The density that the limit needs is not known.
    DensityMissing,
    /// Something that is needed was not said.
    Missing,
    /// Two things that were said contradict each other.
    Contradiction,
    /// A pressure above the design pressure of the nameplate.
    AboveDesignPressure,
    /// A test that ran shorter than its criterion.
    TooShort,
    /// The cylinder may not be filled whatever the mass.
    MayNotBeFilled,
    /// A table that was handed over cannot be read.
    BadTable,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// What kind of problem it is.
    pub code: ProblemCode,
    /// The input it is about, as requests name it: `temperature`, `water_capacity`.
    pub field: String,
    /// What was expected.
    pub expected: String,
    /// What came.
    pub came: String,
    /// What to do about it.
    pub to_do: String,
}

impl Problem {
    /// A problem in words.
    pub fn new(
        code: ProblemCode,
        field: &str,
        expected: impl Into<String>,
        came: impl Into<String>,
        to_do: impl Into<String>,
    ) -> Problem {
        Problem {
            code,
            field: field.to_owned(),
            expected: expected.into(),
            came: came.into(),
            to_do: to_do.into(),
        }
    }

    /// Something that is needed was not said.
    pub fn missing(field: &str, expected: impl Into<String>, to_do: impl Into<String>) -> Problem {
        Problem::new(ProblemCode::Missing, field, expected, "nothing", to_do)
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}: expected {}; came {}. {}",
            self.field, self.expected, self.came, self.to_do
        )
    }
}

impl std::error::Error for Problem {}
