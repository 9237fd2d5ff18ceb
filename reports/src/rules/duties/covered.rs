//! Duties that come from being covered: cadences, equipment to be fitted, registrations.
//!
//! They belong to no case. Such a duty starts on the first day of the unbroken time, up to the day
//! asked, in which the set covers the appliance and the duty's own test holds, and not before the
//! appliance was installed. What a retired appliance owed by being covered is over.

use super::line::{Anchors, Dates, one_holds, ran};
use super::ready::{ReadyDuty, Trigger};
use super::row::standing;
use super::{Owed, StartedBy, State, Story};
use crate::appliance::Facts;
use crate::day::{Day, PeriodKind};
use crate::event::{Event, Kind};
use crate::rules::deadline::Moment;
use crate::rules::facts::{Fact, FactSet};
use crate::rules::judge::PreparedAppliance;
use crate::rules::scope::{Answer, Asking};

/// The duties of being covered, as they stand on the day asked.
pub(super) fn rows<'j>(
    prepared: &PreparedAppliance<'j>,
    set: usize,
    story: &Story<'_, 'j>,
    missing: &mut FactSet,
) -> Vec<Owed<'j>> {
    let retired = story.events.iter().any(|event| event.kind == Kind::Retire);
    if retired || prepared.applies(set, story.day) != Some(true) {
        return Vec::new();
    }
    let ready: &'j [ReadyDuty<'j>] = &prepared.judge.sets[set].duties;
    let by_cover = |one: &&'j ReadyDuty<'j>| {
        let mut triggers = one.starts.iter().map(|start| &start.trigger);
        !one.of_organisation && triggers.any(|trigger| matches!(trigger, Trigger::Covered))
    };
    let covered = ready.iter().filter(by_cover);
    let in_force = covered.filter(|one| one.from <= story.day && story.day <= one.until);
    in_force
        .filter_map(|one| row(prepared, set, story, one, missing))
        .collect()
}

fn row<'j>(
    prepared: &PreparedAppliance<'j>,
    set: usize,
    story: &Story<'_, 'j>,
    ready: &'j ReadyDuty<'j>,
    missing: &mut FactSet,
) -> Option<Owed<'j>> {
    let asking = prepared.asking(set, story.day);
    let mut lacks = match asking.all(&ready.when) {
        Answer::No => return None,
        Answer::Yes => FactSet::NONE,
        Answer::Unknown(facts) => facts,
    };
    *missing = missing.and(lacks);
    let start = since(prepared, set, story.day, ready);
    let since = start.unwrap_or(story.events.first().map_or(story.day, |event| event.day));
    let mut anchors = Anchors {
        events: story.events,
        ..Anchors::at_start(Moment::of_day(since), PeriodKind::Year, story.zone)
    };
    let acts: Vec<&Event> = (story.events.iter())
        .filter(|event| event.day >= since && fulfils(&asking, ready, event))
        .collect();
    anchors.last = acts
        .last()
        .map(|act| Moment::of(act))
        .filter(|_| ready.duty.repeats);
    let dates = Dates::of(&asking, &ready.due, &anchors);
    if lacks.is_empty() && dates.is_empty() && ready.duty.no_number.is_none() {
        return None;
    }
    // Whether it is owed at all may hang on a fact: then no date is named.
    let mut due = dates.earliest().filter(|_| lacks.is_empty());
    if start.is_none() && anchors.last.is_none() && counts_from_start(ready) {
        // Nobody knows since when: no date is made up.
        lacks = lacks.and(FactSet::of(Fact::Installed));
        due = None;
    }
    if due.is_none() {
        lacks = lacks.and(dates.missing);
    }
    let done = acts.first().filter(|_| !ready.duty.repeats);
    let last = acts.last().filter(|_| ready.duty.repeats);
    let mut row = Owed {
        due,
        on: done.map(|act| act.day),
        by: done.map(|act| act.entry),
        last: last.map(|act| (act.day, act.entry)),
        age: ready
            .duty
            .no_number
            .as_ref()
            .map(|_| story.day.days_since(since)),
        waiting: dates.waiting,
        lines: dates.lines,
        missing: lacks.names(),
        ..Owed::new(ready.duty, since, StartedBy::Covered)
    };
    row.state = match done {
        Some(act) if row.due.is_some_and(|due| Moment::of(act).is_after(due)) => State::DoneLate,
        Some(_) => State::Done,
        None if one_holds(&asking, &ready.not_while) => State::NotNeeded,
        None => standing(&row, story.day),
    };
    Some(row)
}

/// Whether an event fulfils a duty of being covered.
fn fulfils<'j>(asking: &Asking<'_, 'j>, ready: &ReadyDuty<'j>, event: &Event) -> bool {
    ready.done_by.iter().any(|pattern| {
        let hours = |value: usize| ran(asking, value, event);
        let hours = pattern.min_run_hours.is_none_or(hours);
        pattern.words.fit(event) && pattern.under.is_none() && hours
    })
}

/// Whether any date of a duty counts from its start.
fn counts_from_start(ready: &ReadyDuty) -> bool {
    use crate::rules::words::Anchor as A;
    let from_start = [
        A::Start,
        A::Root,
        A::Last,
        A::YearEnd,
        A::QuarterEnd,
        A::HalfYearEnd,
        A::PeriodEnd,
    ];
    ready
        .due
        .iter()
        .any(|line| line.value.is_some() && from_start.contains(&line.after))
}

/// The first day of the unbroken time in which the set covers the appliance and the duty's test
/// holds, not before the installation; `None`: nobody recorded since when.
fn since(prepared: &PreparedAppliance, set: usize, day: Day, ready: &ReadyDuty) -> Option<Day> {
    let holds = |day: Day| {
        prepared.applies(set, day) == Some(true)
            && prepared.asking(set, day).all(&ready.when) != Answer::No
    };
    let mut first = day;
    for start in prepared.spans_until(set, day).rev() {
        if !holds(*start) {
            break;
        }
        first = *start;
    }
    let first = first.max(ready.from);
    match prepared.subject.installed(day) {
        Some(installed) => Some(first.max(installed)),
        None => (first > Facts::ALWAYS).then_some(first),
    }
}
