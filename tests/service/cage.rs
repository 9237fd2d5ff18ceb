//! The cage: the limit a fill stops at, tests with their verdicts, what a gauge can say of a cylinder,
//! the scale against the book.
//!
//! Limits and pressures come from tables worked out apart from this program (CoolProp 8.0.0): in a
//! cylinder of 47.7 lb of water, R-32 may be 36.7477 lb (0.80 of the volume at 25 degC), R-410A
//! 38.16 lb (0.8 x 47.7), unknown content what R-290 may be, 0.80 x 492.36 kg/m3 x
//! 21.6810 L = 8.54 kg, which is 18.83 lb.

use harness::measured;
use harness::shop::Shop;
use serde_json::{Value, json};

fn shop() -> Shop {
    let mut shop = Shop::stocked();
    for tag in ["LIGHT", "OTHER", "NAMELESS"] {
        let facts = json!({"tag": tag, "use": "recovery", "water_capacity": "47.7 lb",
                           "tare": "27.5 lb", "retest_on": "2027-05-31"});
        shop.register("cylinder", facts);
    }
    shop
}

fn recover(to: &str, refrigerant: &str, mass: &str) -> Value {
    json!({"kind": "recover", "body": {"from": "unregistered", "number": 3,
        "to": format!("cylinder:{to}"), "refrigerant": refrigerant, "mass": mass}})
}

fn answered(mut request: Value, code: &str, choice: &str) -> Value {
    request["answers"][code] = json!(choice);
    request
}

/// Four fifths of the water would be 38.16 lb; liquid R-32 stops at 36.75, and the stop says why.
#[test]
fn m2_a_fill_stops_at_the_true_limit_of_its_refrigerant() {
    let mut shop = shop();
    let refused = shop.refused(recover("LIGHT", "R-32", "37 lb"));
    assert_eq!(Shop::stops(&refused), ["over_full"]);
    let said = refused.to_string();
    assert!(
        said.contains("GK80_25C") && said.contains("Guideline K"),
        "{said}"
    );
    assert!(
        said.contains("36 lb 11.9 oz") && said.contains("kg"),
        "{said}"
    );
    // 37 lb of R-410A is below its limit and above nine tenths of it, 34.344 lb.
    let refused = shop.refused(recover("OTHER", "R-410A", "37 lb"));
    assert_eq!(Shop::questions(&refused), ["over_room"]);
    assert!(refused.to_string().contains("WATER80"), "{refused}");
    shop.ok(recover("OTHER", "R-410A", "34 lb"));
    let refused = shop.refused(recover("NAMELESS", "unknown", "21 lb"));
    assert_eq!(Shop::stops(&refused), ["over_full"]);
    // What has happened is booked, with quarantine and a finding.
    let posted = shop.ok(answered(
        recover("LIGHT", "R-32", "37 lb"),
        "over_full",
        "already_happened",
    ));
    assert!(
        shop.findings(posted.seq)
            .contains(&("over_full".into(), "high".into(), false))
    );
    let out = json!({"kind": "transfer", "body": {"from": "cylinder:LIGHT", "to": "cylinder:NAMELESS",
        "refrigerant": "R-32", "mass": "1 lb"}});
    assert!(Shop::stops(&shop.refused(out)).contains(&"quarantined"));
    shop.sound();
    shop.caches_agree();
}

fn at_the_rack(kind: &str, mut body: Value) -> Value {
    body["appliance"] = json!("HG-RACK-A");
    json!({"kind": kind, "body": body})
}

fn words(shop: &mut Shop, seq: u64) -> Value {
    shop.leaf(seq)["body"]["words"].clone()
}

