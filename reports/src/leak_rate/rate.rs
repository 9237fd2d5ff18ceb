//! A leak rate as the division leaves it.
//!
//! A fleet has hundreds of thousands of rates to compare and few to print. Bringing each to lowest
//! terms would cost more than everything else, so a [`Rate`] keeps the two whole numbers and
//! compares by products of 256 bits: exact whatever the masses.

use crate::number::Fraction;
use std::cmp::Ordering;

/// An exact rate that is not negative: `numerator / denominator`.
#[derive(Clone, Copy, Debug)]
pub struct Rate {
    numerator: u128,
    denominator: u128,
}

impl Rate {
    /// The rate `numerator / denominator`; a negative numerator counts as zero.
    ///
    /// # Panics
    /// When the denominator is not positive: an unknown full charge has no rate.
    pub fn new(numerator: i128, denominator: i128) -> Rate {
        assert!(
            denominator > 0,
            "a leak rate was asked for with a full charge of {denominator}"
        );
        Rate {
            numerator: numerator.max(0).unsigned_abs(),
            denominator: denominator.unsigned_abs(),
        }
    }

    /// The same number in lowest terms.
    pub fn fraction(self) -> Fraction {
        let signed = |part| i128::try_from(part).unwrap_or(i128::MAX);
        Fraction::new(signed(self.numerator), signed(self.denominator))
    }

    /// Whole ten-thousandths, cut toward zero: 20.27777 gives 202 777.
    pub fn ten_thousandths(self) -> u128 {
        // In two parts, so that no product leaves 128 bits.
        let whole = self.numerator / self.denominator;
        let rest = self.numerator % self.denominator;
        whole * 10_000 + rest * 10_000 / self.denominator
    }
}

impl From<Fraction> for Rate {
    fn from(fraction: Fraction) -> Rate {
        Rate::new(fraction.numerator(), fraction.denominator())
    }
}

impl PartialEq for Rate {
    fn eq(&self, other: &Rate) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Rate {}

impl PartialOrd for Rate {
    fn partial_cmp(&self, other: &Rate) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Rate {
    fn cmp(&self, other: &Rate) -> Ordering {
        if self.denominator == other.denominator {
            return self.numerator.cmp(&other.numerator);
        }
        let left = product(self.numerator, other.denominator);
        left.cmp(&product(other.numerator, self.denominator))
    }
}

/// The product in two halves, the high one first, so that it compares like a number.
fn product(a: u128, b: u128) -> (u128, u128) {
    if let Some(low) = a.checked_mul(b) {
        return (0, low);
    }
    let half = |x: u128| (x >> 64, x & u128::from(u64::MAX));
    let ((a1, a0), (b1, b0)) = (half(a), half(b));
    let middle = half(a1 * b0);
    let other = half(a0 * b1);
    let lowest = a0 * b0;
    let carry = (lowest >> 64) + middle.1 + other.1;
    let low = (carry << 64) | (lowest & u128::from(u64::MAX));
    (a1 * b1 + middle.0 + other.0 + (carry >> 64), low)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn percents_are_cut_toward_zero() {
        assert_eq!(Rate::new(365, 18).ten_thousandths(), 202_777);
        assert_eq!(Rate::new(20, 1).ten_thousandths(), 200_000);
        assert_eq!(Rate::new(-1, 3).ten_thousandths(), 0);
    }

    proptest! {
        /// `Fraction` compares by continued fractions, a different road to the same answer.
        #[test]
        fn rates_compare_as_fractions_do(
            a in 0..i128::MAX, b in 1..i128::MAX, c in 0..i128::MAX, d in 1..i128::MAX,
        ) {
            let (left, right) = (Fraction::new(a, b), Fraction::new(c, d));
            prop_assert_eq!(Rate::new(a, b).cmp(&Rate::new(c, d)), left.cmp(&right));
        }

        #[test]
        fn equal_rates_are_equal_whatever_their_terms(
            a in 0..1_i128 << 60, b in 1..1_i128 << 60, k in 1..1_i128 << 60,
        ) {
            prop_assert_eq!(Rate::new(a, b), Rate::new(a * k, b * k));
        }
    }
}
