//! What the reader of a receipt may do with its entry: correct it, take its proof.

use crate::actions::permit::{Deed, Reach};
use crate::actions::show::lines::Line;
use crate::http::asker::Asker;
use crate::ledger::actor::Role;
use crate::ledger::entry::EntryKind;

/// Does who asks read at a desk? Whoever works in the field has the field's layout.
pub fn reads_at_a_desk(by: &Asker) -> bool {
    !by.signed_in.roles.contains(&Role::Technician)
}

/// Where the proof of an entry is; none: it is not for who asks.
pub fn proof(by: &Asker, line: &Line) -> Option<String> {
    let is_theirs = match by.reach(Deed::ReadLog) {
        Reach::Whole => true,
        Reach::Own => by.own().booked(line.booked_by, None),
        _ => false,
    };
    is_theirs.then(|| format!("/api/v1/entries/{}/proof", line.entry_id))
}

/// Why an entry that may be corrected has no form; empty: it has one, or it is not theirs.
pub fn uncorrected(by: &Asker, line: &Line) -> &'static str {
    let moves = matches!(line.kind.as_str(), "charge" | "recover") && line.corrected_by.is_none();
    match moves && is_own(by, line) && !line.annuls && !is_formed(line) {
        true => {
            "It says several masses at once, so that no form here corrects it; a compliance manager \
             corrects it through the interface for programs (/api/v1/docs)."
        }
        false => "",
    }
}

/// Where an entry is corrected by who reads; none: they may not, or it has no form.
pub fn correct(by: &Asker, line: &Line) -> Option<String> {
    let open = line.corrected_by.is_none() && !line.annuls;
    let may = is_own(by, line) && open && is_formed(line);
    may.then(|| format!("/entries/{}/correct", line.entry_id))
}

fn is_own(by: &Asker, line: &Line) -> bool {
    let person = by.signed_in.person;
    by.signed_in.roles.contains(&Role::ComplianceManager)
        || (person.is_some() && line.booked_by == person)
}

/// Is there a form that corrects it? Those of weighings know one mass, of one appliance or of small ones
/// that are not registered.
pub fn is_formed(line: &Line) -> bool {
    match EntryKind::named(&line.kind) {
        Some(EntryKind::Charge | EntryKind::Recover) => {
            let ends = line.moved.iter().flat_map(|moved| [&moved.from, &moved.to]);
            let ends =
                ends.filter(|end| ["appliance", "unregistered"].contains(&end.word.as_str()));
            line.moved.len() == 1 && ends.count() == 1
        }
        Some(kind) => crate::pages::service::is_step(kind),
        None => false,
    }
}
