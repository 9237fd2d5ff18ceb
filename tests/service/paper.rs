//! The worked examples of the specification, posted through the door: what is booked must be the
//! golden leaf, byte for byte, but for what the book itself gives (numbers, counts, moment, log,
//! salts).

use crate::golden::golden;
use api::ledger::actor::{Actor, Role};
use api::ledger::id::Id;
use harness::shop::Shop;
use serde_json::{Value, json};

const RACK: &str = "appliance:d23f0824-128b-4f33-8c5c-7fd0a6a3a450";
const SUPPLY: &str = "cylinder:9531985d-5d9d-49f8-9818-e811892f902b";

fn actor(person: &str, role: Role, device: &str) -> Actor {
    let id = |text| Id::parse(text).unwrap();
    Actor::person(id(person), role, Some(id(device)))
}

/// The same leaf with what the book gives replaced by a mark.
fn without_the_book(mut leaf: Value) -> Value {
    for member in ["seq", "booked_at", "log"] {
        leaf[member] = json!("the book's");
    }
    let counted = leaf.get_mut("nth").and_then(Value::as_object_mut);
    counted
        .into_iter()
        .flatten()
        .for_each(|(_, n)| *n = json!("n"));
    let commits = leaf.get_mut("commit").and_then(Value::as_object_mut);
    for (_, commit) in commits.into_iter().flatten() {
        assert_eq!(commit.as_str().unwrap().len(), 44, "base64 of 32 bytes");
        *commit = json!("committed");
    }
    if leaf["body"]["corrects"].is_object() {
        leaf["body"]["corrects"]["seq"] = json!("the book's");
    }
    // The release of the time-zone data is the program's.
    let text = leaf.to_string();
    let release = format!("\"tzdb\":\"{}\"", reports::day::TZDB);
    serde_json::from_str(&text.replace(&release, "\"tzdb\":\"2026a\"")).unwrap()
}

fn same_as_golden(shop: &mut Shop, seq: u64, kind: &str) {
    let expected: Value = serde_json::from_slice(&golden(kind)).unwrap();
    assert_eq!(
        without_the_book(shop.leaf(seq)).to_string(),
        without_the_book(expected).to_string()
    );
}

fn firm() -> Shop {
    let mut shop = Shop::open();
    let register = |shop: &mut Shop, kind: &str, id: &str, facts: Value| {
        shop.register_as(id, kind, facts);
    };
    let owner = "8e81973e-0bec-47b0-b898-d190f9ebdacc";
    register(
        &mut shop,
        "counterparty",
        owner,
        json!({"tag": "Halfmoon Grocers"}),
    );
    let site = "36f675cc-81e7-4ef5-a8e2-5d940ed90475";
    register(&mut shop, "site", site, json!({"tag": "Alder Street"}));
    let scale = "0cb1e29c-658c-4a14-95e6-0af593bd04cf";
    register(&mut shop, "scale", scale, json!({"tag": "S-2"}));
    register(
        &mut shop,
        "cylinder",
        &SUPPLY[9..],
        json!({"tag": "SUP-88231"}),
    );
    register(
        &mut shop,
        "counterparty",
        "7a0d8a0c-3d4b-4c59-9a3f-6f2f3a1b9c55",
        json!({"tag": "Dunmore"}),
    );
    shop.ok(
        json!({"kind": "purchase", "body": {"from": "counterparty:Dunmore",
        "to": "cylinder:SUP-88231", "refrigerant": "R-448A", "mass": "24 lb"}}),
    );
    shop
}

fn register_rack(shop: &mut Shop) -> u64 {
    let from = |is: &str| json!([{"from": "2019-05-20", "is": is}]);
    let facts = json!({
        "category": from("commercial_refrigeration"), "installed": from("2019-05-20"),
        "owner": from("Halfmoon Grocers"), "place": from("machine room, north wall"),
        "refrigerant": from("R-448A"), "site": from("Alder Street"), "tag": "HG-RACK-A",
        "full_charge": [{"from": "2024-03-12", "is": {"mass": "210 lb", "method": "calculation",
                         "established_on": "2024-03-12"}}]});
    let osric = actor(
        "8d116ece-1738-47d9-bd9c-172411e20b8f",
        Role::ComplianceManager,
        "0fd630f1-f29d-4da9-953f-48f1a09f76b5",
    );
    let request = json!({"entry_id": "019b941b-ab80-7ef8-9227-66581e27a1c0", "kind": "appliance",
        "happened": {"day": "2026-01-06"}, "body": {"subject": RACK, "facts": facts}});
    shop.post_as(&osric, request).unwrap().seq
}

