//! A book in which everything occurs: every kind of entry, with a word of its own in every member
//! that a person can type into.

use crate::shop::{CLOCK, Shop};
use api::actions::import::{Importing, Outcome, Table};
use api::ledger::id::Id;
use reports::day::Zone;
use serde_json::{Value, json};

/// Every text typed into [`Shop::busy`]; none of them may stand in a leaf.
pub const WORDS: [&str; 39] = [
    "Zzorg Rimeworks",
    "zzadmin@rime.example",
    "Zzowner Holdings",
    "Zzsupplier Gases",
    "Zzreclaim Yard",
    "Zzscale",
    "Zzsite Lane",
    "Zztechnician Quill",
    "zztech@rime.example",
    "ZZTAG-TECH",
    "ZZ-RACK-1",
    "Zzroom by the north wall",
    "ZZSERIAL-77",
    "ZZEQUIPMENT-9",
    "ZZ-SUPPLY-1",
    "ZZ-REC-1",
    "ZZ-REC-2",
    "ZZINVOICE-4",
    "Zznote: the header weeps",
    "Zzborrowed scale",
    "ZZDOC-1",
    "ZZDOC-2",
    "ZZDOC-3",
    "Zzreason to lift it",
    "Zzreason to correct it",
    "ZZ-REC-1-RENAMED",
    "Zzsettled by the laboratory",
    "zzfile.csv",
    "ZZMOVE-1",
    "Zzcsvtech",
    "Zzcsvsupplier",
    "ZZ-IMPORTED-1",
    "Zznote in a correction",
    "ZZINVOICE-5",
    "Zzplace of the leak",
    "Zzwork that was done",
    "Zzparts",
    "Zzdocument of the plan",
    "ZZSTATEMENT-1",
];

impl Shop {
    /// Posts one of each kind, with questions answered, a stop lifted and a file imported.
    pub fn busy() -> Shop {
        let mut shop = Shop::named(WORDS[0], WORDS[1]);
        registers(&mut shop);
        adoptions(&mut shop);
        let (bought, recovered) = movements(&mut shop);
        looked_at(&mut shop);
        afterwards(&mut shop, bought, recovered);
        stated(&mut shop);
        services(&mut shop);
        import(&mut shop);
        shop
    }
}

fn registers(shop: &mut Shop) {
    for tag in [WORDS[2], WORDS[3], WORDS[4]] {
        shop.register("counterparty", json!({"tag": tag}));
    }
    shop.register(
        "scale",
        json!({"tag": WORDS[5], "resolution": {"value": "0.25", "unit": "[oz_av]"}}),
    );
    shop.register(
        "site",
        json!({"tag": WORDS[6], "zone": "America/Phoenix", "region": "US-AZ"}),
    );
    shop.register(
        "person",
        json!({"name": WORDS[7], "email": WORDS[8], "tag": WORDS[9],
               "certificate_class": "universal", "certificate_from": "2021-04-09"}),
    );
    shop.register(
        "appliance",
        json!({"tag": WORDS[10], "place": WORDS[11], "serial": WORDS[12],
               "equipment_tag": WORDS[13], "site": WORDS[6], "owner": WORDS[2],
               "refrigerant": "R-448A", "category": "commercial_refrigeration",
               "installed": "2019-05-20", "motor_kw": "7.5", "hermetic": "no",
               "full_charge": {"low": "200 lb", "high": "220 lb",
                   "established_by": WORDS[9], "established_on": "2024-03-12"}}),
    );
    let facts = json!({"tag": WORDS[14], "use": "disposable", "capacity": "24 lb"});
    shop.register("cylinder", facts);
    for tag in [WORDS[15], WORDS[16]] {
        let facts = json!({"tag": tag, "use": "recovery", "water_capacity": "47.7 lb",
                           "tare": "27.6 lb", "retest_on": "2027-05-31"});
        shop.register("cylinder", facts);
    }
}

