//! The first due date of a duty that a limit starts.
//!
//! Of the lines whose `when` holds, the earliest binds. A duty uses the row in force on the day
//! it started; a cadence uses the rows and facts of the day asked. A line whose anchor is not yet
//! known waits. What happens after the start (repairs, extensions, pauses) is not read here, but
//! for the facts that an event of the case may carry: process shutdown, evacuated, reporter.

use super::exceedance::Exceedance;
use super::facts::FactSet;
use super::file::{Duty, Line};
use super::in_force::NumberOn;
use super::judge::PreparedAppliance;
use super::number::Number;
use super::scope::{Answer, Asking, ValueOn};
use super::words::{self, Anchor, Subject, Unit};
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

/// What is owed first after a limit was passed.
#[derive(Clone, Debug)]
pub struct FirstDue<'j> {
    /// The duty.
    pub duty: &'j Duty,
    /// The day that started it.
    pub since: Day,
    /// The earliest of the lines that apply; `None`: no number, waiting, or cannot judge.
    pub due: Option<Due>,
    /// Every line that applies and is no longer waiting, with its date.
    pub lines: Vec<DueLine<'j>>,
    /// Anchors that are not known yet.
    pub waiting: Vec<Anchor>,
    /// A fact says that it is not needed meanwhile.
    pub not_needed: bool,
    /// Facts that must be found before it can be told, sorted.
    pub missing: Vec<&'static str>,
}

/// One line that applies.
#[derive(Clone, Debug)]
pub struct DueLine<'j> {
    /// The number it names.
    pub number: NumberOn<'j>,
    /// From when it counts.
    pub after: Anchor,
    /// The date it gives.
    pub due: Due,
}

/// What `due_dates` needs to know beside the appliance.
pub(super) struct Case<'c> {
    /// Events of the appliance, in their order.
    pub events: &'c [Event],
    /// The day asked.
    pub day: Day,
    /// The zone of the site: hours are counted by the clock of physics.
    pub zone: &'c Zone,
}

/// The duties an exceedance starts: those whose start names the limit and depends on no other
/// duty being open or done (`unless_open` alone is taken as fulfilled at the start).
pub(super) fn first_dues<'j>(
    prepared: &PreparedAppliance<'j>,
    exceedance: &Exceedance<'j>,
    case: &Case,
) -> Vec<FirstDue<'j>> {
    let set = prepared.judge.sets[exceedance.set].set;
    let started = set.duties.iter().filter(|duty| {
        duty.subject != Some(Subject::Organisation)
            && duty.from.is_none_or(|from| from.0 <= exceedance.on)
            && duty.until.is_none_or(|until| exceedance.on <= until.0)
            && duty
                .starts
                .iter()
                .any(|start| starts_by(start, &exceedance.limit.name))
    });
    started
        .filter_map(|duty| first_due(prepared, exceedance, case, duty))
        .collect()
}

/// Whether a start needs nothing but that limit.
pub(super) fn starts_by(start: &super::file::Start, limit: &str) -> bool {
    start.limit.as_deref() == Some(limit)
        && start.while_open.is_none()
        && start.after_done.is_none()
        && start.when.is_none()
}

fn first_due<'j>(
    prepared: &PreparedAppliance<'j>,
    exceedance: &Exceedance<'j>,
    case: &Case,
    duty: &'j Duty,
) -> Option<FirstDue<'j>> {
    let since = exceedance.on;
    let told = told(case, since);
    let at_start = Asking {
        told,
        ..prepared.asking(exceedance.set, since)
    };
    let asked = if duty.repeats {
        Asking {
            told,
            ..prepared.asking(exceedance.set, case.day)
        }
    } else {
        at_start
    };
    let mut first = FirstDue {
        duty,
        since,
        due: None,
        lines: Vec::new(),
        waiting: Vec::new(),
        not_needed: false,
        missing: Vec::new(),
    };
    let mut missing = FactSet::NONE;
    if let Some(test) = &duty.when {
        match at_start.all(&at_start.set.resolve(test)) {
            Answer::No => return None,
            Answer::Yes => {}
            Answer::Unknown(facts) => missing = missing.and(facts),
        }
    }
    let today = Asking {
        told,
        ..prepared.asking(exceedance.set, case.day)
    };
    let holds_today = |test| today.all(&today.set.resolve(test)) == Answer::Yes;
    first.not_needed = duty.not_while.iter().any(holds_today);
    for line in &duty.due {
        match line
            .when
            .as_ref()
            .map_or(Answer::Yes, |test| asked.all(&asked.set.resolve(test)))
        {
            Answer::No => continue,
            Answer::Unknown(facts) => missing = missing.and(facts),
            Answer::Yes => match due_of(&asked, exceedance, case, line) {
                Ok(due_line) => first.lines.push(due_line),
                Err(Waits::For(anchor)) => first.waiting.push(anchor),
                Err(Waits::ForFacts(facts)) => missing = missing.and(facts),
                Err(Waits::NoNumber) => {}
            },
        }
    }
    first.missing = missing.names();
    if missing.is_empty() {
        first.due = first
            .lines
            .iter()
            .map(|line| line.due)
            .min_by_key(|due| due.order());
        let owed = duty.no_number.is_some() || first.due.is_some() || !first.waiting.is_empty();
        // No line applies: not owed.
        return owed.then_some(first);
    }
    Some(first)
}

