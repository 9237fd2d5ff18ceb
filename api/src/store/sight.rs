//! What a transaction may see: organisations, or the one row that a secret or an address opens.
//!
//! On PostgreSQL row security holds even for a statement that forgets to name its organisation
//! (promise S2); these settings, which end with their transaction, say what it lets through. A
//! transaction that says nothing sees nothing. SQLite has nothing like it: there every statement
//! names its organisation, and a test reads them all.

use super::{Db, StoreError, sql};
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
    /// The organisation whose name has this hash, and nothing else.
    Name(&'a [u8; 32]),
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
            Sight::Name(hash) => format!("SET LOCAL tarebook.name = '{}'", hex(hash)),
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

    /// Sees all organisations for as long as it is open, where the role owns the tables: for the
    /// commands on the host that look after them all. Nothing that serves requests calls this.
    pub fn as_operator(mut self) -> Result<Db, StoreError> {
        if let Db::Postgres(connection) = &mut self {
            connection.batch_execute("SET tarebook.orgs = '*'")?;
        }
        Ok(self)
    }

    /// Sees one organisation for as long as it is open: for a command that works for one.
    pub fn keep_to(&mut self, org: i64) -> Result<(), StoreError> {
        if let Db::Postgres(connection) = self {
            connection.batch_execute(&format!("SET tarebook.orgs = '{org}'"))?;
        }
        Ok(())
    }

    /// Does row security hold for the role of this connection? Not for a superuser, nor for a role
    /// that may bypass it: a service that connects so loses promise S2 and should say it.
    pub fn is_guarded(&mut self) -> Result<bool, StoreError> {
        if !self.is_postgres() {
            return Ok(true);
        }
        let free: Option<i64> = self.first(sql::IsUnguarded, &[])?;
        Ok(free == Some(0))
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
