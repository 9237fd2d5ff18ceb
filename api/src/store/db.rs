//! SQLite or PostgreSQL behind one type.
//!
//! The engine is chosen by the address, never by trying: SQLite would accept any text as a path.
//! A connection is only handed out after its safety settings were read back and found as asked
//! (promise D2), because a setting that silently did not take would lose acknowledged entries.

use super::StoreError;
use super::statement::{Bind, Bound, Sql};
use super::turn::Turnstile;
use diesel::connection::TransactionManager;
use diesel::connection::{AnsiTransactionManager, LoadConnection, SimpleConnection};
use diesel::pg::PgConnection;
use diesel::prelude::*;
use diesel::query_dsl::methods::LoadQuery;
use diesel::sqlite::SqliteConnection;
use std::path::{Path, PathBuf};

/// Where a book is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Address {
    /// A folder that holds `tarebook.sqlite`.
    Folder(PathBuf),
    /// A PostgreSQL URL.
    Postgres(String),
}

impl Address {
    /// Name of the database file in a data folder.
    pub const FILE: &'static str = "tarebook.sqlite";

    /// Reads a database URL; text without a known scheme is refused with a remedy.
    pub fn from_url(url: &str) -> Result<Address, StoreError> {
        if url.starts_with("postgres://") || url.starts_with("postgresql://") {
            return Ok(Address::Postgres(url.to_string()));
        }
        let scheme = url.split_once("://").map_or("none", |(scheme, _)| scheme);
        Err(StoreError::Address(format!(
            "expected a database URL that begins with postgres:// or postgresql://, got scheme \
             '{scheme}'; for a book in one file give its folder with --data instead"
        )))
    }

    /// The same address, given up soon when nobody answers there: a service must be able to say so.
    pub fn impatient(self) -> Address {
        let Address::Postgres(mut url) = self else {
            return self;
        };
        // Milliseconds of a connection on which nothing is acknowledged, seconds for opening one.
        for (name, value) in [("connect_timeout", "3"), ("tcp_user_timeout", "4000")] {
            if !url.contains(&format!("{name}=")) {
                let joint = if url.contains('?') { '&' } else { '?' };
                url.push_str(&format!("{joint}{name}={value}"));
            }
        }
        Address::Postgres(url)
    }

    /// The address without a password, for messages.
    pub fn shown(&self) -> String {
        match self {
            Address::Folder(folder) => folder.display().to_string(),
            Address::Postgres(url) => match (url.find("://"), url.rfind('@')) {
                (Some(scheme), Some(at)) if at > scheme => {
                    format!("{}://...{}", &url[..scheme], &url[at..])
                }
                _ => url.clone(),
            },
        }
    }
}

/// One connection to a book's database.
pub enum Db {
    /// The bundled SQLite.
    Sqlite(SqliteConnection, Turnstile),
    /// PostgreSQL through libpq.
    Postgres(PgConnection),
}

/// What a connection is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Writes entries: a large page cache.
    Write,
    /// Only reads.
    Read,
}

/// SQLite before this version can corrupt a database when a WAL is reset.
const OLDEST_SQLITE: (u32, u32, u32) = (3, 51, 3);

/// Settings of SQLite that must hold on every connection: how to ask, and what it answers then.
/// With recursive triggers also `INSERT OR REPLACE` meets the triggers that guard the history.
const SAFETY: [(&str, &str, &str); 5] = [
    ("journal_mode", "WAL", "wal"),
    ("synchronous", "FULL", "2"),
    ("foreign_keys", "ON", "1"),
    ("secure_delete", "ON", "1"),
    ("recursive_triggers", "ON", "1"),
];

impl Db {
    /// Opens the database; the folder must exist and hold a database unless `create` is true.
    pub fn open(address: &Address, purpose: Purpose, create: bool) -> Result<Db, StoreError> {
        match address {
            Address::Folder(folder) => Db::open_folder(folder, purpose, create),
            Address::Postgres(url) => {
                let connection =
                    PgConnection::establish(url).map_err(|error| StoreError::Unreachable {
                        address: address.shown(),
                        why: error.to_string(),
                    })?;
                let mut db = Db::Postgres(connection);
                db.check_postgres()?;
                Ok(db)
            }
        }
    }

    fn open_folder(folder: &Path, purpose: Purpose, create: bool) -> Result<Db, StoreError> {
        let file = folder.join(Address::FILE);
        let cannot = |why: String| StoreError::Unreachable {
            address: file.display().to_string(),
            why: match super::filesystem::is_full(folder) {
                true => format!("its disk is full ({why}). Make room there, then ask again"),
                false => why,
            },
        };
        if create {
            super::filesystem::private_folder(folder).map_err(|error| cannot(error.to_string()))?;
        } else if !file.is_file() {
            return Err(StoreError::NoBook(file.display().to_string()));
        }
        super::filesystem::refuse_network(folder)?;
        let path = file
            .to_str()
            .ok_or_else(|| cannot("the path is not UTF-8".to_string()))?;
        let connection =
            SqliteConnection::establish(path).map_err(|error| cannot(error.to_string()))?;
        let turnstile = Turnstile::open(folder).map_err(|error| cannot(error.to_string()))?;
        let mut db = Db::Sqlite(connection, turnstile);
        db.set_pragmas(purpose).map_err(|error| match error {
            StoreError::Database(error) => cannot(error.to_string()),
            other => other,
        })?;
        Ok(db)
    }