fn services(shop: &mut Shop) {
    let mut step = |kind: &str, more: Value| {
        let mut body = json!({"appliance": WORDS[10]});
        let members = body.as_object_mut().expect("an object");
        members.extend(more.as_object().cloned().unwrap_or_default());
        shop.ok(json!({"kind": kind, "body": body, "note": WORDS[18]}));
    };
    step(
        "leak_found",
        json!({"found_by": "technician", "place": WORDS[34]}),
    );
    let repaired = json!({"all_leaks": "yes", "work_done": WORDS[35], "parts": WORDS[36]});
    step("repair", repaired);
    for stage in ["initial", "follow_up"] {
        step(
            "verification_test",
            json!({"stage": stage, "result": "passed"}),
        );
    }
    step(
        "inspection",
        json!({"result": "clean", "certified": "yes", "run_hours": "24.5"}),
    );
    let mut test = crate::measured::pressure_test();
    test["criterion"] = json!(WORDS[34]);
    step("pressure_test", test);
    step("vacuum_test", crate::measured::vacuum_test());
    step("run_check", crate::measured::run_check());
    step("shutdown", json!({"process_shutdown": "yes"}));
    step(
        "extension",
        json!({"ground": "parts", "delivered_on": "2026-08-01"}),
    );
    step("decision", json!({"choice": "replace"}));
    step("plan", json!({"document": WORDS[37]}));
    step("notice", json!({"what": "chronic_report"}));
    for kind in [
        "isolate",
        "purge_destroyed",
        "mothball",
        "back_in_operation",
        "retrofit",
        "retire",
    ] {
        step(kind, Value::Null);
    }
}

fn adoptions(shop: &mut Shop) {
    shop.ok(json!({"kind": "setting", "body": {"name": "late_days", "value": "10"}}));
    shop.ok(json!({"kind": "method", "body": {"site": WORDS[6], "method": "rolling"}}));
    let toml = include_str!("../../reports/rules/us-federal-hfc.toml");
    shop.ok(json!({"kind": "rule_set", "body": {"toml": toml, "from": "2026-01-01"}}));
}

/// A body that moves one mass.
pub fn moving(from: &str, to: &str, mass: &str) -> Value {
    json!({"from": from, "to": to, "refrigerant": "R-448A", "mass": mass})
}

fn movements(shop: &mut Shop) -> (Id, Id) {
    let rack = format!("appliance:{}", WORDS[10]);
    let supply = format!("cylinder:{}", WORDS[14]);
    let (first, second) = (
        format!("cylinder:{}", WORDS[15]),
        format!("cylinder:{}", WORDS[16]),
    );
    let (supplier, reclaim) = (
        format!("counterparty:{}", WORDS[3]),
        format!("counterparty:{}", WORDS[4]),
    );
    let mut post = |kind: &str, mut body: Value, more: Value, rest: Value| {
        let body_members = body.as_object_mut().expect("an object");
        body_members.extend(more.as_object().cloned().unwrap_or_default());
        let mut request = json!({"kind": kind, "body": body, "note": WORDS[18]});
        let members = request.as_object_mut().expect("an object");
        members.extend(rest.as_object().cloned().unwrap_or_default());
        shop.ok(request).entry_id
    };
    post(
        "opening",
        moving("opening", &rack, "210 lb"),
        json!({"source": {
        "origin": "tarebook/0a5f2f63-52a5-4b5c-8a5b-2c9d6b5f4e10", "seq": 1207,
        "leaf_hash": "Z2VuZXNpcyBnZW5lc2lzIGdlbmVzaXMgZ2VuZXNpczE="}}),
        Value::Null,
    );
    let invoice = json!({"state": "new", "invoice": WORDS[17]});
    let bought = post(
        "purchase",
        moving(&supplier, &supply, "24 lb"),
        invoice,
        Value::Null,
    );
    let mut weighed = moving(&supply, &rack, "");
    weighed.as_object_mut().expect("an object").remove("mass");
    let weighed = weighed;
    let readings = |before: &str, after: &str, scale: &str| json!({"readings": {"before": before, "after": after, "scale": scale}});
    let mut charge = readings("29 lb 4 oz", "24 lb", WORDS[5]);
    charge["reason"] = json!("leak_top_up");
    charge["returned_to_full_charge"] = json!(true);
    let visit = json!({"visit": "90c192cf-d3ac-44af-8f21-ddb66cad4a26", "did": WORDS[9]});
    post("charge", weighed.clone(), charge, visit);
    let mut outside = moving("outside", &rack, "1 lb");
    outside["reason"] = json!("emergency");
    let late = json!({"happened": {"day": "2026-06-20"},
                      "answers": {"old_day": "as_stated", "rate_jump": "as_stated"}});
    post("outside_charge", outside, Value::Null, late);
    let mut recover = readings("30 lb", "36 lb", WORDS[19]);
    recover["class"] = json!("clean");
    recover["evacuation"] = json!({"value": "10", "unit": "[in_i'Hg]", "reference": "gauge"});
    let mut from_rack = weighed.clone();
    (from_rack["from"], from_rack["to"]) = (json!(rack), json!(first));
    let recovered = post("recover", from_rack, recover, Value::Null);
    let lifted = json!({"answers": {"over_full": "lifted"}, "reason_text": WORDS[23]});
    post(
        "recover",
        moving(&rack, &second, "39 lb"),
        Value::Null,
        lifted,
    );
    post(
        "transfer",
        moving(&first, &second, "1 lb"),
        Value::Null,
        json!({"answers": {"over_full": "already_happened"}}),
    );
    let shipment = json!({"movements": [
        {"from": first, "to": reclaim, "refrigerant": "R-448A", "mass": "1 lb", "document": WORDS[20]},
        {"from": second, "to": reclaim, "refrigerant": "R-448A", "mass": "2 lb", "document": WORDS[21]}]});
    post("send_to_reclaim", shipment, Value::Null, Value::Null);
    post(
        "send_to_destruction",
        moving(&second, &reclaim, "1 lb"),
        json!({"document": WORDS[22]}),
        Value::Null,
    );
    post(
        "return",
        moving(&supply, &supplier, "8 oz"),
        Value::Null,
        Value::Null,
    );
    post(
        "loss",
        moving(&rack, "atmosphere", "4 oz"),
        json!({"basis": "estimated"}),
        Value::Null,
    );
    let becomes = json!({"place": first, "becomes": "mixture", "parts": ["R-448A", "R-404A"],
                         "class": "mixed", "refrigerant": "R-448A", "mass": "1 lb"});
    post("redesignate", becomes, Value::Null, Value::Null);
    (bought, recovered)
}

