//! Posting: a day at work, once and only once.

use harness::shop::Shop;
use serde_json::json;

fn charge(mass: &str) -> serde_json::Value {
    json!({"kind": "charge", "happened": {"day": "2026-07-14", "time": "11:52"},
           "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
                    "refrigerant": "R-448A", "mass": mass, "reason": "leak_top_up",
                    "returned_to_full_charge": true}})
}

/// E7: both readings are kept, and the net mass follows from them.
#[test]
fn a_technician_charges_by_two_readings_and_the_book_keeps_both() {
    let mut shop = Shop::stocked();
    let mut request = charge("");
    request["body"].as_object_mut().unwrap().remove("mass");
    request["body"]["readings"] =
        json!({"before": "29 lb 4 oz", "after": "14 lb 12 oz", "scale": "S-2"});
    let technician = shop.technician;
    let posted = shop.post_as(&technician, request).unwrap();
    assert_eq!(posted.nth.len(), 2);
}

/// Promises O1 and O3: the same id with the same content is booked once, for ever.
#[test]
fn o1_a_retry_after_lost_signal_is_one_entry() {
    let mut shop = Shop::stocked();
    let mut request = charge("7 lb 4 oz");
    request["entry_id"] = json!("019f61c1-f910-7a23-a217-beaddbc496cb");
    let first = shop.ok(request.clone());
    let size = shop.size();
    let again = shop.ok(request.clone());
    assert!(again.replayed && !first.replayed);
    assert_eq!((first.seq, first.leaf_hash), (again.seq, again.leaf_hash));
    shop.books.clear();
    request["captured_offline"] = json!(true);
    assert!(
        shop.ok(request).replayed,
        "how it was captured does not count"
    );
    assert_eq!(shop.size(), size);
}

/// Promise M4: everything cached is a function of the entries.
#[test]
fn m4_every_cache_can_be_worked_out_again_and_a_wrong_one_is_named() {
    let mut shop = Shop::stocked();
    shop.ok(charge("7 lb 4 oz"));
    let table = reports::refrigerant::Table::shipped();
    let check = |shop: &mut Shop| {
        api::store::rebuild::rebuild(&mut shop.db, &shop.of, table, true)
            .unwrap()
            .differences
    };
    assert_eq!(check(&mut shop), Vec::<String>::new());
    shop.db
        .batch("UPDATE balances SET mass = '12' WHERE mass NOT LIKE '-%'")
        .unwrap();
    let found = check(&mut shop);
    assert!(
        found
            .iter()
            .any(|line| line.contains("stored 12, worked out")),
        "{found:?}"
    );
    api::store::rebuild::rebuild(&mut shop.db, &shop.of, table, false).unwrap();
    assert_eq!(check(&mut shop), Vec::<String>::new());
}
