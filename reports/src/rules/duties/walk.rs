//! The walk: cases and what is owed in them, day by day.

use super::line::{Anchors, Dates, after, one_holds, told};
use super::ready::{ReadyDuty, Trigger};
use super::{NotTaken, StartedBy, Story};
use crate::day::{Day, Period, PeriodKind};
use crate::event::Event;
use crate::rules::deadline::{Due, Moment};
use crate::rules::facts::FactSet;
use crate::rules::judge::PreparedAppliance;
use crate::rules::scope::{Answer, Asking};
use crate::rules::words::AtEnd;

/// One duty of one case.
pub(super) struct Instance<'j> {
    pub duty: usize,
    pub case: usize,
    pub since: Moment,
    pub started_by: StartedBy<'j>,
    pub previous_start: Option<Moment>,
    /// The one whose end started it.
    pub follows: Option<usize>,
    pub period: PeriodKind,
    /// Acts of a cadence that counted, and acts that came too early: places of events.
    pub acts: Vec<usize>,
    pub too_early: Vec<usize>,
    /// Extensions: whose, which, the event, and what became of it.
    pub asked: Vec<AskedFor>,
    pub paused: Option<Day>,
    pub moved: i32,
    pub end: Option<End>,
    /// How many events had happened at its end: later ones say nothing of it.
    pub closed: Option<usize>,
    /// It was missed, and what follows from that has started.
    pub missed: bool,
    /// Facts without which nobody can say whether it is owed.
    pub missing: FactSet,
}

impl Instance<'_> {
    /// Lets a clock that stands go on from a day, by as many days later.
    pub(super) fn go_on(&mut self, day: Day) {
        if let Some(since) = self.paused.take() {
            self.moved += day.days_since(since).max(0);
        }
    }
}

/// An extension that an event asked for.
pub(super) struct AskedFor {
    pub extension: usize,
    pub event: usize,
    pub taken: Result<(), NotTaken>,
}

/// How a duty came to its end.
#[derive(Clone, Copy)]
pub(super) enum End {
    Done { act: usize, late: bool },
    Lifted(usize),
    Ended(Day),
    Lapsed(Day),
}

/// A case: what one limit, leak or event opened.
pub(super) struct Case<'j> {
    pub root: Moment,
    pub started_by: StartedBy<'j>,
    /// The place of the event that opened it.
    pub event: Option<usize>,
}

/// What happens without an event, in its order within a day.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Turn {
    PeriodEnd,
    Missed(usize),
    Ends(usize),
    Lapses,
}

/// A period that is over, and the start of a duty that waits for it.
struct PeriodOver {
    last: Day,
    duty: usize,
    start: usize,
    kind: PeriodKind,
}

pub(super) struct Walk<'w, 'j> {
    pub prepared: &'w PreparedAppliance<'j>,
    pub set: usize,
    pub ready: &'j [ReadyDuty<'j>],
    pub story: &'w Story<'w, 'j>,
    pub cases: Vec<Case<'j>>,
    pub owed: Vec<Instance<'j>>,
    pub missing: FactSet,
    /// How many events have happened.
    pub seen: usize,
    pub mothballed: Option<Day>,
    pub retired: Option<Day>,
    /// Ends of periods and of the rule's own time that are still to come, the next one last.
    periods: Vec<PeriodOver>,
    lapses: Vec<Day>,
}

impl<'w, 'j> Walk<'w, 'j> {
    pub(super) fn new(
        prepared: &'w PreparedAppliance<'j>,
        set: usize,
        story: &'w Story<'w, 'j>,
    ) -> Walk<'w, 'j> {
        let mut walk = Walk {
            prepared,
            set,
            ready: &prepared.judge.sets[set].duties,
            story,
            cases: Vec::new(),
            owed: Vec::new(),
            missing: FactSet::NONE,
            seen: 0,
            mothballed: None,
            retired: None,
            periods: Vec::new(),
            lapses: Vec::new(),
        };
        walk.periods = walk.periods_over();
        walk.lapses = walk.lapse_days();
        walk
    }

    /// Goes through the history up to the day asked.
    pub(super) fn run(&mut self) {
        let mut passed = 0;
        for (at, event) in self.story.events.iter().enumerate() {
            self.advance(event.day);
            self.seen = at + 1;
            self.event(at, event);
            while let Some(found) = self.story.exceedances.get(passed)
                && found.at as usize <= at
            {
                self.passed(passed, at);
                passed += 1;
            }
        }
        self.advance(self.story.day);
    }

