//! The arithmetic of deadlines: so long after a point in time, or on a day of the calendar.
//!
//! Whole days and periods end with their last local day at the site; hours are counted from the
//! instant, so that 24 of them across a clock change are 24. What a duty counts from, and which of
//! its lines applies, is worked out in `duties`.

use super::in_force::NumberOn;
use super::words::{self, Anchor, Unit};
use crate::day::{Day, Local, MonthEnd, Period, PeriodKind, Wall, Zone};
use crate::event::Event;
use jiff::Timestamp;
use std::fmt;

/// When something is due: a whole day, or an instant when the law counts hours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Due {
    /// Until the end of that local day.
    Day(Day),
    /// At that instant, as clocks at the site show it.
    At(Local),
}

impl Due {
    /// The local day on which it ends.
    pub fn day(self) -> Day {
        match self {
            Due::Day(day) => day,
            Due::At(local) => local.day,
        }
    }
}

/// One line that applies.
#[derive(Clone, Debug)]
pub struct DueLine<'j> {
    /// The number it names; `None`: the date that an authority wrote.
    pub number: Option<NumberOn<'j>>,
    /// From when it counts.
    pub after: Anchor,
    /// The date it gives.
    pub due: Due,
}

/// A local day, with the second of it where one is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment {
    /// The day.
    pub day: Day,
    /// The second of the day; only a date known: from its start.
    pub second: Option<u32>,
}

impl Moment {
    pub(super) fn of_day(day: Day) -> Moment {
        Moment { day, second: None }
    }

    pub(super) fn of(event: &Event) -> Moment {
        Moment {
            day: event.day,
            second: event.second,
        }
    }

    /// Whether it lies before something is due. Only a date known: from the start of that day.
    pub(super) fn is_before(self, due: Due) -> bool {
        match due {
            Due::Day(day) => self.day < day,
            Due::At(at) => (self.day, self.second.unwrap_or(0)) < (at.day, at.second),
        }
    }

    /// Whether something was due before it. Only a date known: nobody can say that it was late on
    /// the last day itself.
    pub(super) fn is_after(self, due: Due) -> bool {
        match (due, self.second) {
            (Due::At(at), Some(second)) => (self.day, second) > (at.day, at.second),
            _ => self.day > due.day(),
        }
    }
}

/// The kind of period a word names; `year_starts` is `MM-DD`.
pub(crate) fn period_kind(word: words::Period, year_starts: Option<&str>) -> PeriodKind {
    match word {
        words::Period::CalendarMonth => PeriodKind::Month,
        words::Period::CalendarQuarter => PeriodKind::Quarter,
        words::Period::CalendarHalfYear => PeriodKind::HalfYear,
        words::Period::CalendarYear => PeriodKind::Year,
        words::Period::FiscalYear => {
            let start = year_starts
                .and_then(super::number::month_day)
                .unwrap_or((1, 1));
            PeriodKind::FiscalYear(start.0, start.1)
        }
    }
}

/// So long after an anchor. `first_period`: the period of the anchor is the first one counted.
pub(super) fn later(
    anchor: Moment,
    number: &NumberOn,
    first_period: bool,
    month_end: words::MonthEnd,
    zone: &Zone,
) -> Option<Due> {
    let Moment {
        day: anchor,
        second,
    } = anchor;
    if matches!(number.unit, Unit::Hours | Unit::OperatingHours) {
        let hours = number.limit();
        let seconds = i64::try_from(hours.numerator() * 3600 / hours.denominator()).ok()?;
        let start = instant(zone, anchor, second);
        let at = Timestamp::from_second(start.as_second().checked_add(seconds)?).ok()?;
        return Some(Due::At(zone.local(at)));
    }
    let count = number.number().count()?;
    let month_end = match month_end {
        words::MonthEnd::LastDay => MonthEnd::LastDay,
        words::MonthEnd::NextDay => MonthEnd::NextDay,
    };
    let periods = |kind| {
        let ahead = if first_period { count - 1 } else { count };
        Period::around(anchor, kind).map(|period| period.following(ahead).last)
    };
    let day = match number.unit {
        Unit::Days => anchor.plus(count),
        Unit::Weeks => anchor.plus(count.checked_mul(7)?),
        Unit::Months => anchor.plus_months(count, month_end),
        Unit::Years => anchor.plus_months(count.checked_mul(12)?, month_end),
        Unit::CalendarMonths => periods(PeriodKind::Month)?,
        Unit::CalendarQuarters => periods(PeriodKind::Quarter)?,
        Unit::CalendarHalfYears => periods(PeriodKind::HalfYear)?,
        Unit::CalendarYears => periods(PeriodKind::Year)?,
        _ => return None,
    };
    Some(Due::Day(day))
}

/// The instant of a local time; only a date known: from its first instant on.
fn instant(zone: &Zone, day: Day, second: Option<u32>) -> Timestamp {
    match second.map(|second| zone.resolve(day, second)) {
        Some(Wall::Once(at) | Wall::Twice(at, _)) => at,
        Some(Wall::Skipped) | None => zone.first_instant(day),
    }
}

impl Due {
    /// Earlier first; a day counts with its end.
    pub fn order(self) -> (Day, u32) {
        match self {
            Due::Day(day) => (day, 86_400),
            Due::At(local) => (local.day, local.second),
        }
    }

    /// So many days later, at the same time of day.
    pub(super) fn plus(self, days: i32) -> Due {
        match self {
            Due::Day(day) => Due::Day(day.plus(days)),
            Due::At(local) => Due::At(Local {
                day: local.day.plus(days),
                ..local
            }),
        }
    }
}

impl fmt::Display for Due {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Due::Day(day) => day.fmt(f),
            Due::At(local) => {
                let clock = crate::day::clock_text(local.second, true);
                write!(f, "{}T{clock}{}", local.day, local.offset_text())
            }
        }
    }
}
