//! Access records go away after their time (promise S6 says that they are left, this one when they end):
//! 400 days unless it is set otherwise (our own choice: a year and the month in which it is looked at;
//! no source), never within 30 days, and what was removed is recorded.

use api::auth::access::{self, AccessRecord, Asker, LEAST_DAYS, USUAL_DAYS, Whose};
use harness::shop::{Shop, now};

const DAY: i64 = 86_400_000_000;

fn left(shop: &mut Shop) -> Vec<AccessRecord> {
    let list = access::list(&mut shop.db, shop.of.org, Whose::Everybody, None, 100);
    list.expect("a list")
}

/// Leaves a record that is so many days old by a clock.
fn leave(shop: &mut Shop, what: &str, at: i64) {
    let record = Asker::HOST.did(what, "", at);
    access::record(&mut shop.db, shop.of.org, &record).expect("recorded");
}

fn words(shop: &mut Shop) -> Vec<String> {
    left(shop).into_iter().map(|it| it.what).collect()
}

#[test]
fn a_record_is_removed_after_its_time_and_that_is_recorded() {
    let mut shop = Shop::open();
    let before = words(&mut shop);
    let (of, at) = (shop.of.clone(), now());
    leave(&mut shop, "old", at - i64::from(USUAL_DAYS) * DAY - 1);
    leave(&mut shop, "of_the_day", at - i64::from(USUAL_DAYS) * DAY);
    leave(&mut shop, "young", at - DAY);
    let removed = access::clean(&mut shop.db, &of, USUAL_DAYS, at).expect("cleaned");
    assert_eq!(removed, 1);
    let after = words(&mut shop);
    assert!(!after.contains(&"old".to_string()), "{after:?}");
    for kept in ["of_the_day", "young", "access_records_cleaned"] {
        assert!(after.contains(&kept.to_string()), "{kept} in {after:?}");
    }
    assert_eq!(after.len(), before.len() + 3);
    let said = left(&mut shop);
    let said = said.iter().find(|it| it.what == "access_records_cleaned");
    let about = &said.expect("a record of it").about;
    assert!(about.starts_with("1 record from before 20"), "{about}");
    // Nothing is left to remove: nothing is recorded again.
    let again = access::clean(&mut shop.db, &of, USUAL_DAYS, at).expect("cleaned");
    assert_eq!((again, words(&mut shop).len()), (0, after.len()));
}

/// What the service does once a day, for every book of the database and for no other record.
#[test]
fn every_book_is_cleaned() {
    let mut shop = Shop::open();
    let first = shop.of.clone();
    let other = shop.another("Halfmoon Grocers", "halfmoon@example.example");
    for of in [&first, &other] {
        let record = Asker::HOST.did("old", "", now() - 500 * DAY);
        access::record(&mut shop.db, of.org, &record).expect("recorded");
    }
    let removed = access::clean_all(&mut shop.db, 400, now()).expect("cleaned");
    assert_eq!(removed, 2);
}

/// The database itself keeps what is younger than thirty days by its own clock, whoever asks and
/// whatever the clock of the program says.
#[test]
fn s6_the_database_removes_no_young_record() {
    let mut shop = Shop::open();
    let of = shop.of.clone();
    let today = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    let today = i64::try_from(today.expect("a clock").as_micros()).expect("fits");
    leave(&mut shop, "of_today", today);
    let far = today + 1_000 * DAY;
    let refused = access::clean(&mut shop.db, &of, LEAST_DAYS, far).expect_err("refused");
    let why = refused.to_string();
    assert!(
        why.contains("never removed within its first 30 days"),
        "{why}"
    );
    assert!(words(&mut shop).contains(&"of_today".to_string()));
}

/// On PostgreSQL the role of the service cleans, too, and changes nothing.
#[test]
fn the_role_of_the_service_removes_and_never_changes() {
    use crate::row_security::{on_postgres, refused, seen};
    if !on_postgres() {
        return;
    }
    let mut shop = Shop::open();
    leave(&mut shop, "old", now() - 500 * DAY);
    shop.grant_service_role();
    let of = format!("SET LOCAL tarebook.orgs = '{}'", shop.of.org);
    assert_eq!(seen(&shop, "", "SELECT COUNT(*) FROM access_books"), "1");
    let change = "UPDATE access_records SET what = 'x'";
    let why = refused(&shop, &of, change);
    assert!(why.contains("permission denied"), "{why}");
    let before = now() - 400 * DAY;
    let remove = format!("DELETE FROM access_records WHERE at < {before} RETURNING what");
    assert_eq!(seen(&shop, &of, &remove), "old");
}
