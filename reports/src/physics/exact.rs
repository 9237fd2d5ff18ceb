//! Exact arithmetic with decimals and fractions, and the way from them into floating point.
//!
//! Products are checked: a number too large for 128 bits is `None`, never a wrong limit.

use crate::number::{Decimal, Fraction};

/// `a * b`.
pub fn times(a: Fraction, b: Fraction) -> Option<Fraction> {
    // Cancelled crosswise, so that the products are the smallest there are.
    let left = Fraction::new(a.numerator(), b.denominator());
    let right = Fraction::new(b.numerator(), a.denominator());
    let numerator = left.numerator().checked_mul(right.numerator())?;
    let denominator = left.denominator().checked_mul(right.denominator())?;
    Some(Fraction::new(numerator, denominator))
}

/// `a - b`.
pub fn minus(a: Fraction, b: Fraction) -> Option<Fraction> {
    let left = a.numerator().checked_mul(b.denominator())?;
    let right = b.numerator().checked_mul(a.denominator())?;
    let denominator = a.denominator().checked_mul(b.denominator())?;
    Some(Fraction::new(left.checked_sub(right)?, denominator))
}

/// The largest whole number that is not above a product, and whether it is the product.
pub fn floor_of_product(factors: &[Fraction]) -> Option<(i128, bool)> {
    let plain = |of: fn(Fraction) -> i128| {
        let mut values = factors.iter().map(|factor| of(*factor));
        values.try_fold(1_i128, i128::checked_mul)
    };
    // Reducing costs more than all the rest, and is needed only where the products get long.
    let (numerator, denominator) = match (plain(Fraction::numerator), plain(Fraction::denominator))
    {
        (Some(numerator), Some(denominator)) => (numerator, denominator),
        _ => {
            let one = Fraction::new(1, 1);
            let product = factors
                .iter()
                .try_fold(one, |product, it| times(product, *it))?;
            (product.numerator(), product.denominator())
        }
    };
    let whole = numerator.div_euclid(denominator);
    Some((whole, numerator.rem_euclid(denominator) == 0))
}

/// The nearest floating-point number, give or take a unit in its last place.
pub fn float(value: Decimal) -> f64 {
    float_of(value.fraction())
}

/// The same of a fraction.
pub fn float_of(value: Fraction) -> f64 {
    value.numerator() as f64 / value.denominator() as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_are_exact_or_nothing() {
        let of = Fraction::new;
        assert_eq!(times(of(2, 3), of(9, 4)), Some(of(3, 2)));
        assert_eq!(times(of(0, 1), of(9, 4)), Some(of(0, 1)));
        assert_eq!(minus(of(1, 3), of(1, 2)), Some(of(-1, 6)));
        assert_eq!(minus(of(i128::MIN + 1, 1), of(2, 1)), None);
        assert_eq!(floor_of_product(&[of(-1, 3), of(1, 1)]), Some((-1, false)));
        assert_eq!(floor_of_product(&[of(7, 2), of(4, 7)]), Some((2, true)));
        // Too long as it stands, short once it is reduced.
        let (long, short) = (of(i128::MAX, 3), of(7, i128::MAX));
        assert_eq!(floor_of_product(&[long, short]), Some((2, false)));
        assert_eq!(floor_of_product(&[long, of(10, 1)]), None);
        assert_eq!(times(of(i128::MAX, 1), of(2, 1)), None);
    }
}
