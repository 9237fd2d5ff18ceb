//! What a sheet asks of the rule sets: how to read additions, and which limit holds.

use crate::appliance::Facts;
use crate::day::Day;
use crate::leak_rate::{Rate, Reading};

/// The rule sets a report is judged by, in their order.
pub trait Limits {
    /// What is asked about one appliance.
    type Appliance<'a>: ApplianceLimits
    where
        Self: 'a;

    /// How each set reads additions; `None` for a set without leak rates.
    fn readings(&self) -> &[Option<Reading>];

    /// Prepares the questions about one appliance.
    fn appliance<'a>(&'a self, facts: &'a Facts) -> Self::Appliance<'a>;
}

/// The limits of one appliance.
pub trait ApplianceLimits {
    /// The leak-rate limit of a set for this appliance on a day.
    fn limit(&mut self, set: usize, day: Day) -> Limit;
}

/// The answer of a rule set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limit {
    /// There is a limit.
    Applies {
        /// Percent a year.
        threshold: Rate,
        /// Whether the limit itself is already too much; otherwise only what is over it.
        at_least: bool,
        /// Whether the clause behind it was not read by whoever wrote the rule set.
        unconfirmed: bool,
    },
    /// The set does not cover the appliance, or has no limit for it.
    NotCovered,
    /// A fact is missing that decides it. Never taken as *no limit*.
    CannotJudge,
}

impl Limit {
    /// Whether a rate passes the limit; `None` when nobody can say.
    pub fn is_passed_by(&self, rate: Option<Rate>) -> Option<bool> {
        match (self, rate) {
            (Limit::NotCovered, _) => Some(false),
            (Limit::CannotJudge, _) | (Limit::Applies { .. }, None) => None,
            (
                Limit::Applies {
                    threshold,
                    at_least,
                    ..
                },
                Some(rate),
            ) => Some(rate > *threshold || (*at_least && rate == *threshold)),
        }
    }
}

/// No rule sets at all: nothing is over anything, and the caller says so.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoLimits;

impl Limits for NoLimits {
    type Appliance<'a> = NoLimits;

    fn readings(&self) -> &[Option<Reading>] {
        &[]
    }

    fn appliance<'a>(&'a self, _: &'a Facts) -> NoLimits {
        NoLimits
    }
}

impl ApplianceLimits for NoLimits {
    fn limit(&mut self, _: usize, _: Day) -> Limit {
        Limit::NotCovered
    }
}
