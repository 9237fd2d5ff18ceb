//! An import from its first row to its last.
//!
//! Nothing is booked from a file with an error. After that the import only goes forward: rows are
//! booked in order, at most a thousand in one transaction, each with how far the file has come, so
//! that a run that was stopped is continued by the next one, and a run too many books nothing.

use super::Table;
use super::check::Checked;
use super::file::ImportFile;
use super::problems::Problems;
use super::table::FileFacts;
use super::things::Things;
use crate::actions::ActionError;
use crate::actions::post::organisation_zone;
use crate::ledger::actor::Actor;
use crate::ledger::entry::{Body, EntryKind, FileSize, Happened};
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::apply::Draft;
use crate::store::db::Db;
use crate::store::imports::ImportState;
use crate::store::open::Organisation;
use crate::store::tx::Tx;
use crate::store::writer::{Books, Clock, transact};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use reports::day::{Zone, clock_text, offset_text};
use reports::refrigerant::Table as Refrigerants;
use std::borrow::Cow;

/// Rows in one transaction.
pub(super) const CHUNK: usize = 1_000;

/// Files up to this size are kept in the book as an attachment; larger ones by their hash alone.
const LARGEST_KEPT: u64 = 10 * 1024 * 1024;

/// What an import works with.
pub struct Importing<'a> {
    /// The database.
    pub db: &'a mut Db,
    /// Books in memory.
    pub books: &'a mut Books,
    /// Whose book.
    pub of: &'a Organisation,
    /// Tells the time.
    pub clock: Clock,
    /// Zone of rows and sites that have none.
    pub zone: Zone,
}

/// How far the work is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Rows checked.
    Checking(u64),
    /// Rows booked, of so many.
    Booking(u64, u64),
}

/// How an import ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// The file has errors; nothing was booked.
    Wrong(Problems),
    /// Only checked: so many rows are good, `left` of them are not booked yet.
    Good {
        /// Rows of the file.
        rows: u64,
        /// Rows that an import would book.
        left: u64,
        /// A cell whose letters had to be guessed.
        guessed: Option<String>,
    },
    /// The file was imported before; nothing was booked.
    Already {
        /// Rows of the file.
        rows: u64,
        /// Number of its import entry.
        seq: u64,
    },
    /// Booked.
    Booked {
        /// Rows of the file.
        rows: u64,
        /// Rows booked by this run.
        booked: u64,
        /// Findings they left.
        findings: u64,
        /// A cell whose letters had to be guessed.
        guessed: Option<String>,
        /// Number of the import entry.
        seq: u64,
    },
}

/// An import whose entry is booked.
#[derive(Clone, Copy, Debug)]
pub(super) struct Begun {
    /// How far it is.
    pub state: ImportState,
    /// The number of the next entry, if nobody else wrote since the file was checked.
    pub untouched_at: Option<u64>,
}

