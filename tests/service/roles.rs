//! Promise H1 on PostgreSQL: the role of the service can add to the history and never change it.

use harness::database::{Engine, Location};
use harness::shop::Shop;
use std::process::{Command, Output};

fn psql(url: &str, arguments: &[&str]) -> Output {
    Command::new("psql")
        .args(["-X", "-v", "ON_ERROR_STOP=1", url])
        .args(arguments)
        .output()
        .expect("psql comes with PostgreSQL's client package")
}

#[test]
fn h1_the_service_role_posts_and_cannot_change_what_is_booked() {
    if Engine::under_test() != Engine::Postgres {
        eprintln!("SQLite has no roles: nothing to prove here, its triggers are proved elsewhere");
        return;
    }
    let mut shop = Shop::stocked();
    let Location::Url(owner) = shop.database.location().clone() else {
        unreachable!()
    };
    let script = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../deploy/postgres/service-role.sql"
    );
    let made = psql(&owner, &["-v", "role=tarebook_service", "-f", script]);
    assert!(
        made.status.success(),
        "{}",
        String::from_utf8_lossy(&made.stderr)
    );

    // The same book through the narrow role: posting works.
    shop.db
        .batch("SET SESSION AUTHORIZATION tarebook_service")
        .unwrap();
    shop.books.clear();
    let before = shop.size();
    shop.register("site", serde_json::json!({"tag": "Pinecroft Clinic"}));
    assert_eq!(shop.size(), before + 1);

    for forbidden in [
        "UPDATE entries SET day = 0",
        "DELETE FROM entries",
        "TRUNCATE movements",
        "UPDATE checkpoints SET note = ''",
        "DELETE FROM attachments",
        "ALTER TABLE entries DISABLE TRIGGER ALL",
    ] {
        let error = shop.db.batch(forbidden).unwrap_err().to_string();
        let refused = error.contains("permission denied") || error.contains("must be owner");
        assert!(refused, "{forbidden}: {error}");
    }
    shop.db.batch("RESET SESSION AUTHORIZATION").unwrap();
    // The owner has the rights, and the trigger still refuses.
    let error = shop
        .db
        .batch("UPDATE entries SET day = 0")
        .unwrap_err()
        .to_string();
    assert!(error.contains("never changed or removed"), "{error}");
}
