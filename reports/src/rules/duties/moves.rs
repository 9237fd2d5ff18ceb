//! What an event does to a case: it starts duties, fulfils, opens again, lifts, extends, pauses.

use super::line::{Dates, ends_pause, number_on};
use super::ready::{ReadyPattern, Trigger};
use super::walk::{AskedFor, Case, End, Instance, Walk};
use super::{NotTaken, StartedBy};
use crate::day::{Day, PeriodKind};
use crate::event::{Event, Kind};
use crate::number::Decimal;
use crate::rules::deadline::{Due, Moment, period_kind};
use crate::rules::facts::FactSet;
use crate::rules::scope::Answer;

/// A start of a duty that is asked for.
struct Starting<'j> {
    duty: usize,
    start: usize,
    since: Moment,
    by: StartedBy<'j>,
    /// The one whose end starts it.
    follows: Option<usize>,
    period: PeriodKind,
}

impl<'j> Walk<'_, 'j> {
    /// One event, in the order of the vocabulary: starts, then what it does to what is owed.
    pub(super) fn event(&mut self, at: usize, event: &Event) {
        if ends_pause(event) {
            self.resume(event.day);
        }
        self.starts_by_event(at, event);
        self.acts(at, event, None);
        if event.kind == Kind::Extension {
            self.extend(at, event);
        }
        if event.kind == Kind::Mothball {
            self.pause(event.day);
        }
        if event.kind == Kind::Retire && self.retired.is_none() {
            self.retired = Some(event.day);
        }
    }

    fn starts_by_event(&mut self, at: usize, event: &Event) {
        if self.prepared.applies(self.set, event.day) != Some(true) {
            return;
        }
        let ready = self.ready;
        let by = StartedBy::Event(event.entry);
        let mut case = None;
        for (duty, start) in starts(ready) {
            let Trigger::Event(words) = &ready[duty].starts[start].trigger else {
                continue;
            };
            if !words.fit(event) {
                continue;
            }
            let starting = Starting {
                duty,
                start,
                since: Moment::of(event),
                by,
                follows: None,
                period: PeriodKind::Year,
            };
            let opened = |walk: &mut Self| {
                *case.get_or_insert_with(|| walk.open(Moment::of(event), by, Some(at)))
            };
            self.start_somewhere(starting, opened);
        }
    }

    /// A limit that was passed at an event: its own case, or the open one that a start names.
    /// Work of the same visit or day counts, even if it stands before the charge.
    pub(super) fn passed(&mut self, exceedance: usize, at: usize) {
        let found = &self.story.exceedances[exceedance];
        let ready = self.ready;
        let limits = &self.prepared.judge.sets[self.set].limits;
        let since = Moment {
            day: found.on,
            second: found.second,
        };
        let year_starts = self.prepared.set(self.set).year_starts.as_deref();
        let period = found.limit.period;
        let period = period.map_or(PeriodKind::Year, |word| period_kind(word, year_starts));
        let by = StartedBy::Limit(exceedance);
        let mut case = None;
        for (duty, start) in starts(ready) {
            let Trigger::Limit(limit) = ready[duty].starts[start].trigger else {
                continue;
            };
            if !std::ptr::eq(limits[limit].limit, found.limit) {
                continue;
            }
            let starting = Starting {
                duty,
                start,
                since,
                by,
                follows: None,
                period,
            };
            let opened =
                |walk: &mut Self| *case.get_or_insert_with(|| walk.open(since, by, Some(at)));
            self.start_somewhere(starting, opened);
        }
        if let Some(case) = case {
            self.look_back(case, at);
        }
    }

    pub(super) fn period_ended(&mut self, last: Day, duty: usize, start: usize, kind: PeriodKind) {
        let over = self.retired.is_some_and(|retired| retired <= last);
        if over || self.prepared.applies(self.set, last) != Some(true) {
            return;
        }
        let starting = Starting {
            duty,
            start,
            since: Moment::of_day(last),
            by: StartedBy::PeriodEnd,
            follows: None,
            period: kind,
        };
        self.start_somewhere(starting, |walk| {
            walk.open(Moment::of_day(last), StartedBy::PeriodEnd, None)
        });
    }

    /// What follows from a duty that was not fulfilled by its due day.
    pub(super) fn miss(&mut self, at: usize, since: Day) {
        self.owed[at].missed = true;
        self.follow(
            at,
            Moment::of_day(since),
            |duty| StartedBy::Missed(duty),
            |trigger| matches!(trigger, Trigger::Missed(_)),
        );
    }

    /// Starts what follows from one duty, in its case.
    fn follow(
        &mut self,
        at: usize,
        since: Moment,
        by: impl Fn(&'j crate::rules::file::Duty) -> StartedBy<'j>,
        wanted: impl Fn(&Trigger) -> bool,
    ) {
        let (of, case) = (self.owed[at].duty, self.owed[at].case);
        let ready = self.ready;
        for (duty, start) in starts(ready) {
            let trigger = &ready[duty].starts[start].trigger;
            let names = match trigger {
                Trigger::Done(named) | Trigger::Missed(named) => *named == of,
                _ => false,
            };
            if names && wanted(trigger) {
                let starting = Starting {
                    duty,
                    start,
                    since,
                    by: by(ready[of].duty),
                    follows: Some(at),
                    period: PeriodKind::Year,
                };
                self.start_somewhere(starting, |_| case);
            }
        }
    }

    fn open(&mut self, root: Moment, started_by: StartedBy<'j>, event: Option<usize>) -> usize {
        self.cases.push(Case {
            root,
            started_by,
            event,
        });
        self.cases.len() - 1
    }

    /// Starts a duty in the case that its conditions name, else in the one that is given.
    fn start_somewhere(&mut self, starting: Starting<'j>, given: impl FnOnce(&mut Self) -> usize) {
        let ready = self.ready;
        let start = &ready[starting.duty].starts[starting.start];
        let is_open = |duty: usize| {
            self.owed
                .iter()
                .any(|one| one.duty == duty && one.end.is_none())
        };
        if start.unless_open.is_some_and(is_open) {
            return;
        }
        if self
            .prepared
            .asking(self.set, starting.since.day)
            .all(&start.when)
            != Answer::Yes
        {
            return;
        }
        let case = match (start.while_open, start.after_done) {
            (None, None) => None,
            (open, done) => {
                let holds = |case: &usize| {
                    let has = |duty: usize, wanted: fn(&Instance) -> bool| {
                        let of_case = self.owed.iter().filter(|one| one.case == *case);
                        let mut of_duty = of_case.filter(|one| one.duty == duty);
                        of_duty.any(wanted)
                    };
                    open.is_none_or(|duty| has(duty, |one| one.end.is_none()))
                        && done.is_none_or(|duty| {
                            has(duty, |one| matches!(one.end, Some(End::Done { .. })))
                        })
                };
                match (0..self.cases.len()).rev().find(holds) {
                    Some(case) => Some(case),
                    None => return,
                }
            }
        };
        let case = match case {
            Some(case) => case,
            None => given(self),
        };
        self.start(starting, case);
    }

    fn start(&mut self, starting: Starting<'j>, case: usize) {
        let ready = &self.ready[starting.duty];
        let day = starting.since.day;
        if ready.of_organisation || day < ready.from || day > ready.until {
            return;
        }
        let same = |one: &&Instance| one.duty == starting.duty;
        let mut others = self.owed.iter().filter(same);
        let ignored = others.any(|one| {
            let is_open = one.end.is_none();
            let owed = is_open || matches!(one.end, Some(End::Done { .. }));
            // One leak may be told by two events of a day: what they start is the same.
            ready.duty.once
                || (ready.duty.repeats && is_open)
                || (one.case == case && owed)
                || (is_open && one.since.day == day && same_trigger(one.started_by, starting.by))
        });
        if ignored {
            return;
        }
        let missing = match self.asking(case, day).all(&ready.when) {
            Answer::No => return,
            Answer::Yes => FactSet::NONE,
            Answer::Unknown(facts) => facts,
        };
        self.missing = self.missing.and(missing);
        let pauses = !ready.duty.paused_by.is_empty();
        self.owed.push(Instance {
            duty: starting.duty,
            case,
            since: starting.since,
            started_by: starting.by,
            previous_start: starting.follows.map(|at| self.owed[at].since),
            follows: starting.follows,
            period: starting.period,
            acts: Vec::new(),
            too_early: Vec::new(),
            asked: Vec::new(),
            paused: self.mothballed.filter(|_| pauses).map(|_| day),
            moved: 0,
            end: None,
            missed: false,
            missing,
        });
    }

    /// Lets the earlier events of the same day or visit act on a case that a charge opened.
    fn look_back(&mut self, case: usize, at: usize) {
        let events = self.story.events;
        let (day, visit) = (events[at].day, events[at].visit);
        for (earlier, event) in events.iter().enumerate().take(at) {
            if event.day == day || (visit.is_some() && event.visit == visit) {
                self.acts(earlier, event, Some(case));
            }
        }
    }

    /// Fulfils, opens again, lifts. `only`: what belongs to one case.
    fn acts(&mut self, at: usize, event: &Event, only: Option<usize>) {
        let ready = self.ready;
        let newest: Vec<Option<usize>> =
            (0..ready.len()).map(|duty| self.newest_act(duty)).collect();
        for one in 0..self.owed.len() {
            let (duty, case) = (self.owed[one].duty, self.owed[one].case);
            if only.is_some_and(|only| only != case) {
                continue;
            }
            match self.owed[one].end {
                None => {
                    if self.fits(&ready[duty].done_by, one, event) {
                        self.fulfil(one, at, event);
                    }
                    let lifts = self.fits(&ready[duty].lifted_by, one, event);
                    if lifts && self.owed[one].end.is_none() {
                        self.owed[one].end = Some(End::Lifted(at));
                    }
                }
                Some(End::Done { act, .. }) if newest[duty] == Some(act) => {
                    if self.fits(&ready[duty].reopened_by, one, event) {
                        self.reopen(one, event);
                    }
                }
                Some(_) => {}
            }
        }
    }

    /// The last event that fulfilled a duty in any case: what is undone is that work.
    fn newest_act(&self, duty: usize) -> Option<usize> {
        let of_duty = self.owed.iter().filter(|one| one.duty == duty);
        let acts = of_duty.filter_map(|one| match one.end {
            Some(End::Done { act, .. }) => Some(act),
            _ => None,
        });
        acts.max()
    }

    fn fits(&self, patterns: &[ReadyPattern], one: usize, event: &Event) -> bool {
        patterns.iter().any(|pattern| {
            pattern.words.fit(event)
                && pattern
                    .under
                    .is_none_or(|ground| self.has_taken(one, ground))
                && pattern
                    .min_run_hours
                    .is_none_or(|value| self.ran(one, value, event))
        })
    }

    fn has_taken(&self, at: usize, ground: &str) -> bool {
        let one = &self.owed[at];
        let extensions = &self.ready[self.ready[one.duty].extensions_of].extensions;
        let taken = one.asked.iter().filter(|asked| asked.taken.is_ok());
        let mut grounds = taken.map(|asked| &extensions[asked.extension].extension.ground);
        grounds.any(|taken| taken == ground)
    }

    /// Whether running hours, where they are stated, reach a value.
    fn ran(&self, at: usize, value: usize, event: &Event) -> bool {
        let Some(stated) = event.word("run_hours").and_then(Decimal::parse) else {
            return true;
        };
        let asking = self.binding(at, event.day);
        number_on(&asking, value).is_none_or(|needed| stated.fraction() >= needed.limit())
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
        } else {
            let due = self.due(at, event.day);
            let one = &mut self.owed[at];
            let late = one.missed || due.is_some_and(|due| moment.is_after(due));
            one.end = Some(End::Done { act, late });
        }
        let by = |duty| StartedBy::Done(duty, event.entry);
        self.follow(at, moment, by, |trigger| {
            matches!(trigger, Trigger::Done(_))
        });
    }

    /// Opens a fulfilled duty again with its old date; when that is over it is missed at once.
    fn reopen(&mut self, at: usize, event: &Event) {
        let one = &mut self.owed[at];
        one.end = None;
        one.missed = false;
        let due = self.due(at, event.day).map(Due::day);
        if due.is_some_and(|due| due < event.day) {
            self.miss(at, event.day);
        }
    }

    fn extend(&mut self, at: usize, event: &Event) {
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
    fn pause(&mut self, day: Day) {
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
    fn resume(&mut self, day: Day) {
        self.mothballed = None;
        for one in &mut self.owed {
            if let Some(since) = one.paused.take() {
                one.moved += day.days_since(since);
            }
        }
    }
}

/// Every start of every duty, by places.
fn starts(ready: &[super::ready::ReadyDuty]) -> Vec<(usize, usize)> {
    let of = |(duty, one): (usize, &super::ready::ReadyDuty)| {
        (0..one.starts.len())
            .map(move |start| (duty, start))
            .collect::<Vec<_>>()
    };
    ready.iter().enumerate().flat_map(of).collect()
}

fn same_trigger(one: StartedBy, other: StartedBy) -> bool {
    matches!((one, other), (StartedBy::Event(_), StartedBy::Event(_)))
}
