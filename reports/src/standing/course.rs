//! The course of an appliance over a stretch of days: what a drawing of its loss shows beside its
//! standing.
//!
//! Rates of additions are those of the standing. What lies between them is read here by the same
//! reader and the same rules: which limit judged from which day on, how the rolling year stood,
//! what was repaired and tested, which charges were no additions, and what a corrected entry had
//! said before.

use super::Over;
use super::read::{judging_set, reading_at};
use super::shown::{LineShown, MassShown, line};
use crate::appliance::Facts;
use crate::day::Day;
use crate::event::{Event, Kind, Reason};
use crate::leak_rate::{Rate, Reader, Reading, shows_all_leaks_repaired};
use crate::number::Fraction;
use crate::rules::review::SiteSettings;
use crate::rules::{Judge, LimitOn, PreparedAppliance};
use std::collections::BTreeSet;

/// What happened between two days, the last included.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// The first day.
    pub first: Day,
    /// The last day.
    pub last: Day,
    /// The limit from each day on, the earliest first; the first stands from `first` on.
    pub limits: Vec<LimitFrom>,
    /// The rolling year from each day on, likewise.
    pub rolling: Vec<RollingFrom>,
    /// The passed test since which the rolling year counts, where that is less than a year ago.
    pub restarted: Option<Day>,
    /// Repairs and verification tests, in order.
    pub steps: Vec<StepDone>,
    /// Charges that are no additions, in order.
    pub left_out: Vec<LeftOut>,
    /// Charges that were corrected or taken back, in order.
    pub corrected: Vec<Corrected>,
    /// Days on which anything was booked about it, each once.
    pub days: Vec<Day>,
    /// The day it was retired, if it was.
    pub retired: Option<Day>,
}

/// The leak-rate limit from a day on: of the sets that apply the lowest.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitFrom {
    /// The first day.
    pub from: Day,
    /// The number; `None`: there is none, or nobody can say.
    pub number: Option<LineShown>,
    /// The title of its set.
    pub title: Option<String>,
    /// Whether a limit applies: `No` means that none does.
    pub known: Over,
}

/// The rolling year from a day on.
#[derive(Clone, Debug, PartialEq)]
pub struct RollingFrom {
    /// The first day.
    pub from: Day,
    /// Percent of the full charge; `None`: the full charge is unknown.
    pub percent: Option<Fraction>,
}

/// A repair or a verification test.
#[derive(Clone, Debug, PartialEq)]
pub struct StepDone {
    /// Its day.
    pub day: Day,
    /// Its entry.
    pub entry: u64,
    /// What it was.
    pub what: StepKind,
}

/// What a step was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StepKind {
    /// A repair.
    Repair,
    /// A verification test that passed.
    Passed,
    /// One that failed.
    Failed,
    /// One of which neither is stated.
    Undecided,
}

/// Charges of a day that are no additions, for one reason.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOut {
    /// Their day.
    pub day: Day,
    /// What went in.
    pub mass: MassShown,
    /// Their entries.
    pub entries: Vec<u64>,
    /// `installation`, `after_retrofit`, `seasonal`, `before_the_rule`: the set that judges did not count
    /// yet, or `netted`: as much came out again.
    pub why: &'static str,
}

/// A charge that was corrected.
#[derive(Clone, Debug, PartialEq)]
pub struct Corrected {
    /// The day it was first booked for.
    pub day: Day,
    /// What was first booked.
    pub mass: MassShown,
    /// Its entry.
    pub entry: u64,
    /// The correction.
    pub by: u64,
    /// What stands instead: its entry, its day and its mass; `None`: it was taken back.
    pub now: Option<(u64, Day, MassShown)>,
}

/// A charge that a correction took out of a history.
#[derive(Clone, Debug, PartialEq)]
pub struct Replaced {
    /// As it was first booked.
    pub event: Event,
    /// The correction.
    pub by: u64,
    /// The newest correction of its chain: what stands now has its number.
    pub newest: u64,
}