/// The verdict is worked out when it is posted; what waits for an answer is booked as not decided, and
/// a correction with the answers passes.
#[test]
fn a_test_in_the_sun_is_not_decided_until_it_is_answered() {
    let mut shop = shop();
    let passed = shop.ok(at_the_rack("pressure_test", measured::pressure_test()));
    let said = words(&mut shop, passed.seq);
    assert_eq!(
        (&said["verdict"], &said["result"]),
        (&json!("no_loss_beyond_uncertainty"), &json!("passed"))
    );
    // 146.805 psig expected, 146.5 read.
    let loss = said["loss"].as_str().expect("a decimal");
    assert!(["0.30", "0.31"].contains(&loss), "{said}");
    let mut sunny = measured::pressure_test();
    (sunny["end_temperature"], sunny["end_pressure"]) = (json!("85"), json!("150"));
    let open = shop.ok(at_the_rack("pressure_test", sunny.clone()));
    assert_eq!(words(&mut shop, open.seq)["result"], "not_decided");
    assert!(
        shop.findings(open.seq)
            .iter()
            .any(|it| it.0 == "test_not_decided")
    );
    sunny["in_shade"] = json!("no");
    let again = shop.ok(at_the_rack("pressure_test", sunny.clone()));
    assert_eq!(words(&mut shop, again.seq)["verdict"], "not_decided");
    for answer in [
        "in_shade",
        "on_tested_part",
        "same_place",
        "settled_after_filling",
    ] {
        sunny[answer] = json!("yes");
    }
    let lost = shop.ok(at_the_rack("pressure_test", sunny.clone()));
    assert_eq!(words(&mut shop, lost.seq)["result"], "failed");
    sunny["end_temperature"] = json!("70");
    sunny["appliance"] = json!("HG-RACK-A");
    let corrected = shop.ok(
        json!({"kind": "correction", "body": {"corrects": open.entry_id,
        "reason": "misread", "replace": {"body": sunny}}}),
    );
    let said = shop.leaf(corrected.seq)["body"]["replace"]["body"]["words"].clone();
    assert_eq!(said["result"], "passed", "{said}");
    shop.sound();
    shop.caches_agree();
}

/// A test above the nameplate has happened: asked about, booked, and left as a finding.
#[test]
fn a_test_above_the_nameplate_is_booked_with_a_finding() {
    let mut shop = shop();
    let mut body = measured::pressure_test();
    body["design_pressure"] = json!("140");
    let request = at_the_rack("pressure_test", body);
    let refused = shop.refused(request.clone());
    assert_eq!(Shop::questions(&refused), ["above_design_pressure"]);
    assert!(
        refused.to_string().contains("Never test above it"),
        "{refused}"
    );
    let posted = shop.ok(answered(request, "above_design_pressure", "as_stated"));
    let said = words(&mut shop, posted.seq);
    assert_eq!(
        (&said["above_design"], &said["result"]),
        (&json!("yes"), &json!("passed"))
    );
    assert!(
        shop.findings(posted.seq)
            .iter()
            .any(|it| it.0 == "above_design_pressure")
    );
    // 700 psig is beyond what the gas is known for; it has happened, so it is booked undecided.
    let mut body = measured::pressure_test();
    (body["start_pressure"], body["design_pressure"]) = (json!("700"), json!("800"));
    let request = at_the_rack("pressure_test", body);
    assert_eq!(
        Shop::questions(&shop.refused(request.clone())),
        ["cannot_be_judged"]
    );
    let posted = shop.ok(answered(request, "cannot_be_judged", "as_stated"));
    assert_eq!(words(&mut shop, posted.seq)["verdict"], "not_decided");
    shop.sound();
    shop.caches_agree();
}

