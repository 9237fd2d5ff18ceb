//! Stops before pouring, questions with stored answers, findings, quarantine.
//!
//! Promise M2 and the model's section on stops, questions and findings: a stop guards the moment
//! before pouring; a fact that has happened is never refused.

use api::ledger::id::Id;
use harness::shop::Shop;
use serde_json::{Value, json};

fn recover(to: &str, mass: &str) -> Value {
    json!({"kind": "recover", "body": {"from": "appliance:HG-RACK-A",
        "to": format!("cylinder:{to}"), "refrigerant": "R-448A", "mass": mass}})
}

/// A shop whose rack is full, so that what is recovered was there.
fn shop() -> Shop {
    let mut shop = Shop::stocked();
    shop.ok(
        json!({"kind": "opening", "body": {"to": "appliance:HG-RACK-A", "refrigerant": "R-448A", "mass": "210 lb"}}),
    );
    shop.ok(
        json!({"kind": "opening", "body": {"to": "appliance:QK-WIC-1", "refrigerant": "R-404A", "mass": "11 lb"}}),
    );
    shop
}

fn cylinder(shop: &mut Shop, tag: &str, more: Value) {
    let mut facts = json!({"tag": tag, "use": "recovery", "water_capacity": "47.7 lb"});
    let members = facts.as_object_mut().unwrap();
    members.extend(more.as_object().cloned().unwrap_or_default());
    shop.register("cylinder", facts);
}

/// A cylinder of every sort that must not be filled, with the request that would.
fn cases(shop: &mut Shop) -> Vec<(&'static str, Value)> {
    cylinder(shop, "OLD", json!({"retest_on": "2026-07-13"}));
    cylinder(shop, "BAD", json!({"condition": "condemned"}));
    cylinder(shop, "ONCE", json!({"use": "disposable"}));
    cylinder(shop, "SMALL", json!({"water_capacity": "10 lb"}));
    cylinder(shop, "OTHER", json!({}));
    shop.ok(
        json!({"kind": "recover", "body": {"from": "appliance:QK-WIC-1",
        "to": "cylinder:OTHER", "refrigerant": "R-404A", "mass": "1 lb"}}),
    );
    cylinder(shop, "HALFMOONS", json!({}));
    shop.ok(recover("HALFMOONS", "5 lb"));
    let mut owner = json!({"kind": "charge", "answers": {"wrong_refrigerant_for_appliance": "as_stated"},
        "body": {"from": "cylinder:HALFMOONS", "to": "appliance:QK-WIC-1",
                 "refrigerant": "R-448A", "mass": "1 lb"}});
    owner["answers"]["rate_jump"] = json!("as_stated");
    vec![
        ("expired", recover("OLD", "1 lb")),
        ("condemned", recover("BAD", "2 lb")),
        ("disposable", recover("ONCE", "3 lb")),
        ("over_full", recover("SMALL", "9 lb")),
        ("mixing", recover("OTHER", "4 lb")),
        ("other_owner", owner),
    ]
}

fn answer(mut request: Value, code: &str, choice: &str) -> Value {
    request["answers"][code] = json!(choice);
    request
}

/// M2: each stop refuses and books nothing; who may lift it, lifts it with a written reason.
/// E8, E9, E10: mixing, expired or over-full cylinders and another owner's refrigerant are stopped.
#[test]
fn m2_stops_refuse_until_they_are_lifted_by_a_manager_with_a_reason() {
    let mut shop = shop();
    for (word, request) in cases(&mut shop) {
        let before = shop.size();
        let refusal = shop.refused(request.clone());
        assert_eq!(
            (refusal.slug(), Shop::stops(&refusal)),
            ("hard-stop", vec![word])
        );
        let lifted = answer(request, word, "lifted");
        let liftable = ["over_full", "mixing", "other_owner"].contains(&word);
        let refusal = shop.refused(lifted.clone());
        let expected = if liftable { "malformed" } else { "forbidden" };
        assert_eq!(refusal.slug(), expected, "{word}: {refusal}");
        let mut reasoned = lifted;
        reasoned["reason_text"] = json!("the scale was checked by me");
        let technician = shop.technician;
        assert!(
            shop.post_as(&technician, reasoned.clone()).is_err(),
            "{word}"
        );
        assert_eq!(shop.size(), before, "{word}: nothing was booked");
        if liftable {
            let posted = shop.ok(reasoned);
            assert_eq!(shop.leaf(posted.seq)["answers"][word], "lifted");
            assert!(shop.leaf(posted.seq)["commit"]["reason_text"].is_string());
            assert!(
                shop.findings(posted.seq)
                    .contains(&(word.into(), "normal".into(), false))
            );
        }
    }
    shop.sound();
    shop.caches_agree();
}

