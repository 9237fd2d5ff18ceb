//! One number as a person writes it: `7`, `7.25`, `7,25`, `4 1/2`, `½`.
//!
//! An [`Amount`] keeps the digits as they stand, because two things depend on the spelling: a
//! comma before three digits is ambiguous, and `7.12` pounds may mean ounces. Its value in a unit
//! is worked out digit by digit, exactly, however many digits there are: no float, no rounding,
//! no allocation, and time that grows with the length of the text only.

/// Digits of one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Amount<'a> {
    /// Digits before the point, possibly none (`.5`).
    pub whole: &'a str,
    /// Point or comma, if there is one.
    pub separator: Option<char>,
    /// Digits after it.
    pub part: &'a str,
    /// A proper fraction beside the whole number.
    pub fraction: Option<(u32, u32)>,
}

/// A value in steps: the whole steps below it and what is left over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Value {
    /// Whole steps, cut.
    pub below: u128,
    /// Whether nothing is left over.
    pub exact: bool,
    /// Whether half a step or more is left over.
    pub upper_half: bool,
}

/// Why a text does not begin with a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unreadable {
    /// `1,250`: thousands or decimals.
    AmbiguousComma,
    /// Anything else.
    NotANumber,
}

const VULGAR: [(char, u32, u32); 9] = [
    ('½', 1, 2),
    ('¼', 1, 4),
    ('¾', 3, 4),
    ('⅛', 1, 8),
    ('⅜', 3, 8),
    ('⅝', 5, 8),
    ('⅞', 7, 8),
    ('⅓', 1, 3),
    ('⅔', 2, 3),
];

/// Blanks that a keyboard or a paste puts between words; line breaks are not among them.
pub(super) fn is_blank(c: char) -> bool {
    matches!(
        c,
        ' ' | '\t' | '\u{a0}' | '\u{2007}' | '\u{2009}' | '\u{202f}'
    )
}

/// The text without blanks at its start.
pub(super) fn after_blanks(text: &str) -> &str {
    text.trim_start_matches(is_blank)
}

/// The digits at the start of a text, and what follows. Only the ten digits of ASCII count.
fn digits(text: &str) -> (&str, &str) {
    let end = text
        .bytes()
        .position(|b| !b.is_ascii_digit())
        .unwrap_or(text.len());
    text.split_at(end)
}

impl<'a> Amount<'a> {
    /// Takes a number from the start of a text; gives it with what follows.
    pub fn take(text: &'a str) -> Result<(Amount<'a>, &'a str), Unreadable> {
        let (whole, rest) = digits(text);
        match rest.bytes().next() {
            Some(b'.' | b',') => Amount::decimal(whole, rest),
            Some(b'/') => Amount::slash("", text),
            Some(b' ' | b'\t' | 0x80..) | None => Amount::mixed(whole, rest),
            Some(_) => Amount::plain(whole, rest),
        }
    }

    fn plain(whole: &'a str, rest: &'a str) -> Result<(Amount<'a>, &'a str), Unreadable> {
        if whole.is_empty() {
            return Err(Unreadable::NotANumber);
        }
        Ok((
            Amount {
                whole,
                separator: None,
                part: "",
                fraction: None,
            },
            rest,
        ))
    }

    fn decimal(whole: &'a str, rest: &'a str) -> Result<(Amount<'a>, &'a str), Unreadable> {
        let separator = rest.chars().next();
        let (part, rest) = digits(&rest[1..]);
        if part.is_empty() || rest.starts_with(['.', ',', '/']) {
            return Err(Unreadable::NotANumber);
        }
        // A lone 0 before the comma cannot be thousands; any other digits can.
        if separator == Some(',') && part.len() == 3 && !matches!(whole, "" | "0") {
            return Err(Unreadable::AmbiguousComma);
        }
        Ok((
            Amount {
                whole,
                separator,
                part,
                fraction: None,
            },
            rest,
        ))
    }

