//! Where each field of a record stands in the book: the one list of what fills what.
//!
//! Fields of rule sets are words. Some are said by the entry, some by the steps beside it, some are
//! registered; what a note can say is taken as said where there is a note; a few have no place here.

use super::Said;
use crate::ledger::entry::EntryKind;
use reports::appliance::Facts;
use reports::day::Day;

/// Whether a field of a record is filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Filled {
    /// It is.
    Yes,
    /// It could be, and is not.
    No,
    /// The book has no place for it.
    Nowhere,
}

/// One entry and what belongs to the same job.
pub struct Job {
    /// What the entry says.
    pub own: Said,
    /// What other steps of the same visit or day say.
    pub others: Vec<Said>,
    /// Whether who did the work has a certificate that day.
    pub certified: bool,
    /// The day.
    pub day: Day,
}

impl Job {
    fn says(&self, name: &str) -> bool {
        let mut all = self.others.iter().chain([&self.own]);
        all.any(|said| said.names.contains(name))
    }

    fn is_charge(&self) -> bool {
        matches!(self.own.kind, EntryKind::Charge | EntryKind::OutsideCharge)
    }
}

/// Whether a field of the record of an entry is filled.
pub fn filled(field: &str, job: &Job, facts: &Facts) -> Filled {
    let own = &job.own;
    let known = |name: &str| facts.on(name, job.day).is_some();
    let full_charge = || facts.full_charge(job.day).is_some();
    let yes = match field {
        // Every entry has a day and names its appliance.
        "date" | "appliance" | "system" => true,
        "refrigerant" => own.moved || known("refrigerant"),
        // Where nothing moved there is no amount to write down.
        "amount" => own.moved || !own.kind.moves(),
        "location" => known("site") || known("place"),
        "serial" | "owner" => known(field),
        "equipment_type" => known("category") || known("equipment"),
        "full_charge" | "charging_capacity" => full_charge(),
        // It is worked out of what was added, where the full charge is known.
        "leak_rate" => !job.is_charge() || full_charge(),
        "technician" => own.person.is_some(),
        "certificate" => job.certified,
        // The book is the firm's own, but for what somebody else put in.
        "firm" | "company" | "employer" => own.kind != EntryKind::OutsideCharge,
        // A charge or a recovery is itself the work, its reason the kind of work.
        "work_done" | "description" => own.moved || job.says("work_done"),
        "parts" | "method" => job.says(field),
        "places" => job.says("place"),
        "location_of_leak" => own.clean || job.says("place"),
        "stage" => own.names.contains("stage"),
        "result" => match own.kind {
            EntryKind::Repair => job.says("all_leaks") || job.says("result"),
            kind => kind.moves() || own.names.contains("result"),
        },
        "how_recovered" => job.others.iter().any(|it| it.kind == EntryKind::Recover),
        "receiver" => own.moved,
        // A note can say it, and nothing else can.
        "cause" if own.clean => true,
        "cause"
        | "circumstances"
        | "corrective_actions"
        | "preventive_actions"
        | "responsible_person"
        | "origin_facility"
        | "origin_recycled_or_reclaimed" => own.names.contains("note"),
        _ => return Filled::Nowhere,
    };
    match yes {
        true => Filled::Yes,
        false => Filled::No,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_field_of_a_shipped_set_has_its_place_or_is_known_to_have_none() {
        let own = Said {
            kind: EntryKind::Charge,
            names: BTreeSet::new(),
            moved: true,
            clean: false,
            person: None,
        };
        let job = Job {
            own,
            others: Vec::new(),
            certified: false,
            day: Facts::ALWAYS,
        };
        let mut nowhere = BTreeSet::new();
        for set in reports::rules::shipped() {
            let fields = set.records.iter().flat_map(|record| record.fields.clone());
            nowhere.extend(
                fields.filter(|field| filled(field, &job, &Facts::default()) == Filled::Nowhere),
            );
        }
        // A person signs in and the book is signed; a pen needs paper.
        assert_eq!(nowhere.iter().collect::<Vec<_>>(), ["signature"]);
    }
}
