//! Global warming potentials, each under a named basis.
//!
//! There is no single GWP of a refrigerant: every law names the report and the reading it wants,
//! and keeps it when a newer report comes out. A [`Gwp`] therefore never travels without its
//! [`Basis`] and its source.
//!
//! Conventions found in the table, which a test holds it to: the value of a blend is the sum of
//! mass fraction times GWP of its parts, unrounded parts, printed with four decimals, half up;
//! a part without a value counts as nothing and is named in the source; 40 CFR 84.64(c) leaves
//! out what is not on its lists, and 84.64(b) gives no value to a blend without a regulated
//! substance. Published tables round further, and some leave out what the Montreal Protocol
//! covers: those figures are checks, never values.

use super::{Refrigerant, Table};
use crate::number::{Decimal, Fraction};

/// A list of GWP values, by the law or the report that fixed it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Basis {
    /// IPCC, Fourth Assessment Report (2007), 100 years.
    Ar4,
    /// IPCC, Fifth Assessment Report (2013), 100 years, without climate feedbacks.
    Ar5,
    /// IPCC, Sixth Assessment Report (2021), 100 years.
    Ar6,
    /// Annexes I, II and VI of Regulation (EU) 2024/573.
    Eu2024573,
    /// 40 CFR 84.64 with the exchange values of 42 USC 7675(c)(1).
    Us8464,
}

impl Basis {
    /// All of them, in the order of the table's columns.
    pub const ALL: [Basis; 5] = [
        Basis::Ar4,
        Basis::Ar5,
        Basis::Ar6,
        Basis::Eu2024573,
        Basis::Us8464,
    ];

    /// The word of rule files and reports.
    pub const fn word(self) -> &'static str {
        match self {
            Basis::Ar4 => "AR4",
            Basis::Ar5 => "AR5",
            Basis::Ar6 => "AR6",
            Basis::Eu2024573 => "EU-2024/573",
            Basis::Us8464 => "US-84.64",
        }
    }

    /// The basis of a word.
    pub fn from_word(word: &str) -> Option<Basis> {
        Basis::ALL.into_iter().find(|basis| basis.word() == word)
    }

    /// Its name in the table's list of doubtful fields.
    pub(super) const fn column(self) -> &'static str {
        match self {
            Basis::Ar4 => "gwp_ar4",
            Basis::Ar5 => "gwp_ar5",
            Basis::Ar6 => "gwp_ar6",
            Basis::Eu2024573 => "gwp_eu_2024_573",
            Basis::Us8464 => "gwp_us_84_64",
        }
    }
}

/// What the table says of one refrigerant under one basis.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gwp {
    /// The value; `None` where the basis has none for it.
    pub value: Option<Decimal>,
    /// Where it comes from, or why there is none.
    pub source: String,
    /// Whether value and composition were read at a source, rather than remembered.
    pub verified: bool,
}

impl Table {
    /// The GWP of a blend worked out anew from its parts: the sum of mass fraction times GWP, in
    /// exact fractions. Also names the parts that have no value of their own under the basis and
    /// so were counted as nothing.
    pub fn gwp_from_parts(&self, blend: &Refrigerant, basis: Basis) -> (Fraction, Vec<&str>) {
        let mut missing = Vec::new();
        let mut sum = Fraction::new(0, 1);
        for part in &blend.parts {
            let Some(pure) = self.named(&part.refrigerant) else {
                continue; // The table was refused if a part were not in it.
            };
            match pure.gwp(basis).value {
                Some(value) => sum = add(sum, product(value, part.percent)),
                None => missing.push(pure.designation.as_str()),
            }
        }
        (sum, missing)
    }
}

fn product(value: Decimal, percent: Decimal) -> Fraction {
    let (value, percent) = (value.fraction(), percent.fraction());
    Fraction::new(
        value.numerator() * percent.numerator(),
        value.denominator() * percent.denominator() * 100,
    )
}

fn add(a: Fraction, b: Fraction) -> Fraction {
    Fraction::new(
        a.numerator() * b.denominator() + b.numerator() * a.denominator(),
        a.denominator() * b.denominator(),
    )
}
