//! `assess`: history + rules + a day = standing.
//!
//! The one function that a posting, a point query, a report and an auditor's re-computation call.
//! It reads the events of one appliance up to the day asked (corrections and links applied), and
//! says what the book holds, what was added and lost, which limits were passed, what is owed first
//! because of it, how far that has come, and what nobody can say until a fact is found.

mod coming;
mod course;
mod duty;
mod holding;
mod layers;
mod owed;
mod read;
mod shown;
mod why;

pub use coming::{LimitToCome, limits_to_come};
pub use course::{
    Corrected, Course, LeftOut, LimitFrom, Replaced, RollingFrom, StepDone, StepKind, course,
};
pub use duty::{ActShown, DutyShown, ExtensionShown, Inspects, OpenedShown, StartShown};
pub(crate) use holding::presumed;
pub use layers::{LayerShown, layers_behind};
pub use owed::{duty_in_words, of_organisation_in_words, reviews_until};
pub use shown::{
    AdditionShown, BoundShown, ExceedanceShown, LineShown, MassShown, RateShown, Rates, SetShown,
    UncertaintyShown, Value,
};

use crate::appliance::Facts;
use crate::day::Day;
use crate::event::Event;
use crate::leak_rate::Method;
use crate::rules::deadline::Due;
use crate::rules::duties::{KnownThen, Owed, StartedBy};
use crate::rules::review::{Review, SiteSettings};
use crate::rules::{Judge, PreparedAppliance};
use read::additions;
use serde::Serialize;
use std::collections::BTreeSet;

/// What `assess` says of an appliance on a day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Standing {
    /// The day asked.
    pub day: String,
    /// The full charge in force; `None`: unknown.
    pub full_charge: Option<MassShown>,
    /// Charged less recovered; not what is in it.
    pub balance: MassShown,
    /// What is in it, where an entry returned it to full charge and nothing moved since.
    pub content: Option<MassShown>,
    /// What the balance held beyond the full charge then.
    pub presumed_leaked: MassShown,
    /// Every addition with its rate by both methods.
    pub additions: Vec<AdditionShown>,
    /// The method in force on the day.
    pub method: &'static str,
    /// Limits that were passed, in order.
    pub exceedances: Vec<ExceedanceShown>,
    /// What is owed, overdue first, and what was.
    pub duties: Vec<DutyShown>,
    /// Facts to be found, sorted.
    pub missing: Vec<&'static str>,
    /// What each rule set says of the appliance on the day.
    pub sets: Vec<SetShown>,
    /// The reasons, as sentences.
    pub why: Vec<String>,
}

impl Standing {
    /// The additions as they stand in the end: a later step of a visit supersedes the figure of an
    /// earlier one.
    pub fn settled(&self) -> Vec<&AdditionShown> {
        let stands = |at: usize, one: &AdditionShown| {
            let same = |later: &AdditionShown| later.entries.first() == one.entries.first();
            !self.additions[at + 1..].iter().any(same)
        };
        let all = self.additions.iter().enumerate();
        all.filter(|(at, one)| stands(*at, one))
            .map(|(_, one)| one)
            .collect()
    }

    /// Whether its newest addition passes the limit of its day by the method in force.
    pub fn over(&self) -> Over {
        over(&self.additions)
    }
}

fn over(additions: &[AdditionShown]) -> Over {
    let Some(newest) = additions.last() else {
        return Over::No;
    };
    match newest.counting().map(|rate| rate.over) {
        Some(Some(true)) => Over::Yes,
        Some(Some(false)) => Over::No,
        Some(None) | None => Over::CannotJudge,
    }
}

/// Works out the standing of one appliance. Events after the day are left out; the others must be
/// in the order of [`Event::sort`]. `known_then`: its history as the book knew it on an earlier
/// day, where anything came late or was corrected.
pub fn assess(
    judge: &Judge,
    facts: &Facts,
    events: &[Event],
    settings: &SiteSettings,
    day: Day,
    known_then: Option<KnownThen>,
) -> Standing {
    let events = &events[..events.partition_point(|event| event.day <= day)];
    let prepared = judge.appliance(facts);
    let reviews = reviews(&prepared, events, facts, settings, day, known_then);
    let case = Case {
        prepared: &prepared,
        reviews: &reviews,
        facts,
        events,
        settings,
        day,
    };
    let all = additions(&case, |_, _| true);
    case.standing(all, |_| true)
}

