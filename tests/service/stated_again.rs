//! O1, O2: what a repeat states besides the fact itself is compared with what was booked, so that nothing
//! that somebody typed is dropped without a word.
//!
//! *Same id and other content: 422 `id-reused`* is the contract's; what a repeat leaves out is as it was the
//! first time.

use api::ledger::id::Id;
use harness::shop::Shop;
use serde_json::{Value, json};

const VISIT: &str = "90c192cf-d3ac-44af-8f21-ddb66cad4a26";

/// Takes a member out, or sets it.
fn set(request: &Value, at: &str, value: Value) -> Value {
    let mut request = request.clone();
    let (above, name) = at.rsplit_once('/').expect("a pointer");
    let above = request
        .pointer_mut(above)
        .expect("there")
        .as_object_mut()
        .expect("an object");
    match value {
        Value::Null => drop(above.remove(name)),
        value => drop(above.insert(name.to_string(), value)),
    }
    request
}

/// Booked, and booked by nobody a second time; with each change refused and named, without each free
/// member the first.
fn held(shop: &mut Shop, mut request: Value, changes: &[(&str, Value, &str)], free: &[&str]) {
    request["entry_id"] = json!(Id::random());
    let first = shop.ok(request.clone());
    let size = shop.size();
    let leaf = shop.leaf(first.seq);
    for (at, value, named) in changes {
        shop.books.clear();
        let refused = shop.refused(set(&request, at, value.clone()));
        assert_eq!(refused.slug(), "id-reused", "{at}");
        assert!(
            refused.to_string().contains(&format!("({named})")),
            "{at}: {refused}"
        );
    }
    for at in free {
        assert!(
            shop.ok(set(&request, at, Value::Null)).replayed,
            "without {at}"
        );
    }
    // Blanks around a text are none of it (H9: texts are kept without them).
    if let Some(note) = request["note"].as_str() {
        let blank = set(&request, "/note", json!(format!(" {note} ")));
        assert!(shop.ok(blank).replayed);
    }
    let again = shop.ok(request.clone());
    assert!(
        again.replayed && again.leaf_hash == first.leaf_hash && again.booked_at == first.booked_at
    );
    // Erased texts count as equal (model, section 8): nobody can tell any more.
    let erased = format!("DELETE FROM disclosures WHERE seq = {}", first.seq);
    shop.db.batch(&erased).expect("erased");
    assert!(shop.ok(set(&request, "/note", json!("another"))).replayed);
    assert_eq!((shop.size(), shop.leaf(first.seq)), (size, leaf));
}

fn shop() -> Shop {
    let mut shop = Shop::stocked();
    for name in ["Ines Vallory", "Dov Aster"] {
        shop.register("person", json!({"tag": name}));
    }
    shop
}

#[test]
fn o2_a_charge_stated_otherwise_is_another_content() {
    let mut shop = shop();
    let charge = json!({"kind": "charge", "happened": {"day": "2026-07-14", "time": "09:30"},
        "did": "Ines Vallory", "visit": VISIT, "note": "Valve at the header.",
        "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A", "refrigerant": "R-448A",
                 "mass": "2 lb", "reason": "leak_top_up", "returned_to_full_charge": true}});
    let changes = [
        ("/note", json!("Valve at the receiver."), "note"),
        (
            "/visit",
            json!("90c192cf-d3ac-44af-8f21-ddb66cad4a27"),
            "visit",
        ),
        ("/did", json!("Dov Aster"), "did"),
        ("/happened/time", json!("09:31"), "time"),
        ("/happened/day", json!("2026-07-13"), "day"),
        ("/body/mass", json!("2.5 lb"), "movements"),
        ("/body/reason", json!("after_repair"), "body"),
        ("/body/returned_to_full_charge", json!(false), "body"),
        ("/body/document", json!("W-1"), "movements.0.document"),
        ("/reason_text", json!("because"), "reason_text"),
    ];
    let free = ["/note", "/visit", "/did", "/happened/time", "/body/reason"];
    held(&mut shop, charge, &changes, &free);
    shop.sound();
}

