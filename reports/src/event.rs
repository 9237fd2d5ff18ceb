//! What happened to an appliance, as the arithmetic sees it.
//!
//! An [`Event`] is one entry (or one movement of an entry) about one appliance: refrigerant that
//! went in or came out, or a step of the service record. It is small and `Copy`-like so that a
//! million of them can be streamed; the words of rules.md that only service events carry stand in
//! an optional box.

use crate::day::Day;
use crate::mass::Mass;
use std::collections::BTreeMap;

/// Kinds of entry that `assess` reads. The order is the rank within one time of day (model 4.4).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Kind {
    Opening,
    Purchase,
    Recover,
    Retrofit,
    BackInOperation,
    Transfer,
    LeakFound,
    Repair,
    Inspection,
    VerificationTest,
    PressureTest,
    VacuumTest,
    Charge,
    OutsideCharge,
    SendToReclaim,
    SendToDestruction,
    Return,
    Loss,
    Redesignate,
    Count,
    Statement,
    RunCheck,
    Shutdown,
    Isolate,
    PurgeDestroyed,
    Plan,
    Extension,
    Decision,
    Notice,
    Mothball,
    Retire,
}

/// Why refrigerant was charged or recovered (the closed lists of the entry door).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Reason {
    LeakTopUp,
    AfterRepair,
    Installation,
    AfterRetrofit,
    Seasonal,
    Emergency,
    ImmediateDanger,
    Repair,
    Retrofit,
    Disposal,
}

/// One thing that happened to one appliance.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    /// Number of the entry in its book (or the booking number of a situation).
    pub entry: u64,
    /// Id of the first entry of its chain of corrections: the last key of the order.
    pub chain: u128,
    /// What it was.
    pub kind: Kind,
    /// Local day at the site, as booked.
    pub day: Day,
    /// The local day on which the book knew it so: of its booking, or of its last correction.
    pub known: Day,
    /// Second of the day; events without a time stand at 00:00.
    pub second: Option<u32>,
    /// The visit it belongs to.
    pub visit: Option<u128>,
    /// Leak event key: additions that share it are one leak.
    pub leak: Option<u128>,
    /// Mass that went in (charge, outside charge, opening) or came out (recover, loss).
    pub mass: Mass,
    /// Which refrigerant, as its code in the refrigerant table.
    pub refrigerant: u16,
    /// Whether the mass left the appliance; read only where the kind does not say so itself
    /// (a redesignation, a count, a statement).
    pub outflow: bool,
    /// Why.
    pub reason: Option<Reason>,
    /// Whether a charge brought it back to its full charge.
    pub returned_to_full: bool,
    /// Words of service events: `stage`, `result`, `all_leaks`, `choice`, `certified` and the like.
    pub words: Option<Box<BTreeMap<String, String>>>,
}

impl Event {
    /// A bare event; what else is known of it is set field by field.
    pub fn new(kind: Kind, day: Day, mass: Mass) -> Event {
        Event {
            entry: 0,
            chain: 0,
            kind,
            day,
            known: day,
            second: None,
            visit: None,
            leak: None,
            mass,
            refrigerant: 0,
            outflow: false,
            reason: None,
            returned_to_full: false,
            words: None,
        }
    }

    /// What the event does to the balance of the appliance, in steps: in is positive.
    pub fn balance_change(&self) -> i128 {
        let steps = i128::from(self.mass.steps());
        let out = match self.kind {
            Kind::Opening | Kind::Purchase | Kind::Charge | Kind::OutsideCharge => false,
            Kind::Recover
            | Kind::Loss
            | Kind::SendToReclaim
            | Kind::SendToDestruction
            | Kind::Return => true,
            _ => self.outflow,
        };
        if out { -steps } else { steps }
    }

    /// A word of a service event, as of `stage`.
    pub fn word(&self, name: &str) -> Option<&str> {
        self.words.as_ref()?.get(name).map(String::as_str)
    }

    /// The order within an appliance: day, time of day, rank of the kind, id of the chain's first.
    pub fn order(&self) -> (Day, u32, Kind, u128) {
        (self.day, self.second.unwrap_or(0), self.kind, self.chain)
    }

    /// Puts events of one appliance into their order; booking order is never a key.
    pub fn sort(events: &mut [Event]) {
        if !events.is_sorted_by(|a, b| a.order() <= b.order()) {
            events.sort_by_key(Event::order);
        }
    }
}
