//! What stands beside the account of the cylinders and is in neither sum: losses at appliances, what is
//! presumed to have leaked, what was left on the books when appliances were retired, and what others
//! charged.

use crate::appliance::Facts;
use crate::day::Day;
use crate::event::{Event, Kind};
use crate::standing::presumed;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// A figure of appliances, in the order of the columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Apart {
    OutsideCharged,
    Lost,
    PresumedLeaked,
    LeftAtRetirement,
}

impl Apart {
    pub(super) const ALL: [Apart; 4] = [
        Apart::OutsideCharged,
        Apart::Lost,
        Apart::PresumedLeaked,
        Apart::LeftAtRetirement,
    ];

    /// The column, before its unit.
    pub(super) fn word(self) -> &'static str {
        match self {
            Apart::OutsideCharged => "outside_charged",
            Apart::Lost => "lost_at_appliances",
            Apart::PresumedLeaked => "presumed_leaked",
            Apart::LeftAtRetirement => "left_at_retirement",
        }
    }
}

/// What an entry gave to a figure.
pub(super) struct Given {
    pub(super) tag: Rc<str>,
    pub(super) figure: Apart,
    pub(super) entry: u64,
    pub(super) mass: i128,
}

/// Gathered over the fleet.
#[derive(Default)]
pub(super) struct AtAppliances(BTreeMap<u16, Vec<Given>>);

impl AtAppliances {
    /// Takes in one appliance.
    pub(super) fn take(
        &mut self,
        tag: &str,
        facts: &Facts,
        events: &[Event],
        (first, last): (Day, Day),
    ) {
        let events = &events[..events.partition_point(|event| event.day <= last)];
        let tag: Rc<str> = Rc::from(tag);
        let mut give = |figure: Apart, event: &Event, code: u16, mass: i128| {
            if event.day >= first && mass != 0 {
                self.0.entry(code).or_default().push(Given {
                    tag: Rc::clone(&tag),
                    figure,
                    entry: event.entry,
                    mass,
                });
            }
        };
        for event in events {
            let mass = i128::from(event.mass.steps());
            match event.kind {
                Kind::OutsideCharge => give(Apart::OutsideCharged, event, event.refrigerant, mass),
                Kind::Loss => give(Apart::Lost, event, event.refrigerant, mass),
                _ => {}
            }
        }
        for one in presumed(events, facts) {
            let event = &events[one.at];
            let figure = match event.kind {
                Kind::Retire => Apart::LeftAtRetirement,
                _ => Apart::PresumedLeaked,
            };
            give(figure, event, one.refrigerant, one.mass);
        }
    }

    /// Refrigerants of which anything stands here.
    pub(super) fn codes(&self) -> BTreeSet<u16> {
        self.0.keys().copied().collect()
    }

    /// What the entries gave of a refrigerant.
    pub(super) fn of(&self, code: u16) -> &[Given] {
        self.0.get(&code).map_or(&[], Vec::as_slice)
    }

    pub(super) fn sum(&self, code: u16, figure: Apart) -> i128 {
        let own = self.of(code).iter().filter(|given| given.figure == figure);
        own.map(|given| given.mass).sum()
    }
}
