//! Kinds of entry.
//!
//! Names and codes are fixed for ever: names stand in leaves, codes in the `kind` column. A kind
//! whose meaning changes gets a new name; a kind this program does not know has none of these.

/// What an entry is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum EntryKind {
    Genesis = 1,
    Engine = 2,
    Setting = 3,
    Method = 4,
    RuleSet = 5,
    Import = 6,
    Site = 10,
    Appliance = 11,
    Cylinder = 12,
    Counterparty = 13,
    Person = 14,
    Scale = 15,
    Opening = 20,
    Purchase = 21,
    Charge = 22,
    OutsideCharge = 23,
    Recover = 24,
    Transfer = 25,
    SendToReclaim = 26,
    SendToDestruction = 27,
    Return = 28,
    Loss = 29,
    Redesignate = 30,
    Count = 31,
    Statement = 32,
    Correction = 40,
    Link = 41,
    Settle = 42,
    LeakFound = 50,
    Repair = 51,
    Inspection = 52,
    VerificationTest = 53,
    PressureTest = 54,
    VacuumTest = 55,
    RunCheck = 56,
    Shutdown = 57,
    Isolate = 58,
    PurgeDestroyed = 59,
    Plan = 60,
    Extension = 61,
    Decision = 62,
    Notice = 63,
    Mothball = 64,
    BackInOperation = 65,
    Retrofit = 66,
    Retire = 67,
    Observation = 68,
}

impl EntryKind {
    /// Every kind this program books.
    pub const ALL: [EntryKind; 47] = [
        EntryKind::Genesis,
        EntryKind::Engine,
        EntryKind::Setting,
        EntryKind::Method,
        EntryKind::RuleSet,
        EntryKind::Import,
        EntryKind::Site,
        EntryKind::Appliance,
        EntryKind::Cylinder,
        EntryKind::Counterparty,
        EntryKind::Person,
        EntryKind::Scale,
        EntryKind::Opening,
        EntryKind::Purchase,
        EntryKind::Charge,
        EntryKind::OutsideCharge,
        EntryKind::Recover,
        EntryKind::Transfer,
        EntryKind::SendToReclaim,
        EntryKind::SendToDestruction,
        EntryKind::Return,
        EntryKind::Loss,
        EntryKind::Redesignate,
        EntryKind::Count,
        EntryKind::Statement,
        EntryKind::Correction,
        EntryKind::Link,
        EntryKind::Settle,
        EntryKind::LeakFound,
        EntryKind::Repair,
        EntryKind::Inspection,
        EntryKind::VerificationTest,
        EntryKind::PressureTest,
        EntryKind::VacuumTest,
        EntryKind::RunCheck,
        EntryKind::Shutdown,
        EntryKind::Isolate,
        EntryKind::PurgeDestroyed,
        EntryKind::Plan,
        EntryKind::Extension,
        EntryKind::Decision,
        EntryKind::Notice,
        EntryKind::Mothball,
        EntryKind::BackInOperation,
        EntryKind::Retrofit,
        EntryKind::Retire,
        EntryKind::Observation,
    ];

    /// The word of a leaf.
    pub const fn word(self) -> &'static str {
        match self {
            EntryKind::Genesis => "genesis",
            EntryKind::Engine => "engine",
            EntryKind::Setting => "setting",
            EntryKind::Method => "method",
            EntryKind::RuleSet => "rule_set",
            EntryKind::Import => "import",
            EntryKind::Site => "site",
            EntryKind::Appliance => "appliance",
            EntryKind::Cylinder => "cylinder",
            EntryKind::Counterparty => "counterparty",
            EntryKind::Person => "person",
            EntryKind::Scale => "scale",
            EntryKind::Opening => "opening",
            EntryKind::Purchase => "purchase",
            EntryKind::Charge => "charge",
            EntryKind::OutsideCharge => "outside_charge",
            EntryKind::Recover => "recover",
            EntryKind::Transfer => "transfer",
            EntryKind::SendToReclaim => "send_to_reclaim",
            EntryKind::SendToDestruction => "send_to_destruction",
            EntryKind::Return => "return",
            EntryKind::Loss => "loss",
            EntryKind::Redesignate => "redesignate",
            EntryKind::Count => "count",
            EntryKind::Statement => "statement",
            EntryKind::Correction => "correction",
            EntryKind::Link => "link",
            EntryKind::Settle => "settle",
            EntryKind::LeakFound => "leak_found",
            EntryKind::Repair => "repair",
            EntryKind::Inspection => "inspection",
            EntryKind::VerificationTest => "verification_test",
            EntryKind::PressureTest => "pressure_test",
            EntryKind::VacuumTest => "vacuum_test",
            EntryKind::RunCheck => "run_check",
            EntryKind::Shutdown => "shutdown",
            EntryKind::Isolate => "isolate",
            EntryKind::PurgeDestroyed => "purge_destroyed",
            EntryKind::Plan => "plan",
            EntryKind::Extension => "extension",
            EntryKind::Decision => "decision",
            EntryKind::Notice => "notice",
            EntryKind::Mothball => "mothball",
            EntryKind::BackInOperation => "back_in_operation",
            EntryKind::Retrofit => "retrofit",
            EntryKind::Retire => "retire",
            EntryKind::Observation => "observation",
        }
    }

    /// The kind with this word.
    pub fn named(word: &str) -> Option<EntryKind> {
        EntryKind::ALL.into_iter().find(|kind| kind.word() == word)
    }

    /// The code of the `kind` column.
    pub const fn code(self) -> i16 {
        self as i16
    }

    /// The kind with this code.
    pub fn coded(code: i16) -> Option<EntryKind> {
        EntryKind::ALL.into_iter().find(|kind| kind.code() == code)
    }

    /// Does it move refrigerant?
    pub const fn moves(self) -> bool {
        let code = self as i16;
        code >= 20 && code < 40
    }

    /// Is it a step of a service record, without mass? (An observation is one about a cylinder.)
    pub const fn is_service(self) -> bool {
        self as i16 >= 50
    }

    /// Does it register or change a thing?
    pub const fn registers(self) -> bool {
        let code = self as i16;
        code >= 10 && code < 20
    }
}
