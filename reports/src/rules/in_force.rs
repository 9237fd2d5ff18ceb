//! A number in force: the row, the set or layer it comes from, and the comparison it stands in.

use super::compiled::{CompiledRow, CompiledValue};
use super::file::Overlay;
use super::number::{Comparison, Number, compare_ratio};
use super::scope::ValueOn;
use super::words::{Confidence, Unit};
use crate::day::Day;
use crate::leak_rate::Rate;
use crate::number::Fraction;
use std::fmt;

/// The number of a value on a day.
#[derive(Clone, Copy)]
pub struct NumberOn<'j> {
    /// Name of the value.
    pub value: &'j str,
    /// Its unit.
    pub unit: Unit,
    /// The overlay the row comes from, when it is not the set's own.
    pub overlay: Option<&'j Overlay>,
    row: &'j CompiledRow<'j>,
    /// The row of the set itself that the overlay lies over.
    beneath: Option<&'j CompiledRow<'j>>,
}

/// A comparison with the number in force.
#[derive(Clone, Copy)]
pub struct Bound<'j> {
    /// The comparison that passes the limit.
    pub comparison: Comparison,
    /// The number.
    pub number: NumberOn<'j>,
}

impl<'j> NumberOn<'j> {
    /// The number that was found; `None`: there is none.
    pub(super) fn of(value: &CompiledValue<'j>, found: ValueOn<'j>) -> Option<NumberOn<'j>> {
        let (row, overlay, beneath) = match found {
            ValueOn::Row(row) => (row, None, None),
            ValueOn::Laid(row, overlay, own) => (row, Some(overlay), own),
            ValueOn::NoRow | ValueOn::Unknown(_) => return None,
        };
        Some(NumberOn {
            value: value.name,
            unit: value.unit,
            overlay,
            row,
            beneath,
        })
    }

    /// The number of the set itself, where this one is a layer's and lies over one.
    pub fn beneath(&self) -> Option<NumberOn<'j>> {
        Some(NumberOn {
            overlay: None,
            row: self.beneath?,
            beneath: None,
            ..*self
        })
    }

    /// The number as the row writes it.
    pub fn text(&self) -> &'j str {
        &self.row.row.is
    }

    /// The number, read.
    pub fn number(&self) -> Number {
        self.row.number
    }

    /// The number as a fraction; masses in steps of 10⁻¹¹ g.
    pub fn limit(&self) -> Fraction {
        self.row.limit
    }

    /// First day of the row.
    pub fn from(&self) -> Day {
        self.row.row.from.0
    }

    /// Where the number stands.
    pub fn clause(&self) -> &'j str {
        self.row.row.clause.as_deref().unwrap_or("")
    }

    /// `unconfirmed` when the clause itself was not read.
    pub fn confidence(&self) -> Option<Confidence> {
        self.row.row.confidence
    }

    /// What was read instead of the clause.
    pub fn source(&self) -> Option<&'j str> {
        self.row.row.source.as_deref()
    }

    /// Day of the official journal.
    pub fn published(&self) -> Option<Day> {
        self.row.row.published.map(|day| day.0)
    }

    /// Why an overlay's row may be looser than the base, when it is.
    pub fn loosens(&self) -> Option<&'j str> {
        self.row
            .row
            .reason
            .as_deref()
            .filter(|_| self.row.row.loosens)
    }
}

impl Bound<'_> {
    /// Whether a ratio in the unit of the value (masses in steps) passes this bound, exactly.
    pub fn is_passed(&self, numerator: i128, denominator: i128) -> bool {
        self.comparison
            .holds(compare_ratio(numerator, denominator, self.number.limit()))
    }

    /// Whether a leak rate passes this bound, exactly.
    pub fn is_passed_by(&self, rate: Rate) -> bool {
        self.comparison
            .holds(rate.cmp(&Rate::from(self.number.limit())))
    }
}

impl fmt::Debug for NumberOn<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} = {} {} from {}",
            self.value,
            self.text(),
            self.unit,
            self.from()
        )
    }
}

impl fmt::Debug for Bound<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {:?}", self.comparison.word(), self.number)
    }
}
