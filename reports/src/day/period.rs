//! Days gathered: calendar months, quarters, half-years, years, fiscal years, and the window.
//!
//! A period is whole local days; it ends at the end of its last one. The window of the rolling
//! average is 365 days long and half open: (d - 365, d], also in leap years.

use super::{Day, MonthEnd};

/// Kinds of period.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PeriodKind {
    /// A calendar month.
    Month,
    /// Three calendar months from January, April, July or October on.
    Quarter,
    /// January to June, or July to December.
    HalfYear,
    /// A calendar year.
    Year,
    /// A year that begins on this month and day.
    FiscalYear(i8, i8),
}

/// A run of whole days of one kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Period {
    /// What kind of period it is.
    pub kind: PeriodKind,
    /// Its first day.
    pub first: Day,
    /// Its last day.
    pub last: Day,
}

impl Period {
    /// The period of a kind that holds a day; `None` when no fiscal year can begin on that date.
    pub fn around(day: Day, kind: PeriodKind) -> Option<Period> {
        let (year, month, _) = day.ymd();
        let year = i16::try_from(year).ok()?;
        let first = match kind {
            PeriodKind::Month => Day::from_ymd(year, month, 1)?,
            PeriodKind::Quarter => Day::from_ymd(year, (month - 1) / 3 * 3 + 1, 1)?,
            PeriodKind::HalfYear => Day::from_ymd(year, (month - 1) / 6 * 6 + 1, 1)?,
            PeriodKind::Year => Day::from_ymd(year, 1, 1)?,
            PeriodKind::FiscalYear(month, start) => {
                // A year cannot begin on a date that most years lack.
                let first =
                    Day::from_ymd(year, month, start).filter(|_| (month, start) != (2, 29))?;
                if first <= day {
                    first
                } else {
                    Day::from_ymd(year - 1, month, start)?
                }
            }
        };
        Some(Period::from_first(first, kind))
    }

    /// The calendar year of a number.
    pub fn year(year: i16) -> Option<Period> {
        Period::around(Day::from_ymd(year, 1, 1)?, PeriodKind::Year)
    }

    /// The fiscal year that begins in a calendar year, on a month and day.
    pub fn fiscal_year(year: i16, month: i8, day: i8) -> Option<Period> {
        Period::around(
            Day::from_ymd(year, month, day)?,
            PeriodKind::FiscalYear(month, day),
        )
    }

    /// Reads `2026`, `2026-03`, `2026-Q1` or `2026-H2`.
    pub fn parse(text: &str) -> Option<Period> {
        let (year, rest) = text.split_at_checked(4)?;
        let number = |t: &str| {
            t.parse::<i8>()
                .ok()
                .filter(|_| t.bytes().all(|b| b.is_ascii_digit()))
        };
        if !year.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let (months, kind, nth) = match rest.as_bytes() {
            [] => (12, PeriodKind::Year, 1),
            [b'-', b'Q', _] => (3, PeriodKind::Quarter, number(&rest[2..])?),
            [b'-', b'H', _] => (6, PeriodKind::HalfYear, number(&rest[2..])?),
            [b'-', _, _] => (1, PeriodKind::Month, number(&rest[1..])?),
            _ => return None,
        };
        if nth < 1 || nth > 12 / months {
            return None;
        }
        let first = Day::from_ymd(year.parse().ok()?, (nth - 1) * months + 1, 1)?;
        Some(Period::from_first(first, kind))
    }

    /// The n-th period after this one (0: this one).
    pub fn following(self, n: i32) -> Period {
        let first = self
            .first
            .plus_months(n * self.kind.months(), MonthEnd::LastDay);
        Period::from_first(first, self.kind)
    }

    /// Whether a day lies in it.
    pub fn holds(self, day: Day) -> bool {
        (self.first..=self.last).contains(&day)
    }

    /// Periods begin on day numbers that every month has, so that whole months lead from one
    /// first day to the next.
    fn from_first(first: Day, kind: PeriodKind) -> Period {
        let next = first.plus_months(kind.months(), MonthEnd::LastDay);
        Period {
            kind,
            first,
            last: next.plus(-1),
        }
    }
}

impl PeriodKind {
    const fn months(self) -> i32 {
        match self {
            PeriodKind::Month => 1,
            PeriodKind::Quarter => 3,
            PeriodKind::HalfYear => 6,
            PeriodKind::Year | PeriodKind::FiscalYear(..) => 12,
        }
    }
}

/// The 365 days up to and with a day: the same day a year before is outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Window {
    on: Day,
}

impl Window {
    /// Days in the window.
    pub const DAYS: i32 = 365;

    /// The window that ends with a day.
    pub const fn up_to(on: Day) -> Window {
        Window { on }
    }

    /// The first day inside.
    pub const fn first(self) -> Day {
        self.on.plus(1 - Window::DAYS)
    }

    /// The last day inside.
    pub const fn last(self) -> Day {
        self.on
    }

    /// Whether a day lies in it.
    pub fn holds(self, day: Day) -> bool {
        (self.first()..=self.on).contains(&day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(period: Option<Period>) -> (String, String) {
        let period = period.unwrap();
        (period.first.to_string(), period.last.to_string())
    }

    fn days(first: &str, last: &str) -> (String, String) {
        (first.to_string(), last.to_string())
    }

    #[test]
    fn periods_are_whole_days() {
        assert_eq!(
            span(Period::parse("2024-02")),
            days("2024-02-01", "2024-02-29")
        );
        assert_eq!(
            span(Period::parse("2026-Q4")),
            days("2026-10-01", "2026-12-31")
        );
        assert_eq!(
            span(Period::parse("2026-H1")),
            days("2026-01-01", "2026-06-30")
        );
        assert_eq!(
            span(Period::fiscal_year(2025, 4, 1)),
            days("2025-04-01", "2026-03-31")
        );
        let day = Day::parse("2026-03-31").unwrap();
        let fiscal = Period::around(day, PeriodKind::FiscalYear(4, 1));
        assert_eq!(span(fiscal), days("2025-04-01", "2026-03-31"));
        assert_eq!(
            span(fiscal.map(|p| p.following(1))),
            days("2026-04-01", "2027-03-31")
        );
        assert_eq!(
            span(Period::around(day, PeriodKind::Quarter)),
            days("2026-01-01", "2026-03-31")
        );
        let texts = [
            "", "26", "2026-", "2026-0", "2026-13", "2026-Q5", "2026-Q0", "2026-+1", "2026-003",
        ];
        for text in texts {
            assert_eq!(Period::parse(text), None, "{text}");
        }
        assert_eq!(Period::fiscal_year(2024, 2, 29), None);
    }
}