    /// What happens without an event before a day: ends of periods, misses, ends.
    fn advance(&mut self, to: Day) {
        while let Some((day, turn)) = self.next_turn(to) {
            match turn {
                Turn::PeriodEnd => {
                    if let Some(over) = self.periods.pop() {
                        self.period_ended(over.last, over.duty, over.start, over.kind);
                    }
                }
                Turn::Missed(at) => self.miss(at, day),
                Turn::Ends(at) => self.end(at, End::Ended(day)),
                Turn::Lapses => {
                    self.lapses.pop();
                    for at in 0..self.owed.len() {
                        if self.owed[at].end.is_none() {
                            self.end(at, End::Lapsed(day.plus(1)));
                        }
                    }
                }
            }
        }
    }

    fn next_turn(&self, to: Day) -> Option<(Day, Turn)> {
        let period = self.periods.last().map(|over| (over.last, Turn::PeriodEnd));
        let lapse = self.lapses.last().map(|day| (*day, Turn::Lapses));
        let mut next = period.into_iter().chain(lapse).min();
        for (at, one) in self.owed.iter().enumerate() {
            if one.end.is_some() || one.paused.is_some() {
                continue;
            }
            let missed = self.missed_on(at, to).map(|day| (day, Turn::Missed(at)));
            let ends = self.ends_on(at, to).map(|day| (day, Turn::Ends(at)));
            next = missed.into_iter().chain(ends).chain(next).min();
        }
        next.filter(|(day, _)| *day < to)
    }

    /// The due day of a duty that was not missed yet, where it matters that it is missed: that of
    /// a cadence matters only to what follows from it and to pauses.
    fn missed_on(&self, at: usize, to: Day) -> Option<Day> {
        let one = &self.owed[at];
        let ready = &self.ready[one.duty];
        let matters = !ready.duty.repeats || ready.is_missed || !ready.duty.paused_by.is_empty();
        if one.missed || !matters {
            return None;
        }
        let today = to.plus(-1);
        let due = self.due(at, today)?.day();
        let needed =
            due >= to || !one_holds(&self.prepared.asking(self.set, due), &ready.not_while);
        needed.then_some(due)
    }

    /// The last days of the rule's own time after which open duties lapse.
    fn lapse_days(&self) -> Vec<Day> {
        let blocks = &self.prepared.judge.sets[self.set].set.covers;
        let ends = blocks
            .iter()
            .filter(|block| block.at_end == Some(AtEnd::Lapse));
        let over = ends.filter_map(|block| block.until).map(|until| until.0);
        let covered = |day: Day| self.prepared.applies(self.set, day.plus(1)) == Some(true);
        let mut days: Vec<Day> = over
            .filter(|day| *day < self.story.day && !covered(*day))
            .collect();
        days.sort_unstable_by(|a, b| b.cmp(a));
        days
    }

    /// The periods that are over before the day asked, from the installation on; where that is not
    /// known, from the first event on, and without any the last one only.
    fn periods_over(&self) -> Vec<PeriodOver> {
        let first = self.story.events.first().map(|event| event.day);
        let installed = self.prepared.subject.installed(self.story.day);
        let from = installed.or(first).unwrap_or(self.story.day.plus(-365));
        let mut over = Vec::new();
        for (duty, ready) in self.ready.iter().enumerate() {
            for (start, one) in ready.starts.iter().enumerate() {
                let Trigger::PeriodEnd(kind) = one.trigger else {
                    continue;
                };
                let begun = from.max(ready.from);
                let mut period = Period::around(begun, kind);
                while let Some(now) = period.filter(|now| now.last < self.story.day) {
                    over.push(PeriodOver {
                        last: now.last,
                        duty,
                        start,
                        kind,
                    });
                    period = Some(now.following(1));
                }
            }
        }
        over.sort_by_key(|over| std::cmp::Reverse((over.last, over.duty, over.start)));
        over
    }

    /// Brings a duty to its end.
    pub(super) fn end(&mut self, at: usize, end: End) {
        let seen = self.seen;
        let one = &mut self.owed[at];
        (one.end, one.closed, one.paused) = (Some(end), Some(seen), None);
    }

