//! What rules ask of the tables of refrigerants: dated lists of the law, and GWP by basis.
//!
//! A trait, so that rules say exactly what they need and tests can answer it from a small table.

use super::words::GwpBasis;
use crate::day::Day;
use crate::number::Decimal;

/// The tables that a judgement is given.
pub trait Tables {
    /// Whether the designation stands in the table at all; what does not cannot be judged.
    fn knows(&self, refrigerant: &str) -> bool;

    /// Names of the lists there are.
    fn list_names(&self) -> Vec<String>;

    /// Whether the refrigerant holds a substance of the list on that day.
    fn contains(&self, list: &str, refrigerant: &str, day: Day) -> bool;

    /// Whether it holds nothing but substances of the list on that day.
    fn only(&self, list: &str, refrigerant: &str, day: Day) -> bool;

    /// Its global warming potential by that basis, when there is one.
    fn gwp(&self, basis: GwpBasis, refrigerant: &str) -> Option<Decimal>;

    /// Days on which any list changes.
    fn change_days(&self) -> Vec<Day>;
}