/// What is new of a standing: enough to answer a posting and to list a fleet.
#[derive(Clone, Debug, PartialEq)]
pub struct Newest {
    /// The standing with its newest addition, its newest exceedance, and those of the days asked.
    pub standing: Standing,
    /// Whether the newest addition passes the limit of its day by the method in force.
    pub over: Over,
    /// How many limits were passed in all.
    pub exceedances: u32,
    /// When a limit was passed last.
    pub exceeded_on: Option<Day>,
    /// The earliest date of what is owed.
    pub due: Option<Day>,
    /// Rate of the newest addition by the method in force, four decimals, cut toward zero.
    pub percent: Option<String>,
    /// That rate as a part of its limit, see [`RateShown::share`].
    pub share: Option<u32>,
}

/// Whether a limit is passed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Over {
    /// Not passed, or there is no limit or no addition.
    No,
    /// Passed.
    Yes,
    /// Nobody can say until a fact is found.
    CannotJudge,
}

impl Over {
    /// Every answer, in the order of their codes.
    pub const ALL: [Over; 3] = [Over::No, Over::Yes, Over::CannotJudge];

    /// The word of the wire.
    pub fn word(self) -> &'static str {
        match self {
            Over::No => "no",
            Over::Yes => "yes",
            Over::CannotJudge => "cannot_judge",
        }
    }
}

/// Works out what is new: as [`assess`], but of the lists only the newest and what bears on the
/// days in `about` (those of the entry just booked).
pub fn assess_newest(
    judge: &Judge,
    facts: &Facts,
    events: &[Event],
    settings: &SiteSettings,
    day: Day,
    known_then: Option<KnownThen>,
    about: &[Day],
) -> Newest {
    let prepared = judge.appliance(facts);
    newest_of(&prepared, facts, events, settings, day, known_then, about)
}

/// The same for an appliance that was prepared before.
pub fn newest_of(
    prepared: &PreparedAppliance,
    facts: &Facts,
    events: &[Event],
    settings: &SiteSettings,
    day: Day,
    known_then: Option<KnownThen>,
    about: &[Day],
) -> Newest {
    let events = &events[..events.partition_point(|event| event.day <= day)];
    let reviews = reviews(prepared, events, facts, settings, day, known_then);
    let found = || reviews.iter().flat_map(|review| &review.exceedances);
    let newest = found().max_by_key(|found| (found.on, found.second));
    let exceeded_on = newest.map(|newest| newest.on);
    let owed = reviews.iter().flat_map(|review| &review.duties);
    let owed = owed.filter(|duty| duty.state.is_owed());
    let due = owed.filter_map(|duty| duty.due).map(Due::day).min();
    let case = Case {
        prepared,
        reviews: &reviews,
        facts,
        events,
        settings,
        day,
    };
    let shown = additions(&case, |day, is_last| is_last || about.contains(&day));
    let over = over(&shown);
    let rate = shown.last().and_then(AdditionShown::counting);
    let percent = rate.map(|rate| rate.percent.clone());
    let share = rate.and_then(RateShown::share);
    let exceedances = u32::try_from(found().count()).unwrap_or(u32::MAX);
    let kept = |on: Day| Some(on) == exceeded_on || about.contains(&on);
    Newest {
        standing: case.standing(shown, kept),
        over,
        exceedances,
        exceeded_on,
        due,
        percent,
        share,
    }
}

/// What is owed of one appliance on the last of two days, and what began or was over from the first
/// on, by rule set, case and start: for reports, which show no additions. Events after the last day
/// are left out by the caller.
pub fn duties_since(
    prepared: &PreparedAppliance,
    facts: &Facts,
    events: &[Event],
    settings: &SiteSettings,
    days: (Day, Day),
    known_then: Option<KnownThen>,
) -> Vec<DutyShown> {
    let (first, day) = days;
    let mut duties = Vec::new();
    for (at, review) in reviews(prepared, events, facts, settings, day, known_then)
        .iter()
        .enumerate()
    {
        let set = prepared.set(at);
        let shown = review.duties.iter();
        let mut shown: Vec<&Owed> = shown.filter(|owed| shows(owed, |on| on >= first)).collect();
        // Sorting keeps the order of the rule file among steps of one case and day.
        shown.sort_by_key(|owed| (owed.case, owed.since));
        duties.extend(shown.into_iter().map(|owed| {
            let limit = match owed.started_by {
                StartedBy::Limit(at) => review.exceedances.get(at),
                _ => None,
            };
            let worked = limit.map(|found| why::worked(set, review, found, settings));
            duty::shown(set, review, owed, why::duty(owed, worked.as_deref()))
        }));
    }
    duties
}

