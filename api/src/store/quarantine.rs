//! Quarantine: which findings hold a cylinder, and what holds it still when one of them is settled.
//!
//! The cylinder's row remembers the newest entry that put it under quarantine. What else holds it follows
//! from the findings that are open about it: the older one holds again once the newer is settled.

use super::StoreError;
use super::columns::{PlaceNumber, Sort};
use super::flush::Rare;
use super::tx::Tx;
use crate::ledger::actor::Via;
use crate::ledger::entry::Leaf;

/// Codes of findings of the highest grade that hold a cylinder: every stop whose fact has happened but
/// `quarantined`, which holds nothing that is not held already, and content that nobody is sure of.
const HOLDING: [&str; 8] = [
    "mixing",
    "expired",
    "condemned",
    "disposable",
    "over_full",
    "other_owner",
    "mixed_content",
    "content_doubtful",
];

/// Does what has happened put a place under quarantine: a cylinder, never an appliance?
pub fn holds(code: &str, place: PlaceNumber, imported: bool) -> bool {
    // Imported rows stand in the order in which they were written down, not in that of time:
    // a cylinder that only seems over-full then must not be taken out of use.
    place.sort() == Sort::Cylinder && !(imported && code == "over_full") && HOLDING.contains(&code)
}

impl Tx<'_> {
    /// Puts cylinders under quarantine and settles findings; what one of these held is held by the next
    /// older finding that is open, and else free.
    pub(super) fn quarantine(
        &mut self,
        seq: u64,
        cylinders: &[PlaceNumber],
        settles: &[(u64, String)],
    ) -> Result<(), StoreError> {
        for place in cylinders {
            self.hold(*place, Some(seq));
        }
        let mut released = Vec::new();
        for (entry, code) in settles {
            for (known, place, ..) in self.findings_of(*entry)? {
                let subject = self.book.subjects.get(&place);
                if known == *code && subject.is_some_and(|it| it.quarantine == Some(*entry)) {
                    released.push(place);
                }
            }
            self.book.pending.rare.push(Rare::Settled {
                by: seq,
                seq: *entry,
                code: code.clone(),
            });
        }
        for place in released {
            let held = self.held_by(place)?;
            self.hold(place, held);
        }
        Ok(())
    }

    fn hold(&mut self, place: PlaceNumber, by: Option<u64>) {
        if let Some(subject) = self.book.subjects.get_mut(&place) {
            subject.quarantine = by;
            self.book.pending.subjects.insert(place);
        }
    }

    /// The newest entry whose open findings hold a cylinder.
    fn held_by(&mut self, place: PlaceNumber) -> Result<Option<u64>, StoreError> {
        let mut open = self.open_findings_of(place)?;
        open.sort_by_key(|(seq, _)| std::cmp::Reverse(*seq));
        for (seq, code) in open {
            if !holds(&code, place, false) {
                continue;
            }
            let is_grave = |it: &(String, PlaceNumber, String, Option<u64>)| {
                it.0 == code && it.1 == place && it.2 == "high"
            };
            let is_grave = self.findings_of(seq)?.iter().any(is_grave);
            if is_grave && holds(&code, place, self.is_imported(seq)?) {
                return Ok(Some(seq));
            }
        }
        Ok(None)
    }

    fn is_imported(&mut self, entry: u64) -> Result<bool, StoreError> {
        let leaf = self.leaf(entry)?;
        let via = leaf.and_then(|(bytes, _)| Some(Leaf::parse(&bytes).ok()?.via.to_string()));
        Ok(via.as_deref() == Some(Via::Import.word()))
    }
}
