//! Promise H1 on PostgreSQL: the role of the service can add to the history and never change it.

use harness::database::Engine;
use harness::shop::Shop;

#[test]
fn h1_the_service_role_posts_and_cannot_change_what_is_booked() {
    if Engine::under_test() != Engine::Postgres {
        eprintln!("SQLite has no roles: nothing to prove here, its triggers are proved elsewhere");
        return;
    }
    let mut shop = Shop::stocked();
    shop.grant_service_role();

    // The same book through the narrow role: posting works.
    shop.db
        .batch("SET SESSION AUTHORIZATION tarebook_service")
        .unwrap();
    shop.books.clear();
    let before = shop.size_seen();
    shop.register("site", serde_json::json!({"tag": "Pinecroft Clinic"}));
    assert_eq!(shop.size_seen(), before + 1);

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
