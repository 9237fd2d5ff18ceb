//! M2: nothing leaves a cylinder under quarantine except to reclaim or destruction until what put it there
//! is settled (the model, 4.2). Where two things did, until both are.

use api::store::rebuild::rebuild;
use harness::shop::Shop;
use reports::refrigerant::Table;
use serde_json::{Value, json};

/// A cylinder with 2 lb of R-22 into which R-134a was poured, then filled over its limit.
fn held(shop: &mut Shop) -> [u64; 2] {
    let small = json!({"tag": "TR-9", "use": "recovery", "water_capacity": "10 lb"});
    shop.register("cylinder", small);
    shop.ok(recover("R-22", "2 lb", &[]));
    let mixed = shop.ok(recover("R-134a", "1 lb", &["mixing"])).seq;
    let full = shop
        .ok(recover("R-134a", "9 lb", &["over_full", "mixing"]))
        .seq;
    [mixed, full]
}

fn recover(refrigerant: &str, mass: &str, happened: &[&str]) -> Value {
    let mut request = json!({"kind": "recover", "body": {"from": "unregistered", "number": 1,
        "to": "cylinder:TR-9", "refrigerant": refrigerant, "mass": mass}});
    for code in happened {
        request["answers"][code] = json!("already_happened");
    }
    request
}

fn settle(shop: &mut Shop, code: &str, entry: u64) {
    let id = shop.leaf(entry)["id"].clone();
    shop.ok(
        json!({"kind": "settle", "body": {"code": code, "entries": [id], "reason": "analysed"}}),
    );
    shop.sound();
    shop.caches_agree();
}

/// Is it still held? What would leave for another cylinder is stopped.
fn is_held(shop: &mut Shop) -> bool {
    shop.books.clear();
    let out = json!({"kind": "transfer", "body": {"from": "cylinder:TR-9",
        "to": "cylinder:TR-0417", "refrigerant": "R-134a", "mass": "4 oz"}});
    Shop::stops(&shop.refused(out)).contains(&"quarantined")
}

#[test]
fn m2_the_older_quarantine_holds_again_when_the_newer_is_settled() {
    let mut shop = Shop::stocked();
    let [mixed, full] = held(&mut shop);
    assert!(is_held(&mut shop));
    // The newer entry left two findings: one settled alone frees nothing.
    settle(&mut shop, "over_full", full);
    assert!(
        is_held(&mut shop),
        "the same entry holds it by its other finding"
    );
    settle(&mut shop, "mixing", full);
    assert!(is_held(&mut shop), "the older entry holds it");
    settle(&mut shop, "mixing", mixed);
    assert!(!is_held(&mut shop));
}

#[test]
fn m2_the_newer_quarantine_stays_when_the_older_is_settled_first() {
    let mut shop = Shop::stocked();
    let [mixed, full] = held(&mut shop);
    settle(&mut shop, "mixing", mixed);
    assert!(is_held(&mut shop));
    settle(&mut shop, "mixing", full);
    settle(&mut shop, "over_full", full);
    assert!(!is_held(&mut shop));
}

/// The same where a correction takes the newer one back.
#[test]
fn m2_the_older_quarantine_holds_again_when_the_newer_is_taken_back() {
    let mut shop = Shop::stocked();
    let [mixed, full] = held(&mut shop);
    let id = shop.leaf(full)["id"].clone();
    shop.ok(json!({"kind": "correction", "body": {"corrects": id, "reason": "did_not_happen"}}));
    shop.caches_agree();
    assert!(is_held(&mut shop));
    settle(&mut shop, "mixing", mixed);
    assert!(!is_held(&mut shop));
}

/// A book in which the older one was forgotten is told of by a check, and put right by a rebuild.
#[test]
fn a_forgotten_quarantine_is_named_by_a_check_and_mended_by_a_rebuild() {
    let mut shop = Shop::stocked();
    let [_, full] = held(&mut shop);
    let free = "UPDATE subjects SET quarantine = -1 WHERE quarantine >= 0";
    let told = shop.told_of(free);
    let named = format!("a finding of no. {full} holds it");
    assert!(told.iter().any(|line| line.contains(&named)), "{told:?}");
    shop.db.batch(free).expect("changed");
    rebuild(&mut shop.db, &shop.of, Table::shipped(), false).expect("rebuilt");
    shop.caches_agree();
    assert!(is_held(&mut shop));
}
