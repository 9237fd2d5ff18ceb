//! What entries say of earlier ones: links of a visit or a leak, statements of shipments.

use crate::ledger::entry::Leaf;
use crate::ledger::place::Place;
use crate::store::StoreError;
use crate::store::columns::PlaceNumber;
use crate::store::flush::Rare;
use crate::store::shipments::STATEMENT;
use crate::store::tx::Tx;
use std::collections::BTreeSet;

impl Tx<'_> {
    pub(super) fn link(&mut self, leaf: &Leaf<'_>) -> Result<(), StoreError> {
        let relation = leaf
            .body
            .relation
            .as_deref()
            .unwrap_or_default()
            .to_string();
        for entry in leaf.body.entries.iter().flatten() {
            let appliances: BTreeSet<PlaceNumber> = self
                .movements_of(entry.seq)?
                .iter()
                .filter_map(|row| row.appliance)
                .collect();
            for place in appliances {
                self.book.pending.rare.push(Rare::Link {
                    seq: leaf.seq,
                    entry: entry.seq,
                    place,
                    relation: relation.clone(),
                });
                self.book.histories.remove(&place);
            }
        }
        Ok(())
    }

    /// A statement is found from its counterparty: there it is tied to the first entry of each shipment.
    pub(super) fn tie_statement(&mut self, leaf: &Leaf<'_>) -> Result<(), StoreError> {
        let receiver = leaf.body.subject.as_deref().and_then(Place::parse);
        let place = match receiver {
            Some(place) => self.place_number(place)?,
            None => None,
        };
        let Some(place) = place else {
            return Ok(());
        };
        let mut tied = BTreeSet::new();
        for entry in leaf.body.entries.iter().flatten() {
            tied.insert(self.first_of(entry.seq)?);
        }
        let seq = leaf.seq;
        let ties = tied.into_iter().map(|entry| Rare::Link {
            seq,
            entry,
            place,
            relation: STATEMENT.to_string(),
        });
        self.book.pending.rare.extend(ties);
        Ok(())
    }
}
