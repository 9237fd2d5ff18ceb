//! What rules ask of the tables of refrigerants: dated lists of the law, and GWP by basis.

use super::words::GwpBasis;
use crate::day::Day;
use crate::number::Decimal;
use crate::refrigerant::{Basis, Lists, Table};

/// The tables that a judgement is given.
#[derive(Clone, Copy, Debug)]
pub struct Tables<'t> {
    /// The refrigerants.
    pub table: &'t Table,
    /// The lists of the law.
    pub lists: &'t Lists,
}

impl Tables<'static> {
    /// The tables that are compiled in.
    pub fn shipped() -> Tables<'static> {
        Tables {
            table: Table::shipped(),
            lists: Lists::shipped(),
        }
    }
}

impl Tables<'_> {
    /// Whether the designation stands in the table at all; what does not cannot be judged.
    pub(super) fn knows(&self, refrigerant: &str) -> bool {
        self.table.named(refrigerant).is_some()
    }

    /// Whether the refrigerant holds a substance of the list on that day.
    pub(super) fn contains(&self, list: &str, refrigerant: &str, day: Day) -> Option<bool> {
        self.lists.contains(self.table, list, refrigerant, day)
    }

    /// Whether it holds nothing but substances of the list on that day.
    pub(super) fn only(&self, list: &str, refrigerant: &str, day: Day) -> Option<bool> {
        self.lists.only(self.table, list, refrigerant, day)
    }

    /// Its global warming potential by that basis, when there is one.
    pub(super) fn gwp(&self, basis: GwpBasis, refrigerant: &str) -> Option<Decimal> {
        self.table.named(refrigerant)?.gwp(basis.basis()).value
    }

    /// Days on which any list changes.
    pub(super) fn change_days(&self) -> Vec<Day> {
        self.lists.change_days()
    }
}

impl GwpBasis {
    /// The basis of the refrigerant table that a rule file means.
    pub fn basis(self) -> Basis {
        match self {
            GwpBasis::Ar4 => Basis::Ar4,
            GwpBasis::Ar5 => Basis::Ar5,
            GwpBasis::Eu => Basis::Eu2024573,
            GwpBasis::Us => Basis::Us8464,
        }
    }
}
