//! The algebra of corrections (model: corrections), promises H5 and M4.
//!
//! A correction names the newest entry of its chain and states the whole; what it takes back acts
//! at its own time; an annulled chain may be corrected again.

use api::ledger::id::Id;
use harness::shop::Shop;
use serde_json::{Value, json};

fn charge(to: &str, mass: &str) -> Value {
    json!({"from": "cylinder:SUP-88231", "to": format!("appliance:{to}"),
           "refrigerant": "R-448A", "mass": mass, "reason": "leak_top_up"})
}

fn correction(corrects: Id, reason: &str, replace: Option<Value>) -> Value {
    let mut body = json!({"corrects": corrects, "reason": reason});
    if let Some(replace) = replace {
        body["replace"] = replace;
    }
    json!({"kind": "correction", "body": body,
           "answers": {"wrong_refrigerant_for_appliance": "as_stated", "old_day": "as_stated",
                       "rate_jump": "as_stated", "over_full_charge": "as_stated"}})
}

/// Day, mass and entry of what the history of an appliance holds.
fn history(shop: &mut Shop, tag: &str) -> Vec<(String, String, u64)> {
    use api::store::columns::Sort;
    let read = |shop: &mut Shop| {
        shop.inside(|tx| {
            let place = tx.find(Sort::Appliance, tag)?.expect("an appliance");
            let events = tx.history(place)?.iter();
            let one = |event: &reports::event::Event| {
                (event.day.to_string(), event.mass.to_string(), event.entry)
            };
            Ok(events.map(one).collect::<Vec<_>>())
        })
    };
    let in_memory = read(shop);
    shop.books.clear();
    assert_eq!(read(shop), in_memory, "read anew it is the same");
    in_memory
}

/// H5: corrected, annulled, corrected again; each reverses what was in force and only that.
#[test]
fn h5_a_chain_is_corrected_annulled_and_corrected_again() {
    let mut shop = Shop::stocked();
    let charged = json!({"kind": "charge", "happened": {"day": "2026-07-13", "time": "09:30"},
        "visit": "90c192cf-d3ac-44af-8f21-ddb66cad4a26", "body": charge("HG-RACK-A", "7 lb")});
    let first = shop.ok(charged);
    let replace = json!({"body": charge("HG-RACK-A", "8 lb")});
    let second = shop.ok(correction(first.entry_id, "misread", Some(replace)));
    let leaf = shop.leaf(second.seq);
    let reverse = &leaf["body"]["reverse"][0];
    assert_eq!(reverse["g"], "3175.14659", "7 lb go back");
    assert!(reverse["from"].as_str().unwrap().starts_with("appliance:"));
    assert_eq!(
        leaf["body"]["corrects"],
        json!({"id": first.entry_id, "seq": first.seq})
    );
    let new = &leaf["body"]["replace"];
    assert_eq!(
        (&new["kind"], &new["happened"]["day"]),
        (&json!("charge"), &json!("2026-07-13"))
    );
    assert_eq!(
        new["visit"], "90c192cf-d3ac-44af-8f21-ddb66cad4a26",
        "written out, unchanged"
    );
    let expected = ("2026-07-13".into(), "3628.73896".into(), second.seq);
    assert_eq!(history(&mut shop, "HG-RACK-A"), [expected]);

    let third = shop.ok(correction(second.entry_id, "did_not_happen", None));
    let leaf = shop.leaf(third.seq);
    assert_eq!(
        leaf["body"]["reverse"][0]["g"], "3628.73896",
        "8 lb go back, not 7"
    );
    assert!(leaf["body"]["replace"].is_null());
    assert_eq!(history(&mut shop, "HG-RACK-A"), []);

    let replace = json!({"body": charge("HG-RACK-A", "9 lb"), "happened": {"day": "2026-07-12"}});
    let fourth = shop.ok(correction(third.entry_id, "wrong_day", Some(replace)));
    assert!(
        shop.leaf(fourth.seq)["body"]["reverse"].is_null(),
        "nothing was in force"
    );
    let expected = ("2026-07-12".into(), "4082.33133".into(), fourth.seq);
    assert_eq!(
        history(&mut shop, "HG-RACK-A"),
        [expected],
        "the fact moved to its day"
    );
    assert_eq!(
        fourth.nth.values().copied().collect::<Vec<_>>(),
        [5, 6],
        "rack 2-5, cylinder 3-6"
    );
    shop.sound();
    shop.caches_agree();
}

/// H5: at most one correction of an entry; the second is told which one to correct.
#[test]
fn h5_an_entry_is_corrected_at_most_once() {
    let mut shop = Shop::stocked();
    let first = shop.ok(json!({"kind": "charge", "body": charge("HG-RACK-A", "7 lb")}));
    let replace = || Some(json!({"body": charge("HG-RACK-A", "8 lb")}));
    let mut request = correction(first.entry_id, "misread", replace());
    request["entry_id"] = json!(Id::random());
    let second = shop.ok(request.clone());
    let before = shop.size();
    let refusal = shop.refused(correction(first.entry_id, "misread", replace()));
    assert_eq!(refusal.slug(), "already-corrected");
    assert!(
        refusal.to_string().contains(&format!("no. {}", second.seq)),
        "{refusal}"
    );
    // O1: the same correction sent again is the same entry, though its chain is corrected by now.
    shop.ok(correction(second.entry_id, "did_not_happen", None));
    assert!(shop.ok(request.clone()).replayed);
    shop.books.clear();
    assert!(shop.ok(request.clone()).replayed, "also read anew");
    request["body"]["replace"]["body"]["mass"] = json!({"value": "128", "unit": "oz"});
    assert!(
        shop.ok(request.clone()).replayed,
        "8 lb in ounces are the same mass"
    );
    request["body"]["replace"]["body"]["mass"] = json!("8.1 kg");
    assert_eq!(shop.refused(request).slug(), "id-reused");
    assert_eq!(shop.size(), before + 1);
    shop.sound();
}

