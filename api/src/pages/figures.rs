//! Numbers, days and masses as pages print them, in one place.
//!
//! Everything here only writes what was worked out elsewhere. A figure never stands without its
//! unit, a percent never prints the limit it is not, and a day is written out so that nobody takes
//! a month for a day.

use reports::day::Day;
use reports::mass;
use reports::number::{Decimal, Fraction, shown_beside};
use reports::plural;
use reports::standing::{MassShown, RateShown, Value};
use std::fmt::Display;

/// Between the thousands of a number and before a percent sign: narrow, and no line breaks there.
const NARROW: char = '\u{202f}';

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

const WEEKDAYS: [&str; 7] = [
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
    "Monday",
    "Tuesday",
    "Wednesday",
];

/// A count or the number of an entry: `4 807`.
pub fn number(number: impl Display) -> String {
    let digits = number.to_string();
    let mut text = String::with_capacity(digits.len() + 4);
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(NARROW);
        }
        text.push(digit);
    }
    text
}

/// `1 entry`, `4 807 entries`.
pub fn many(count: u64, many: &str) -> String {
    format!("{} {}", number(count), plural::noun(count, many))
}

/// The word behind a count that stands by itself: `sites`.
pub fn noun(count: impl Display, many: &str) -> String {
    plural::noun(count, many)
}

/// `one entry`, `2 entries`.
pub fn counted(count: usize, one: &str, many: &str) -> String {
    match count {
        0 => format!("no {one}"),
        1 => format!("one {one}"),
        count => format!("{} {many}", number(count as u64)),
    }
}

/// `14 July 2026`.
pub fn day(day: Day) -> String {
    let (year, month, of_month) = day.ymd();
    let at = usize::try_from(month - 1).unwrap_or(0);
    format!("{of_month} {} {year}", MONTHS[at.min(11)])
}

/// `Jul`: a month by its number from 1 on.
pub fn month_short(month: i8) -> &'static str {
    let at = usize::try_from(month - 1).unwrap_or(0);
    &MONTHS[at.min(11)][..3]
}

/// `14 July 2026` from `2026-07-14`; anything else as it is.
pub fn day_text(text: &str) -> String {
    let parsed = text.get(..10).and_then(Day::parse);
    parsed.map_or_else(|| text.to_string(), day)
}

/// `Tuesday 14 July 2026`.
pub fn weekday(of: Day) -> String {
    // 1970-01-01 was a Thursday.
    let at = usize::try_from(of.count().rem_euclid(7)).unwrap_or(0);
    format!("{} {}", WEEKDAYS[at], day(of))
}

/// An instant of the book, as far as minutes: `14 July 2026, 17:52 UTC`.
pub fn instant(text: &str) -> String {
    match text.get(11..16) {
        Some(clock) => format!("{}, {clock} UTC", day_text(text)),
        None => text.to_string(),
    }
}

/// A leak rate beside its limit: `26.3 %`.
pub fn rate(rate: &RateShown) -> String {
    let limit = rate.threshold.as_deref().and_then(Decimal::parse);
    let limits: Vec<Fraction> = limit.map(Decimal::fraction).into_iter().collect();
    match fraction(&rate.numerator, &rate.denominator) {
        Some(value) => percent(&shown_beside(value, &limits)),
        None => percent(&rate.percent),
    }
}

/// A value that was compared with limits: `26.3 %`, or kilograms as they are.
pub fn value(value: &Value, limits: &[&str]) -> String {
    let limits: Vec<Fraction> = (limits.iter())
        .filter_map(|limit| Some(Decimal::parse(limit)?.fraction()))
        .collect();
    match (value.unit, fraction(&value.numerator, &value.denominator)) {
        ("percent", Some(exact)) => percent(&shown_beside(exact, &limits)),
        ("percent", None) => percent(&value.text),
        (unit, Some(exact)) => format!("{} {unit}", shown_beside(exact, &limits)),
        (unit, None) => format!("{} {unit}", value.text),
    }
}

/// A number with its percent sign.
pub fn percent(text: &str) -> String {
    format!("{text}{NARROW}%")
}

/// The exact fraction of two texts; `None`: they are no numbers.
pub fn fraction(numerator: &str, denominator: &str) -> Option<Fraction> {
    let denominator: i128 = denominator.parse().ok()?;
    let numerator: i128 = numerator.parse().ok()?;
    (denominator > 0 && numerator >= 0).then(|| Fraction::new(numerator, denominator))
}

/// `210 lb 0 oz = 95.254 kg`.
pub fn mass_both(mass: &MassShown) -> String {
    format!("{} = {}", mass.lb_oz, mass.kg)
}

/// Pounds and ounces apart, for the two columns of a table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Columns {
    /// Whole pounds.
    pub lb: String,
    /// Ounces, at most two decimals.
    pub oz: String,
}

