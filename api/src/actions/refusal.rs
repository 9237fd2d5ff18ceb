//! Refusals: what a person can put right, each with the facts needed to do so.
//!
//! Every sentence says what was expected, what came and what to do. Everything that is not a
//! refusal is a failure of the store; it is logged with its cause and answered without it.

use crate::store::StoreError;
use std::fmt;

/// Why an action did not happen. Nothing was booked.
#[derive(Debug)]
pub enum ActionError {
    /// A person can put it right.
    Refused(Refusal),
    /// The store failed.
    Failed(StoreError),
}

impl From<StoreError> for ActionError {
    fn from(error: StoreError) -> ActionError {
        ActionError::Failed(error)
    }
}

impl From<Refusal> for ActionError {
    fn from(refusal: Refusal) -> ActionError {
        ActionError::Refused(refusal)
    }
}

impl fmt::Display for ActionError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ActionError::Refused(refusal) => refusal.fmt(f),
            ActionError::Failed(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for ActionError {}

/// What a person can put right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The request is not of the shape of its kind.
    Malformed {
        /// JSON Pointer to the place.
        pointer: String,
        /// What was expected, what came, what to do.
        detail: String,
    },
    /// No id was given.
    MissingId,
    /// A member nobody knows.
    UnknownField {
        /// JSON Pointer to it.
        pointer: String,
        /// Its name.
        name: String,
        /// The known names.
        known: String,
    },
    /// A value outside what its member takes.
    InvalidValue {
        /// JSON Pointer to it.
        pointer: String,
        /// What was expected, what came, what to do.
        detail: String,
    },
    /// Nothing of that sort carries this id or tag in this book.
    Unknown {
        /// JSON Pointer to it.
        pointer: String,
        /// `appliance`, `cylinder` and so on.
        what: String,
        /// What was given.
        name: String,
    },
    /// The id is in the book with other content.
    IdReused {
        /// Number of the entry that has it.
        seq: u64,
        /// The member that says something else.
        member: String,
    },
    /// The entry is corrected already; the newest of its chain can be.
    AlreadyCorrected {
        /// The correction.
        by: u64,
    },
    /// The leaf would be longer than a leaf may be.
    TooLarge {
        /// How many bytes it would have.
        bytes: usize,
    },
    /// The role lacks this action.
    Forbidden {
        /// What may not be done.
        detail: String,
    },
    /// The same id is being booked at this moment.
    InProgress,
    /// The thing was changed since the caller read it.
    StaleVersion {
        /// Sort and name of the thing.
        what: String,
    },
    /// Questions to be answered with the same request again.
    NeedsAnswer(Vec<Question>),
    /// Stopped before pouring.
    HardStop(Vec<Stop>),
    /// An earlier item of the same list, about the same place, was refused.
    Held {
        /// Place they share.
        place: String,
    },
}

/// A question about a posting.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    /// Its code, under which the answer is kept.
    pub code: &'static str,
    /// The question in words.
    pub text: String,
    /// The answers: word, text, and what it would book.
    pub choices: Vec<QuestionChoice>,
}

/// One answer to a question.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QuestionChoice {
    /// The word.
    pub choice: &'static str,
    /// In words.
    pub text: String,
    /// What this choice would book.
    pub books: String,
}

/// A stop that guards the moment before pouring.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stop {
    /// mixing, expired, condemned, disposable, over_full, other_owner, quarantined.
    pub word: &'static str,
    /// Why.
    pub text: String,
    /// May a compliance manager lift it?
    pub may_lift: bool,
}

impl Refusal {
    /// The last part of the problem type.
    pub fn slug(&self) -> &'static str {
        match self {
            Refusal::Malformed { .. } => "malformed",
            Refusal::MissingId => "missing-id",
            Refusal::UnknownField { .. } => "unknown-field",
            Refusal::InvalidValue { .. } => "invalid-value",
            Refusal::Unknown { .. } => "not-found",
            Refusal::IdReused { .. } => "id-reused",
            Refusal::AlreadyCorrected { .. } => "already-corrected",
            Refusal::TooLarge { .. } => "too-large",
            Refusal::Forbidden { .. } => "forbidden",
            Refusal::InProgress => "in-progress",
            Refusal::StaleVersion { .. } => "stale-version",
            Refusal::NeedsAnswer(_) => "needs-answer",
            Refusal::HardStop(_) => "hard-stop",
            Refusal::Held { .. } => "held",
        }
    }

    /// A value that does not fit its member.
    pub fn invalid(pointer: &str, expected: &str, came: &str, remedy: &str) -> Refusal {
        let detail = format!("Expected {expected}, got {}. {remedy}", shown(came));
        Refusal::InvalidValue {
            pointer: pointer.to_string(),
            detail,
        }
    }
}

/// What came, shortened so that a message stays a message.
pub fn shown(came: &str) -> String {
    let mut text: String = came.chars().take(60).filter(|c| !c.is_control()).collect();
    if came.chars().count() > 60 {
        text.push('…');
    }
    format!("\"{text}\"")
}

const MISSING_ID: &str = "Expected an entry_id (a UUID that the client makes and keeps before \
    sending), got none. Make one and send the same request with it.";
const IN_PROGRESS: &str = "An entry with this entry_id is being booked at this moment. Send the \
    same request again in a second; it books nothing twice.";

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refusal::Malformed { pointer, detail } | Refusal::InvalidValue { pointer, detail } => {
                write!(f, "{pointer}: {detail}")
            }
            Refusal::MissingId => f.write_str(MISSING_ID),
            Refusal::UnknownField {
                pointer,
                name,
                known,
            } => {
                write!(
                    f,
                    "{pointer}: There is no member {}. Known here: {known}.",
                    shown(name)
                )
            }
            Refusal::Unknown {
                pointer,
                what,
                name,
            } => write!(
                f,
                "{pointer}: No {what} {} is registered in this book. Check the spelling, or \
                 register it first.",
                shown(name)
            ),
            Refusal::IdReused { seq, member } => write!(
                f,
                "This entry_id belongs to entry no. {seq}, whose content is another ({member}). \
                 Nothing was booked; make a new id for a new fact, or correct no. {seq}."
            ),
            Refusal::AlreadyCorrected { by } => write!(
                f,
                "This entry was corrected by no. {by}. Correct the newest entry of the chain."
            ),
            Refusal::TooLarge { bytes } => write!(
                f,
                "Expected an entry of at most {} bytes, got one of {bytes}. Send its movements or \
                 facts in several entries.",
                crate::ledger::entry::LARGEST_LEAF
            ),
            Refusal::Forbidden { detail } => f.write_str(detail),
            Refusal::InProgress => f.write_str(IN_PROGRESS),
            Refusal::StaleVersion { what } => write!(
                f,
                "Expected the newest version of {what}, got an older one: somebody changed it \
                 meanwhile. Read it again, look at what changed, and send the change with its ETag."
            ),
            Refusal::NeedsAnswer(questions) => {
                let texts: Vec<String> = questions
                    .iter()
                    .map(|q| format!("{}: {}", q.code, q.text))
                    .collect();
                f.write_str(&texts.join(" "))
            }
            Refusal::HardStop(stops) => {
                let texts: Vec<String> = stops
                    .iter()
                    .map(|stop| format!("{}: {}", stop.word, stop.text))
                    .collect();
                f.write_str(&texts.join(" "))
            }
            Refusal::Held { place } => write!(
                f,
                "An earlier item about {place} was refused; this one waits for it. Put that one \
                 right and send both again."
            ),
        }
    }
}
