//! From the lines of a duty to dates: which apply, what they count from, what they wait for.

use super::ready::ReadyLine;
use crate::day::{Day, Period, PeriodKind, Zone};
use crate::event::{Event, Kind};
use crate::number::Decimal;
use crate::rules::compiled::Ask;
use crate::rules::deadline::{Due, DueLine, Moment, later};
use crate::rules::facts::{Fact, FactSet};
use crate::rules::in_force::NumberOn;
use crate::rules::number::Number;
use crate::rules::scope::{Answer, Asking, ValueOn};
use crate::rules::words::{Anchor, EventKind};

/// The points in time that lines count from.
#[derive(Clone, Copy)]
pub(in crate::rules) struct Anchors<'w> {
    pub start: Moment,
    pub root: Moment,
    pub previous_start: Option<Moment>,
    /// The last act that counted.
    pub last: Option<Moment>,
    /// What the extension says: when parts came, until when it was granted.
    pub delivered: Option<Day>,
    pub granted: Option<Day>,
    pub last_extension: Option<Day>,
    /// The period of the limit, or the one whose end started the duty.
    pub period: PeriodKind,
    /// The events of the case so far: those from its root's day on.
    pub events: &'w [Event],
    pub zone: &'w Zone,
}

impl<'w> Anchors<'w> {
    /// Those of a duty that starts now and belongs to no case.
    pub(in crate::rules) fn at_start(start: Moment, period: PeriodKind, zone: &'w Zone) -> Self {
        Anchors {
            start,
            root: start,
            previous_start: None,
            last: None,
            delivered: None,
            granted: None,
            last_extension: None,
            period,
            events: &[],
            zone,
        }
    }
}

/// What the lines of one list say.
#[derive(Clone, Debug, Default)]
pub(in crate::rules) struct Dates<'j> {
    /// Lines that apply and give a date.
    pub lines: Vec<DueLine<'j>>,
    /// What lines that apply wait for.
    pub waiting: Vec<Anchor>,
    /// Facts without which nobody can say.
    pub missing: FactSet,
}

/// Why a line gives no date yet.
enum Waits {
    For(Anchor),
    ForFacts(FactSet),
    NoNumber,
}

impl<'j> Dates<'j> {
    /// The earliest date.
    pub(in crate::rules) fn earliest(&self) -> Option<Due> {
        self.lines
            .iter()
            .map(|line| line.due)
            .min_by_key(|due| due.order())
    }

    /// Whether no line applies at all.
    pub(in crate::rules) fn is_empty(&self) -> bool {
        self.lines.is_empty() && self.waiting.is_empty() && self.missing.is_empty()
    }

    /// What lines say on the day of a question.
    pub(in crate::rules) fn of(
        asking: &Asking<'_, 'j>,
        lines: &[ReadyLine<'j>],
        anchors: &Anchors,
    ) -> Self {
        let mut dates = Dates::default();
        for line in lines {
            match asking.all(&line.when) {
                Answer::No => continue,
                Answer::Unknown(facts) => {
                    dates.missing = dates.missing.and(facts);
                    continue;
                }
                Answer::Yes => {}
            }
            match date_of(asking, line, anchors) {
                Ok(line) => dates.lines.push(line),
                Err(Waits::For(anchor)) => dates.waiting.push(anchor),
                Err(Waits::ForFacts(facts)) => dates.missing = dates.missing.and(facts),
                Err(Waits::NoNumber) => {}
            }
        }
        dates
    }
}

fn date_of<'j>(
    asking: &Asking<'_, 'j>,
    line: &ReadyLine<'j>,
    anchors: &Anchors,
) -> Result<DueLine<'j>, Waits> {
    let after = line.after;
    let Some(value) = line.value else {
        let until = anchors.granted.ok_or(Waits::For(Anchor::LastExtension))?;
        let due = Due::Day(until);
        return Ok(DueLine {
            number: None,
            after,
            due,
        });
    };
    let number = number_of(asking, value)?;
    let due = match number.number() {
        Number::Day(day) => Due::Day(day),
        Number::MonthDay(month, day) => {
            let anchor = moment(asking, anchors, after)?.day;
            Due::Day(anchor.next_month_day(month, day).ok_or(Waits::NoNumber)?)
        }
        Number::Plain(_) => {
            let anchor = moment(asking, anchors, after)?;
            // Counted from the start, where nothing was done yet, its own period is the first.
            let first = match after {
                Anchor::Start => true,
                Anchor::Last => anchors.last.is_none(),
                _ => false,
            };
            let month_end = asking.set.set.month_end;
            later(anchor, &number, first, month_end, anchors.zone).ok_or(Waits::NoNumber)?
        }
        Number::None => return Err(Waits::NoNumber),
    };
    let number = Some(number);
    Ok(DueLine { number, after, due })
}