impl Importing<'_> {
    /// Imports a file, or only checks it.
    pub fn run<'f>(
        &mut self,
        table: Table,
        file: impl Into<ImportFile<'f>>,
        dry_run: bool,
        progress: &mut dyn FnMut(Stage),
    ) -> Result<Outcome, ActionError> {
        let file: ImportFile<'f> = file.into();
        let size = crate::store::open::size(self.db, self.of.org)?;
        let mut things = Things::read(self.db, self.of.org, self.zone.clone())?;
        let checked = self.check(table, file, &things, &mut |row| {
            progress(Stage::Checking(row))
        })?;
        let Checked {
            facts: Some(facts),
            problems,
            state,
        } = checked
        else {
            return Ok(Outcome::Wrong(checked.problems));
        };
        if let Some(state) = state.filter(ImportState::is_finished) {
            return Ok(Outcome::Already {
                rows: facts.rows,
                seq: state.seq,
            });
        }
        if !problems.is_empty() {
            return Ok(Outcome::Wrong(problems));
        }
        let done = state.map_or(1, |state| state.done);
        let left = (facts.rows + 1).saturating_sub(done);
        if dry_run {
            return Ok(Outcome::Good {
                rows: facts.rows,
                left,
                guessed: facts.guessed,
            });
        }
        crate::store::imports::prepare(self.db)?;
        let begun = match state {
            Some(state) => Begun {
                state,
                untouched_at: Some(size),
            },
            None => self.begin(table, file, &facts, size)?,
        };
        let state = begun.state;
        let rows = facts.rows;
        let mut progress = |row: u64| progress(Stage::Booking(row.saturating_sub(1), rows));
        let findings = match table {
            Table::Movements => {
                self.book_movements(file, &facts, begun, &mut things, &mut progress)?
            }
            _ => self.book_registers(table, file, &facts, state, &mut things, &mut progress)?,
        };
        Ok(Outcome::Booked {
            rows,
            booked: left,
            findings,
            guessed: facts.guessed,
            seq: state.seq,
        })
    }

    /// Runs an action on the book.
    pub(super) fn transact<T>(
        &mut self,
        action: impl FnMut(&mut Tx<'_>) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let table = Refrigerants::shipped();
        transact(self.db, self.books, self.of, &[], table, self.clock, action)
    }

    /// Books the `import` entry.
    fn begin(
        &mut self,
        table: Table,
        file: ImportFile<'_>,
        facts: &FileFacts,
        size: u64,
    ) -> Result<Begun, StoreError> {
        let kept = if facts.bytes <= LARGEST_KEPT {
            let bytes =
                std::fs::read(file.path).map_err(|error| changed(facts, &error.to_string()))?;
            if crate::ledger::tree::sha256(&bytes) != facts.sha256 {
                return Err(changed(facts, "other bytes"));
            }
            vec![bytes]
        } else {
            Vec::new()
        };
        self.transact(|tx| {
            let untouched = tx.next_seq() == size;
            tx.keep_engine()?;
            let body = Body {
                file: Some(FileSize { bytes: facts.bytes }),
                rows: Some(facts.rows),
                table: Some(Cow::Borrowed(table.word())),
                ..Body::default()
            };
            let id = Id::at(tx.now.unsigned_abs() / 1000);
            let mut draft = Draft::new(id, EntryKind::Import, now(tx)?, body);
            draft.secrets = vec![
                ("file.name".to_string(), facts.name.clone()),
                ("file.sha256".to_string(), STANDARD.encode(facts.sha256)),
            ];
            draft.attachments = kept.clone();
            let booked = tx.book(&Actor::IMPORT, draft)?;
            let state = ImportState {
                seq: booked.seq,
                id,
                rows: facts.rows,
                done: 1,
            };
            tx.note_import(table.word(), &facts.key, &state);
            let untouched_at = untouched.then(|| tx.next_seq());
            Ok(Begun {
                state,
                untouched_at,
            })
        })
    }
}

/// The moment of this batch in the organisation's zone.
pub(super) fn now(tx: &mut Tx<'_>) -> Result<Happened<'static>, StoreError> {
    let name = organisation_zone(tx)?;
    let zone = Zone::named(&name).or_else(|| Zone::named("UTC"));
    let zone = zone.ok_or_else(|| StoreError::Broken("the zone table has no UTC".to_string()))?;
    let local = zone.local(jiff::Timestamp::from_microsecond(tx.now).unwrap_or_default());
    let (time, offset) = (clock_text(local.second, false), offset_text(local.offset));
    Ok(crate::actions::when::stated(
        local.day,
        Some(time),
        Some(offset),
        &zone,
    ))
}

/// A refusal where none can be answered: the row that caused it ends the import.
pub(super) fn failed(error: ActionError) -> StoreError {
    match error {
        ActionError::Failed(error) => error,
        ActionError::Refused(refusal) => StoreError::Broken(refusal.to_string()),
    }
}

/// The same, with the row.
pub(super) fn failed_at(file: &str, row: u64, error: ActionError) -> StoreError {
    match error {
        ActionError::Failed(error) => error,
        ActionError::Refused(refusal) => StoreError::Broken(format!(
            "{file}, row {row}: {refusal} Rows before this thousand are booked; put the register \
             right and run the same import again to go on."
        )),
    }
}

/// The file is not the one that was checked.
pub(super) fn changed(facts: &FileFacts, came: &str) -> StoreError {
    StoreError::Broken(format!(
        "expected the file {} as it was when it was checked, came {came}. Leave a file alone while \
         it is imported; verify what was booked.",
        facts.name
    ))
}