/// What the last event of the case said of each fact that events may carry.
fn told(case: &Case, since: Day) -> [Option<bool>; 3] {
    ["process_shutdown", "evacuated", "ghg_reporter"].map(|fact| {
        let of_case = case.events.iter().filter(|event| event.day >= since);
        of_case
            .filter_map(|event| event.word(fact))
            .next_back()
            .map(|word| word == "yes")
    })
}

/// Why a line gives no date yet.
enum Waits {
    For(Anchor),
    ForFacts(FactSet),
    NoNumber,
}

fn due_of<'j>(
    asking: &Asking<'_, 'j>,
    exceedance: &Exceedance<'j>,
    case: &Case,
    line: &'j Line,
) -> Result<DueLine<'j>, Waits> {
    let after = line.after.unwrap_or(Anchor::Start);
    let name = line
        .within
        .as_ref()
        .or(line.by.as_ref())
        .or(line.on.as_ref());
    let value = name
        .and_then(|name| asking.set.value(name))
        .ok_or(Waits::NoNumber)?;
    let number = match asking.value(value) {
        ValueOn::Row(row, overlay) => NumberOn::new(&asking.set.values[value], row, overlay),
        ValueOn::NoRow => return Err(Waits::NoNumber),
        ValueOn::Unknown(facts) => return Err(Waits::ForFacts(facts)),
    };
    let due = match number.number() {
        Number::Day(day) => Due::Day(day),
        Number::MonthDay(month, day) => {
            let anchor = anchor_day(asking, exceedance, after)?;
            Due::Day(anchor.next_month_day(month, day).ok_or(Waits::NoNumber)?)
        }
        Number::Plain(_) => {
            let anchor = anchor_day(asking, exceedance, after)?;
            let from_start = matches!(after, Anchor::Start | Anchor::Root | Anchor::Last);
            let second = exceedance.second.filter(|_| from_start);
            let first_period = matches!(after, Anchor::Start | Anchor::Last);
            let month_end = asking.set.set.month_end;
            later(anchor, second, &number, first_period, month_end, case.zone)
                .ok_or(Waits::NoNumber)?
        }
        Number::None => return Err(Waits::NoNumber),
    };
    Ok(DueLine { number, after, due })
}

/// The day an anchor stands for at the start of a case.
fn anchor_day(asking: &Asking, exceedance: &Exceedance, anchor: Anchor) -> Result<Day, Waits> {
    let since = exceedance.on;
    let end = |kind| {
        Period::around(since, kind)
            .map(|period| period.last)
            .ok_or(Waits::NoNumber)
    };
    match anchor {
        Anchor::Start | Anchor::Root | Anchor::Last => Ok(since),
        Anchor::PeriodEnd => {
            let word = exceedance
                .limit
                .period
                .unwrap_or(words::Period::CalendarYear);
            end(period_kind(word, asking.set.set.year_starts.as_deref()))
        }
        Anchor::QuarterEnd => end(PeriodKind::Quarter),
        Anchor::HalfYearEnd => end(PeriodKind::HalfYear),
        Anchor::YearEnd => end(PeriodKind::Year),
        Anchor::Installed => asking
            .subject
            .installed(asking.day)
            .ok_or(Waits::ForFacts(FactSet::of(super::facts::Fact::Installed))),
        other => Err(Waits::For(other)),
    }
}

/// The kind of period a word names; `year_starts` is `MM-DD`.
pub(super) fn period_kind(word: words::Period, year_starts: Option<&str>) -> PeriodKind {
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

/// So long after an anchor. Whole days and periods end with their last local day; hours are
/// counted from the instant, so that 24 of them across a clock change are 24.
fn later(
    anchor: Day,
    second: Option<u32>,
    number: &NumberOn,
    first_period: bool,
    month_end: words::MonthEnd,
    zone: &Zone,
) -> Option<Due> {
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
    fn order(self) -> (Day, u32) {
        match self {
            Due::Day(day) => (day, 86_400),
            Due::At(local) => (local.day, local.second),
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
