//! What an event does to what is owed already: it fulfils, opens again, lifts, extends, pauses.

use super::line::{Dates, ran};
use super::ready::ReadyPattern;
use super::walk::{AskedFor, End, Walk};
use super::{NotTaken, StartedBy};
use crate::day::Day;
use crate::event::{Event, Kind};
use crate::rules::deadline::{Due, Moment};
use std::collections::BTreeMap;

impl Walk<'_, '_> {
    /// Lets the earlier events of the same day or visit act on a case that a charge opened.
    pub(super) fn look_back(&mut self, case: usize, at: usize) {
        let events = self.story.events;
        let (day, visit) = (events[at].day, events[at].visit);
        for (earlier, event) in events.iter().enumerate().take(at) {
            if event.day == day || (visit.is_some() && event.visit == visit) {
                self.acts(earlier, event, Some(case));
            }
        }
    }

    /// Fulfils, opens again, lifts. `only`: what belongs to one case. Work is undone only in a case
    /// in which the event means something to a duty that is open: where a test that failed was
    /// still owed, not where the repair was verified long ago.
    pub(super) fn acts(&mut self, at: usize, event: &Event, only: Option<usize>) {
        let ready = self.ready;
        let mut meant = Vec::new();
        let already = self.owed.len();
        let answered = self.answered_first(event);
        for one in 0..already {
            let (duty, case) = (self.owed[one].duty, self.owed[one].case);
            if self.owed[one].end.is_some() || only.is_some_and(|only| only != case) {
                continue;
            }
            let is_answered = answered.get(&duty).is_none_or(|first| {
                let due = self.due(one, event.day);
                due.is_none_or(|due| due.order() == *first)
            });
            if is_answered && self.fits(&ready[duty].done_by, one, event) {
                self.fulfil(one, at, event);
            }
            let lifts = self.fits(&ready[duty].lifted_by, one, event);
            if lifts || self.fits(&ready[duty].reopened_by, one, event) {
                meant.push(case);
            }
            if lifts && self.owed[one].end.is_none() {
                self.end(one, End::Lifted(at));
            }
        }
        if only.is_some() {
            return;
        }
        for one in 0..already {
            let (duty, case, end) = (self.owed[one].duty, self.owed[one].case, self.owed[one].end);
            let was_done = matches!(end, Some(End::Done { act, .. }) if act < at);
            if was_done && meant.contains(&case) && self.fits(&ready[duty].reopened_by, one, event)
            {
                self.reopen(one, event);
            }
        }
    }

    /// A notice answers what is due first of its kind, and all that is due together with it: the
    /// report of one year is not that of the next, while one report of a half-year holds every
    /// release of it. By duty, the date it answers; empty for other events.
    fn answered_first(&self, event: &Event) -> BTreeMap<usize, (Day, u32)> {
        let mut first = BTreeMap::new();
        if event.kind != Kind::Notice {
            return first;
        }
        for one in (0..self.owed.len()).filter(|one| self.owed[*one].end.is_none()) {
            if let Some(due) = self.due(one, event.day).map(Due::order) {
                let earliest = first.entry(self.owed[one].duty).or_insert(due);
                *earliest = due.min(*earliest);
            }
        }
        first
    }

    fn fits(&self, patterns: &[ReadyPattern], one: usize, event: &Event) -> bool {
        patterns.iter().any(|pattern| {
            pattern.words.fit(event)
                && pattern
                    .under
                    .is_none_or(|ground| self.has_taken(one, ground))
                && pattern
                    .min_run_hours
                    .is_none_or(|value| ran(&self.binding(one, event.day), value, event))
        })
    }

    fn has_taken(&self, at: usize, ground: &str) -> bool {
        let one = &self.owed[at];
        let extensions = &self.ready[self.ready[one.duty].extensions_of].extensions;
        let taken = one.asked.iter().filter(|asked| asked.taken.is_ok());
        let mut grounds = taken.map(|asked| &extensions[asked.extension].extension.ground);
        grounds.any(|taken| taken == ground)
    }