/// M2: what has happened is booked, leaves a finding of the highest grade, and the cylinder goes
/// to reclaim or destruction only, until a manager settles that finding.
#[test]
fn m2_what_has_happened_is_booked_and_quarantines_the_cylinder() {
    for offline in [false, true] {
        let mut shop = shop();
        shop.register("counterparty", json!({"tag": "Yard"}));
        for (word, request) in cases(&mut shop) {
            let request = match offline {
                true => {
                    let mut request = request;
                    request["captured_offline"] = json!(true);
                    request
                }
                false => answer(request, word, "already_happened"),
            };
            let technician = shop.technician;
            let posted = shop.post_as(&technician, request).unwrap();
            let findings = shop.findings(posted.seq);
            assert!(
                findings.contains(&(word.into(), "high".into(), false)),
                "{findings:?}"
            );
            quarantined(&mut shop, word, posted.entry_id);
        }
        shop.sound();
        shop.caches_agree();
    }
}

fn quarantined(shop: &mut Shop, word: &str, entry: Id) {
    let tag = match word {
        "expired" => "OLD",
        "condemned" => "BAD",
        "disposable" => "ONCE",
        "over_full" => "SMALL",
        "mixing" => "OTHER",
        _ => "HALFMOONS",
    };
    let out = |kind: &str, to: &str| {
        json!({"kind": kind, "body": {"from": format!("cylinder:{tag}"), "to": to,
            "refrigerant": "R-448A", "mass": "4 oz"}})
    };
    let stopped = shop.refused(out("transfer", "cylinder:TR-0417"));
    assert!(
        Shop::stops(&stopped).contains(&"quarantined"),
        "{word}: {stopped}"
    );
    shop.books.clear();
    let stopped = shop.refused(out("return", "counterparty:Yard"));
    assert_eq!(
        Shop::stops(&stopped),
        ["quarantined"],
        "{word}: also read anew"
    );
    shop.ok(out("send_to_reclaim", "counterparty:Yard"));
    shop.ok(out("send_to_destruction", "counterparty:Yard"));
    let settle =
        json!({"kind": "settle", "body": {"code": word, "entries": [entry], "reason": "analysed"}});
    let technician = shop.technician;
    let error = shop.post_as(&technician, settle.clone()).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("a compliance manager settles it"),
        "{error}"
    );
    let settled = shop.ok(settle.clone());
    assert_eq!(shop.refused(settle).slug(), "invalid-value", "settled once");
    // What is mixed is asked about even then.
    let back = out("return", "counterparty:Yard");
    match word {
        "mixing" => shop.ok(answer(back, "content_class", "as_stated")),
        _ => shop.ok(back),
    };
    let nth = shop.leaf(settled.seq)["nth"].as_object().unwrap().len();
    assert!(nth >= 1, "a settling counts for what the entry was about");
}

/// O1 and M2: an answer to a stop that did not arise is no claim that something was lifted.
#[test]
fn m2_a_leaf_says_lifted_only_of_what_stood_in_the_way() {
    let mut shop = shop();
    let technician = shop.technician;
    let request = answer(recover("TR-0417", "1 lb"), "over_full", "lifted");
    let posted = shop.post_as(&technician, request).unwrap();
    assert!(shop.leaf(posted.seq)["answers"].is_null());
}

