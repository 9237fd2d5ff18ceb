//! Which role may do what: one table.

use super::refusal::{ActionError, Refusal};
use crate::ledger::actor::{Actor, Role};
use crate::ledger::entry::EntryKind;

/// Kinds that are posted through the door; the others the program books by itself.
pub fn posted() -> impl Iterator<Item = EntryKind> {
    let own = [EntryKind::Genesis, EntryKind::Engine, EntryKind::Import];
    EntryKind::ALL
        .into_iter()
        .filter(move |kind| !own.contains(kind))
}

/// May this role post this kind? Finer limits (own entries, own visits, assigned sites) are looked
/// at where the entry is known.
pub fn posts(role: Role, kind: EntryKind) -> bool {
    match role {
        Role::ComplianceManager => true,
        Role::Technician => {
            kind.moves()
                || matches!(
                    kind,
                    EntryKind::Appliance
                        | EntryKind::Correction
                        | EntryKind::Link
                        | EntryKind::Settle
                )
        }
        Role::Device => kind.moves(),
        Role::Operator => {
            kind.registers()
                || kind.moves()
                || matches!(
                    kind,
                    EntryKind::Setting | EntryKind::Method | EntryKind::RuleSet
                )
        }
        Role::System => matches!(kind, EntryKind::Setting),
        Role::Auditor | Role::Administrator => false,
    }
}

/// Refuses what the role lacks.
pub fn may_post(actor: &Actor, kind: EntryKind) -> Result<(), ActionError> {
    if !posted().any(|known| known == kind) {
        let known: Vec<&str> = posted().map(|kind| kind.word()).collect();
        let expected = format!("one of {}", known.join(", "));
        let remedy = "The program books this kind by itself; nobody posts it.";
        return Err(Refusal::invalid("/kind", &expected, kind.word(), remedy).into());
    }
    if posts(actor.role, kind) {
        return Ok(());
    }
    let detail = format!(
        "The role {} does not post {} entries. Ask a compliance manager.",
        actor.role.word(),
        kind.word()
    );
    Err(Refusal::Forbidden { detail }.into())
}