/// Reads the course of an appliance. `events` are in the order of [`Event::sort`], corrections
/// applied; `additions`: entries of its additions, as the standing lists them; `replaced`: what
/// corrections took out.
pub fn course(
    judge: &Judge,
    facts: &Facts,
    events: &[Event],
    settings: &SiteSettings,
    (first, last): (Day, Day),
    additions: &BTreeSet<u64>,
    replaced: &[Replaced],
) -> Course {
    let events = &events[..events.partition_point(|event| event.day <= last)];
    let prepared = judge.appliance(facts);
    let within = |day: Day| day >= first && day <= last;
    let inside = || events.iter().filter(|event| within(event.day));
    let mut days: Vec<Day> = inside().map(|event| event.day).collect();
    days.dedup();
    Course {
        first,
        last,
        limits: limits(&prepared, first, last),
        rolling: rolling(&prepared, facts, events, settings, (first, last)),
        restarted: restarted(events, last),
        steps: inside().filter_map(step).collect(),
        left_out: left_out(inside(), additions, &|day| {
            reading_at(&prepared, settings, day)
                .counts_from
                .is_some_and(|from| day < from)
        }),
        corrected: corrected(replaced, events, within),
        days,
        retired: retired(events),
    }
}

fn retired(events: &[Event]) -> Option<Day> {
    let mut gone = None;
    for event in events {
        match event.kind {
            Kind::Retire => gone = Some(event.day),
            Kind::BackInOperation => gone = None,
            _ => {}
        }
    }
    gone
}

/// 40 CFR 82.152: the sum "over the period that has passed since the last successful follow-up
/// verification test", if that is less than a year. A retrofit begins anew, whatever was tested before.
fn restarted(events: &[Event], last: Day) -> Option<Day> {
    let mut since = None;
    for event in events {
        match event.kind {
            Kind::Retrofit => since = None,
            Kind::VerificationTest if shows_all_leaks_repaired(event) => since = Some(event.day),
            _ => {}
        }
    }
    since.filter(|day: &Day| last.days_since(*day) < 365)
}

/// Days from which on a set may say something else; the first of all is among them.
fn starts(prepared: &PreparedAppliance, first: Day, last: Day) -> BTreeSet<Day> {
    let mut starts = BTreeSet::from([first]);
    for set in 0..prepared.sets() {
        let later = prepared.spans_after(set, first);
        starts.extend(later.take_while(|day| **day <= last));
    }
    starts
}

/// The limit that judges on each day.
fn limits(prepared: &PreparedAppliance, first: Day, last: Day) -> Vec<LimitFrom> {
    let mut limits: Vec<LimitFrom> = Vec::new();
    for from in starts(prepared, first, last) {
        let limit = limit_from(prepared, from);
        let same = |before: &LimitFrom| {
            let cited = |limit: &LimitFrom| {
                (limit.number.as_ref()).map(|it| (it.number.clone(), it.clause.clone()))
            };
            (before.known, &before.title, cited(before))
                == (limit.known, &limit.title, cited(&limit))
        };
        if !limits.last().is_some_and(same) {
            limits.push(limit);
        }
    }
    limits
}

fn limit_from(prepared: &PreparedAppliance, from: Day) -> LimitFrom {
    let none = |known| LimitFrom {
        from,
        number: None,
        title: None,
        known,
    };
    let Some(set) = judging_set(prepared, prepared.sets(), from) else {
        return none(Over::No);
    };
    match prepared.leak_rate_limit(set, from) {
        LimitOn::Applies { bounds, .. } => LimitFrom {
            number: bounds.first().map(|bound| line(&bound.number, None)),
            title: Some(prepared.set(set).title.clone()),
            ..none(Over::Yes)
        },
        _ => none(Over::CannotJudge),
    }
}

