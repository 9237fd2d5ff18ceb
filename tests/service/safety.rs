//! What durability and an unchanged history rest on, on the engine under test.
//!
//! Promises D2 and H1. Each check is seen to fail: the fault is planted through the same
//! connection that the program uses.

use api::store::{Db, Purpose, StoreError};
use harness::database::{Database, Engine, Syncing};
use harness::shop::{Shop, address};

/// D2: a connection that would not wait for the disk is refused; one that waits is given.
#[test]
fn d2_a_connection_that_does_not_wait_for_the_disk_is_refused() {
    let mut shop = Shop::stocked();
    let at = address(&shop.database);
    assert!(Db::open(&at, Purpose::Write, false).is_ok());
    let (plant, named) = match Engine::under_test() {
        // A setting of the connection itself: it is planted and read back below.
        Engine::Sqlite => ("PRAGMA synchronous = OFF", "synchronous"),
        Engine::Postgres => (
            "DO $$ BEGIN EXECUTE 'ALTER DATABASE ' || current_database() || \
             ' SET synchronous_commit = off'; END $$",
            "synchronous_commit",
        ),
    };
    shop.db.check_safety().expect("as it was opened");
    shop.db.batch(plant).expect("a setting");
    let refused = match Engine::under_test() {
        Engine::Sqlite => shop.db.check_safety().unwrap_err(),
        Engine::Postgres => Db::open(&at, Purpose::Write, false).err().expect("refused"),
    };
    assert!(
        matches!(&refused, StoreError::Unsafe(why) if why.contains(named)),
        "{refused}"
    );
}

/// D3: a server that does not wait for its disk, or lets a standby answer before its own disk has
/// it, is refused unless its own configuration says that it may lose everything.
#[test]
fn d3_a_server_that_can_lose_what_it_answered_is_refused() {
    if Engine::under_test() != Engine::Postgres {
        eprintln!("this test is about PostgreSQL; the one before it is SQLite's");
        return;
    }
    let mut shop = Shop::stocked();
    let at = address(&shop.database);
    for (setting, planted, named) in [
        ("synchronous_commit", "remote_write", "synchronous_commit"),
        ("synchronous_commit", "local", "synchronous_commit"),
        // The servers of these tests do not sync and say so; one that does not say so is refused.
        ("tarebook.unsynced", "not allowed", "fsync"),
    ] {
        assert!(
            Db::open(&at, Purpose::Write, false).is_ok(),
            "before {planted}"
        );
        let alter = |what: &str| {
            format!(
                "DO $$ BEGIN EXECUTE 'ALTER DATABASE ' || current_database() || ' {what}'; END $$"
            )
        };
        let set = format!("SET {setting} = ''{planted}''");
        shop.db.batch(&alter(&set)).expect("a setting");
        let refused = Db::open(&at, Purpose::Write, false).err().expect("refused");
        assert!(
            matches!(&refused, StoreError::Unsafe(why) if why.contains(named)),
            "{planted}: {refused}"
        );
        shop.db
            .batch(&alter(&format!("RESET {setting}")))
            .expect("reset");
    }
}

/// D3: the two settings of the disk are read apart: one that syncs and may tear pages is refused.
#[test]
fn d3_a_server_that_can_tear_its_pages_is_refused() {
    if Engine::under_test() != Engine::Postgres {
        eprintln!("this test is about PostgreSQL: SQLite's journal is looked at below");
        return;
    }
    let open = |syncing| {
        let database = Database::on(Engine::Postgres, syncing);
        Db::open(&address(&database), Purpose::Write, true)
    };
    assert!(open(Syncing::On).is_ok());
    let refused = open(Syncing::TornPages).err().expect("refused").to_string();
    assert!(
        refused.contains("full_page_writes to be on, it is off"),
        "{refused}"
    );
}

/// D2: each setting on which a SQLite file rests is looked at, one by one.
#[test]
fn d2_every_sqlite_setting_is_read_back() {
    if Engine::under_test() != Engine::Sqlite {
        eprintln!("PostgreSQL has no pragmas: its settings are proved by the test above");
        return;
    }
    let database = Database::new();
    for (plant, named) in [
        ("PRAGMA synchronous = NORMAL", "synchronous"),
        ("PRAGMA journal_mode = DELETE", "journal_mode"),
        ("PRAGMA foreign_keys = OFF", "foreign_keys"),
        ("PRAGMA secure_delete = OFF", "secure_delete"),
        ("PRAGMA recursive_triggers = OFF", "recursive_triggers"),
    ] {
        let mut db = Db::open(&address(&database), Purpose::Write, true).expect("a database");
        db.check_safety().expect("as it was opened");
        db.batch(plant).expect("a setting");
        let refused = db.check_safety().unwrap_err().to_string();
        assert!(refused.contains(named), "{plant}: {refused}");
    }
}

/// H1: no row of the history can be changed or removed, whoever asks.
#[test]
fn h1_no_row_of_the_history_is_changed_or_removed() {
    let mut shop = Shop::busy();
    let log = api::store::log::sign(&mut shop.db, shop.of.org, &shop.key, &shop.of.log);
    log.expect("a checkpoint");
    let leaves = shop.leaves();
    for (table, column) in [
        ("entries", "day"),
        ("movements", "mass"),
        ("attachments", "bytes"),
        ("checkpoints", "note"),
    ] {
        let mut statements = vec![
            format!("UPDATE {table} SET {column} = {column}"),
            format!("DELETE FROM {table}"),
        ];
        if Engine::under_test() == Engine::Postgres {
            statements.push(format!("TRUNCATE {table}"));
        } else {
            statements.push(format!(
                "INSERT OR REPLACE INTO {table} SELECT * FROM {table}"
            ));
        }
        for statement in statements {
            let error = shop.db.batch(&statement).unwrap_err().to_string();
            assert!(error.contains("is never "), "{statement}: {error}");
        }
    }
    assert_eq!(shop.leaves(), leaves);
    shop.sound();
}
