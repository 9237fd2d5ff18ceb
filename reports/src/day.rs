//! Local days.
//!
//! `happened.day` is the fact: every count of days, every year and window reads it and nothing
//! converts it again. A [`Day`] is a civil date without a zone, kept as a count so that windows
//! and differences are plain subtraction. Zones come in only where an instant becomes a day
//! ([`Zone`]), periods only where days are gathered ([`Period`]).
//!
//! Reading and printing are integer arithmetic after Howard Hinnant's "chrono-compatible
//! low-level date algorithms"; a test compares every day of the years 1 to 9999 with `jiff`.

mod period;
mod zone;

pub use period::{Period, PeriodKind, Window};
pub use zone::{Local, TZDB, Wall, Zone, clock_text, instant, offset_text, parse_clock};

use std::fmt;

/// A civil date, counted in days from 1970-01-01.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(i32);

/// What becomes of a day number that the month does not have (31 January and one month).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum MonthEnd {
    /// The last day of that month.
    LastDay,
    /// The first day of the next.
    NextDay,
}

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
    pub const fn from_ymd(year: i16, month: i8, day: i8) -> Option<Day> {
        let there = year >= 1
            && year <= 9999
            && month >= 1
            && month <= 12
            && day >= 1
            && day <= days_in_month(year as i32, month);
        if there {
            Some(Day::from_civil(year as i32, month as i32, day as i32))
        } else {
            None
        }
    }

    /// Reads `YYYY-MM-DD` and nothing else.
    pub fn parse(text: &str) -> Option<Day> {
        let b: &[u8; 10] = text.as_bytes().try_into().ok()?;
        if b[4] != b'-' || b[7] != b'-' {
            return None;
        }
        let digit = |at: usize| Some(i16::from(b[at])).filter(|_| b[at].is_ascii_digit());
        let two = |at: usize| Some((digit(at)? - 48) * 10 + digit(at + 1)? - 48);
        let year = two(0)? * 100 + two(2)?;
        Day::from_ymd(year, two(5)? as i8, two(8)? as i8)
    }

    /// The civil date.
    pub fn date(self) -> jiff::civil::Date {
        let span = jiff::Span::new().days(self.0);
        jiff::civil::date(1970, 1, 1).saturating_add(span)
    }

    /// The calendar year (beyond the years of an `i16`: the nearest of them).
    pub const fn year(self) -> i16 {
        match self.ymd().0 {
            year if year > i16::MAX as i32 => i16::MAX,
            year if year < i16::MIN as i32 => i16::MIN,
            year => year as i16,
        }
    }

    /// Year, month and day of the month.
    pub const fn ymd(self) -> (i32, i8, i8) {
        // Eras of 400 years are 146 097 days long; years begin in March, so that the leap day is
        // the last of its year.
        let days = self.0 as i64 + 719_468;
        let era = days.div_euclid(146_097);
        let of_era = days.rem_euclid(146_097);
        let year = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * year + year / 4 - year / 100);
        let from_march = (5 * of_year + 2) / 153;
        let day = of_year - (153 * from_march + 2) / 5 + 1;
        let month = if from_march < 10 {
            from_march + 3
        } else {
            from_march - 9
        };
        let year = year + era * 400 + (month <= 2) as i64;
        (year as i32, month as i8, day as i8)
    }

    /// So many days later (negative: earlier).
    pub const fn plus(self, days: i32) -> Day {
        Day(self.0.saturating_add(days))
    }

    /// Days from `earlier` to this day.
    pub const fn days_since(self, earlier: Day) -> i32 {
        self.0 - earlier.0
    }

    /// So many months later (negative: earlier), with the same day number where there is one.
    /// Steps do not add up: two steps of a month are not one of two, so that deadlines are always
    /// counted from the first date.
    pub const fn plus_months(self, months: i32, month_end: MonthEnd) -> Day {
        let (year, month, day) = self.ymd();
        let since_year_0 = year as i64 * 12 + month as i64 - 1 + months as i64;
        let (year, month) = (
            since_year_0.div_euclid(12) as i32,
            since_year_0.rem_euclid(12) + 1,
        );
        let last = days_in_month(year, month as i8);
        let day = match month_end {
            _ if day <= last => day,
            MonthEnd::LastDay => last,
            MonthEnd::NextDay => last + 1,
        };
        Day::from_civil(year, month as i32, day as i32)
    }

    /// The first date with this month and day after this one; `None` when no year has it.
    pub fn next_month_day(self, month: i8, day: i8) -> Option<Day> {
        let year = self.year();
        // A 29 February is at most eight years away.
        (0..=8).find_map(|n| Day::from_ymd(year + n, month, day).filter(|found| *found > self))
    }

    /// The ten bytes of `YYYY-MM-DD` (years 0 to 9999).
    pub fn to_bytes(self) -> [u8; 10] {
        let (year, month, day) = self.ymd();
        let year = year.unsigned_abs();
        let digit = |number: u32| b'0' + (number % 10) as u8;
        let (month, day) = (
            u32::from(month.unsigned_abs()),
            u32::from(day.unsigned_abs()),
        );
        [
            digit(year / 1000),
            digit(year / 100),
            digit(year / 10),
            digit(year),
            b'-',
            digit(month / 10),
            digit(month),
            b'-',
            digit(day / 10),
            digit(day),
        ]
    }

    /// Appends `YYYY-MM-DD` to a text.
    pub fn push_to(self, text: &mut String) {
        text.push_str(str::from_utf8(&self.to_bytes()).unwrap_or_default());
    }

    /// The day of a civil date that exists; a day number one too high is the next month's first.
    const fn from_civil(year: i32, month: i32, day: i32) -> Day {
        let from_march = (month + 9) % 12;
        let year = (if month <= 2 { year - 1 } else { year }) as i64;
        let (era, of_era) = (year.div_euclid(400), year.rem_euclid(400));
        let of_year = ((153 * from_march + 2) / 5 + day - 1) as i64;
        let days = of_era * 365 + of_era / 4 - of_era / 100 + of_year;
        Day((era * 146_097 + days - 719_468) as i32)
    }
}

