//! Corrections of what was registered and adopted: a value taken back uncovers the one it covered.
//!
//! Promises H5, M4 and O1, on the dated facts of things and on a facility's dated method.

use api::ledger::id::Id;
use api::store::columns::Sort;
use harness::shop::Shop;
use reports::day::Day;
use serde_json::{Value, json};

fn annul(entry: Id) -> Value {
    json!({"kind": "correction", "body": {"corrects": entry, "reason": "other"}})
}

/// The value of a fact in force on a day, read from memory and anew.
fn fact(shop: &mut Shop, sort: Sort, thing: &str, name: &str, day: &str) -> Value {
    let day = Day::parse(day).unwrap();
    let read = |shop: &mut Shop| {
        shop.inside(|tx| {
            let place = tx.find(sort, thing)?.expect("a thing");
            let dossier = tx.dossier(place)?;
            Ok(dossier.on(name, day, u64::MAX).cloned().unwrap_or_default())
        })
    };
    let in_memory = read(shop);
    shop.books.clear();
    assert_eq!(read(shop), in_memory);
    in_memory
}

/// H5: facts are uncovered one by one, and the past stays known.
#[test]
fn h5_an_annulled_fact_uncovers_the_one_before() {
    let mut shop = Shop::stocked();
    let say = |shop: &mut Shop, is: &str| {
        let facts = json!({"category": [{"from": "2020-01-01", "is": is}]});
        shop.register_as("HG-RACK-A", "appliance", facts)
    };
    say(&mut shop, "comfort_cooling");
    let second = say(&mut shop, "industrial_process");
    let on = |shop: &mut Shop| fact(shop, Sort::Appliance, "HG-RACK-A", "category", "2021-01-01");
    assert_eq!(on(&mut shop), "industrial_process");
    let corrected = shop.ok(
        json!({"kind": "correction", "body": {"corrects": second, "reason": "other",
        "replace": {"body": {"facts": {"category": [{"from": "2020-01-01", "is": "other"}]}}}}}),
    );
    assert_eq!(on(&mut shop), "other");
    shop.ok(annul(corrected.entry_id));
    assert_eq!(on(&mut shop), "comfort_cooling");
    shop.sound();
    shop.caches_agree();
}

/// H5: facts said of the wrong thing leave it, and go to the right one.
#[test]
fn h5_facts_said_of_the_wrong_thing_leave_it() {
    let mut shop = Shop::stocked();
    let facts = json!({"condition": [{"from": "2026-01-01", "is": "condemned"}]});
    let wrong = shop.register_as("SUP-88231", "cylinder", facts.clone());
    let posted = shop.ok(json!({"kind": "correction", "body": {"corrects": wrong,
        "reason": "wrong_cylinder", "replace": {"body": {"subject": "TR-0417", "facts": facts}}}}));
    assert_eq!(posted.nth.len(), 2, "both cylinders count it");
    let condition =
        |shop: &mut Shop, tag| fact(shop, Sort::Cylinder, tag, "condition", "2026-07-01");
    assert_eq!(condition(&mut shop, "SUP-88231"), Value::Null);
    assert_eq!(condition(&mut shop, "TR-0417"), "condemned");
    shop.sound();
    shop.caches_agree();
}

/// H5: a tag that somebody else carries by now is not uncovered; the refusal says what to do.
#[test]
fn h5_a_tag_in_use_is_not_uncovered() {
    let mut shop = Shop::stocked();
    let renamed = shop.register_as("TR-0417", "cylinder", json!({"tag": "TR-0417-B"}));
    shop.register("cylinder", json!({"tag": "TR-0417", "use": "recovery"}));
    let before = shop.size();
    let refusal = shop.refused(annul(renamed));
    assert_eq!(refusal.slug(), "invalid-value", "{refusal}");
    assert!(refusal.to_string().contains("TR-0417"), "{refusal}");
    assert_eq!(shop.size(), before);
    shop.register_as("TR-0417", "cylinder", json!({"tag": "TR-0500"}));
    shop.ok(annul(renamed));
    shop.caches_agree();
}

/// O1: a registration sent again is the same entry, with or without an id of its own, also after
/// its tag has gone to another thing; and a series keeps its texts with their days.
#[test]
fn o1_a_registration_sent_again_is_one_entry() {
    let mut shop = Shop::stocked();
    let request = json!({"entry_id": Id::random(), "kind": "cylinder", "body": {"facts": {
        "serial": [{"is": "stated today"}, {"from": "2020-01-01", "is": "stated of old"}],
        "tag": "TR-1", "use": "recovery", "tare": "27.6 lb"}}});
    let first = shop.ok(request.clone());
    let size = shop.size();
    let again = shop.ok(request.clone());
    assert!(again.replayed && again.leaf_hash == first.leaf_hash);
    for (day, text) in [
        ("2021-01-01", "stated of old"),
        ("2026-07-14", "stated today"),
    ] {
        assert_eq!(fact(&mut shop, Sort::Cylinder, "TR-1", "serial", day), text);
    }
    let series = shop.leaf(first.seq)["body"]["facts"]["serial"].clone();
    assert_eq!(
        series,
        json!([{"from": "2020-01-01"}, {"from": "2026-07-14"}]),
        "ascending"
    );
    let disclosed = shop.inside(|tx| tx.disclosures(first.seq));
    let text = |field: &str| &disclosed.iter().find(|it| it.0 == field).unwrap().2;
    assert_eq!(text("facts.serial.0"), "stated of old");
    assert_eq!(text("facts.serial.1"), "stated today");
    shop.register_as("TR-1", "cylinder", json!({"tag": "TR-2"}));
    shop.register("cylinder", json!({"tag": "TR-1", "use": "recovery"}));
    assert!(shop.ok(request.clone()).replayed);
    let mut other = request;
    other["body"]["facts"]["serial"][0]["is"] = json!("another");
    assert_eq!(
        shop.refused(other).slug(),
        "id-reused",
        "committed members are compared too"
    );
    assert_eq!(shop.size(), size + 2);
    shop.caches_agree();
}

/// H5 and M4: a corrected method holds no longer, and the one before it does again.
#[test]
fn h5_a_corrected_method_holds_no_longer() {
    let mut shop = Shop::stocked();
    let method = |word: &str| json!({"site": "Alder Street", "method": word, "from": "2026-01-01"});
    shop.ok(json!({"kind": "method", "body": method("rolling")}));
    let second = shop.ok(json!({"kind": "method", "body": method("annualising")}));
    let in_force = |shop: &mut Shop| {
        let read = |shop: &mut Shop| {
            let adopted = shop.inside(|tx| tx.adopted());
            adopted
                .methods
                .iter()
                .map(|it| it.2.clone())
                .collect::<Vec<_>>()
        };
        let in_memory = read(shop);
        shop.books.clear();
        assert_eq!(read(shop), in_memory);
        in_memory
    };
    assert_eq!(in_force(&mut shop), ["rolling", "annualising"]);
    let judged_by = shop.inside(|tx| Ok(tx.judged_by()));
    let corrected = shop.ok(
        json!({"kind": "correction", "body": {"corrects": second.entry_id,
        "reason": "other", "replace": {"body": method("rolling")}}}),
    );
    assert_eq!(in_force(&mut shop), ["rolling", "rolling"]);
    assert!(
        shop.inside(|tx| Ok(tx.judged_by())) > judged_by,
        "standings are worked out anew"
    );
    shop.ok(annul(corrected.entry_id));
    assert_eq!(in_force(&mut shop), ["rolling"]);
    shop.sound();
    shop.caches_agree();
}
