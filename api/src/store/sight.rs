//! What a transaction may see: organisations, or the one row that a secret or an address opens.
//!
//! On PostgreSQL row security holds even for a statement that forgets to name its organisation
//! (promise S2); these settings, which end with their transaction, say what it lets through. A
//! transaction that says nothing sees nothing. SQLite has nothing like it: there every statement
//! names its organisation, and a test reads them all.

use super::{Db, StoreError};
use diesel::connection::SimpleConnection;
use diesel::result::QueryResult;

/// What the statements of a transaction may see.
#[derive(Clone, Copy, Debug)]
pub enum Sight<'a> {
    /// These organisations: a request names one, a writer's batch may name several.
    Organisations(&'a [i64]),
    /// The session or token with this hashed secret, and nothing else.
    Secret(&'a [u8; 32]),
    /// The sign-ins whose address has this hash, and nothing else.
    Email(&'a [u8; 32]),
}

/// How a reading transaction begins on PostgreSQL.
pub(super) const READING: &str = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY";

impl Sight<'_> {
    /// The statement that opens it. Only digits are put into it.
    fn text(self) -> String {
        let hex = |bytes: &[u8]| -> String { bytes.iter().map(|b| format!("{b:02x}")).collect() };
        match self {
            Sight::Organisations(orgs) => {
                let orgs: Vec<String> = orgs.iter().map(ToString::to_string).collect();
                format!("SET LOCAL tarebook.orgs = '{}'", orgs.join(","))
            }
            Sight::Secret(hash) => format!("SET LOCAL tarebook.secret = '{}'", hex(hash)),
            Sight::Email(hash) => format!("SET LOCAL tarebook.email = '{}'", hex(hash)),
        }
    }
}

impl Db {
    /// Begins a transaction that may write what the sight lets it see.
    pub fn begin_for(&mut self, sight: Sight<'_>) -> QueryResult<()> {
        // One round trip for both.
        self.begin_with(&format!("BEGIN; {}", sight.text()))
    }

    /// Begins a transaction that sees one state of what the sight lets it see and writes nothing.
    pub fn begin_reading_for(&mut self, sight: Sight<'_>) -> QueryResult<()> {
        self.begin_reading_with(&format!("{READING}; {}", sight.text()))
    }

    /// Opens one more sight inside a running transaction.
    pub fn see(&mut self, sight: Sight<'_>) -> QueryResult<()> {
        match self {
            Db::Sqlite(..) => Ok(()),
            Db::Postgres(connection) => connection.batch_execute(&sight.text()),
        }
    }

    /// Runs `with` in a transaction that may write what the sight lets it see; on an error nothing
    /// of it is kept.
    pub fn writing<T>(
        &mut self,
        sight: Sight<'_>,
        with: impl FnOnce(&mut Db) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        self.begin_for(sight)?;
        let done = with(self).and_then(|value| {
            self.commit()?;
            Ok(value)
        });
        if done.is_err() {
            let _ = self.rollback();
        }
        done
    }

    /// Runs `with` in a transaction that only reads.
    pub fn reading<T>(
        &mut self,
        sight: Sight<'_>,
        with: impl FnOnce(&mut Db) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        self.begin_reading_for(sight)?;
        let done = with(self);
        // Nothing was written, so nothing is kept either way.
        let _ = self.rollback();
        done
    }
}
