//! Statements whose shipments went: to somebody else by a correction, or nowhere.
//!
//! The receiver still holds by the book what such a statement changed, though it was sent nothing. So it
//! stands in the list under the statement's own number, until the statement is taken back or the
//! shipment comes back.

use super::super::{Case, GoneShown, receivers};
use super::{Reading, damaged};
use crate::ledger::entry::Leaf;
use crate::store::columns::PlaceNumber;
use crate::store::{StoreError, shipments};

/// How a statement without a shipment stands.
pub(super) fn state(outcome: Option<&str>, is_open: bool) -> &'static str {
    match outcome {
        // Nothing was booked by it, and somebody has settled the dispute.
        Some("disputed") if !is_open => "settled",
        _ => "shipment_gone",
    }
}

impl Reading<'_> {
    /// Statements in force of which the receiver has no shipment any more, the newest first; `to`: of
    /// this receiver only.
    pub(in super::super) fn without_shipment(
        &mut self,
        to: Option<PlaceNumber>,
    ) -> Result<Vec<(u64, PlaceNumber)>, StoreError> {
        let mut found = Vec::new();
        for (statement, receiver) in shipments::statements_of_corrected(self.db, self.of.org)? {
            if to.is_some_and(|to| to != receiver) {
                continue;
            }
            let about = self.statements_of(receiver)?.get(&statement);
            let about = about.cloned().unwrap_or_default();
            if self.in_force(&about, receiver)?.is_empty() {
                found.push((statement, receiver));
            }
        }
        Ok(found)
    }

    /// The case of such a statement.
    pub(in super::super) fn case_without(
        &mut self,
        receiver: PlaceNumber,
        statement: u64,
    ) -> Result<Case, StoreError> {
        self.case(receiver, Vec::new(), Some(statement))
    }

    /// Adds the cases of such statements that an entry belongs to: where it is the statement itself, its
    /// own comes first; where it is a shipment, what others once stated of it comes last.
    pub(super) fn add_without(
        &mut self,
        seq: u64,
        found: &mut Vec<Case>,
    ) -> Result<(), StoreError> {
        let first = shipments::first(self.db, self.of.org, seq)?;
        for (statement, receiver) in self.without_shipment(None)? {
            if statement == seq {
                found.insert(0, self.case_without(receiver, statement)?);
                continue;
            }
            let about = self.statements_of(receiver)?.get(&statement);
            if about.is_some_and(|about| about.contains(&first)) {
                found.push(self.case_without(receiver, statement)?);
            }
        }
        Ok(())
    }

    /// The shipments that a statement names and its receiver does not have any more.
    pub(super) fn gone(
        &mut self,
        receiver: PlaceNumber,
        statement: Option<u64>,
    ) -> Result<Vec<GoneShown>, StoreError> {
        let Some(statement) = statement else {
            return Ok(Vec::new());
        };
        let about = self.statements_of(receiver)?.get(&statement);
        let about = about.cloned().unwrap_or_default();
        let mut gone = Vec::new();
        for first in about {
            let by = self.newest_of(first)?;
            let now = receivers(&shipments::sent(self.db, self.of.org, by)?);
            if now.contains(&receiver) {
                continue;
            }
            let row = self.entry(first)?;
            let leaf = Leaf::parse(&row.leaf).map_err(|_| damaged(first))?;
            let mut to = Vec::new();
            for place in now {
                to.push(self.named(place)?);
            }
            gone.push(GoneShown {
                entry: first,
                entry_id: leaf.id.to_string(),
                by,
                to,
            });
        }
        Ok(gone)
    }
}
