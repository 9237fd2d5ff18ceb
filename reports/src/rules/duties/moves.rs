//! What starts a duty: an event, a limit that was passed, the end of a period, another duty.

use super::StartedBy;
use super::line::ends_pause;
use super::ready::Trigger;
use super::walk::{Case, End, Instance, Walk};
use crate::day::{Day, PeriodKind};
use crate::event::{Event, Kind};
use crate::rules::deadline::{Moment, period_kind};
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
        let by = StartedBy::Missed(self.ready[self.owed[at].duty].duty);
        self.follow(at, Moment::of_day(since), by);
    }

    /// Starts what follows from one duty that was done or missed, in its case.
    pub(super) fn follow(&mut self, at: usize, since: Moment, by: StartedBy<'j>) {
        let (of, case) = (self.owed[at].duty, self.owed[at].case);
        let ready = self.ready;
        for (duty, start) in starts(ready) {
            let follows = match (&ready[duty].starts[start].trigger, by) {
                (Trigger::Done(named), StartedBy::Done(..)) => *named == of,
                (Trigger::Missed(named), StartedBy::Missed(_)) => *named == of,
                _ => false,
            };
            if follows {
                let starting = Starting {
                    duty,
                    start,
                    since,
                    by,
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
        let by_event = |by: StartedBy| matches!(by, StartedBy::Event(_));
        let mut others = self.owed.iter().filter(same);
        let ignored = others.any(|one| {
            let is_open = one.end.is_none();
            let owed = is_open || matches!(one.end, Some(End::Done { .. }));
            // One leak may be told by two events of a day: what they start is the same.
            ready.duty.once
                || (ready.duty.repeats && is_open)
                || (one.case == case && owed)
                || (is_open
                    && one.since.day == day
                    && by_event(one.started_by)
                    && by_event(starting.by))
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
            closed: None,
            missed: false,
            missing,
        });
    }
}

/// Every start of every duty, by places.
fn starts(ready: &[super::ready::ReadyDuty]) -> impl Iterator<Item = (usize, usize)> {
    let of = |(duty, one): (usize, &super::ready::ReadyDuty)| {
        (0..one.starts.len()).map(move |start| (duty, start))
    };
    ready.iter().enumerate().flat_map(of)
}