const fn days_in_month(year: i32, month: i8) -> i8 {
    match month {
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let year = self.ymd().0;
        if !(0..=9999).contains(&year) {
            let (year, month, day) = self.ymd();
            return write!(f, "{year:05}-{month:02}-{day:02}");
        }
        let bytes = self.to_bytes();
        f.write_str(str::from_utf8(&bytes).unwrap_or_default())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_day_of_the_calendar_agrees_with_jiff() {
        let mut date = jiff::civil::date(1, 1, 1);
        let mut day = Day::from_ymd(1, 1, 1).unwrap();
        assert_eq!(day, Day::from_count(-719_162));
        let last = jiff::civil::date(9999, 12, 31);
        let mut text = String::new();
        loop {
            let (year, month, of_month) = (date.year(), date.month(), date.day());
            assert_eq!(day.ymd(), (i32::from(year), month, of_month));
            assert_eq!(Day::from_ymd(year, month, of_month), Some(day));
            text.clear();
            day.push_to(&mut text);
            assert_eq!(Day::parse(&text), Some(day), "{text}");
            if date.day() == 1 {
                assert_eq!(text, date.to_string());
                assert_eq!(day.date(), date);
                assert_eq!(days_in_month(i32::from(year), month), date.days_in_month());
            }
            if date == last {
                break;
            }
            (date, day) = (date.tomorrow().unwrap(), day.plus(1));
        }
        assert_eq!(day.plus(1).ymd(), (10_000, 1, 1));
    }

    #[test]
    fn dates_that_do_not_exist_are_none() {
        for (year, month, day) in [
            (2026, 2, 29),
            (2100, 2, 29),
            (0, 1, 1),
            (2026, 0, 1),
            (2026, 13, 1),
            (2026, 4, 31),
        ] {
            assert_eq!(Day::from_ymd(year, month, day), None);
        }
        for text in [
            "2026-7-14",
            "2026-07-14 ",
            "-026-07-14",
            "2026/07/14",
            "2026-07-1a",
            "",
        ] {
            assert_eq!(Day::parse(text), None, "{text}");
        }
    }

    #[test]
    fn a_missing_day_number_goes_by_the_month_end_rule() {
        let from = Day::parse("2026-01-31").unwrap();
        assert_eq!(
            from.plus_months(1, MonthEnd::LastDay).to_string(),
            "2026-02-28"
        );
        assert_eq!(
            from.plus_months(1, MonthEnd::NextDay).to_string(),
            "2026-03-01"
        );
        assert_eq!(
            from.plus_months(-2, MonthEnd::LastDay).to_string(),
            "2025-11-30"
        );
        assert_eq!(
            from.plus_months(-1, MonthEnd::NextDay).to_string(),
            "2025-12-31"
        );
        assert_eq!(
            from.plus_months(10, MonthEnd::NextDay).to_string(),
            "2026-12-01"
        );
    }
}
