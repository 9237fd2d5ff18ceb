//! Mass, exactly.
//!
//! A [`Mass`] counts whole steps of 10⁻¹¹ g, the largest decimal step in which everything a trade
//! scale shows is a whole number: a hundredth of an ounce is 28 349 523 125 steps, a millionth of
//! a pound 45 359 237. One appliance or cylinder can hold up to 92 t; sums are `i128`.
//! One international pound is 0.45359237 kg exactly, one ounce a sixteenth of it (NIST SP 811,
//! appendix B).

mod amount;
mod leaf;
mod outcome;
mod print;
mod reading;
mod unit;
mod weighing;

pub use leaf::{LeafText, leaf_text};
pub use outcome::{Answer, Choice, QuestionCode, Reading, Reason};
use print::lb_oz_rounded;
pub use print::{echo, in_unit, kg_text, lb_oz_text, lb_text, push_in_unit};
pub use reading::{read, read_scale, read_with_answer};
pub use unit::Unit;
pub use weighing::{Way, weighing};

use std::fmt;

/// A mass of refrigerant in steps of 10⁻¹¹ g; never negative where it names what was weighed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Mass(i64);

impl Mass {
    /// Steps in one gram.
    pub const GRAM: i64 = 100_000_000_000;
    /// Steps in one ounce avoirdupois (28.349523125 g).
    pub const OUNCE: i64 = 2_834_952_312_500;
    /// Steps in one pound avoirdupois (453.59237 g).
    pub const POUND: i64 = 45_359_237_000_000;
    /// No mass at all.
    pub const ZERO: Mass = Mass(0);

    /// A mass of so many steps.
    pub const fn from_steps(steps: i64) -> Mass {
        Mass(steps)
    }

    /// The count of steps of 10⁻¹¹ g.
    pub const fn steps(self) -> i64 {
        self.0
    }

    /// Reads the one spelling a leaf uses, `(0|[1-9][0-9]*)(\.[0-9]{0,10}[1-9])?`, in grams.
    pub fn from_grams_text(text: &str) -> Option<Mass> {
        let (whole, part) = match text.split_once('.') {
            Some((whole, part)) => (whole, part),
            None => (text, ""),
        };
        let plain = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
        let canonical = !whole.is_empty()
            && whole.len() <= 8
            && (whole == "0" || !whole.starts_with('0'))
            && part.len() <= 11
            && !part.ends_with('0')
            && text.contains('.') != part.is_empty()
            && plain(whole)
            && plain(part);
        if !canonical {
            return None;
        }
        let whole: i64 = whole.parse().ok()?;
        let mut steps_of_part: i64 = if part.is_empty() {
            0
        } else {
            part.parse().ok()?
        };
        for _ in part.len()..11 {
            steps_of_part *= 10;
        }
        whole
            .checked_mul(Mass::GRAM)?
            .checked_add(steps_of_part)
            .map(Mass)
    }

    /// The sum, or `None` beyond 92 t.
    pub fn checked_add(self, other: Mass) -> Option<Mass> {
        self.0.checked_add(other.0).map(Mass)
    }

    /// The difference, or `None` when it would be negative.
    pub fn checked_sub(self, other: Mass) -> Option<Mass> {
        self.0
            .checked_sub(other.0)
            .filter(|steps| *steps >= 0)
            .map(Mass)
    }
}

/// Exact grams of a sum of steps, as a leaf and JSON write them (with a sign where one is needed).
pub fn grams_text(steps: i128) -> String {
    in_unit(steps, Unit::Gram)
}

impl fmt::Display for Mass {
    /// Exact grams, the form of a leaf: `3288.5446825`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&grams_text(i128::from(self.0)))
    }
}
