//! Keeping books, on SQLite or PostgreSQL.
//!
//! Everything here serves one rule: the book is the truth. Entries, movements, attachments and
//! checkpoints are only ever added; every other table is a cache that `rebuild` works out again.
//! Actions read through a [`tx::Tx`], decide, and append; they write no SQL. diesel is named in
//! this room and nowhere else.

pub mod access;
mod alike;
pub mod apply;
mod assessed;
pub mod assignments;
pub mod book;
pub mod booked;
mod by_number;
pub mod calendars;
pub mod columns;
pub mod db;
pub mod dossier;
pub mod elsewhere;
pub mod engine;
pub mod entries_about;
pub mod factors;
pub mod filesystem;
pub mod flush;
mod flush_postgres;
pub mod guesses;
pub mod history;
pub mod imports;
pub mod labelled;
mod left;
pub mod line;
pub mod listing;
pub mod log;
pub mod mail_choices;
pub mod migrations;
pub mod open;
mod open_findings;
pub mod outgoing;
pub mod quarantine;
pub mod readers;
pub mod rebuild;
pub mod scan;
pub mod sessions;
pub mod shipments;
pub mod sight;
pub mod sign_ins;
pub mod source;
pub mod spelt;
pub(crate) mod sql;
pub mod standings;
pub mod statement;
pub mod stock;
pub mod tokens;
pub mod turn;
pub mod tx;
pub mod writer;

use std::fmt;

pub use db::{Address, Db, Purpose};
pub use sight::Sight;

/// Why the store could not do what it was asked. Nothing is half booked when one is returned.
#[derive(Debug)]
pub enum StoreError {
    /// The address is none.
    Address(String),
    /// The database cannot be reached or opened.
    Unreachable {
        /// Where.
        address: String,
        /// What the engine said.
        why: String,
    },
    /// There is no book there yet.
    NoBook(String),
    /// There is no such organisation.
    NoOrganisation(String),
    /// Entries could be lost here.
    Unsafe(String),
    /// The database was written by a newer program, or needs `tarebook migrate`.
    WrongVersion(String),
    /// The clock cannot be trusted.
    Clock(String),
    /// What is stored contradicts itself.
    Broken(String),
    /// What was to be written out could not be.
    Output(String),
    /// An entry that would be longer than a leaf may be: so many bytes.
    TooLarge(usize),
    /// The action asked for everything it booked to be taken back.
    TakenBack,
    /// The writer is busy or gone; the same request may be sent again.
    Busy,
    /// A fault of this program ended what was asked; with its words.
    Panicked(String),
    /// The engine failed.
    Database(diesel::result::Error),
}

impl fmt::Display for StoreError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            StoreError::Address(why)
            | StoreError::Unsafe(why)
            | StoreError::WrongVersion(why)
            | StoreError::Clock(why)
            | StoreError::Broken(why) => f.write_str(why),
            StoreError::Unreachable { address, why } => {
                write!(f, "the database at {address} cannot be opened: {why}")
            }
            StoreError::NoBook(file) => write!(
                f,
                "there is no book at {file}; make one with `tarebook init`, or point --data at the \
                 folder that holds it"
            ),
            StoreError::NoOrganisation(name) => write!(
                f,
                "no organisation named '{name}' keeps a book here; check the spelling, or make one \
                 with `tarebook init`"
            ),
            StoreError::Output(why) => write!(f, "the output cannot be written: {why}"),
            StoreError::TooLarge(bytes) => write!(
                f,
                "the entry would be {bytes} bytes long; at most {} fit a leaf",
                crate::ledger::entry::LARGEST_LEAF
            ),
            StoreError::TakenBack => f.write_str("everything was taken back as asked"),
            StoreError::Busy => f.write_str("the book is busy; send the same request again"),
            StoreError::Panicked(why) => write!(
                f,
                "the program failed while writing ({why}): nothing of this was booked. Tell whoever \
                 keeps the program; other postings go on"
            ),
            StoreError::Database(error) if is_full(error) => write!(
                f,
                "the disk of the database is full ({error}): nothing of this was booked. Make room \
                 there, then ask for the same again"
            ),
            StoreError::Database(error) => write!(f, "the database refused: {error}"),
        }
    }
}

/// SQLite says "database or disk is full", PostgreSQL passes on "No space left on device".
fn is_full(error: &diesel::result::Error) -> bool {
    let text = error.to_string();
    text.contains("disk is full") || text.contains("No space left")
}

impl std::error::Error for StoreError {}

impl From<diesel::result::Error> for StoreError {
    fn from(error: diesel::result::Error) -> StoreError {
        StoreError::Database(error)
    }
}

impl StoreError {
    /// Is the database away, or too busy, so that the same request may be sent again?
    pub fn is_away(&self) -> bool {
        use diesel::result::{DatabaseErrorKind as Kind, Error};
        match self {
            StoreError::Unreachable { .. } | StoreError::WrongVersion(_) | StoreError::Busy => true,
            StoreError::NoBook(_) => true,
            StoreError::Database(error) if is_full(error) => true,
            StoreError::Database(Error::DatabaseError(kind, _)) => !matches!(
                kind,
                Kind::UniqueViolation
                    | Kind::ForeignKeyViolation
                    | Kind::NotNullViolation
                    | Kind::CheckViolation
            ),
            StoreError::Database(error) => matches!(error, Error::BrokenTransactionManager),
            _ => false,
        }
    }

    /// The same failure for a caller, where the original belongs to the log.
    fn from_failed(error: &StoreError) -> StoreError {
        match error {
            StoreError::Clock(why) => StoreError::Clock(why.clone()),
            StoreError::WrongVersion(why) => StoreError::WrongVersion(why.clone()),
            StoreError::Broken(why) => StoreError::Broken(why.clone()),
            StoreError::NoOrganisation(name) => StoreError::NoOrganisation(name.clone()),
            StoreError::TooLarge(bytes) => StoreError::TooLarge(*bytes),
            StoreError::Busy => StoreError::Busy,
            StoreError::TakenBack => StoreError::TakenBack,
            StoreError::Panicked(why) => StoreError::Panicked(why.clone()),
            StoreError::Database(error) if is_full(error) => {
                let text = error.to_string();
                StoreError::Database(diesel::result::Error::QueryBuilderError(text.into()))
            }
            other if !other.is_away() => StoreError::Broken(other.to_string()),
            other => StoreError::Unreachable {
                address: "this book".to_string(),
                why: other.to_string(),
            },
        }
    }
}

/// What is stored cannot be read back.
fn damaged(what: &str) -> StoreError {
    StoreError::Broken(format!("{what} stored here is damaged"))
}
