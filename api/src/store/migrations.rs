//! Both folders of migrations, embedded; the one that fits the engine is run.
//!
//! On SQLite the program migrates by itself when it starts. On PostgreSQL `tarebook migrate` does
//! it with the owner's address, and everything else only checks, because the service's own role
//! may not change tables.

use super::{Db, StoreError};
use diesel::migration::MigrationSource;
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};
use std::collections::BTreeSet;

const SQLITE: EmbeddedMigrations = embed_migrations!("../migrations/sqlite");
const POSTGRES: EmbeddedMigrations = embed_migrations!("../migrations/postgres");

/// Brings the tables to this program's version; says how many steps it took.
pub fn migrate(db: &mut Db) -> Result<usize, StoreError> {
    refuse_newer(db)?;
    let done = match db {
        Db::Sqlite(connection, _) => connection.run_pending_migrations(SQLITE).map(|v| v.len()),
        Db::Postgres(connection) => connection.run_pending_migrations(POSTGRES).map(|v| v.len()),
    };
    done.map_err(|error| StoreError::WrongVersion(format!("the tables cannot be made: {error}")))
}

/// Checks that the tables are this program's: neither older nor newer.
pub fn check(db: &mut Db) -> Result<(), StoreError> {
    refuse_newer(db)?;
    let pending = match db {
        Db::Sqlite(connection, _) => connection.has_pending_migration(SQLITE),
        Db::Postgres(connection) => connection.has_pending_migration(POSTGRES),
    };
    match pending {
        Ok(false) => Ok(()),
        Ok(true) => Err(StoreError::WrongVersion(
            "the tables are older than this program; run `tarebook migrate` with the owner's \
             database URL"
                .to_string(),
        )),
        Err(error) => Err(StoreError::WrongVersion(error.to_string())),
    }
}

/// A program that is too old must not write into a newer book.
fn refuse_newer(db: &mut Db) -> Result<(), StoreError> {
    let (applied, known) = match db {
        Db::Sqlite(connection, _) => (
            connection.applied_migrations(),
            MigrationSource::<diesel::sqlite::Sqlite>::migrations(&SQLITE).map(|list| {
                list.iter()
                    .map(|m| m.name().version().to_string())
                    .collect()
            }),
        ),
        Db::Postgres(connection) => (
            connection.applied_migrations(),
            MigrationSource::<diesel::pg::Pg>::migrations(&POSTGRES).map(|list| {
                list.iter()
                    .map(|m| m.name().version().to_string())
                    .collect()
            }),
        ),
    };
    let bad = |error: Box<dyn std::error::Error + Send + Sync>| {
        StoreError::WrongVersion(format!("the state of the tables cannot be read: {error}"))
    };
    let known: BTreeSet<String> = known.map_err(bad)?;
    let newer = applied
        .map_err(bad)?
        .into_iter()
        .map(|version| version.to_string());
    match newer.into_iter().find(|version| !known.contains(version)) {
        None => Ok(()),
        Some(version) => Err(StoreError::WrongVersion(format!(
            "this database was written by a newer tarebook (table version {version} is unknown \
             here); use the newer program"
        ))),
    }
}
