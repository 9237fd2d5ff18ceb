//! Movements in which no appliance takes part: what went from cylinders to a reclaimer or to
//! destruction, what a cylinder lost, what small appliances emptied in bulk gave.

use crate::day::Day;
use crate::event::{Kind, Reason};
use crate::mass::Mass;

/// One such movement; corrections are applied.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Elsewhere {
    /// Number of its entry.
    pub entry: u64,
    /// What it was.
    pub kind: Kind,
    /// Why.
    pub reason: Option<Reason>,
    /// Local day.
    pub day: Day,
    /// Code of the refrigerant table.
    pub refrigerant: u16,
    /// How much.
    pub mass: Mass,
    /// Tag of the cylinder it came from; empty: from no cylinder.
    pub from: String,
    /// Tag of the cylinder or counterparty it went to; empty: to neither.
    pub to: String,
}
