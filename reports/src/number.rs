//! Exact numbers: decimals as the law prints them, and fractions as divisions leave them.
//!
//! No float reaches a stop, a question, a finding or a standing, so both types are built on
//! integers. A [`Decimal`] is what a rule file or a report prints; a [`Fraction`] is what a leak
//! rate is until it is printed. Comparisons never use a rounded value and never overflow.

use std::cmp::Ordering;
use std::fmt;

/// An exact decimal such as `7.5`: `mantissa / 10^scale`, kept without trailing zeros.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Decimal {
    mantissa: i128,
    scale: u32,
}

impl Decimal {
    /// Reads `-?digits(.digits)?`, at most 18 digits in all; anything else is `None`.
    pub fn parse(text: &str) -> Option<Decimal> {
        let (negative, digits) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
        let fits = !whole.is_empty() && whole.len() + part.len() <= 18;
        let plain = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
        if !fits || !plain(whole) || !plain(part) || (digits.contains('.') && part.is_empty()) {
            return None;
        }
        let mut mantissa: i128 = format!("{whole}{part}").parse().ok()?;
        if negative {
            mantissa = -mantissa;
        }
        Some(Decimal::new(mantissa, u32::try_from(part.len()).ok()?))
    }

    /// `mantissa / 10^scale`, brought to its shortest form.
    pub fn new(mut mantissa: i128, mut scale: u32) -> Decimal {
        while scale > 0 && mantissa % 10 == 0 {
            mantissa /= 10;
            scale -= 1;
        }
        Decimal { mantissa, scale }
    }

    /// The same number as a fraction.
    pub fn fraction(self) -> Fraction {
        Fraction::new(self.mantissa, 10_i128.pow(self.scale))
    }
}

impl From<i64> for Decimal {
    fn from(whole: i64) -> Decimal {
        Decimal::new(i128::from(whole), 0)
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.mantissa < 0 { "-" } else { "" };
        let digits = self.mantissa.unsigned_abs().to_string();
        let scale = self.scale as usize;
        if scale == 0 {
            return write!(f, "{sign}{digits}");
        }
        let padded = format!("{digits:0>width$}", width = scale + 1);
        let (whole, part) = padded.split_at(padded.len() - scale);
        write!(f, "{sign}{whole}.{part}")
    }
}

impl PartialOrd for Decimal {
    fn partial_cmp(&self, other: &Decimal) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Decimal {
    fn cmp(&self, other: &Decimal) -> Ordering {
        self.fraction().cmp(&other.fraction())
    }
}

/// An exact fraction with a positive denominator, in lowest terms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Fraction {
    numerator: i128,
    denominator: i128,
}

impl Fraction {
    /// `numerator / denominator` in lowest terms.
    ///
    /// # Panics
    /// When the denominator is zero: a caller who could divide by zero has a question to ask first.
    pub fn new(numerator: i128, denominator: i128) -> Fraction {
        assert!(
            denominator != 0,
            "a fraction was asked for with denominator 0"
        );
        let divisor = greatest_common_divisor(numerator.unsigned_abs(), denominator.unsigned_abs());
        let divisor = i128::try_from(divisor).unwrap_or(1) * denominator.signum();
        Fraction {
            numerator: numerator / divisor,
            denominator: denominator / divisor,
        }
    }

    /// The sum of two fractions.
    pub fn plus(self, other: Fraction) -> Fraction {
        let (left, right) = (self.denominator(), other.denominator());
        // Over the lowest common denominator, so that long sums do not grow.
        let divisor = greatest_common_divisor(left.unsigned_abs(), right.unsigned_abs());
        let common = left / divisor.cast_signed() * right;
        let over = |of: Fraction| of.numerator() * (common / of.denominator());
        Fraction::new(over(self) + over(other), common)
    }

    /// The numerator in lowest terms; it carries the sign.
    pub fn numerator(self) -> i128 {
        self.numerator
    }

    /// The denominator in lowest terms, always positive.
    pub fn denominator(self) -> i128 {
        self.denominator
    }

    /// Decimal text with exactly `places` decimals, cut toward zero (the machine form of percents).
    pub fn cut(self, places: u32) -> String {
        let whole = self.numerator.unsigned_abs() / self.denominator.unsigned_abs();
        let mut rest = self.numerator.unsigned_abs() % self.denominator.unsigned_abs();
        let mut digits = String::new();
        for _ in 0..places {
            // The remainder is below the denominator; ten times it fits unless the denominator is
            // within a factor ten of 2^128, which no mass and no count of days reaches.
            rest *= 10;
            digits.push(char::from(
                b'0' + (rest / self.denominator.unsigned_abs()) as u8,
            ));
            rest %= self.denominator.unsigned_abs();
        }
        let is_zero = whole == 0 && digits.bytes().all(|b| b == b'0');
        let sign = if self.numerator < 0 && !is_zero {
            "-"
        } else {
            ""
        };
        if places == 0 {
            format!("{sign}{whole}")
        } else {
            format!("{sign}{whole}.{digits}")
        }
    }
}