    /// A whole number that a fraction may follow: `4 1/2`, `4½`, or the fraction alone.
    fn mixed(whole: &'a str, rest: &'a str) -> Result<(Amount<'a>, &'a str), Unreadable> {
        let next = after_blanks(rest);
        let vulgar = next
            .chars()
            .next()
            .and_then(|c| VULGAR.iter().find(|v| v.0 == c));
        if let Some((sign, over, under)) = vulgar {
            let fraction = Some((*over, *under));
            let rest = &next[sign.len_utf8()..];
            return Ok((
                Amount {
                    whole,
                    separator: None,
                    part: "",
                    fraction,
                },
                rest,
            ));
        }
        let (over, after) = digits(next);
        if !whole.is_empty() && !over.is_empty() && after.starts_with('/') {
            return Amount::slash(whole, next);
        }
        Amount::plain(whole, rest)
    }

    /// A proper fraction written with a slash. `7/4` is refused: it may be a slip for 7 lb 4 oz.
    fn slash(whole: &'a str, text: &'a str) -> Result<(Amount<'a>, &'a str), Unreadable> {
        let (over, rest) = digits(text);
        let (under, rest) = digits(rest.strip_prefix('/').unwrap_or(""));
        let small = |t: &str| t.parse().ok().filter(|_| t.len() <= 4);
        let (Some(over), Some(under)) = (small(over), small(under)) else {
            return Err(Unreadable::NotANumber);
        };
        if over == 0 || over >= under || rest.starts_with(['.', ',', '/']) {
            return Err(Unreadable::NotANumber);
        }
        Ok((
            Amount {
                whole,
                separator: None,
                part: "",
                fraction: Some((over, under)),
            },
            rest,
        ))
    }

    /// Whether it is a number of whole things, written without point or fraction.
    pub fn is_whole(&self) -> bool {
        self.separator.is_none() && self.fraction.is_none()
    }

    /// The digits before the point, as a number; `None` when there are more than anyone weighs.
    pub fn whole_number(&self) -> Option<u128> {
        let significant = self.whole.trim_start_matches('0');
        if significant.len() > 20 {
            return None;
        }
        Some(
            significant
                .bytes()
                .fold(0, |n, b| n * 10 + u128::from(b - b'0')),
        )
    }

    /// The value in steps when one unit is so many; `None` when it is beyond all bounds.
    pub fn times(&self, unit: i64) -> Option<Value> {
        let unit = unit.unsigned_abs();
        let below = self.whole_number()? * u128::from(unit);
        if let Some((over, under)) = self.fraction {
            let (over, under) = (u64::from(over) * unit, u64::from(under));
            let rest = over % under;
            let below = below + u128::from(over / under);
            return Some(Value {
                below,
                exact: rest == 0,
                upper_half: 2 * rest >= under,
            });
        }
        // Long multiplication from the last digit: the carry that is left at the end is the whole
        // part, the digits written on the way are the remainder, the last of them its tenths.
        // A unit has at most 10^14 steps, so that ten times it and a carry fit easily.
        let (mut carry, mut exact, mut tenths) = (0, true, 0);
        for digit in self.part.bytes().rev() {
            carry += u64::from(digit - b'0') * unit;
            tenths = carry % 10;
            carry /= 10;
            exact &= tenths == 0;
        }
        Some(Value {
            below: below + u128::from(carry),
            exact,
            upper_half: tenths >= 5,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(text: &str, unit: i64) -> (u128, bool, bool) {
        let (amount, rest) = Amount::take(text).unwrap();
        assert_eq!(rest, "");
        let value = amount.times(unit).unwrap();
        (value.below, value.exact, value.upper_half)
    }

    #[test]
    fn decimals_multiply_exactly() {
        assert_eq!(value("7.25", 100), (725, true, false));
        assert_eq!(value("0.999", 10), (9, false, true));
        assert_eq!(value("0.0499", 10), (0, false, false));
        assert_eq!(value("0.05", 10), (0, false, true));
        assert_eq!(value(".5", 10), (5, true, false));
        assert_eq!(value("1.5000", 10), (15, true, false));
    }

    #[test]
    fn fractions_are_rationals() {
        assert_eq!(value("4 1/2", 10), (45, true, false));
        assert_eq!(value("1/3", 10), (3, false, false));
        assert_eq!(value("2/3", 10), (6, false, true));
        assert_eq!(value("7½", 10), (75, true, false));
        for text in [
            "1/0", "0/0", "0/4", "7/4", "1/2/3", "1/-2", "4 5/4", "1/00002", "1/",
        ] {
            assert_eq!(Amount::take(text), Err(Unreadable::NotANumber), "{text}");
        }
    }
}
