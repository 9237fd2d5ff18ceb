//! Numbers of a rule file with their unit, and the comparisons they stand in.

use super::words::Unit;
use crate::day::Day;
use crate::mass::Mass;
use crate::number::{Decimal, Fraction};
use std::cmp::Ordering;
use std::fmt;

/// One of the four comparison words: ≥ > < ≤.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Comparison {
    /// At least: ≥.
    AtLeast,
    /// Over: >.
    Over,
    /// Below: <.
    Below,
    /// At most: ≤.
    AtMost,
}

impl Comparison {
    /// Whether a number that stands so to the limit passes it.
    pub fn holds(self, ordering: Ordering) -> bool {
        match self {
            Comparison::AtLeast => ordering.is_ge(),
            Comparison::Over => ordering.is_gt(),
            Comparison::Below => ordering.is_lt(),
            Comparison::AtMost => ordering.is_le(),
        }
    }

    /// The word of the rule file.
    pub fn word(self) -> &'static str {
        match self {
            Comparison::AtLeast => "at_least",
            Comparison::Over => "over",
            Comparison::Below => "below",
            Comparison::AtMost => "at_most",
        }
    }

    /// The sign, as the why prints it.
    pub fn sign(self) -> &'static str {
        match self {
            Comparison::AtLeast => "≥",
            Comparison::Over => ">",
            Comparison::Below => "<",
            Comparison::AtMost => "≤",
        }
    }
}

/// The number of a row, read by its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Number {
    /// `none`: the series ends here.
    None,
    /// A decimal of the unit.
    Plain(Decimal),
    /// Month and day of any year.
    MonthDay(i8, i8),
    /// A day.
    Day(Day),
}

impl Number {
    /// Reads the text of a row; the error says what was expected.
    pub fn read(text: &str, unit: Unit) -> Result<Number, String> {
        if text == "none" {
            return Ok(Number::None);
        }
        let read = match unit {
            Unit::Date => Day::parse(text).map(Number::Day),
            Unit::MonthDay => month_day(text).map(|(month, day)| Number::MonthDay(month, day)),
            _ => Decimal::parse(text)
                .filter(|d| *d >= Decimal::from(0))
                .map(Number::Plain),
        };
        let whole = unit.is_time() && !matches!(unit, Unit::Hours | Unit::OperatingHours);
        match read {
            Some(Number::Plain(number)) if whole && number.fraction().denominator() != 1 => {
                Err(format!("'{text}' is no whole number of {unit}"))
            }
            Some(number) => Ok(number),
            None => Err(format!("'{text}' is no {}", expected(unit))),
        }
    }

    /// The decimal, when it is one.
    pub fn plain(self) -> Option<Decimal> {
        match self {
            Number::Plain(number) => Some(number),
            _ => None,
        }
    }

    /// The whole count of a time unit, when it is one.
    pub fn count(self) -> Option<i32> {
        let fraction = self.plain()?.fraction();
        (fraction.denominator() == 1).then(|| i32::try_from(fraction.numerator()).ok())?
    }
}

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Number::None => f.write_str("none"),
            Number::Plain(number) => number.fmt(f),
            Number::MonthDay(month, day) => write!(f, "{month:02}-{day:02}"),
            Number::Day(day) => day.fmt(f),
        }
    }
}

fn expected(unit: Unit) -> String {
    match unit {
        Unit::Date => "date such as 2019-01-01".to_string(),
        Unit::MonthDay => "month and day such as 03-01".to_string(),
        other => format!("number of {other} such as 7.5"),
    }
}

/// Reads `MM-DD`; 29 February is no day of every year and is refused.
pub fn month_day(text: &str) -> Option<(i8, i8)> {
    let day = Day::parse(&format!("2023-{text}"))?.date();
    Some((day.month(), day.day()))
}

/// Steps of 10⁻¹¹ g in one unit of mass; `None` for other units.
pub fn steps_of(unit: Unit) -> Option<i64> {
    match unit {
        Unit::Pound => Some(Mass::POUND),
        Unit::Kilogram => Some(Mass::GRAM * 1000),
        _ => None,
    }
}

/// How a ratio stands to a limit, without rounding and without bringing it to lowest terms first.
pub fn compare_ratio(numerator: i128, denominator: i128, limit: Fraction) -> Ordering {
    let left = numerator.checked_mul(limit.denominator());
    let right = limit.numerator().checked_mul(denominator);
    match (left, right) {
        (Some(left), Some(right)) if denominator > 0 => left.cmp(&right),
        _ => Fraction::new(numerator, denominator).cmp(&limit),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_read_by_their_unit_or_refused_with_what_was_expected() {
        assert_eq!(
            Number::read("03-01", Unit::MonthDay),
            Ok(Number::MonthDay(3, 1))
        );
        assert_eq!(Number::read("none", Unit::Days), Ok(Number::None));
        for (text, unit) in [
            ("30.5", Unit::Days),
            ("-1", Unit::Pound),
            ("02-29", Unit::MonthDay),
            ("2019-02-30", Unit::Date),
            ("1e3", Unit::Gwp),
            ("", Unit::Percent),
        ] {
            assert!(Number::read(text, unit).is_err(), "{text} {unit}");
        }
        assert!(Number::read("0.5", Unit::Hours).is_ok());
    }

    #[test]
    fn ratios_compare_exactly_with_and_without_overflow() {
        let twenty = Decimal::parse("20").unwrap().fraction();
        assert_eq!(compare_ratio(1001 * 100, 5005, twenty), Ordering::Equal);
        assert_eq!(
            compare_ratio(1001 * 100 + 1, 5005, twenty),
            Ordering::Greater
        );
        let third = Fraction::new(1, 3 * 10_i128.pow(30));
        assert_eq!(
            compare_ratio(10_i128.pow(30), 10_i128.pow(30), third),
            Ordering::Greater
        );
    }
}