    /// Sets what durability rests on, reads each setting back and refuses to go on without it.
    fn set_pragmas(&mut self, purpose: Purpose) -> Result<(), StoreError> {
        let Db::Sqlite(connection, _) = self else {
            return Ok(());
        };
        let version = first_text(connection, "SELECT sqlite_version() AS value")?;
        let mut parts = version
            .split('.')
            .map(|part| part.parse::<u32>().unwrap_or(0));
        let mut next = || parts.next().unwrap_or(0);
        if (next(), next(), next()) < OLDEST_SQLITE {
            return Err(StoreError::Unsafe(format!(
                "expected SQLite 3.51.3 or newer, got {version}; build tarebook with its own SQLite"
            )));
        }
        connection.batch_execute("PRAGMA busy_timeout = 10000")?;
        // Only about speed, and SQLite offers no table-valued form to read it back.
        connection.batch_execute("PRAGMA wal_autocheckpoint = 4000")?;
        let cache = if purpose == Purpose::Write {
            "-65536"
        } else {
            "-8192"
        };
        for (pragma, set, _) in SAFETY.into_iter().chain([("cache_size", cache, cache)]) {
            connection.batch_execute(&format!("PRAGMA {pragma} = {set}"))?;
        }
        self.check_safety()
    }

    /// Reads back what durability and an unchanged history rest on; refuses to go on without it.
    pub fn check_safety(&mut self) -> Result<(), StoreError> {
        let Db::Sqlite(connection, _) = self else {
            return self.check_postgres();
        };
        for (pragma, set, read) in SAFETY {
            // A pragma answers under its own name; the table-valued form gives it one we can read.
            let back = first_text(
                connection,
                &format!("SELECT CAST({pragma} AS TEXT) AS value FROM pragma_{pragma}"),
            )?;
            if back != read {
                return Err(StoreError::Unsafe(format!(
                    "asked SQLite for {pragma} = {set}, it answers {back}; is the folder writable \
                     and on a local disk?"
                )));
            }
        }
        Ok(())
    }

    /// An acknowledged entry must survive: refuse a session that would not wait for its commit, and
    /// a server that does not wait for its disk. `remote_write` is refused, too: it lets the standby
    /// answer before anything of it is on a disk there. A throw-away server (tests start one) says
    /// `tarebook.unsynced = allowed` in its own configuration.
    fn check_postgres(&mut self) -> Result<(), StoreError> {
        let Db::Postgres(connection) = self else {
            return Ok(());
        };
        connection.batch_execute("SET client_min_messages = warning; SET TIME ZONE 'UTC'")?;
        let unsynced = "SELECT COALESCE(current_setting('tarebook.unsynced', true), '') AS value";
        let disk = match first_text(connection, unsynced)?.as_str() {
            "allowed" => &["on", "off"][..],
            _ => &["on"][..],
        };
        for (setting, good) in [
            ("synchronous_commit", &["on", "remote_apply"][..]),
            ("fsync", disk),
            ("full_page_writes", disk),
            ("server_encoding", &["UTF8"][..]),
        ] {
            let text = format!("SELECT current_setting('{setting}') AS value");
            let got = first_text(connection, &text)?;
            if !good.contains(&got.as_str()) {
                return Err(StoreError::Unsafe(format!(
                    "expected PostgreSQL's {setting} to be {}, it is {got}: an acknowledged entry \
                     could be lost; change it in the server's configuration",
                    good.join(" or ")
                )));
            }
        }
        Ok(())
    }

    /// Is this PostgreSQL?
    pub fn is_postgres(&self) -> bool {
        matches!(self, Db::Postgres(_))
    }

