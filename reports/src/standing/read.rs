//! Which set judges an addition, and how additions of a day are read.

use super::shown;
use super::{AdditionShown, Case};
use crate::appliance::Facts;
use crate::day::Day;
use crate::leak_rate::{self, Addition, Netting, Reading};
use crate::rules::review::{SiteSettings, reading_of};
use crate::rules::{LimitOn, PreparedAppliance};

/// The additions of a history that are kept (asked with their day, and whether they are the last),
/// each with the figures of the set that judges it: of those that apply on its day the one with
/// the lowest limit, else of the first set that reads leak rates.
pub(super) fn additions(
    case: &Case<'_, '_>,
    kept: impl Fn(Day, bool) -> bool,
) -> Vec<AdditionShown> {
    let (prepared, reviews, events) = (case.prepared, case.reviews, case.events);
    let plain;
    let (base, netting): (&[Addition], Netting) = match first_reading(prepared) {
        Some(set) => (&reviews[set].additions, reviews[set].reading.netting),
        None => {
            let reading = plain_reading(case.settings);
            plain = leak_rate::additions(events, case.facts, &reading);
            (&plain, reading.netting)
        }
    };
    let last = base.len().saturating_sub(1);
    let wanted = (base.iter().enumerate()).filter(|(at, it)| kept(it.day, *at == last));
    let shown = wanted.map(|(_, addition)| {
        let judging = judging_set(prepared, reviews.len(), addition.day);
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
        let entries = figures.entries(events, netting);
        let method = case.settings.method(addition.day);
        shown::addition(prepared, figures, entries, judging, method)
    });
    shown.collect()
}

/// The first set that reads leak rates.
fn first_reading(prepared: &PreparedAppliance) -> Option<usize> {
    let reads = |set: &usize| !prepared.leak_rate_limits(*set, Facts::ALWAYS).is_empty();
    (0..prepared.sets()).find(reads)
}

/// How additions are read where no set says another.
fn plain_reading(settings: &SiteSettings) -> Reading {
    Reading {
        netting: settings.netting.unwrap_or(Netting::Visit),
        ..Reading::default()
    }
}

/// How additions of a day are read: by the set that judges it, as [`additions`] does.
pub(super) fn reading_at(
    prepared: &PreparedAppliance,
    settings: &SiteSettings,
    day: Day,
) -> Reading {
    let set = judging_set(prepared, prepared.sets(), day).or_else(|| first_reading(prepared));
    match set {
        Some(set) => reading_of(prepared.set(set), settings.netting),
        None => plain_reading(settings),
    }
}

/// Which of so many sets judges an addition of a day.
pub(super) fn judging_set(prepared: &PreparedAppliance, sets: usize, day: Day) -> Option<usize> {
    let limits = (0..sets).map(|set| (set, prepared.leak_rate_limit(set, day)));
    let applying = limits.clone().filter_map(|(set, limit)| match limit {
        LimitOn::Applies { bounds, .. } => Some((bounds.first()?.number.limit(), set)),
        _ => None,
    });
    let doubtful = limits.filter(|(_, limit)| matches!(limit, LimitOn::CannotJudge { .. }));
    let lowest = applying.min().map(|(_, set)| set);
    lowest.or_else(|| doubtful.map(|(set, _)| set).next())
}