/// A number that is not negative as pages show it: one decimal, half away from zero, with as many
/// more as are needed not to print a limit that it is not. 20.0049 beside a limit of 20 is
/// `20.005`; 26.252 is `26.3`; 20 itself is `20.0`.
pub fn shown_beside(value: Fraction, limits: &[Fraction]) -> String {
    let is_a_limit = |text: &str| {
        let shown = Decimal::parse(text).map(Decimal::fraction);
        limits
            .iter()
            .any(|limit| Some(*limit) == shown && *limit != value)
    };
    let mut texts = (1..=12).map(|places| rounded(value, places));
    let apart = texts.find(|text| !is_a_limit(text));
    apart.unwrap_or_else(|| rounded(value, 12))
}

/// So many decimals, half away from zero. The value is not negative.
fn rounded(value: Fraction, places: u32) -> String {
    let scaled = value.numerator() * 10_i128.pow(places) * 2 + value.denominator();
    let whole = scaled.div_euclid(value.denominator() * 2);
    Fraction::new(whole, 10_i128.pow(places)).cut(places)
}

impl fmt::Display for Fraction {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.denominator == 1 {
            write!(f, "{}", self.numerator)
        } else {
            write!(f, "{}/{}", self.numerator, self.denominator)
        }
    }
}

impl PartialOrd for Fraction {
    fn partial_cmp(&self, other: &Fraction) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Fraction {
    /// Compares by continued fractions, so that no product can overflow.
    fn cmp(&self, other: &Fraction) -> Ordering {
        let (mut a, mut b) = (self.numerator, self.denominator);
        let (mut c, mut d) = (other.numerator, other.denominator);
        loop {
            let (p, q) = (a.div_euclid(b), c.div_euclid(d));
            if p != q {
                return p.cmp(&q);
            }
            let (r, s) = (a.rem_euclid(b), c.rem_euclid(d));
            match (r == 0, s == 0) {
                (true, true) => return Ordering::Equal,
                (true, false) => return Ordering::Less,
                (false, true) => return Ordering::Greater,
                // r/b ? s/d is the reverse of b/r ? d/s.
                (false, false) => (a, b, c, d) = (d, s, b, r),
            }
        }
    }
}

fn greatest_common_divisor(mut a: u128, mut b: u128) -> u128 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a.max(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_keep_their_value_and_print_short() {
        for (text, printed) in [
            ("7.50", "7.5"),
            ("0", "0"),
            ("-0.05", "-0.05"),
            ("20", "20"),
            ("100.0", "100"),
        ] {
            assert_eq!(Decimal::parse(text).unwrap().to_string(), printed);
        }
        for text in [
            "",
            "-",
            ".5",
            "5.",
            "1e3",
            "١",
            "1,5",
            "1234567890123456789",
        ] {
            assert_eq!(Decimal::parse(text), None, "{text}");
        }
    }

    #[test]
    fn fractions_compare_exactly_even_when_products_would_overflow() {
        let big = 10_i128.pow(37);
        assert!(Fraction::new(big + 1, big) > Fraction::new(big, big - 1).min(Fraction::new(1, 1)));
        assert!(Fraction::new(big + 1, big) < Fraction::new(big, big - 1));
        assert_eq!(Fraction::new(1001, 5005), Fraction::new(1, 5));
        assert!(Fraction::new(-1, 3) < Fraction::new(-1, 4));
        assert!(Fraction::new(20_01, 100) > Decimal::parse("20").unwrap().fraction());
    }

    #[test]
    fn percents_are_cut_toward_zero() {
        assert_eq!(Fraction::new(365, 18).cut(4), "20.2777");
        assert_eq!(Fraction::new(-1, 3).cut(2), "-0.33");
        assert_eq!(Fraction::new(-1, 300).cut(2), "0.00");
        assert_eq!(Fraction::new(20, 1).cut(4), "20.0000");
    }

    /// The rule of the design: one decimal, half away from zero, more where the limit would be
    /// printed. Worked by hand.
    #[test]
    fn pages_never_print_the_limit_for_another_number() {
        let of = |numerator, denominator| Fraction::new(numerator, denominator);
        let twenty = [of(20, 1)];
        for (value, limits, shown) in [
            (of(26_252, 1_000), &twenty[..], "26.3"),
            (of(2_625, 100), &twenty[..], "26.3"),
            (of(26_249, 1_000), &twenty[..], "26.2"),
            (of(2_004, 100), &twenty[..], "20.04"),
            (of(200_049, 10_000), &twenty[..], "20.005"),
            (of(1_996, 100), &twenty[..], "19.96"),
            (of(1_994, 100), &twenty[..], "19.9"),
            (of(20, 1), &twenty[..], "20.0"),
            (of(2_004, 100), &[], "20.0"),
            (of(0, 1), &twenty[..], "0.0"),
            (of(10_01, 100), &[of(10, 1), of(20, 1)], "10.01"),
        ] {
            assert_eq!(shown_beside(value, limits), shown, "{value}");
        }
    }
}
