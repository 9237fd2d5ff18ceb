//! Masses and exact tonnes of CO2 equivalent, with what each entry gave to them.

use crate::number::Decimal;
use crate::refrigerant::{Basis, Table as Refrigerants};
use crate::sheet::evidence::{Evidence, Row};
use std::io;

/// Parts of a tonne in which sums are exact: a step is 10^-17 t, a GWP has at most four decimals.
pub(super) const TONNE: i128 = 1_000_000_000_000_000_000_000;

/// What a site lost of a refrigerant.
#[derive(Default)]
pub(super) struct Held {
    pub(super) charged: Vec<(u64, i128)>,
    pub(super) recovered: Vec<(u64, i128)>,
}

/// A sum of masses and tonnes.
#[derive(Clone, Copy, Default)]
pub(super) struct Sum {
    pub(super) charged: i128,
    pub(super) recovered: i128,
    /// In parts of [`TONNE`].
    pub(super) tonnes: i128,
    pub(super) without_gwp: i128,
}

impl Held {
    pub(super) fn sum(&self, gwp: Option<Decimal>) -> Sum {
        let total = |of: &[(u64, i128)]| of.iter().map(|(_, mass)| mass).sum::<i128>();
        let (charged, recovered) = (total(&self.charged), total(&self.recovered));
        let lost = charged - recovered;
        Sum {
            charged,
            recovered,
            tonnes: gwp.map_or(0, |gwp| tonnes(lost, gwp)),
            without_gwp: if gwp.is_none() { lost } else { 0 },
        }
    }

    /// What each entry gave to each figure.
    pub(super) fn prove(
        &self,
        gwp: Option<Decimal>,
        mut with: impl FnMut(&str, u64, Given) -> io::Result<()>,
    ) -> io::Result<()> {
        let charged = self.charged.iter().map(|given| ("charged", *given, 1));
        let recovered = self.recovered.iter().map(|given| ("recovered", *given, -1));
        for (figure, (entry, mass), sign) in charged.chain(recovered) {
            with(figure, entry, Given::Mass(mass))?;
            with("lost", entry, Given::Mass(sign * mass))?;
            match gwp {
                Some(gwp) => with("co2e_t", entry, Given::Tonnes(tonnes(sign * mass, gwp)))?,
                None => with("without_gwp", entry, Given::Mass(sign * mass))?,
            }
        }
        Ok(())
    }
}

/// A contribution to a figure.
pub(super) enum Given {
    Mass(i128),
    Tonnes(i128),
}

pub(super) fn prove(
    evidence: &mut Evidence<'_>,
    row: Row<'_>,
    figure: &str,
    entry: u64,
    given: Given,
) -> io::Result<()> {
    match given {
        Given::Mass(steps) => evidence.mass(row, figure, entry, steps),
        Given::Tonnes(parts) => evidence.number(row, figure, entry, &tonnes_text(parts)),
    }
}

impl Sum {
    pub(super) fn add(&mut self, other: &Sum) {
        self.charged += other.charged;
        self.recovered += other.recovered;
        self.tonnes += other.tonnes;
        self.without_gwp += other.without_gwp;
    }
}

/// The value of a refrigerant under a basis.
pub(super) fn gwp_of(designation: &str, basis: Basis) -> Option<Decimal> {
    Refrigerants::shipped().named(designation)?.gwp(basis).value
}

/// Steps of 10^-17 t times a GWP, in parts of [`TONNE`]; the table holds no more than four decimals.
pub(super) fn tonnes(steps: i128, gwp: Decimal) -> i128 {
    let gwp = gwp.fraction();
    steps * gwp.numerator() * (TONNE / 100_000_000_000_000_000 / gwp.denominator())
}

/// Exact tonnes, trailing zeros trimmed.
pub(super) fn tonnes_text(parts: i128) -> String {
    let (whole, rest) = (
        parts.unsigned_abs() / TONNE as u128,
        parts.unsigned_abs() % TONNE as u128,
    );
    let sign = if parts < 0 { "-" } else { "" };
    let decimals = format!("{rest:021}");
    match decimals.trim_end_matches('0') {
        "" => format!("{sign}{whole}"),
        decimals => format!("{sign}{whole}.{decimals}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 14 lb 8 oz are 6.577089365 kg; R-448A has 1387.09 under AR4 (Regulation 517/2014's
    /// values for its parts): 6.577089365 x 1387.09 / 1000 = 9.12301488729785 t.
    #[test]
    fn tonnes_are_exact() {
        let gwp = Decimal::parse("1387.09").unwrap();
        let steps = i128::from(crate::mass::Mass::POUND) * 29 / 2;
        assert_eq!(tonnes_text(tonnes(steps, gwp)), "9.12301488729785");
        assert_eq!(tonnes_text(tonnes(-steps, gwp)), "-9.12301488729785");
        assert_eq!(tonnes_text(0), "0");
    }

    #[test]
    fn no_value_of_the_table_has_more_decimals_than_the_sums_hold() {
        for row in Refrigerants::shipped().rows() {
            for basis in Basis::ALL {
                if let Some(value) = row.gwp(basis).value {
                    assert_eq!(
                        10_000 % value.fraction().denominator(),
                        0,
                        "{}",
                        row.designation
                    );
                }
            }
        }
    }
}