/// H5: charged to the wrong appliance: both count it, the first no longer has it.
#[test]
fn h5_the_wrong_appliance_loses_what_the_right_one_gets() {
    let mut shop = Shop::stocked();
    let first = shop.ok(json!({"kind": "charge", "body": charge("HG-RACK-A", "7 lb")}));
    let replace = json!({"body": charge("QK-WIC-1", "7 lb")});
    let second = shop.ok(correction(first.entry_id, "wrong_appliance", Some(replace)));
    assert_eq!(second.nth.len(), 3, "both appliances and the cylinder");
    assert_eq!(history(&mut shop, "HG-RACK-A"), []);
    assert_eq!(history(&mut shop, "QK-WIC-1").len(), 1);
    shop.sound();
    shop.caches_agree();
}

/// H5: what later movements then lack is a finding, never a refusal; the entry is no look-alike
/// of itself and its own content does not stand in its way.
#[test]
fn h5_what_later_movements_lack_is_a_finding() {
    let mut shop = Shop::stocked();
    let bought = shop.size() - 1;
    shop.ok(json!({"kind": "charge", "body": charge("HG-RACK-A", "20 lb")}));
    let id = shop.leaf(bought)["id"]
        .as_str()
        .and_then(Id::parse)
        .unwrap();
    assert_eq!(shop.leaf(bought)["kind"], "purchase");
    let body = json!({"from": "counterparty:Dunmore Supply", "to": "cylinder:SUP-88231",
        "refrigerant": "R-448A", "mass": "12 lb"});
    let corrected = shop.ok(correction(id, "misread", Some(json!({"body": body}))));
    let findings = shop.findings(corrected.seq);
    assert_eq!(
        findings,
        [("balance_below_zero".into(), "normal".into(), false)]
    );
    // The same mass again, corrected for its day only: nothing is asked.
    let body = json!({"from": "counterparty:Dunmore Supply", "to": "cylinder:SUP-88231",
        "refrigerant": "R-448A", "mass": "24 lb"});
    let again = shop.ok(correction(
        corrected.entry_id,
        "misread",
        Some(json!({"body": body})),
    ));
    assert_eq!(shop.findings(again.seq), []);
    shop.sound();
}

/// H5: who did the work stays who did it when somebody else corrects.
#[test]
fn h5_a_correction_says_who_did_the_work() {
    let mut shop = Shop::stocked();
    let technician = shop.technician;
    let request = json!({"kind": "charge", "body": charge("HG-RACK-A", "7 lb")});
    let first = shop.post_as(&technician, request).unwrap();
    let replace = json!({"body": charge("HG-RACK-A", "8 lb")});
    let second = shop.ok(correction(first.entry_id, "misread", Some(replace.clone())));
    let did = |shop: &mut Shop, seq| shop.leaf(seq)["body"]["replace"]["did"].clone();
    assert_eq!(
        did(&mut shop, second.seq),
        json!(technician.person),
        "not the manager"
    );
    let third = shop.ok(correction(second.entry_id, "misread", Some(replace)));
    assert_eq!(did(&mut shop, third.seq), json!(technician.person));
}

/// H5 and S3: a technician corrects own entries only, and not what a manager has settled since.
#[test]
fn s3_technicians_correct_link_and_settle_what_is_their_own() {
    let mut shop = Shop::stocked();
    let technician = shop.technician;
    let own = json!({"kind": "charge", "body": charge("HG-RACK-A", "7 lb")});
    let own = shop.post_as(&technician, own).unwrap();
    let other = shop.ok(json!({"kind": "charge", "body": charge("HG-RACK-A", "3 lb")}));
    let forbidden = |shop: &mut Shop, request: Value| {
        let error = shop.post_as(&technician, request).unwrap_err().to_string();
        assert!(error.contains("booked by somebody else"), "{error}");
    };
    forbidden(&mut shop, correction(other.entry_id, "duplicate", None));
    let link = |entries: [Id; 2]| json!({"kind": "link", "body": {"relation": "same_visit", "entries": entries}});
    forbidden(&mut shop, link([own.entry_id, other.entry_id]));
    let replace = json!({"body": charge("HG-RACK-A", "6 lb")});
    let corrected = correction(own.entry_id, "misread", Some(replace.clone()));
    let corrected = shop.post_as(&technician, corrected).unwrap();
    let annulled = shop.ok(correction(corrected.entry_id, "duplicate", None));
    forbidden(
        &mut shop,
        correction(annulled.entry_id, "misread", Some(replace)),
    );
    shop.ok(link([own.entry_id, other.entry_id]));
    let twice = shop.refused(link([own.entry_id, own.entry_id]));
    assert_eq!(twice.slug(), "invalid-value");
}

/// H5: what the log rests on is never corrected, only followed.
#[test]
fn h5_some_kinds_are_only_followed() {
    let mut shop = Shop::busy();
    let mut refused = std::collections::BTreeSet::new();
    for bytes in shop.leaves() {
        let leaf: Value = serde_json::from_slice(&bytes).unwrap();
        let kind = leaf["kind"].as_str().unwrap().to_string();
        if [
            "genesis", "engine", "setting", "rule_set", "import", "link", "settle",
        ]
        .contains(&&*kind)
        {
            let id = leaf["id"].as_str().and_then(Id::parse).unwrap();
            let refusal = shop.refused(correction(id, "other", None));
            assert!(refusal.to_string().contains("never corrected"), "{refusal}");
            refused.insert(kind);
        }
    }
    assert_eq!(refused.len(), 7);
}