/// H2, leaf-examples 2, 3 and 4: an appliance, a charge by two readings, its correction.
#[test]
fn h2_the_worked_examples_are_booked_as_they_are_written() {
    let mut shop = firm();
    let rack = register_rack(&mut shop);
    same_as_golden(&mut shop, rack, "appliance");
    let ines = actor(
        "6b0d549b-6f03-475a-9600-a35a099950d8",
        Role::Technician,
        "a170b338-3926-4059-b28c-105d1fb17c23",
    );
    let body = |after: &str| {
        json!({"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A", "refrigerant": "R-448A",
               "readings": {"before": "29 lb 4 oz", "after": after, "scale": "S-2"},
               "reason": "leak_top_up", "returned_to_full_charge": true})
    };
    let charge = json!({"entry_id": "019f61c1-f910-7a23-a217-beaddbc496cb", "kind": "charge",
        "happened": {"day": "2026-07-14", "time": "11:52", "zone": "America/Denver"},
        "visit": "90c192cf-d3ac-44af-8f21-ddb66cad4a26", "note": "leak at the header, tightened",
        "answers": {"rate_jump": "as_stated"}, "body": body("14 lb 12 oz")});
    let seq = shop.post_as(&ines, charge).unwrap().seq;
    same_as_golden(&mut shop, seq, "charge");
    let correction = json!({"entry_id": "019f6274-5920-7e97-90ed-a82f8f6d0558",
        "kind": "correction", "reason_text": "read 14 12 for 15 4",
        "happened": {"at": "2026-07-14T21:07:00Z"},
        "body": {"corrects": "019f61c1-f910-7a23-a217-beaddbc496cb", "reason": "misread",
                 "replace": {"body": body("15 lb 4 oz")}}});
    let seq = shop.post_as(&ines, correction).unwrap().seq;
    same_as_golden(&mut shop, seq, "correction");
    shop.sound();
}

/// H2, leaf-examples 1 and the `engine` entry after it: which members they have.
#[test]
fn h2_a_book_begins_as_it_is_written() {
    let mut shop = Shop::open();
    for (seq, kind) in [(0, "genesis"), (1, "engine"), (2, "setting")] {
        let (booked, expected) = (shop.leaf(seq), golden(kind));
        let expected: Value = serde_json::from_slice(&expected).unwrap();
        assert_eq!(shape(&booked), shape(&expected), "{kind}");
    }
}

/// H2, leaf-examples 5: an import and its rows, with the members they have and no others.
#[test]
fn h2_every_kind_the_door_books_has_the_members_of_its_golden_leaf() {
    let mut shop = Shop::busy();
    for bytes in shop.leaves() {
        let booked: Value = serde_json::from_slice(&bytes).unwrap();
        let kind = booked["kind"].as_str().unwrap();
        let expected: Value = serde_json::from_slice(&golden(kind)).unwrap();
        let may = [
            shape(&expected),
            vec![
                // Members any entry may have, where a golden leaf of another kind shows their form.
                "answers",
                "captured_offline",
                "commit.note",
                "commit.reason_text",
                "did",
                "late",
                "happened.offset",
                "happened.time",
                "visit",
                "by",
                "device",
                "nth",
                "body.import.entry",
                "body.import.row",
            ]
            .into_iter()
            .map(String::from)
            .collect(),
        ]
        .concat();
        if kind == "import" {
            assert_eq!(shape(&booked), shape(&expected), "{kind}");
        }
        for member in shape(&booked) {
            let free = [
                "answers.",
                "nth.",
                "body.facts.",
                "commit.",
                "body.replace.",
                "body.movements",
            ];
            let known = may.contains(&member) || free.iter().any(|it| member.starts_with(it));
            assert!(known, "{kind}: {member} stands in no golden leaf");
        }
    }
}

/// The members of a leaf, without ids of counted things.
fn shape(leaf: &Value) -> Vec<String> {
    fn walk(at: &Value, path: &str, found: &mut Vec<String>) {
        match at {
            Value::Object(members) if path != "nth" => {
                for (name, value) in members {
                    let path = if path.is_empty() {
                        name.clone()
                    } else {
                        format!("{path}.{name}")
                    };
                    walk(value, &path, found);
                }
            }
            _ => found.push(path.to_string()),
        }
    }
    let mut found = Vec::new();
    walk(leaf, "", &mut found);
    found
}
