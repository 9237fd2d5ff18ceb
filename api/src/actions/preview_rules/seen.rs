//! What the sets make of an appliance, as far as it takes to see whether two worlds differ.
//!
//! No text is written here: of most appliances nothing changes, and a fleet has many of them.

use super::Counts;
use crate::store::scan::Scanned;
use reports::day::Day;
use reports::rules::Judge;
use reports::rules::deadline::Due;
use reports::rules::duties::State;
use reports::rules::review::{Kept, SiteSettings, Told};

/// Limits passed, duties, facts to be found; each list in order.
#[derive(PartialEq, Eq)]
pub(super) struct Seen<'j> {
    passed: Vec<Passed<'j>>,
    owed: Vec<Owed<'j>>,
    missing: Vec<&'static str>,
}

/// Day, set, limit: days differ first, and are compared faster than names.
type Passed<'j> = (Day, &'j str, &'j str);

/// First day, set, duty; then how it stands: date, state, day on which it was over.
type Owed<'j> = ((Day, &'j str, &'j str), Stands);

type Stands = (Option<(Day, u32)>, State, Option<Day>);

impl<'j> Seen<'j> {
    pub(super) fn of(
        judge: &'j Judge<'j>,
        scanned: &'j Scanned<'_>,
        settings: &SiteSettings,
        on: Day,
        kept: &mut Vec<Kept>,
    ) -> Seen<'j> {
        let events = scanned.events;
        let events = &events[..events.partition_point(|event| event.day <= on)];
        let prepared = judge.appliance(scanned.facts);
        let mut seen = Seen {
            passed: Vec::new(),
            owed: Vec::new(),
            missing: Vec::new(),
        };
        let told = Told {
            events,
            facts: scanned.facts,
            settings,
            day: on,
            known_then: None,
        };
        for at in 0..prepared.sets() {
            let set = prepared.set(at).id.as_str();
            let review = prepared.review_with(at, &told, kept);
            for found in &review.exceedances {
                seen.passed.push((found.on, set, found.limit.name.as_str()));
            }
            for one in &review.duties {
                let stands = (one.due.map(Due::order), one.state, one.on);
                seen.owed
                    .push(((one.since, set, one.duty.name.as_str()), stands));
            }
            seen.missing.extend(&review.missing);
            kept.push((review.reading, review.additions));
        }
        seen.passed.sort_unstable();
        seen.owed.sort_unstable();
        seen.missing.sort_unstable();
        seen.missing.dedup();
        seen
    }

    /// Are the same limits passed from a day on?
    pub(super) fn passes_as(&self, other: &Seen<'_>, from: Day) -> bool {
        self.passed_since(from) == other.passed_since(from)
    }

    fn passed_since(&self, from: Day) -> &[Passed<'j>] {
        let earlier = self.passed.partition_point(|(on, ..)| *on < from);
        &self.passed[earlier..]
    }
}

impl Counts {
    /// Counts what differs of one appliance.
    pub(super) fn add(&mut self, now: &Seen<'_>, then: &Seen<'_>) {
        self.appliances += 1;
        self.passed += missing_in(&then.passed, &now.passed);
        self.no_longer += missing_in(&now.passed, &then.passed);
        let before: Vec<_> = now.owed.iter().map(|(name, _)| *name).collect();
        let after: Vec<_> = then.owed.iter().map(|(name, _)| *name).collect();
        let (appear, vanish) = (missing_in(&after, &before), missing_in(&before, &after));
        self.appear += appear;
        self.vanish += vanish;
        // What stays under its name and stands otherwise has moved.
        self.moved += missing_in(&then.owed, &now.owed).saturating_sub(appear);
    }
}

/// How many of a sorted list are not in the other; each of the other answers for one.
fn missing_in<T: Ord>(list: &[T], other: &[T]) -> u64 {
    let mut rest = other.iter().peekable();
    let mut missing = 0;
    for one in list {
        while rest.next_if(|other| *other < one).is_some() {}
        if rest.next_if(|other| *other == one).is_none() {
            missing += 1;
        }
    }
    missing
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_of_the_other_list_answers_for_one() {
        assert_eq!(missing_in(&[1, 2, 2, 4], &[2, 3]), 3);
        assert_eq!(missing_in(&[1, 2], &[0, 1, 2]), 0);
        assert_eq!(missing_in::<u8>(&[], &[1]), 0);
    }
}