    /// The events of a case, as many as had happened.
    fn of_case(&self, case: usize, seen: usize) -> &'w [Event] {
        let events: &'w [Event] = self.story.events;
        let root = self.cases[case].root.day;
        let seen = &events[..seen];
        &seen[seen.partition_point(|event| event.day < root)..]
    }

    /// The question of a day, with what the events of a case said so far.
    pub(super) fn asking(&self, case: usize, day: Day) -> Asking<'_, 'j> {
        Asking {
            told: told(self.of_case(case, self.seen)),
            ..self.prepared.asking(self.set, day)
        }
    }

    /// The question whose numbers bind a duty: of its start, or of the day asked for a cadence.
    pub(super) fn binding(&self, at: usize, today: Day) -> Asking<'_, 'j> {
        let one = &self.owed[at];
        let repeats = self.ready[one.duty].duty.repeats;
        let day = if repeats { today } else { one.since.day };
        Asking {
            told: told(self.of_case(one.case, one.closed.unwrap_or(self.seen))),
            ..self.prepared.asking(self.set, day)
        }
    }

    pub(super) fn anchors(&self, at: usize) -> Anchors<'w> {
        let one = &self.owed[at];
        let act = one
            .acts
            .last()
            .map(|act| Moment::of(&self.story.events[*act]));
        let taken = one.asked.iter().rfind(|asked| asked.taken.is_ok());
        Anchors {
            start: one.since,
            root: self.cases[one.case].root,
            previous_start: one.previous_start,
            last: act,
            delivered: None,
            granted: None,
            last_extension: taken.map(|asked| self.story.events[asked.event].day),
            period: one.period,
            events: self.of_case(one.case, one.closed.unwrap_or(self.seen)),
            zone: self.story.zone,
        }
    }

    /// When a duty is due, extensions and pauses included.
    pub(super) fn due(&self, at: usize, today: Day) -> Option<Due> {
        let asking = self.binding(at, today);
        let dates = Dates::of(
            &asking,
            &self.ready[self.owed[at].duty].due,
            &self.anchors(at),
        );
        self.moved(at, &asking, dates.earliest()?)
    }

    /// A first due date moved by the extensions that were taken, and by pauses. An extension only
    /// moves a date later.
    pub(super) fn moved(&self, at: usize, asking: &Asking<'_, 'j>, first: Due) -> Option<Due> {
        let one = &self.owed[at];
        let mut due = first;
        for asked in one.asked.iter().filter(|asked| asked.taken.is_ok()) {
            if let Some(later) = self.extension_due(at, asking, asked)
                && later.order() > due.order()
            {
                due = later;
            }
        }
        Some(due.plus(one.moved))
    }

    /// The date that an extension gives.
    pub(super) fn extension_due(
        &self,
        at: usize,
        asking: &Asking<'_, 'j>,
        asked: &AskedFor,
    ) -> Option<Due> {
        let whose = self.ready[self.owed[at].duty].extensions_of;
        let extension = &self.ready[whose].extensions[asked.extension];
        let event = &self.story.events[asked.event];
        let day = |name| event.word(name).and_then(Day::parse);
        let anchors = Anchors {
            delivered: day("delivered_on"),
            granted: day("until"),
            ..self.anchors(at)
        };
        Dates::of(asking, &extension.due, &anchors).earliest()
    }

    /// When a cadence ends, because its limit was quiet for so long.
    fn ends_on(&self, at: usize, to: Day) -> Option<Day> {
        let one = &self.owed[at];
        let ready = &self.ready[one.duty];
        if ready.ends_after.is_empty() {
            return None;
        }
        let asking = self.asking(one.case, to.plus(-1));
        let limits = &self.prepared.judge.sets[self.set].limits;
        let ends = ready.ends_after.iter().filter_map(|end| {
            if asking.all(&end.when) != Answer::Yes {
                return None;
            }
            let limit = limits[end.limit].limit;
            let passed = self.story.exceedances.iter().rfind(|found| {
                std::ptr::eq(found.limit, limit) && (found.at as usize) < self.seen
            })?;
            let last = Moment::of_day(passed.on);
            after(&asking, end.within, last, self.story.zone).map(Due::day)
        });
        ends.min()
    }
}
