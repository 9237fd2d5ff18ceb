//! The straight line through the year: what is left until a limit, and when it would be reached.
//!
//! Whole numbers only: masses in steps, days counted with both ends.

use crate::day::Day;
use crate::number::Fraction;

/// The days a loss was spread over, and those it will be.
pub(super) struct Pace {
    /// The first day that counts.
    pub(super) begins: Day,
    /// The last day looked at.
    pub(super) last: Day,
    /// The last day of the period.
    pub(super) ends: Day,
}

impl Pace {
    /// Days so far.
    pub(super) fn days(&self) -> i64 {
        i64::from(self.last.days_since(self.begins)) + 1
    }

    /// Days of the whole period.
    pub(super) fn days_in_all(&self) -> i64 {
        i64::from(self.ends.days_since(self.begins)) + 1
    }
}

/// What can be said of the rest of the period.
pub(super) struct Outlook {
    /// Steps lost so far.
    pub(super) lost: i128,
    pub(super) full_charge: Option<i128>,
    /// Percent of the full charge.
    pub(super) limit: Option<Fraction>,
    /// Whether the limit itself is already too much.
    pub(super) reaches: bool,
    pub(super) was_reached: bool,
}

impl Outlook {
    /// Steps until the limit, cut toward zero; `None`: no limit, or the full charge is unknown.
    pub(super) fn left(&self) -> Option<i128> {
        let (limit, full) = (self.limit?, self.full_charge?);
        if self.was_reached {
            return Some(0);
        }
        let most = limit.numerator() * full / (limit.denominator() * 100);
        Some((most - self.lost).max(0))
    }

    /// Steps at the end of the period at the same pace, cut toward zero.
    pub(super) fn projected(&self, pace: &Pace) -> i128 {
        self.lost * i128::from(pace.days_in_all()) / i128::from(pace.days())
    }

    /// The first day on which the line passes the limit, after the last day looked at.
    pub(super) fn reached_on(&self, pace: &Pace) -> Option<Day> {
        let (limit, full) = (self.limit?, self.full_charge?);
        if self.was_reached || self.lost <= 0 {
            return None;
        }
        // lost x n / days >= limit x full / 100, for whole n.
        let enough = limit.numerator() * full * i128::from(pace.days());
        let a_day = self.lost * limit.denominator() * 100;
        let whole = match self.reaches {
            true => (enough + a_day - 1) / a_day,
            false => enough / a_day + 1,
        };
        let day = pace.begins.plus(i32::try_from(whole - 1).ok()?);
        (day <= pace.ends).then_some(day.max(pace.last.plus(1)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        Day::parse(text).unwrap()
    }

    /// By hand: 50 lb of 100 lb lost by 31 March 2026 (day 90) is 50/90 lb a day: 125 lb on day
    /// 225, 13 August; the year would end with 50 x 365/90 = 202.78 lb.
    #[test]
    fn the_line_reaches_the_limit_on_the_day_worked_out_by_hand() {
        let pace = Pace {
            begins: day("2026-01-01"),
            last: day("2026-03-31"),
            ends: day("2026-12-31"),
        };
        assert_eq!((pace.days(), pace.days_in_all()), (90, 365));
        let mut outlook = Outlook {
            lost: 50,
            full_charge: Some(100),
            limit: Some(Fraction::new(125, 1)),
            reaches: true,
            was_reached: false,
        };
        assert_eq!(outlook.left(), Some(75));
        assert_eq!(outlook.projected(&pace), 202);
        assert_eq!(outlook.reached_on(&pace), Some(day("2026-08-13")));
        // A limit that must be exceeded is passed the day after.
        outlook.reaches = false;
        assert_eq!(outlook.reached_on(&pace), Some(day("2026-08-14")));
        // 30 lb so far would be 121.67 lb at the end: never.
        outlook.lost = 30;
        assert_eq!(outlook.reached_on(&pace), None);
        outlook.full_charge = None;
        assert_eq!((outlook.left(), outlook.reached_on(&pace)), (None, None));
    }
}
