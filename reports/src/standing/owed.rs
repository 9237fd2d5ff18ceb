//! What is owed over a whole fleet: each appliance is reviewed without a word being written, and
//! the few duties that somebody reads are put into words afterwards.

use super::duty::{self, DutyShown};
use super::layers::layers_of;
use super::why;
use crate::appliance::Facts;
use crate::day::Day;
use crate::event::Event;
use crate::leak_rate::Reading;
use crate::rules::PreparedAppliance;
use crate::rules::RuleSet;
use crate::rules::duties::{KnownThen, StartedBy};
use crate::rules::organisation::OfOrganisation;
use crate::rules::review::{Review, SiteSettings};

/// What each set makes of the history of an appliance up to a day. `known_then`: as for `assess`.
pub fn reviews_until<'j>(
    prepared: &PreparedAppliance<'j>,
    facts: &Facts,
    events: &[Event],
    settings: &SiteSettings,
    day: Day,
    known_then: Option<KnownThen>,
) -> Vec<Review<'j>> {
    let events = &events[..events.partition_point(|event| event.day <= day)];
    super::reviews(prepared, events, facts, settings, day, known_then)
}

/// A duty in words: the one at a place of the review of a set, as `assess` says it.
pub fn duty_in_words(
    set: &RuleSet,
    review: &Review,
    at: usize,
    settings: &SiteSettings,
) -> Option<DutyShown> {
    let owed = review.duties.get(at)?;
    let worked = match owed.started_by {
        StartedBy::Limit(at) => {
            (review.exceedances.get(at)).map(|found| why::worked(set, review, found, settings))
        }
        _ => None,
    };
    let why = why::duty(owed, worked.as_deref());
    Some(duty::shown(set, review, owed, why))
}

/// A duty of the whole organisation in words.
pub fn of_organisation_in_words(
    set: &RuleSet,
    of: &OfOrganisation,
    at: usize,
) -> Option<DutyShown> {
    let owed = of.duties.get(at)?;
    let sum = match owed.started_by {
        StartedBy::Limit(at) => of.sums.get(at),
        _ => None,
    };
    let worked = sum.map(why::worked_sum);
    let why = why::duty(owed, worked.as_deref());
    let nothing = Review {
        additions: Vec::new(),
        reading: Reading::default(),
        exceedances: Vec::new(),
        duties: Vec::new(),
        missing: Vec::new(),
    };
    let mut shown = duty::shown(set, &nothing, owed, why);
    shown.layers = layers_of(sum.map_or(&[][..], |sum| &sum.bounds), owed);
    shown.started_by.limit = sum.map(|sum| sum.limit.name.clone());
    Some(shown)
}