/// A mass in steps as two columns; nothing for none.
pub fn columns(steps: Option<i128>) -> Columns {
    let Some(steps) = steps else {
        return Columns::default();
    };
    let text = mass::lb_oz_text(steps);
    let (lb, oz) = text.split_once(" lb ").unwrap_or((&text, ""));
    Columns {
        lb: lb.to_string(),
        oz: oz.trim_end_matches(" oz").to_string(),
    }
}

/// A hash as a tally stick: 24 notches, the depth of each one hexadecimal digit. It is a help for
/// the eye; the hash beside it is the proof.
pub fn tally(hash: &[u8]) -> String {
    let digits: Vec<u8> = (hash.iter())
        .flat_map(|byte| [byte >> 4, byte & 15])
        .take(24)
        .collect();
    let mut path = String::from("M0 0H240");
    for (at, digit) in digits.iter().enumerate().rev() {
        // Depths from 8 to 27.5 in steps of 1.3, as tenths, so that no float is needed.
        let tenths = 80 + u32::from(*digit) * 13;
        path.push_str(&format!("V{}.{}H{}", tenths / 10, tenths % 10, at * 10));
    }
    path.push('Z');
    path
}

/// The first hexadecimal digits of a hash.
pub fn print(hash: &[u8], digits: usize) -> String {
    let mut text = String::with_capacity(digits + 1);
    for byte in hash.iter().take(digits.div_ceil(2)) {
        text.push_str(&format!("{byte:02x}"));
    }
    text.truncate(digits);
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stand_in_groups_of_three() {
        for (count, shown) in [
            (0, "0"),
            (999, "999"),
            (4_807, "4\u{202f}807"),
            (1_000_000, "1\u{202f}000\u{202f}000"),
        ] {
            assert_eq!(number(count), shown);
        }
        assert_eq!(counted(0, "entry", "entries"), "no entry");
        assert_eq!(counted(1, "entry", "entries"), "one entry");
        assert_eq!(counted(2, "entry", "entries"), "2 entries");
    }

    /// Weekdays from the calendar: 14 July 2026 is a Tuesday, 29 February 2024 a Thursday, 31
    /// December 1969 a Wednesday (ISO 8601 arithmetic by hand, from memory).
    #[test]
    fn days_are_written_out() {
        for (text, shown) in [
            ("2026-07-14", "Tuesday 14 July 2026"),
            ("2024-02-29", "Thursday 29 February 2024"),
            ("1969-12-31", "Wednesday 31 December 1969"),
        ] {
            assert_eq!(weekday(Day::parse(text).unwrap()), shown);
        }
        assert_eq!(day_text("2026-08-13T23:59:59-06:00"), "13 August 2026");
        assert_eq!(day_text("soon"), "soon");
        assert_eq!(
            instant("2026-07-14T17:52:02.123Z"),
            "14 July 2026, 17:52 UTC"
        );
    }

    fn rate_of(numerator: &str, denominator: &str, threshold: Option<&str>) -> RateShown {
        RateShown {
            percent: String::new(),
            numerator: numerator.to_string(),
            denominator: denominator.to_string(),
            over: None,
            threshold: threshold.map(str::to_string),
            clause: None,
            confidence: None,
            set: None,
            version: None,
        }
    }

    /// 14.5/210 x 365/96 = 26.2524 % and 23.75/210 = 11.3095 %, worked by hand.
    #[test]
    fn a_rate_has_one_decimal_and_never_prints_a_limit_it_is_not() {
        assert_eq!(
            rate(&rate_of("529250", "20160", Some("20"))),
            "26.3\u{202f}%"
        );
        assert_eq!(rate(&rate_of("2375", "210", None)), "11.3\u{202f}%");
        assert_eq!(rate(&rate_of("2001", "100", Some("20"))), "20.01\u{202f}%");
        assert_eq!(rate(&rate_of("20", "1", Some("20"))), "20.0\u{202f}%");
    }

    #[test]
    fn pounds_and_ounces_stand_in_columns() {
        // 14 lb 8 oz = 14.5 x 45 359 237 000 000 steps of 10^-11 g.
        let steps = 657_708_936_500_000;
        let both = columns(Some(steps));
        assert_eq!((both.lb.as_str(), both.oz.as_str()), ("14", "8"));
        assert_eq!(columns(None), Columns::default());
        let below = columns(Some(-steps));
        assert_eq!((below.lb.as_str(), below.oz.as_str()), ("-14", "8"));
    }

    /// A digit d is 8 + 1.3 d deep; the first digit is the left-most notch.
    #[test]
    fn a_tally_is_drawn_from_the_digits() {
        let path = tally(&[0x0f, 0x5e]);
        assert_eq!(path, "M0 0H240V26.2H30V14.5H20V27.5H10V8.0H0Z");
        assert_eq!(tally(&[0xab; 32]).matches('V').count(), 24);
        assert_eq!(print(&[0x79, 0xfd, 0xc2], 5), "79fdc");
    }
}
