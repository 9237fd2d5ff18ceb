//! `assess`: history + rules + a day = standing.
//!
//! The one function that a posting, a point query, a report and an auditor's re-computation call.
//! It reads the events of one appliance up to the day asked (corrections and links applied), and
//! says what the book holds, what was added and lost, which limits were passed, what is owed first
//! because of it, and what nobody can say until a fact is found. Of duties it works out the first
//! due date of those that a limit starts; what happens to a duty afterwards is not read here.

mod holding;
mod shown;
mod why;

pub use shown::{
    AdditionShown, BoundShown, DutyShown, ExceedanceShown, LineShown, MassShown, RateShown, Rates,
    SetShown, Value,
};

use crate::appliance::Facts;
use crate::day::Day;
use crate::event::Event;
use crate::leak_rate::{self, Addition, Method, Netting, Reading};
use crate::rules::review::{Review, SiteSettings, reading_of};
use crate::rules::{Judge, LimitOn, PreparedAppliance};
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
    /// What is owed first because of them.
    pub duties: Vec<DutyShown>,
    /// Facts to be found, sorted.
    pub missing: Vec<&'static str>,
    /// What each rule set says of the appliance on the day.
    pub sets: Vec<SetShown>,
    /// The reasons, as sentences.
    pub why: Vec<String>,
}

/// Works out the standing of one appliance. Events after the day are left out; the others must be
/// in the order of [`Event::sort`].
pub fn assess(
    judge: &Judge,
    facts: &Facts,
    events: &[Event],
    settings: &SiteSettings,
    day: Day,
) -> Standing {
    let events = &events[..events.partition_point(|event| event.day <= day)];
    let prepared = judge.appliance(facts);
    let reviews: Vec<Review> = (0..judge.sets().count())
        .map(|set| prepared.review_all(set, events, facts, settings, day))
        .collect();
    let held = holding::held(events, facts);
    let additions = additions(&prepared, &reviews, events, facts, settings);
    let sets: Vec<SetShown> = (judge.sets().enumerate())
        .map(|(at, set)| shown::set(&prepared, set, &reviews[at], at, day))
        .collect();
    let mut exceedances = Vec::new();
    let mut duties = Vec::new();
    for (set, review) in judge.sets().zip(&reviews) {
        for found in &review.exceedances {
            let worked = why::worked(set, review, found, settings);
            duties.extend(found.due.iter().map(|due| shown::duty(set, due, &worked)));
            exceedances.push(shown::exceedance(set, found, worked));
        }
    }
    // The earliest deadline leads; what has no date comes after.
    duties.sort_by(|a, b| (a.due.is_none(), &a.due).cmp(&(b.due.is_none(), &b.due)));
    exceedances.sort_by(|a, b| a.on.cmp(&b.on));
    let missing: BTreeSet<&str> = reviews.iter().flat_map(|r| r.missing.clone()).collect();
    Standing {
        day: day.to_string(),
        full_charge: facts.full_charge(day).map(MassShown::of_mass),
        balance: MassShown::of(held.balance),
        content: held.content.map(MassShown::of),
        presumed_leaked: MassShown::of(held.presumed_leaked),
        why: why::reasons(&sets, &duties),
        additions,
        method: method_word(settings.method(day)),
        exceedances,
        duties,
        missing: missing.into_iter().collect(),
        sets,
    }
}

/// The word of a method.
pub fn method_word(method: Method) -> &'static str {
    match method {
        Method::Annualising => "annualising",
        Method::Rolling => "rolling",
    }
}

/// The additions of a history, each with the figures of the set that judges it: of those that
/// apply on its day the one with the lowest limit, else of the first set that reads leak rates.
fn additions(
    prepared: &PreparedAppliance,
    reviews: &[Review],
    events: &[Event],
    facts: &Facts,
    settings: &SiteSettings,
) -> Vec<AdditionShown> {
    let reads = |set: &usize| !prepared.leak_rate_limits(*set, Facts::ALWAYS).is_empty();
    let first = (0..reviews.len()).find(reads);
    let plain;
    let (base, netting): (&[Addition], Netting) = match first {
        Some(set) => (&reviews[set].additions, reviews[set].reading.netting),
        None => {
            let netting = settings.netting.unwrap_or(Netting::Visit);
            let reading = Reading {
                netting,
                ..Reading::default()
            };
            plain = leak_rate::additions(events, facts, &reading);
            (&plain, netting)
        }
    };
    let shown = base.iter().map(|addition| {
        let judging = judging_set(prepared, reviews, addition.day);
        let own = judging.and_then(|set| {
            let same = |other: &&Addition| other.at == addition.at;
            reviews[set].additions.iter().find(same)
        });
        let netting = judging.map_or(netting, |set| reviews[set].reading.netting);
        let figures = own.unwrap_or(addition);
        let counts = judging.is_none_or(|set| {
            let from = reviews[set].reading.counts_from;
            from.is_none_or(|from| from <= addition.day)
        });
        let judging = judging.filter(|_| counts);
        shown::addition(prepared, figures, figures.entries(events, netting), judging)
    });
    shown.collect()
}

/// Which set judges an addition of a day.
fn judging_set(prepared: &PreparedAppliance, reviews: &[Review], day: Day) -> Option<usize> {
    let limits = (0..reviews.len()).map(|set| (set, prepared.leak_rate_limit(set, day)));
    let applying = limits.clone().filter_map(|(set, limit)| match limit {
        LimitOn::Applies { bounds, .. } => Some((bounds.first()?.number.limit(), set)),
        _ => None,
    });
    let doubtful = limits.filter(|(_, limit)| matches!(limit, LimitOn::CannotJudge { .. }));
    let lowest = applying.min().map(|(_, set)| set);
    lowest.or_else(|| doubtful.map(|(set, _)| set).next())
}

/// How the leading rule set reads additions, for callers that show figures of one reading only.
pub fn leading_reading(judge: &Judge, settings: &SiteSettings) -> Reading {
    let reads = judge.sets().find(|set| set.leak_rate.is_some());
    match reads {
        Some(set) => reading_of(set, settings.netting),
        None => {
            let netting = settings.netting.unwrap_or(Netting::Visit);
            Reading {
                netting,
                ..Reading::default()
            }
        }
    }
}