#[test]
fn vacuum_tests_and_run_checks_are_kept_with_what_they_mean() {
    let mut shop = shop();
    let held = shop.ok(at_the_rack("vacuum_test", measured::vacuum_test()));
    let said = words(&mut shop, held.seq);
    assert_eq!(
        (&said["result"], &said["shape"]),
        (&json!("passed"), &json!("levels_off"))
    );
    let mut short = measured::vacuum_test();
    short["minutes"] = json!("15");
    let short = shop.ok(at_the_rack("vacuum_test", short));
    assert_eq!(words(&mut shop, short.seq)["result"], "not_decided");
    let ran = shop.ok(at_the_rack("run_check", measured::run_check()));
    let said = words(&mut shop, ran.seq);
    assert!(said["high_saturation_cel"].is_string() && said["low_saturation_cel"].is_string());
    let mut exchanged = measured::run_check();
    (exchanged["high_pressure"], exchanged["low_pressure"]) = (json!("60"), json!("250"));
    let request = at_the_rack("run_check", exchanged);
    assert_eq!(
        Shop::questions(&shop.refused(request.clone())),
        ["implausible_pair"]
    );
    shop.ok(answered(request, "implausible_pair", "as_stated"));
    shop.sound();
    shop.caches_agree();
}

/// What is malformed is refused by its field and books nothing; a verdict is never stated.
#[test]
fn bad_readings_of_tests_are_refused() {
    let mut shop = shop();
    for (kind, mut body, name, value) in [
        (
            "pressure_test",
            measured::pressure_test(),
            "end_pressure",
            json!("-20"),
        ),
        (
            "pressure_test",
            measured::pressure_test(),
            "design_pressure",
            Value::Null,
        ),
        (
            "pressure_test",
            measured::pressure_test(),
            "pressure_accuracy",
            json!("0"),
        ),
        (
            "pressure_test",
            measured::pressure_test(),
            "verdict",
            json!("passed"),
        ),
        (
            "vacuum_test",
            measured::vacuum_test(),
            "criterion",
            json!("MINE"),
        ),
        (
            "vacuum_test",
            measured::vacuum_test(),
            "minutes",
            json!("5"),
        ),
        (
            "run_check",
            measured::run_check(),
            "altitude",
            json!("90000"),
        ),
        ("run_check", measured::run_check(), "gauge", Value::Null),
    ] {
        body[name] = value;
        let before = shop.size();
        let refused = shop.refused(at_the_rack(kind, body));
        assert!(
            ["malformed", "invalid-value"].contains(&refused.slug()),
            "{kind} {name}: {refused}"
        );
        assert_eq!(shop.size(), before);
    }
    shop.sound();
    shop.caches_agree();
}

/// Nobody knows what is in it: the check excludes and names nothing, the cylinder is locked away until
/// an analysis settles it.
#[test]
fn an_unlabelled_cylinder_is_checked_quarantined_and_resolved() {
    let mut shop = shop();
    let mut body = measured::observation();
    (body["cylinder"], body["gross"]) = (json!("NAMELESS"), json!("40 lb"));
    let request = json!({"kind": "observation", "body": body});
    let technician = shop.technician;
    let checked = shop.post_as(&technician, request).expect("booked");
    let said = words(&mut shop, checked.seq);
    assert_eq!(said["verdict"], "ambiguous");
    let list = said["compatible"].as_str().expect("a list");
    assert!(list.contains("R-410A") && list.contains("R-32"), "{list}");
    assert!(shop.findings(checked.seq).contains(&(
        "content_doubtful".into(),
        "high".into(),
        false
    )));
    // 40 lb less the tare of 27.5 lb.
    let count = json!({"kind": "count", "answers": {"count_differs": "as_stated"},
        "body": {"cylinder": "NAMELESS", "gross": "40 lb",
        "refrigerant": "unknown", "reason": "unposted_transfer"}});
    let counted = shop.ok(count.clone());
    let moved = shop.leaf(counted.seq)["body"]["movements"][0].clone();
    assert_eq!(
        (&moved["from"], &moved["g"]),
        (&json!("unexplained"), &json!("5669.904625"))
    );
    let mut repeat = count;
    repeat["entry_id"] = json!(counted.entry_id);
    assert!(
        shop.ok(repeat).replayed,
        "the same count again is the same entry"
    );
    let out = json!({"kind": "transfer", "body": {"from": "cylinder:NAMELESS",
        "to": "cylinder:OTHER", "refrigerant": "unknown", "mass": "1 lb"}});
    assert!(Shop::stops(&shop.refused(out)).contains(&"quarantined"));
    shop.ok(
        json!({"kind": "redesignate", "answers": {"content_renamed": "analysed"},
        "body": {"place": "cylinder:NAMELESS",
        "refrigerant": "unknown", "becomes": "R-410A", "mass": "12.5 lb"}}),
    );
    shop.ok(
        json!({"kind": "settle", "body": {"code": "content_doubtful",
        "entries": [checked.entry_id], "reason": "analysed"}}),
    );
    let out = json!({"kind": "transfer", "body": {"from": "cylinder:NAMELESS",
        "to": "cylinder:OTHER", "refrigerant": "R-410A", "mass": "1 lb"}});
    shop.ok(out);
    // What the book says and the gauge does not rule out leaves nothing.
    let mut body = measured::observation();
    (body["cylinder"], body["gross"]) = (json!("NAMELESS"), json!("39 lb"));
    let fits = shop.ok(json!({"kind": "observation", "body": body.clone()}));
    assert_eq!(fits.findings, []);
    // 70 psig at 20 degC is no R-410A (195 psig).
    body["pressure"] = json!("70");
    let doubted = shop.ok(json!({"kind": "observation", "body": body}));
    assert!(
        shop.findings(doubted.seq)
            .iter()
            .any(|it| it.0 == "content_doubtful")
    );
    shop.sound();
    shop.caches_agree();
}

