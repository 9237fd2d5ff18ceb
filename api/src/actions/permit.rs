//! Which role may do what: one table for postings, one for everything else.
//!
//! What is not in a table is refused (promise S3). Both are data, so that a test can walk every
//! role and every deed, and the service every route.

use super::refusal::{ActionError, Refusal};
use crate::ledger::actor::{Actor, Role};
use crate::ledger::entry::{Body, EntryKind};

/// Kinds that are posted through the door; the others the program books by itself.
pub fn posted() -> impl Iterator<Item = EntryKind> {
    let own = [EntryKind::Genesis, EntryKind::Engine, EntryKind::Import];
    EntryKind::ALL
        .into_iter()
        .filter(move |kind| !own.contains(kind))
}

/// Steps that only the manager takes: plans, extensions, decisions, notices to an authority.
fn decides(kind: EntryKind) -> bool {
    matches!(
        kind,
        EntryKind::Plan | EntryKind::Extension | EntryKind::Decision | EntryKind::Notice
    )
}

/// What goes wrong between the firm and whoever it pays or pays it is settled by the office.
fn is_of_the_office(kind: EntryKind) -> bool {
    kind == EntryKind::Statement
}

/// May this role post this kind? Finer limits (own entries, own visits, assigned sites) are looked
/// at where the entry is known.
pub fn posts(role: Role, kind: EntryKind) -> bool {
    match role {
        Role::ComplianceManager => true,
        _ if is_of_the_office(kind) => false,
        Role::Technician => {
            kind.moves()
                || (kind.is_service() && !decides(kind))
                || matches!(
                    kind,
                    EntryKind::Appliance
                        | EntryKind::Cylinder
                        | EntryKind::Scale
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
        // An administrator handles people, not figures.
        Role::Administrator => matches!(kind, EntryKind::Person),
        Role::Auditor => false,
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

/// Facts that a technician says of a thing which the office has registered: who has the cylinder,
/// and what the scale showed for a known weight.
const OF_THE_VAN: [(EntryKind, &str); 2] = [
    (EntryKind::Cylinder, "held_by"),
    (EntryKind::Scale, "check_weight"),
];

/// Refuses facts that are not for this role to say.
pub fn may_state(actor: &Actor, kind: EntryKind, body: &Body<'_>) -> Result<(), ActionError> {
    let own = OF_THE_VAN.iter().find(|(known, _)| *known == kind);
    let Some((_, own)) = own.filter(|_| actor.role == Role::Technician) else {
        return Ok(());
    };
    let mut facts = body.facts.iter().flatten().map(|(name, _)| name.as_ref());
    let Some(other) = facts.find(|name| name != own) else {
        return Ok(());
    };
    let detail = format!(
        "Of a {} the role {} says {own}, got {other}. Ask a compliance manager for the rest.",
        kind.word(),
        actor.role.word()
    );
    Err(Refusal::Forbidden { detail }.into())
}

/// What somebody does besides posting entries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Deed {
    /// Reads entries and visits.
    ReadBook,
    /// Reads appliances, cylinders, sites, counterparties, scales, standings, rule sets.
    ReadRegister,
    /// Reads names and contact data of people.
    ReadPeople,
    /// Reads findings, follow-ups, duties and deadlines.
    ReadFollowUps,
    /// Fetches yearly sheets and other reports.
    Report,
    /// Reads tiles, proofs and the bundle of the log.
    ReadLog,
    /// Reads the newest checkpoint and the verification keys.
    ReadCheckpoint,
    /// Registers and edits appliances, cylinders and sites.
    Register,
    /// Says who does what is owed.
    Assign,
    /// Adopts rule sets, methods and settings.
    AdoptRules,
    /// Tries rule sets on the book without adopting them.
    PreviewRules,
    /// Closes a period.
    ClosePeriod,
    /// Opens a closed period again.
    ReopenPeriod,
    /// Creates and revokes an outside auditor's grant.
    Grant,
    /// Invites and disables people, sets their roles, resets their passwords, ends their sessions.
    ManagePeople,
    /// Issues a token.
    IssueTokens,
    /// Lists and revokes tokens.
    RevokeTokens,
    /// Lists and ends one's own sessions, changes one's own password.
    OwnSessions,
    /// Makes and revokes calendars of one's own duties, and says what of them comes by mail.
    OwnCalendars,
    /// Asks for the erasure of somebody's data.
    RequestErasure,
    /// Carries an erasure out.
    Erase,
    /// Reads the record of who read what.
    ReadAccessRecords,
    /// Imports files.
    Import,
    /// Rotates the signing key, backs up, restores.
    KeepService,
}

/// How far a permission reaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reach {
    /// Not at all.
    Nothing,
    /// What is the asker's own: own postings and their receipts, own records; of people also the
    /// names of colleagues.
    Own,
    /// Things of the sites the asker is assigned to.
    AssignedSites,
    /// What concerns security: sign-ins, people, tokens.
    Security,
    /// The whole organisation.
    Whole,
}

use Reach::{AssignedSites, Own, Security, Whole};
use Role::{Administrator, Auditor, ComplianceManager, Device, Operator, Technician};

/// Every deed with the roles that may do it, and how far. Roles that are not named may not.
pub const TABLE: &[(Deed, &[(Role, Reach)])] = &[
    (
        Deed::ReadBook,
        &[
            (Technician, AssignedSites),
            (ComplianceManager, Whole),
            (Auditor, Whole),
            (Device, Own),
            (Operator, Whole),
        ],
    ),
    (
        // A device is told what it may name when its token is issued, and reads its own postings.
        Deed::ReadRegister,
        &[
            (Technician, AssignedSites),
            (ComplianceManager, Whole),
            (Auditor, Whole),
            (Operator, Whole),
        ],
    ),
    (
        Deed::ReadPeople,
        &[
            (Technician, Own),
            (ComplianceManager, Whole),
            (Auditor, Whole),
            (Administrator, Whole),
            (Operator, Whole),
        ],
    ),
    (
        Deed::ReadFollowUps,
        &[
            (Technician, AssignedSites),
            (ComplianceManager, Whole),
            (Auditor, Whole),
            (Operator, Whole),
        ],
    ),
    (
        Deed::Report,
        &[
            (ComplianceManager, Whole),
            (Auditor, Whole),
            (Operator, Whole),
        ],
    ),
    (
        Deed::ReadLog,
        &[
            (Technician, Own),
            (ComplianceManager, Whole),
            (Auditor, Whole),
            (Device, Own),
            (Operator, Whole),
        ],
    ),
    (
        Deed::ReadCheckpoint,
        &[
            (Technician, Whole),
            (ComplianceManager, Whole),
            (Auditor, Whole),
            (Administrator, Whole),
            (Device, Whole),
            (Operator, Whole),
        ],
    ),
    (
        Deed::Register,
        &[
            (Technician, AssignedSites),
            (ComplianceManager, Whole),
            (Operator, Whole),
        ],
    ),
    (
        Deed::Assign,
        &[(ComplianceManager, Whole), (Operator, Whole)],
    ),
    (
        Deed::AdoptRules,
        &[(ComplianceManager, Whole), (Operator, Whole)],
    ),
    (
        Deed::PreviewRules,
        &[
            (ComplianceManager, Whole),
            (Auditor, Whole),
            (Operator, Whole),
        ],
    ),
    (Deed::ClosePeriod, &[(ComplianceManager, Whole)]),
    (Deed::ReopenPeriod, &[(ComplianceManager, Whole)]),
    (Deed::Grant, &[(ComplianceManager, Whole)]),
    (
        Deed::ManagePeople,
        &[(Administrator, Whole), (Operator, Whole)],
    ),
    (
        Deed::IssueTokens,
        &[(ComplianceManager, Whole), (Operator, Whole)],
    ),
    (
        Deed::RevokeTokens,
        &[
            (ComplianceManager, Whole),
            (Administrator, Whole),
            (Operator, Whole),
        ],
    ),
    (
        Deed::OwnSessions,
        &[
            (Technician, Own),
            (ComplianceManager, Own),
            (Auditor, Own),
            (Administrator, Own),
        ],
    ),
    (
        Deed::OwnCalendars,
        &[(Technician, Own), (ComplianceManager, Own), (Auditor, Own)],
    ),
    (Deed::RequestErasure, &[(ComplianceManager, Whole)]),
    (Deed::Erase, &[(Administrator, Whole)]),
    (
        Deed::ReadAccessRecords,
        &[
            (Technician, Own),
            (ComplianceManager, Whole),
            (Auditor, Whole),
            (Administrator, Security),
            (Operator, Whole),
        ],
    ),
    (
        Deed::Import,
        &[(ComplianceManager, Whole), (Operator, Whole)],
    ),
    (Deed::KeepService, &[(Operator, Whole)]),
];

/// How far a role may do something.
pub fn reach(role: Role, deed: Deed) -> Reach {
    let row = TABLE.iter().find(|(known, _)| *known == deed);
    let cell = row.and_then(|(_, cells)| cells.iter().find(|(known, _)| *known == role));
    cell.map_or(Reach::Nothing, |(_, reach)| *reach)
}

/// May a role do something at all?
pub fn may(role: Role, deed: Deed) -> bool {
    reach(role, deed) != Reach::Nothing
}

/// Refuses what the role lacks.
pub fn may_do(actor: &Actor, deed: Deed) -> Result<(), ActionError> {
    if may(actor.role, deed) {
        return Ok(());
    }
    let row = TABLE.iter().find(|(known, _)| *known == deed);
    let roles = row.map_or(&[][..], |(_, cells)| cells);
    let words: Vec<&str> = roles.iter().map(|(role, _)| role.word()).collect();
    let detail = format!(
        "The role {} may not do this; it is for: {}.",
        actor.role.word(),
        words.join(", ")
    );
    Err(Refusal::Forbidden { detail }.into())
}