fn looked_at(shop: &mut Shop) {
    let mut checked = crate::measured::observation();
    checked["cylinder"] = json!(WORDS[16]);
    shop.ok(json!({"kind": "observation", "body": checked, "note": WORDS[18]}));
    let counted = json!({"cylinder": WORDS[16], "gross": "60 lb", "reason": "counted"});
    let answers = json!({"count_differs": "as_stated"});
    shop.ok(json!({"kind": "count", "body": counted, "note": WORDS[18], "answers": answers}));
}

fn afterwards(shop: &mut Shop, bought: Id, recovered: Id) {
    let mut body = moving(
        &format!("counterparty:{}", WORDS[3]),
        &format!("cylinder:{}", WORDS[14]),
        "23 lb",
    );
    body["invoice"] = json!(WORDS[33]);
    shop.ok(
        json!({"kind": "correction", "note": WORDS[32], "reason_text": WORDS[24], "body": {
            "corrects": bought, "reason": "misread", "replace": {"body": body}}}),
    );
    let renamed = shop.register_as(WORDS[15], "cylinder", json!({"tag": WORDS[25]}));
    shop.ok(
        json!({"kind": "correction", "body": {"corrects": renamed, "reason": "other",
        "replace": {"body": {"facts": {"tag": WORDS[25], "condition": "in_service"}}}}}),
    );
    shop.ok(json!({"kind": "link", "body": {
        "relation": "same_visit", "entries": [recovered, bought]}}));
    shop.ok(json!({"kind": "settle", "reason_text": WORDS[26], "body": {
            "code": "unregistered_scale", "entries": [recovered], "reason": "checked"}}));
}

/// What the reclaimer says of the shipment of 3 lb.
fn stated(shop: &mut Shop) {
    let size = shop.size();
    let shipment = (0..size).find(|seq| shop.leaf(*seq)["kind"] == "send_to_reclaim");
    let shipment = shipment.expect("a shipment").to_string();
    shop.ok(json!({"kind": "statement", "note": WORDS[18], "body": {
        "counterparty": WORDS[4], "entries": [shipment], "document": WORDS[38],
        "outcome": "accepted",
        "stated": [{"refrigerant": "R-448A", "mass": "2.9 lb", "residue": "1.6 oz"}]}}));
}

fn import(shop: &mut Shop) {
    let folder = tempfile::TempDir::new().expect("a temporary folder");
    let file = folder.path().join(WORDS[27]);
    let write = |text: String| std::fs::write(&file, text).expect("a file");
    let mut run = |table| {
        let mut importing = Importing {
            db: &mut shop.db,
            books: &mut shop.books,
            of: &shop.of,
            clock: CLOCK,
            zone: Zone::named("UTC").expect("a zone"),
        };
        let outcome = importing.run(table, &file, false, &mut |_| {});
        let outcome = outcome.expect("an outcome");
        assert!(matches!(outcome, Outcome::Booked { .. }), "{outcome:?}");
    };
    write(format!(
        "cylinder,refrigerant,use,capacity_lb\n{},R-448A,supply,50\n",
        WORDS[31]
    ));
    run(Table::Cylinders);
    write(format!(
        "movement_id,occurred_at,kind,from,to,refrigerant,mass_lb,technician\n\
         {},2025-03-02,purchase,{},{},R-448A,24,{}\n",
        WORDS[28], WORDS[30], WORDS[31], WORDS[29]
    ));
    run(Table::Movements);
}