    fn fulfil(&mut self, at: usize, act: usize, event: &Event) {
        let ready = &self.ready[self.owed[at].duty];
        let moment = Moment::of(event);
        let asking = self.binding(at, event.day);
        let earliest = Dates::of(&asking, &ready.not_before, &self.anchors(at)).earliest();
        if earliest.is_some_and(|earliest| moment.is_before(earliest)) {
            self.owed[at].too_early.push(act);
            return;
        }
        if ready.duty.repeats {
            let one = &mut self.owed[at];
            one.acts.push(act);
            (one.missed, one.moved) = (false, 0);
            // A cadence counts anew from here; its clock still stands.
            one.paused = one.paused.map(|since| since.max(event.day));
        } else {
            // What is done while the clock stands is done in time, however long it stands.
            self.owed[at].go_on(event.day);
            let due = self.due(at, event.day);
            let late = self.owed[at].missed || due.is_some_and(|due| moment.is_after(due));
            self.end(at, End::Done { act, late });
        }
        self.follow(at, moment, StartedBy::Done(ready.duty, event.entry));
    }

    /// Opens a fulfilled duty again with its old date; when that is over it is missed at once.
    fn reopen(&mut self, at: usize, event: &Event) {
        let one = &mut self.owed[at];
        one.end = None;
        one.closed = None;
        one.missed = false;
        let due = self.due(at, event.day).map(Due::day);
        if due.is_some_and(|due| due < event.day) {
            self.miss(at, event.day);
        }
    }

    pub(super) fn extend(&mut self, at: usize, event: &Event) {
        let Some(ground) = event.word("ground") else {
            return;
        };
        for one in 0..self.owed.len() {
            if self.owed[one].end.is_some() {
                continue;
            }
            let whose = self.ready[self.owed[one].duty].extensions_of;
            for (extension, ready) in self.ready[whose].extensions.iter().enumerate() {
                if ready.extension.ground != ground || event.day < ready.from {
                    continue;
                }
                let taken = self.may_extend(one, extension, event);
                self.owed[one].asked.push(AskedFor {
                    extension,
                    event: at,
                    taken,
                });
            }
        }
    }

    /// Whether an extension is taken: asked in time, before the duty was overdue.
    fn may_extend(&self, at: usize, extension: usize, event: &Event) -> Result<(), NotTaken> {
        if event.word("answer") == Some("refused") {
            return Err(NotTaken::Refused);
        }
        let one = &self.owed[at];
        let whose = self.ready[one.duty].extensions_of;
        let asking = self.binding(at, event.day);
        let ask_by = &self.ready[whose].extensions[extension].ask_by;
        let latest = Dates::of(&asking, ask_by, &self.anchors(at)).earliest();
        if let Some(latest) = latest.map(Due::day)
            && event.day > latest
        {
            return Err(NotTaken::AskedAfter(latest));
        }
        match self.due(at, event.day).map(Due::day) {
            Some(due) if one.missed || due < event.day => Err(NotTaken::Overdue(due)),
            _ => Ok(()),
        }
    }

    /// Stops the clocks that a mothballing stops; what was missed before is not healed.
    pub(super) fn pause(&mut self, day: Day) {
        self.mothballed = Some(day);
        let ready = self.ready;
        for one in self
            .owed
            .iter_mut()
            .filter(|one| one.end.is_none() && !one.missed)
        {
            let pauses = !ready[one.duty].duty.paused_by.is_empty();
            one.paused = one.paused.or(pauses.then_some(day));
        }
    }

    /// Refrigerant is back: the clocks go on, by as many days later.
    pub(super) fn resume(&mut self, day: Day) {
        self.mothballed = None;
        self.owed.iter_mut().for_each(|one| one.go_on(day));
    }
}