/// The number of a value on the day of a question.
fn number_of<'j>(asking: &Asking<'_, 'j>, value: usize) -> Result<NumberOn<'j>, Waits> {
    match asking.value(value) {
        ValueOn::Unknown(facts) => Err(Waits::ForFacts(facts)),
        found => NumberOn::of(&asking.set.values[value], found).ok_or(Waits::NoNumber),
    }
}

/// The number of a value, where there is one.
pub(in crate::rules) fn number_on<'j>(
    asking: &Asking<'_, 'j>,
    value: usize,
) -> Option<NumberOn<'j>> {
    number_of(asking, value).ok()
}

/// When a time after a moment is over, whole periods counted after the one it lies in.
pub(in crate::rules) fn after<'j>(
    asking: &Asking<'_, 'j>,
    value: usize,
    moment: Moment,
    zone: &Zone,
) -> Option<Due> {
    let number = number_on(asking, value)?;
    later(moment, &number, false, asking.set.set.month_end, zone)
}

/// The moment an anchor stands for.
fn moment(asking: &Asking, anchors: &Anchors, anchor: Anchor) -> Result<Moment, Waits> {
    let end = |kind| {
        let period = Period::around(anchors.start.day, kind).ok_or(Waits::NoNumber)?;
        Ok(Moment::of_day(period.last))
    };
    let known = |moment: Option<Moment>| moment.ok_or(Waits::For(anchor));
    match anchor {
        Anchor::Start => Ok(anchors.start),
        Anchor::Root => Ok(anchors.root),
        Anchor::PreviousStart => known(anchors.previous_start),
        Anchor::Last => Ok(anchors.last.unwrap_or(anchors.start)),
        Anchor::Delivered => known(anchors.delivered.map(Moment::of_day)),
        Anchor::LastExtension => known(anchors.last_extension.map(Moment::of_day)),
        Anchor::PeriodEnd => end(anchors.period),
        Anchor::QuarterEnd => end(PeriodKind::Quarter),
        Anchor::HalfYearEnd => end(PeriodKind::HalfYear),
        Anchor::YearEnd => end(PeriodKind::Year),
        Anchor::Installed => match asking.subject.installed(asking.day) {
            Some(day) => Ok(Moment::of_day(day)),
            None => Err(Waits::ForFacts(FactSet::of(Fact::Installed))),
        },
        event => {
            let kind = EventKind::named(event.word()).and_then(EventKind::kind);
            let of_kind = |event: &&Event| Some(event.kind) == kind;
            known(anchors.events.iter().rfind(of_kind).map(Moment::of))
        }
    }
}

/// What the last event of a case said of each fact that events may carry.
pub(in crate::rules) fn told(events: &[Event]) -> [Option<bool>; 3] {
    let mut told = [None; 3];
    for event in events.iter().filter(|event| event.words.is_some()) {
        for (at, fact) in ["process_shutdown", "evacuated", "ghg_reporter"]
            .iter()
            .enumerate()
        {
            if let Some(word) = event.word(fact) {
                told[at] = Some(word == "yes");
            }
        }
    }
    told
}

/// Whether running hours, where an event states them, reach a value.
pub(in crate::rules) fn ran(asking: &Asking<'_, '_>, value: usize, event: &Event) -> bool {
    let stated = event.word("run_hours").and_then(Decimal::parse);
    match (stated, number_on(asking, value)) {
        (Some(stated), Some(needed)) => stated.fraction() >= needed.limit(),
        _ => true,
    }
}

/// Whether one of several tests holds.
pub(in crate::rules) fn one_holds<'j>(asking: &Asking<'_, 'j>, tests: &[Vec<Ask<'j>>]) -> bool {
    tests.iter().any(|test| asking.all(test) == Answer::Yes)
}

/// Whether an event puts refrigerant back in, or says that the appliance runs again.
pub(in crate::rules) fn ends_pause(event: &Event) -> bool {
    let back = [Kind::Charge, Kind::OutsideCharge, Kind::BackInOperation];
    back.contains(&event.kind)
}
