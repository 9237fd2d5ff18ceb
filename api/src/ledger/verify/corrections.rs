//! Corrections: each names the newest entry of its chain and reverses exactly what is in force there.
//!
//! An entry is corrected at most once (the correction is corrected next), so "the newest of the
//! chain" is "not corrected yet". What an entry put in force is kept in a compact form: some twenty
//! bytes a movement, for a book of a million.

use super::entries::serviced;
use super::order::Order;
use super::report::{Check, Report};
use crate::ledger::entry::{Leaf, Moved};
use crate::ledger::place::Place;
use foldhash::HashMap;
use reports::mass::Mass;

/// These are only followed by later entries, never corrected (model of the book, "Corrections").
const NOT_CORRECTABLE: [&str; 12] = [
    "genesis",
    "key",
    "epoch",
    "erasure",
    "engine",
    "grant",
    "period_close",
    "period_reopen",
    "issued",
    "rule_set",
    "setting",
    "import",
];

/// One movement, its places and refrigerant by number.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Compact {
    from: u32,
    to: u32,
    refrigerant: u32,
    mass: Mass,
}

/// What is known of an entry that a correction may name.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    /// Its movements are in force, and nothing has corrected it.
    InForce,
    /// Missing, unreadable or not understood: nothing can be said of its movements.
    Unknown,
    /// Of a kind that is never corrected.
    Fixed,
    /// Corrected by the entry with this number.
    Corrected(u32),
}

/// What every entry put in force.
#[derive(Default)]
pub(super) struct Chains {
    refrigerants: HashMap<String, u32>,
    movements: Vec<Compact>,
    /// By number: where its movements begin, and its state.
    entries: Vec<(u32, State)>,
    /// The appliances of the service events that entries put in force.
    services: HashMap<u64, Place>,
}

impl Chains {
    /// An entry that is missing, no entry or not understood.
    pub(super) fn gap(&mut self) {
        self.entries
            .push((self.movements.len() as u32, State::Unknown));
    }

    pub(super) fn check(
        &mut self,
        seq: u64,
        leaf: &Leaf<'_>,
        order: &mut Order,
        report: &mut Report,
    ) {
        let is_correction = leaf.kind == "correction";
        if is_correction {
            report.corrections += 1;
            self.check_correction(seq, leaf, order, report);
        }
        let state = if NOT_CORRECTABLE.contains(&&*leaf.kind) {
            State::Fixed
        } else {
            State::InForce
        };
        self.entries.push((self.movements.len() as u32, state));
        let in_force = if is_correction {
            leaf.body
                .replace
                .as_ref()
                .and_then(|replace| replace.body.movements.as_deref())
        } else {
            leaf.body.movements.as_deref()
        };
        for moved in in_force.unwrap_or_default() {
            let compact = self.compact(moved, false, order);
            self.movements.push(compact);
        }
        let service = match &leaf.body.replace {
            Some(new) => serviced(&new.kind, &new.body),
            None => serviced(&leaf.kind, &leaf.body),
        };
        if let Some(place) = service {
            self.services.insert(seq, place);
        }
    }

    /// The appliance of the service event that a correction takes back, when it takes back one.
    pub(super) fn service_taken_back(&self, leaf: &Leaf<'_>) -> Option<Place> {
        self.services.get(&leaf.body.corrects?.seq).copied()
    }

    fn check_correction(
        &mut self,
        seq: u64,
        leaf: &Leaf<'_>,
        order: &mut Order,
        report: &mut Report,
    ) {
        let Some(corrects) = &leaf.body.corrects else {
            report.add(Check::Correction, seq, "`corrects`", "none");
            return;
        };
        if let Some(replace) = &leaf.body.replace {
            let kind = &*replace.kind;
            if kind == "correction" || NOT_CORRECTABLE.contains(&kind) {
                report.add(
                    Check::Correction,
                    seq,
                    "a kind that can stand instead",
                    kind,
                );
            }
        }
        let index = usize::try_from(corrects.seq).unwrap_or(usize::MAX);
        let Some((_, state)) = self
            .entries
            .get(index)
            .copied()
            .filter(|_| corrects.seq < seq)
        else {
            let found = format!("no. {}", corrects.seq);
            report.add(Check::Correction, seq, "an earlier entry to correct", found);
            return;
        };
        if order
            .id_of(corrects.seq)
            .is_some_and(|id| id != corrects.id)
        {
            let expected = format!("the id of no. {}", corrects.seq);
            report.add(Check::Correction, seq, expected, corrects.id);
        }
        match state {
            State::InForce => self.check_reverse(seq, index, leaf, order, report),
            State::Unknown => {}
            State::Fixed => {
                let found = format!("no. {}, which is only followed", corrects.seq);
                report.add(
                    Check::Correction,
                    seq,
                    "an entry that can be corrected",
                    found,
                );
            }
            State::Corrected(by) => {
                let found = format!("no. {}, corrected by no. {by} already", corrects.seq);
                report.add(
                    Check::Correction,
                    seq,
                    "the newest entry of the chain",
                    found,
                );
            }
        }
        self.entries[index].1 = State::Corrected(seq as u32);
    }

    /// The reversed movements are those in force, their ends exchanged, in any order.
    fn check_reverse(
        &mut self,
        seq: u64,
        index: usize,
        leaf: &Leaf<'_>,
        order: &mut Order,
        report: &mut Report,
    ) {
        let start = self.entries[index].0 as usize;
        let end = self
            .entries
            .get(index + 1)
            .map_or(self.movements.len(), |next| next.0 as usize);
        let mut in_force = self.movements[start..end].to_vec();
        let reverse = leaf.body.reverse.as_deref().unwrap_or_default();
        let mut reversed: Vec<Compact> = reverse
            .iter()
            .map(|m| self.compact(m, true, order))
            .collect();
        in_force.sort_unstable();
        reversed.sort_unstable();
        if in_force != reversed {
            let expected = format!("`reverse`: {}", self.written(&in_force, order));
            report.add(
                Check::Correction,
                seq,
                expected,
                self.written(&reversed, order),
            );
        }
    }

    fn compact(&mut self, moved: &Moved<'_>, exchanged: bool, order: &mut Order) -> Compact {
        let (from, to) = if exchanged {
            (moved.to, moved.from)
        } else {
            (moved.from, moved.to)
        };
        let refrigerant = match self.refrigerants.get(&*moved.refrigerant) {
            Some(number) => *number,
            None => {
                let number = self.refrigerants.len() as u32;
                self.refrigerants
                    .insert(moved.refrigerant.to_string(), number);
                number
            }
        };
        let (from, to) = (order.place(from), order.place(to));
        Compact {
            from,
            to,
            refrigerant,
            mass: moved.g,
        }
    }

    /// Movements for a person to read, as they were before their ends were exchanged.
    fn written(&self, movements: &[Compact], order: &Order) -> String {
        let refrigerant = |number| self.refrigerants.iter().find(|(_, n)| **n == number);
        let text = |moved: &Compact| {
            let [from, to] = [moved.from, moved.to]
                .map(|number| order.place_numbered(number).map(|place| place.to_string()));
            let (from, to) = (from.unwrap_or_default(), to.unwrap_or_default());
            let name = refrigerant(moved.refrigerant).map_or("", |(name, _)| name);
            format!("{} g of {name} back from {to} to {from}", moved.mass)
        };
        let texts: Vec<String> = movements.iter().map(text).collect();
        if texts.is_empty() {
            "nothing".to_string()
        } else {
            texts.join("; ")
        }
    }
}
