//! Who acts.
//!
//! An [`Actor`] is who booked an entry and in which role; one person may hold several roles and
//! every entry states which one acted.

use super::id::Id;

/// In which role somebody acts (or the program itself does).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Role {
    /// Posts weights from the field.
    Technician,
    /// Answers for deadlines and reports.
    ComplianceManager,
    /// Reads and verifies.
    Auditor,
    /// Handles people, not figures.
    Administrator,
    /// A scale, a sensor or another program with a narrow token.
    Device,
    /// A command on the host.
    Operator,
    /// The program by itself.
    System,
}

impl Role {
    /// All roles.
    pub const ALL: [Role; 7] = [
        Role::Technician,
        Role::ComplianceManager,
        Role::Auditor,
        Role::Administrator,
        Role::Device,
        Role::Operator,
        Role::System,
    ];

    /// The word of a leaf.
    pub const fn word(self) -> &'static str {
        match self {
            Role::Technician => "technician",
            Role::ComplianceManager => "compliance_manager",
            Role::Auditor => "auditor",
            Role::Administrator => "administrator",
            Role::Device => "device",
            Role::Operator => "operator",
            Role::System => "system",
        }
    }

    /// The role with this word.
    pub fn named(word: &str) -> Option<Role> {
        Role::ALL.into_iter().find(|role| role.word() == word)
    }
}

/// Through which door an entry came.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Via {
    /// A signed-in person.
    User,
    /// A device token.
    Device,
    /// An import file.
    Import,
    /// The program or a command on the host.
    System,
}

impl Via {
    /// The word of a leaf.
    pub const fn word(self) -> &'static str {
        match self {
            Via::User => "user",
            Via::Device => "device",
            Via::Import => "import",
            Via::System => "system",
        }
    }
}

/// Who acts, in which role, through which door.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Actor {
    /// The person, unless a command or the program acts.
    pub person: Option<Id>,
    /// The role that acts.
    pub role: Role,
    /// The door.
    pub via: Via,
    /// The sign-in or token.
    pub device: Option<Id>,
}

impl Actor {
    /// A command on the host.
    pub const OPERATOR: Actor = Actor {
        person: None,
        role: Role::Operator,
        via: Via::System,
        device: None,
    };
    /// The program by itself.
    pub const SYSTEM: Actor = Actor {
        person: None,
        role: Role::System,
        via: Via::System,
        device: None,
    };
    /// An import on the host.
    pub const IMPORT: Actor = Actor {
        person: None,
        role: Role::Operator,
        via: Via::Import,
        device: None,
    };

    /// A signed-in person.
    pub const fn person(person: Id, role: Role, device: Option<Id>) -> Actor {
        Actor {
            person: Some(person),
            role,
            via: Via::User,
            device,
        }
    }
}
