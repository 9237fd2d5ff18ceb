//! Local days.
//!
//! `happened.day` is the fact: every count of days, every year and window reads it and nothing
//! converts it again. A [`Day`] is a civil date without a zone, kept as a count so that windows
//! and differences are plain subtraction.

use std::fmt;

/// A civil date, counted in days from 1970-01-01.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(i32);

impl Day {
    /// So many days after 1970-01-01 (negative: before).
    pub const fn from_count(days: i32) -> Day {
        Day(days)
    }

    /// Days since 1970-01-01.
    pub const fn count(self) -> i32 {
        self.0
    }

    /// The date with this year, month and day, if there is one (years 1 to 9999).
    pub fn from_ymd(year: i16, month: i8, day: i8) -> Option<Day> {
        let date = jiff::civil::Date::new(year, month, day)
            .ok()
            .filter(|_| year > 0)?;
        let since = date
            .since((jiff::Unit::Day, jiff::civil::date(1970, 1, 1)))
            .ok()?;
        Some(Day(since.get_days()))
    }

    /// Reads `YYYY-MM-DD` and nothing else.
    pub fn parse(text: &str) -> Option<Day> {
        let b = text.as_bytes();
        let shape = b.len() == 10
            && b.iter().enumerate().all(|(i, c)| match i {
                4 | 7 => *c == b'-',
                _ => c.is_ascii_digit(),
            });
        if !shape {
            return None;
        }
        Day::from_ymd(
            text[..4].parse().ok()?,
            text[5..7].parse().ok()?,
            text[8..].parse().ok()?,
        )
    }

    /// The civil date.
    pub fn date(self) -> jiff::civil::Date {
        let span = jiff::Span::new().days(self.0);
        jiff::civil::date(1970, 1, 1).saturating_add(span)
    }

    /// The calendar year.
    pub fn year(self) -> i16 {
        self.date().year()
    }

    /// So many days later (negative: earlier).
    pub const fn plus(self, days: i32) -> Day {
        Day(self.0 + days)
    }

    /// Days from `earlier` to this day.
    pub const fn days_since(self, earlier: Day) -> i32 {
        self.0 - earlier.0
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let date = self.date();
        write!(
            f,
            "{:04}-{:02}-{:02}",
            date.year(),
            date.month(),
            date.day()
        )
    }
}