    /// Runs a statement and says how many rows it changed.
    pub fn run<S: Sql>(&mut self, _: S, binds: &[Bind<'_>]) -> QueryResult<usize> {
        match self {
            Db::Sqlite(connection, _) => Bound::<S>::new(binds).execute(connection),
            Db::Postgres(connection) => Bound::<S>::new(binds).execute(connection),
        }
    }

    /// Runs a query and returns all its rows.
    pub fn rows<S, T>(&mut self, _: S, binds: &[Bind<'_>]) -> QueryResult<Vec<T>>
    where
        S: Sql,
        for<'q> Bound<'q, S>: LoadQuery<'q, SqliteConnection, T> + LoadQuery<'q, PgConnection, T>,
    {
        match self {
            Db::Sqlite(connection, _) => {
                LoadQuery::internal_load(Bound::<S>::new(binds), connection)?.collect()
            }
            Db::Postgres(connection) => {
                LoadQuery::internal_load(Bound::<S>::new(binds), connection)?.collect()
            }
        }
    }

    /// Runs a query and returns its first row, if there is one.
    pub fn first<S, T>(&mut self, statement: S, binds: &[Bind<'_>]) -> QueryResult<Option<T>>
    where
        S: Sql,
        for<'q> Bound<'q, S>: LoadQuery<'q, SqliteConnection, T> + LoadQuery<'q, PgConnection, T>,
    {
        Ok(self.rows(statement, binds)?.into_iter().next())
    }

    /// Hands the rows of a query to `with` one by one, in constant memory on both engines.
    pub fn each<S, T, E>(
        &mut self,
        _: S,
        binds: &[Bind<'_>],
        mut with: impl FnMut(T) -> Result<(), E>,
    ) -> Result<(), E>
    where
        S: Sql,
        E: From<diesel::result::Error>,
        for<'q> Bound<'q, S>: LoadQuery<'q, SqliteConnection, T>
            + LoadQuery<'q, PgConnection, T, diesel::pg::PgRowByRowLoadingMode>,
    {
        match self {
            Db::Sqlite(connection, _) => {
                for row in LoadQuery::internal_load(Bound::<S>::new(binds), connection)? {
                    with(row?)?;
                }
            }
            Db::Postgres(connection) => {
                for row in LoadQuery::internal_load(Bound::<S>::new(binds), connection)? {
                    with(row?)?;
                }
            }
        }
        Ok(())
    }

    /// Begins a transaction that may write, for statements of a command that sees everything.
    pub fn begin(&mut self) -> QueryResult<()> {
        self.begin_with("BEGIN")
    }

    /// SQLite takes its one write lock at once, so that what is read is still true when it is
    /// written.
    pub(super) fn begin_with(&mut self, postgres: &str) -> QueryResult<()> {
        match self {
            Db::Sqlite(connection, turnstile) => {
                let failed = |error: std::io::Error| {
                    diesel::result::Error::QueryBuilderError(
                        format!("the turn to write was not given: {error}").into(),
                    )
                };
                turnstile.enter().map_err(failed)?;
                AnsiTransactionManager::begin_transaction_sql(connection, "BEGIN IMMEDIATE")
                    .inspect_err(|_| turnstile.leave())
            }
            Db::Postgres(connection) => {
                AnsiTransactionManager::begin_transaction_sql(connection, postgres)
            }
        }
    }

    /// Begins a transaction that sees one state of the book and writes nothing, for statements of
    /// a command that sees everything.
    pub fn begin_reading(&mut self) -> QueryResult<()> {
        self.begin_reading_with(super::sight::READING)
    }

    pub(super) fn begin_reading_with(&mut self, postgres: &str) -> QueryResult<()> {
        match self {
            Db::Sqlite(connection, _) => {
                AnsiTransactionManager::begin_transaction_sql(connection, "BEGIN DEFERRED")
            }
            Db::Postgres(connection) => {
                AnsiTransactionManager::begin_transaction_sql(connection, postgres)
            }
        }
    }

    /// Commits; only after this returns may anything be acknowledged.
    pub fn commit(&mut self) -> QueryResult<()> {
        match self {
            Db::Sqlite(connection, turnstile) => {
                let done = AnsiTransactionManager::commit_transaction(connection);
                turnstile.leave();
                done
            }
            Db::Postgres(connection) => AnsiTransactionManager::commit_transaction(connection),
        }
    }

    /// Takes everything of the running transaction back.
    pub fn rollback(&mut self) -> QueryResult<()> {
        match self {
            Db::Sqlite(connection, turnstile) => {
                let done = AnsiTransactionManager::rollback_transaction(connection);
                turnstile.leave();
                done
            }
            Db::Postgres(connection) => AnsiTransactionManager::rollback_transaction(connection),
        }
    }

    /// Does the database still answer, and can a transaction begin? One that was left open is taken
    /// back first.
    pub fn is_alive(&mut self) -> bool {
        // Without an open transaction there is nothing to take back, which is no harm.
        let _ = self.rollback();
        self.begin_reading().is_ok() && self.batch("SELECT 1").is_ok() && self.rollback().is_ok()
    }

    /// Runs SQL that is not worth a statement of its own.
    pub fn batch(&mut self, sql: &str) -> QueryResult<()> {
        match self {
            Db::Sqlite(connection, _) => connection.batch_execute(sql),
            Db::Postgres(connection) => connection.batch_execute(sql),
        }
    }
}

#[derive(QueryableByName)]
struct OneText {
    #[diesel(sql_type = diesel::sql_types::Text)]
    value: String,
}

fn first_text<C>(connection: &mut C, sql: &str) -> QueryResult<String>
where
    C: LoadConnection,
    diesel::query_builder::SqlQuery: for<'q> LoadQuery<'q, C, OneText>,
{
    diesel::sql_query(sql)
        .get_result::<OneText>(connection)
        .map(|row| row.value)
}
