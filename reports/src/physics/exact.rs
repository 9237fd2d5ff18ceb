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

/// The largest whole number that is not larger.
pub fn floor(a: Fraction) -> i128 {
    a.numerator().div_euclid(a.denominator())
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
        assert_eq!((floor(of(-1, 3)), floor(of(7, 2))), (-1, 3));
        assert_eq!(times(of(i128::MAX, 1), of(2, 1)), None);
    }
}
