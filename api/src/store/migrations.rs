//! Both folders of migrations, embedded; the one that fits the engine is run.
//!
//! On SQLite the program migrates by itself when it starts. On PostgreSQL `tarebook migrate` does
//! it with the owner's address, and everything else only checks, because the service's own role
//! may not change tables.

use super::{Db, StoreError, sql};
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

/// Checks that the tables are this program's: neither older nor newer. It only reads: the role of
/// the service may make no table.
pub fn check(db: &mut Db) -> Result<(), StoreError> {
    refuse_newer(db)?;
    if known(db)?.is_subset(&applied(db)?) {
        return Ok(());
    }
    Err(StoreError::WrongVersion(
        "the tables are older than this program; run `tarebook migrate` with the owner's database \
         URL"
        .to_string(),
    ))
}

/// Versions this program knows.
fn known(db: &Db) -> Result<BTreeSet<String>, StoreError> {
    fn names<DB: diesel::backend::Backend>(
        source: &EmbeddedMigrations,
    ) -> diesel::migration::Result<BTreeSet<String>> {
        let all = MigrationSource::<DB>::migrations(source)?;
        Ok(all
            .iter()
            .map(|it| it.name().version().to_string())
            .collect())
    }
    let known = match db {
        Db::Sqlite(..) => names::<diesel::sqlite::Sqlite>(&SQLITE),
        Db::Postgres(_) => names::<diesel::pg::Pg>(&POSTGRES),
    };
    known.map_err(|error| StoreError::WrongVersion(error.to_string()))
}

/// Versions the database has; none where nothing was ever migrated.
fn applied(db: &mut Db) -> Result<BTreeSet<String>, StoreError> {
    let table: Option<i64> = if db.is_postgres() {
        db.first(sql::HasMigrationsOnPostgres, &[])?
    } else {
        db.first(sql::HasMigrationsOnSqlite, &[])?
    };
    if table != Some(1) {
        return Ok(BTreeSet::new());
    }
    let versions: Vec<String> = db.rows(sql::AppliedMigrations, &[])?;
    Ok(versions.into_iter().collect())
}

/// A program that is too old must not write into a newer book.
fn refuse_newer(db: &mut Db) -> Result<(), StoreError> {
    let known = known(db)?;
    match applied(db)?
        .into_iter()
        .find(|version| !known.contains(version))
    {
        None => Ok(()),
        Some(version) => Err(StoreError::WrongVersion(format!(
            "this database was written by a newer tarebook (table version {version} is unknown \
             here); use the newer program"
        ))),
    }
}