/// The scale against the book: a difference beyond its step is a finding that a count settles.
#[test]
fn a_weighing_is_compared_with_the_book_and_a_count_settles_it() {
    let mut shop = shop();
    shop.ok(recover("OTHER", "R-410A", "10 lb"));
    let weighed = |before: &str, after: &str| {
        json!({"kind": "recover", "body": {"from": "unregistered", "number": 1,
            "to": "cylinder:OTHER", "refrigerant": "R-410A",
            "readings": {"before": before, "after": after, "scale": "S-2"}}})
    };
    let right = shop.ok(weighed("37.5 lb", "38.5 lb"));
    assert_eq!(right.findings, []);
    // 11 lb by the book; 38.5 lb gross are 11 lb, 36.0 lb are 8.5 lb, 60 lb are 32.5 lb.
    for (before, after, code) in [
        ("36 lb", "36.5 lb", "scale_unposted"),
        ("60 lb", "60.5 lb", "scale_exchange"),
        ("38.75 lb", "39.25 lb", "scale_tare"),
    ] {
        let posted = shop.ok(weighed(before, after));
        let found: Vec<String> = shop
            .findings(posted.seq)
            .into_iter()
            .map(|it| it.0)
            .collect();
        assert_eq!(found, [code], "{before}");
    }
    let counted = shop.ok(
        json!({"kind": "count", "body": {"cylinder": "OTHER", "gross": "40 lb",
        "scale": "S-2", "reason": "counted"}}),
    );
    // 12.5 lb by the book and 12.5 lb on the scale: nothing moves, and the findings are settled.
    assert_eq!(shop.leaf(counted.seq)["body"]["movements"], Value::Null);
    for seq in right.seq..counted.seq {
        assert!(
            shop.findings(seq).iter().all(|(.., settled)| *settled),
            "no. {seq}"
        );
    }
    for (request, says) in [
        (json!({"cylinder": "OTHER", "gross": "20 lb"}), "tare"),
        (json!({"cylinder": "SUP-88231", "gross": "20 lb"}), "tare"),
        (
            json!({"cylinder": "NAMELESS", "gross": "30 lb"}),
            "refrigerant",
        ),
        (
            json!({"cylinder": "OTHER", "gross": "40 lb", "reason": "magic"}),
            "reason",
        ),
        (json!({"cylinder": "NOWHERE", "gross": "40 lb"}), "NOWHERE"),
    ] {
        let refused = shop.refused(json!({"kind": "count", "body": request}));
        assert!(refused.to_string().contains(says), "{refused}");
    }
    shop.sound();
    shop.caches_agree();
}