#[test]
fn o2_a_purchase_and_a_step_of_service_stated_otherwise_are_another_content() {
    let mut shop = shop();
    let bought = json!({"kind": "purchase", "note": "Two boxes.", "body": {
        "from": "counterparty:Dunmore Supply", "to": "cylinder:TR-0417", "refrigerant": "R-448A",
        "mass": "2 lb", "state": "new", "invoice": "D-1180"}});
    let changes = [
        ("/body/invoice", json!("D-1181"), "invoice"),
        ("/body/state", json!("reclaimed"), "body"),
        ("/note", json!("Three boxes."), "note"),
    ];
    held(&mut shop, bought, &changes, &["/note", "/body/invoice"]);
    let inspected = json!({"kind": "inspection", "note": "All joints.", "visit": VISIT,
        "body": {"appliance": "HG-RACK-A", "result": "clean"}});
    let changes = [
        (
            "/visit",
            json!("90c192cf-d3ac-44af-8f21-ddb66cad4a27"),
            "visit",
        ),
        ("/note", json!("Some joints."), "note"),
        ("/did", json!("Dov Aster"), "did"),
    ];
    held(&mut shop, inspected, &changes, &["/note", "/visit"]);
    shop.sound();
}

/// 27.7 lb gross were booked; another reading under the same id is another count. The tare that was put
/// right since is none of what was stated.
#[test]
fn o2_a_count_is_the_reading_that_was_stated() {
    let mut shop = shop();
    let count = json!({"kind": "count", "entry_id": Id::random(), "body": {"cylinder": "TR-0417",
        "gross": "27.7 lb", "refrigerant": "R-22", "reason": "counted"},
        "answers": {"count_differs": "as_stated"}});
    shop.ok(count.clone());
    shop.register_as("TR-0417", "cylinder", json!({"tare": "27.5 lb"}));
    assert!(shop.ok(count.clone()).replayed);
    let other = set(&count, "/body/gross", json!("27.8 lb"));
    assert_eq!(shop.refused(other).slug(), "id-reused");
}

/// Who did the work is who booked it, said or not.
#[test]
fn o1_the_poster_named_as_the_one_who_did_it_is_no_change() {
    let mut shop = Shop::stocked();
    let technician = shop.technician;
    let id = technician.person.expect("a person");
    let facts = json!({"subject": format!("person:{id}"), "facts": {"tag": "Ines Vallory"}});
    shop.ok(json!({"kind": "person", "body": facts}));
    let mut charge = json!({"kind": "charge", "entry_id": Id::random(), "body": {
        "from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A", "refrigerant": "R-448A",
        "mass": "2 lb"}});
    shop.post_as(&technician, charge.clone()).expect("booked");
    charge["did"] = json!("Ines Vallory");
    assert!(
        shop.post_as(&technician, charge.clone())
            .expect("a repeat")
            .replayed
    );
    charge["captured_offline"] = json!(true);
    assert!(
        shop.post_as(&technician, charge)
            .expect("a repeat")
            .replayed
    );
}

/// A correction's visit and person are stated, too.
#[test]
fn o2_a_correction_stated_otherwise_is_another_content() {
    let mut shop = shop();
    let body = json!({"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
        "refrigerant": "R-448A", "mass": "2 lb"});
    let first = shop.ok(json!({"kind": "charge", "body": body}));
    let mut new = body;
    new["mass"] = json!("3 lb");
    let correction = json!({"kind": "correction", "note": "Misread.", "body": {
        "corrects": first.entry_id, "reason": "misread",
        "replace": {"visit": VISIT, "did": "Ines Vallory", "body": new}}});
    let changes = [
        (
            "/body/replace/visit",
            json!("90c192cf-d3ac-44af-8f21-ddb66cad4a27"),
            "body",
        ),
        ("/body/replace/did", json!("Dov Aster"), "body"),
        ("/body/replace/body/mass", json!("4 lb"), "body"),
        ("/body/replace/body/reason", json!("emergency"), "body"),
        (
            "/body/replace/body/returned_to_full_charge",
            json!(true),
            "body",
        ),
        ("/body/reason", json!("other"), "body"),
        ("/note", json!("Misread twice."), "note"),
    ];
    held(&mut shop, correction, &changes, &["/note"]);
    shop.sound();
}
