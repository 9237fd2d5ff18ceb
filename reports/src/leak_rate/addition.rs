//! One judged step of an addition, and what stands beside it.

use super::{Netting, Rate};
use crate::day::Day;
use crate::event::{Event, Kind};
use crate::mass::Mass;
use crate::number::Fraction;

/// Where the count of days of an addition began.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Baseline {
    /// The previous addition, on this day.
    Addition(Day),
    /// The installation, on this day (on the very day of the addition: 365 days).
    Installed(Day),
    /// The retrofit that began a new life, on this day (likewise).
    Retrofit(Day),
    /// Nothing is known, or the rule asks for no more: 365 days.
    NoneKnown,
}

/// One judged step of an addition. A later step of the same addition supersedes the figure.
///
/// Indices point into the events that were read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Addition {
    /// The day it is dated: the day of the event at which it was judged.
    pub day: Day,
    /// Index of the first mass event of its visit or day, whether it counts or not.
    pub first: u32,
    /// Index of the event at which it was judged; ascending over the additions of an appliance.
    pub at: u32,
    /// Index of the last event whose mass counts (recoveries later on a day without a visit).
    pub last: u32,
    /// Steps with the same group are one addition; the last one of a group is what stands.
    pub group: u32,
    /// What the annualising method took together at this step: steps of the same visit, day or leak
    /// event have the same number, until a later step moves its visit to another leak event.
    pub event: u32,
    /// Net mass of this step by itself: the change of `group_mass`, in steps of 10⁻¹¹ g. Negative
    /// where a recovery later in the same visit takes back what an earlier step counted.
    pub mass: i128,
    /// Net mass of the whole addition so far.
    pub group_mass: i128,
    /// Numerator of the annualising method: the sum of the visit, day or leak event so far.
    pub annualised_mass: i128,
    /// Days from the baseline to this step, or to the first step of its leak event; 1 to 365.
    pub days: i32,
    /// Where the days were counted from.
    pub baseline: Baseline,
    /// Sum of the rolling window at this step, never below zero: of each visit what stands inside.
    pub rolling_mass: i128,
    /// Index of the first step inside the rolling window (beyond this one: the window is empty).
    pub rolling_from: u32,
    /// Full charge in force that day, if known.
    pub full_charge: Option<Mass>,
}

impl Addition {
    /// Percent a year by the annualising method; `None` when the full charge is unknown.
    pub fn annualised(&self) -> Option<Fraction> {
        self.annualised_rate().map(Rate::fraction)
    }

    /// Percent by the rolling average method; `None` when the full charge is unknown.
    pub fn rolling(&self) -> Option<Fraction> {
        self.rolling_rate().map(Rate::fraction)
    }

    /// As [`Addition::annualised`], not brought to lowest terms: cheap to make and to compare.
    pub fn annualised_rate(&self) -> Option<Rate> {
        let full = i128::from(self.full_charge?.steps());
        // 40 CFR 82.152, annualising: added / full charge x 365 / days, in percent.
        Some(Rate::new(
            self.annualised_mass * 36_500,
            full * i128::from(self.days),
        ))
    }

    /// As [`Addition::rolling`], not brought to lowest terms.
    pub fn rolling_rate(&self) -> Option<Rate> {
        let full = i128::from(self.full_charge?.steps());
        Some(Rate::new(self.rolling_mass * 100, full))
    }

    /// Numbers of the entries whose masses count so far, in the order of the events.
    pub fn entries(&self, events: &[Event], netting: Netting) -> Vec<u64> {
        let visit = events[self.at as usize].visit;
        let counts = |event: &&Event| {
            let kind = match event.kind {
                Kind::Charge | Kind::OutsideCharge => true,
                Kind::Recover => netting == Netting::Visit,
                _ => false,
            };
            kind && event.visit == visit
        };
        let own = &events[self.first as usize..=self.last as usize];
        own.iter().filter(counts).map(|event| event.entry).collect()
    }
}

/// What one event gave to one step. The contributions of a step add up to its mass.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Contribution {
    /// Index of the step among the additions.
    pub step: u32,
    /// Index of the event.
    pub event: u32,
    /// Steps of 10⁻¹¹ g; negative for what was recovered.
    pub mass: i128,
}

/// A visit whose entries lie more than 7 days apart was read as two: somebody should look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SplitVisit {
    /// The visit.
    pub visit: u128,
    /// Day of its last entry before the gap.
    pub before: Day,
    /// Index of its first event after the gap.
    pub at: u32,
}
