//! How each duty stands on the day asked.

use super::line::{Dates, one_holds};
use super::walk::{End, Instance, Walk};
use super::{Asked, Owed, State};
use crate::day::Day;
use crate::rules::deadline::{Due, Moment};

impl<'j> Walk<'_, 'j> {
    /// Every duty of every case.
    pub(super) fn rows(&self) -> Vec<Owed<'j>> {
        let rows = (0..self.owed.len()).filter_map(|at| Some((at, self.row(at)?)));
        let mut rows: Vec<(usize, Owed)> = rows.collect();
        self.mark_discoveries(&mut rows);
        rows.into_iter().map(|(_, row)| row).collect()
    }

    fn row(&self, at: usize) -> Option<Owed<'j>> {
        let (one, day) = (&self.owed[at], self.story.day);
        let ready = &self.ready[one.duty];
        let asking = self.binding(at, day);
        let anchors = self.anchors(at);
        let dates = Dates::of(&asking, &ready.due, &anchors);
        if one.end.is_none()
            && one.missing.is_empty()
            && dates.is_empty()
            && ready.duty.no_number.is_none()
        {
            return None;
        }
        let first = dates.earliest();
        let due = first.and_then(|first| self.moved(at, &asking, first));
        let events = self.story.events;
        let act = |at: usize| (events[at].day, events[at].entry);
        let (on, by) = match one.end {
            Some(End::Done { act: at, .. } | End::Lifted(at)) => (Some(act(at).0), Some(act(at).1)),
            Some(End::Ended(on) | End::Lapsed(on)) => (Some(on), None),
            None => (None, None),
        };
        let today = self.asking(one.case, day);
        // Whether it is owed at all may hang on a fact: then no date is named.
        let due = due.filter(|_| one.missing.is_empty());
        let missing = match due {
            Some(_) => one.missing,
            None => one.missing.and(dates.missing),
        };
        let mut row = Owed {
            case: Some(one.case),
            due,
            not_before: Dates::of(&asking, &ready.not_before, &anchors).earliest(),
            on,
            by,
            last: one.acts.last().map(|at| act(*at)),
            left: one
                .paused
                .and_then(|since| Some(due?.day().days_since(since))),
            age: ready
                .duty
                .no_number
                .as_ref()
                .map(|_| day.days_since(one.since.day)),
            waiting: dates.waiting,
            lines: dates.lines,
            extensions: self.extensions(at),
            paused_days: one.moved,
            too_early: one.too_early.iter().map(|at| act(*at)).collect(),
            missing: missing.names(),
            ..Owed::new(ready.duty, one.since.day, one.started_by)
        };
        row.state = state(&row, one, one_holds(&today, &ready.not_while), day);
        Some(row)
    }

    fn extensions(&self, at: usize) -> Vec<Asked<'j>> {
        let one = &self.owed[at];
        let extensions = &self.ready[self.ready[one.duty].extensions_of].extensions;
        let asking = self.binding(at, self.story.day);
        let mut list = Vec::with_capacity(one.asked.len());
        for asked in &one.asked {
            let event = &self.story.events[asked.event];
            let ready = &extensions[asked.extension];
            let silence = ready.silence.and_then(|value| {
                super::line::after(&asking, value, Moment::of_day(event.day), self.story.zone)
            });
            list.push(Asked {
                ground: &ready.extension.ground,
                entry: event.entry,
                on: event.day,
                taken: asked.taken,
                due: self.extension_due(at, &asking, asked),
                silence: silence.map(Due::day),
            });
        }
        list
    }
}

/// How a row stands that says everything else.
fn state(row: &Owed, one: &Instance, not_needed: bool, day: Day) -> State {
    match one.end {
        Some(End::Done { late: false, .. }) => return State::Done,
        Some(End::Done { late: true, .. }) => return State::DoneLate,
        Some(End::Lifted(_)) => return State::Lifted,
        Some(End::Ended(_)) => return State::Ended,
        Some(End::Lapsed(_)) => return State::Lapsed,
        None => {}
    }
    if not_needed {
        State::NotNeeded
    } else if one.paused.is_some() {
        State::Paused
    } else {
        standing(row, day)
    }
}

/// How a duty stands that is neither over nor stopped.
pub(in crate::rules) fn standing(row: &Owed, day: Day) -> State {
    match row.due {
        Some(due) if due.day() < day => State::Overdue,
        Some(_) => State::Open,
        None if !row.missing.is_empty() => State::CannotJudge,
        None if row.duty.no_number.is_some() => State::NoDate,
        None => State::Waiting,
    }
}