/// M2: every question refuses until it is answered; the answer stands in the leaf, a finding stays.
#[test]
fn m2_questions_are_answered_kept_and_leave_a_finding() {
    let mut shop = shop();
    let charge = |mass: &str| {
        json!({"kind": "charge", "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
            "refrigerant": "R-448A", "mass": mass}})
    };
    let mut tiny = charge("");
    tiny["body"] = json!({"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
        "readings": {"before": "24 lb 0.1 oz", "after": "24 lb", "scale": "S-2"}});
    let day = |request: Value, day: &str| {
        let mut request = request;
        request["happened"] = json!({"day": day});
        request
    };
    let wrong = json!({"kind": "charge", "body": {"from": "cylinder:SUP-88231",
        "to": "appliance:QK-WIC-1", "refrigerant": "R-448A", "mass": "1 lb"}});
    cylinder(&mut shop, "BIG", json!({"water_capacity": "100 lb"}));
    let first = shop.ok(day(charge("2 lb"), "2026-07-08"));
    assert_eq!(first.findings, []);
    for (code, request) in [
        ("rate_jump", day(charge("15 lb"), "2026-07-10")),
        ("over_content", charge("30 lb")),
        ("over_full_charge", charge("211 lb")),
        ("below_resolution", tiny),
        ("look_alike", day(charge("2 lb"), "2026-07-09")),
        ("old_day", day(charge("3 lb"), "2026-07-01")),
        ("future_day", day(charge("3 lb"), "2026-07-15")),
        ("wrong_refrigerant_for_appliance", wrong),
        ("over_room", recover("TR-0417", "36 lb")),
        (
            "balance_below_zero",
            json!({"kind": "recover", "body": {"from": "appliance:QK-WIC-1",
            "to": "cylinder:BIG", "refrigerant": "R-404A", "mass": "12 lb"}}),
        ),
    ] {
        asked_and_answered(&mut shop, code, request);
    }
    shop.sound();
    shop.caches_agree();
}

fn asked_and_answered(shop: &mut Shop, code: &str, mut request: Value) {
    let before = shop.size();
    let codes = Shop::questions(&shop.refused(request.clone()));
    assert!(codes.contains(&code), "{code}: {codes:?}");
    assert_eq!(shop.size(), before);
    for asked in codes {
        request["answers"][asked] = json!("as_stated");
    }
    let posted = shop.ok(request);
    let leaf = shop.leaf(posted.seq);
    assert_eq!(leaf["answers"][code], "as_stated");
    assert!(
        shop.findings(posted.seq).iter().any(|it| it.0 == code),
        "{code}"
    );
    assert_eq!(
        leaf["late"],
        if code == "old_day" {
            json!(true)
        } else {
            Value::Null
        }
    );
}

/// M2 and M5: captured offline, the literal reading stands and leaves its finding and its answer.
#[test]
fn m2_captured_offline_nothing_is_asked() {
    let mut shop = shop();
    let request = json!({"kind": "charge", "captured_offline": true,
        "happened": {"day": "2026-03-08", "time": "02:30"},
        "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
            "readings": {"before": "14 lb 12 oz", "after": "29 lb 4 oz"}}});
    let posted = shop.ok(request.clone());
    let leaf = shop.leaf(posted.seq);
    assert_eq!(leaf["captured_offline"], true);
    assert_eq!(leaf["late"], true);
    assert_eq!(
        leaf["answers"],
        json!({"skipped_or_doubled_time": "day_only", "swapped": "exchange"})
    );
    assert_eq!(leaf["happened"]["time"], Value::Null);
    assert_eq!(
        leaf["body"]["movements"][0]["g"], "6577.089365",
        "14 lb 8 oz"
    );
    let findings: Vec<String> = shop
        .findings(posted.seq)
        .into_iter()
        .map(|it| it.0)
        .collect();
    assert_eq!(findings, ["old_day", "skipped_or_doubled_time", "swapped"]);
    // O1: sent again with signal and without the mark, it is the same entry.
    let mut again = request;
    again["entry_id"] = json!(posted.entry_id);
    again.as_object_mut().unwrap().remove("captured_offline");
    assert!(shop.ok(again).replayed);
}

/// H9 and S1: a technician's registration stands at once and leaves a finding for the office.
#[test]
fn s3_a_registration_on_site_stands_and_is_a_finding() {
    let mut shop = shop();
    let technician = shop.technician;
    let facts = json!({"tag": "NEW-1", "refrigerant": "R-448A"});
    let request = json!({"kind": "appliance", "body": {"facts": facts}});
    let posted = shop.post_as(&technician, request).unwrap();
    assert_eq!(shop.findings(posted.seq)[0].0, "registered_on_site");
    let place = shop.inside(|tx| Ok(tx.findings_of(posted.seq)?[0].1));
    let tag = shop.inside(|tx| Ok(tx.subject(place)?.tag.clone()));
    assert_eq!(
        tag.as_deref(),
        Some("NEW-1"),
        "the finding is about the new thing"
    );
}