/// How the rolling year stood. It can change on the day of a charge, 365 days after one, on the day of a
/// restart, with the full charge, and where another set judges, which may count from another day on.
fn rolling(
    prepared: &PreparedAppliance,
    facts: &Facts,
    events: &[Event],
    settings: &SiteSettings,
    (first, last): (Day, Day),
) -> Vec<RollingFrom> {
    let mut days = BTreeSet::from([first]);
    for event in events {
        days.extend([event.day, event.day.plus(1), event.day.plus(365)]);
    }
    days.extend(facts.series("full_charge").iter().map(|(day, _)| *day));
    days.extend(starts(prepared, first, last));
    let mut known: Vec<(Reading, Reader)> = Vec::new();
    let mut line: Vec<RollingFrom> = Vec::new();
    for day in days.range(first..=last).copied() {
        let reading = reading_at(prepared, settings, day);
        let at = known.iter().position(|(other, _)| *other == reading);
        let at = at.unwrap_or_else(|| {
            known.push((reading.clone(), Reader::default()));
            known.len() - 1
        });
        let until = events.partition_point(|event| event.day <= day);
        let reader = &mut known[at].1;
        reader.read(&events[..until], facts, &reading);
        let sum = reader.rolling_on(day);
        let full = facts.full_charge(day).filter(|full| full.steps() > 0);
        let percent = full.map(|full| Rate::new(sum * 100, i128::from(full.steps())).fraction());
        if line.last().is_none_or(|before| before.percent != percent) {
            line.push(RollingFrom { from: day, percent });
        }
    }
    line
}

fn step(event: &Event) -> Option<StepDone> {
    let what = match (event.kind, event.word("result")) {
        (Kind::Repair, _) => StepKind::Repair,
        (Kind::VerificationTest, Some("passed")) => StepKind::Passed,
        (Kind::VerificationTest, Some("failed")) => StepKind::Failed,
        (Kind::VerificationTest, _) => StepKind::Undecided,
        _ => return None,
    };
    Some(StepDone {
        day: event.day,
        entry: event.entry,
        what,
    })
}

fn left_out<'e>(
    events: impl Iterator<Item = &'e Event>,
    additions: &BTreeSet<u64>,
    is_early: &dyn Fn(Day) -> bool,
) -> Vec<LeftOut> {
    let mut all: Vec<(LeftOut, i128)> = Vec::new();
    for event in events {
        let charged = matches!(event.kind, Kind::Charge | Kind::OutsideCharge);
        if !charged || additions.contains(&event.entry) {
            continue;
        }
        let why = match event.reason {
            Some(Reason::Installation) => "installation",
            Some(Reason::AfterRetrofit) => "after_retrofit",
            Some(Reason::Seasonal) => "seasonal",
            _ if is_early(event.day) => "before_the_rule",
            _ => "netted",
        };
        let steps = i128::from(event.mass.steps());
        let same = |it: &&mut (LeftOut, i128)| it.0.day == event.day && it.0.why == why;
        match all.last_mut().filter(same) {
            Some((together, sum)) => {
                *sum += steps;
                together.mass = MassShown::of(*sum);
                together.entries.push(event.entry);
            }
            None => {
                let own = LeftOut {
                    day: event.day,
                    mass: MassShown::of(steps),
                    entries: vec![event.entry],
                    why,
                };
                all.push((own, steps));
            }
        }
    }
    all.into_iter().map(|(together, _)| together).collect()
}

/// What was corrected: a charge whose mass or day is another one now, or that is gone.
fn corrected(
    replaced: &[Replaced],
    events: &[Event],
    within: impl Fn(Day) -> bool,
) -> Vec<Corrected> {
    let charged = |event: &Event| matches!(event.kind, Kind::Charge | Kind::OutsideCharge);
    let mut all = Vec::new();
    for old in replaced
        .iter()
        .filter(|old| charged(&old.event) && within(old.event.day))
    {
        let now = events
            .iter()
            .find(|event| event.entry == old.newest && charged(event));
        let same = |now: &Event| now.day == old.event.day && now.mass == old.event.mass;
        if now.is_some_and(same) {
            continue;
        }
        all.push(Corrected {
            day: old.event.day,
            mass: MassShown::of_mass(old.event.mass),
            entry: old.event.entry,
            by: old.by,
            now: now.map(|now| (now.entry, now.day, MassShown::of_mass(now.mass))),
        });
    }
    all.sort_by_key(|one| (one.day, one.entry));
    all
}