fn reviews<'j>(
    prepared: &PreparedAppliance<'j>,
    events: &[Event],
    facts: &Facts,
    settings: &SiteSettings,
    day: Day,
    known_then: Option<KnownThen>,
) -> Vec<Review<'j>> {
    (0..prepared.sets())
        .map(|set| prepared.review(set, events, facts, settings, day, known_then))
        .collect()
}

/// What a standing is made from.
struct Case<'c, 'j> {
    prepared: &'c PreparedAppliance<'j>,
    reviews: &'c [Review<'j>],
    facts: &'c Facts,
    events: &'c [Event],
    settings: &'c SiteSettings,
    day: Day,
}

impl Case<'_, '_> {
    /// The standing with these additions and the exceedances of the days that are kept.
    fn standing(&self, additions: Vec<AdditionShown>, kept: impl Fn(Day) -> bool) -> Standing {
        let (day, reviews) = (self.day, self.reviews);
        let held = holding::held(self.events, self.facts);
        let sets: Vec<SetShown> = (reviews.iter().enumerate())
            .map(|(at, review)| {
                let set = self.prepared.set(at);
                shown::set(self.prepared, set, review, at, day)
            })
            .collect();
        let mut exceedances = Vec::new();
        let mut duties = Vec::new();
        for (at, review) in reviews.iter().enumerate() {
            let set = self.prepared.set(at);
            let worked = |found| why::worked(set, review, found, self.settings);
            for owed in review.duties.iter().filter(|owed| shows(owed, &kept)) {
                let limit = match owed.started_by {
                    StartedBy::Limit(at) => review.exceedances.get(at).map(worked),
                    _ => None,
                };
                let why = why::duty(owed, limit.as_deref());
                duties.push((rank(owed), duty::shown(set, review, owed, why)));
            }
            for found in review.exceedances.iter().filter(|found| kept(found.on)) {
                exceedances.push(shown::exceedance(set, found, worked(found)));
            }
        }
        duties.sort_by_key(|(rank, _)| *rank);
        let duties: Vec<DutyShown> = duties.into_iter().map(|(_, shown)| shown).collect();
        exceedances.sort_by(|a, b| a.on.cmp(&b.on));
        let missing: BTreeSet<&str> = reviews.iter().flat_map(|r| r.missing.clone()).collect();
        Standing {
            day: day.to_string(),
            full_charge: self.facts.full_charge(day).map(MassShown::of_mass),
            balance: MassShown::of(held.balance),
            content: held.content.map(MassShown::of),
            presumed_leaked: MassShown::of(held.presumed_leaked),
            why: why::reasons(&sets, &duties),
            additions,
            method: method_word(self.settings.method(day)),
            exceedances,
            duties,
            missing: missing.into_iter().collect(),
            sets,
        }
    }
}

/// Whether a standing shows a duty: what is owed always, what is over with its day.
fn shows(owed: &Owed, kept: impl Fn(Day) -> bool) -> bool {
    owed.state.is_owed() || kept(owed.since) || owed.on.is_some_and(kept)
}

/// What is overdue stands first, the longest first; then what is dated, the earliest first; then
/// what carries no date; what is over last, the newest first.
fn rank(owed: &Owed) -> (bool, bool, (Day, u32), std::cmp::Reverse<Day>) {
    let due = owed.due.map_or((owed.since, 0), Due::order);
    let over = !owed.state.is_owed();
    (over, owed.due.is_none(), due, std::cmp::Reverse(owed.since))
}

/// The word of a method.
pub fn method_word(method: Method) -> &'static str {
    match method {
        Method::Annualising => "annualising",
        Method::Rolling => "rolling",
    }
}
