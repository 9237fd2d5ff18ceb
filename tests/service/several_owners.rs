//! Whose refrigerant meets in a cylinder, recovered refrigerant in a supply cylinder, and what is mixed:
//! asked or stopped before it is poured, and consistent ever after.
//!
//! What follows for several owners, and where mixed refrigerant goes, is the model's (words *owner*;
//! section 4.2); that recovered refrigerant goes back to its own owner or is reclaimed: from memory; that
//! it goes into recovery cylinders: common practice, no source.

use api::actions::refusal::{ActionError, Refusal};
use api::actions::show::{Sees, cage, fitting};
use harness::shop::Shop;
use serde_json::{Value, json};

fn shop() -> Shop {
    let mut shop = Shop::stocked();
    for (tag, usage) in [
        ("REC-1", "recovery"),
        ("REC-2", "recovery"),
        ("NEW-1", "supply"),
        ("NEW-2", "supply"),
    ] {
        let facts = json!({"tag": tag, "use": usage, "water_capacity": "47.7 lb",
                           "tare": "27.5 lb", "retest_on": "2027-05-31"});
        shop.register("cylinder", facts);
    }
    for (tag, owner) in [
        ("QK-RACK-9", Some("Quillfeather Kitchen")),
        ("NOBODYS-1", None),
    ] {
        let mut facts = json!({"tag": tag, "refrigerant": "R-448A", "full_charge": "100 lb",
                               "category": "commercial_refrigeration"});
        if let Some(owner) = owner {
            facts["owner"] = json!(owner);
        }
        shop.register("appliance", facts);
    }
    shop
}

fn moved(kind: &str, from: &str, to: &str, refrigerant: &str, mass: &str) -> Value {
    json!({"kind": kind, "answers": {"balance_below_zero": "as_stated", "over_room": "as_stated",
                                     "wrong_refrigerant_for_appliance": "as_stated"},
        "body": {"from": from, "to": to, "refrigerant": refrigerant, "mass": mass}})
}

fn recover(from: &str, to: &str, mass: &str) -> Value {
    let from = format!("appliance:{from}");
    moved("recover", &from, &format!("cylinder:{to}"), "R-448A", mass)
}

fn transfer(from: &str, to: &str, mass: &str) -> Value {
    let (from, to) = (format!("cylinder:{from}"), format!("cylinder:{to}"));
    moved("transfer", &from, &to, "R-448A", mass)
}

fn charge(from: &str, to: &str) -> Value {
    let (from, to) = (format!("cylinder:{from}"), format!("appliance:{to}"));
    moved("charge", &from, &to, "R-448A", "1 lb")
}

fn answered(mut request: Value, code: &str, choice: &str) -> Value {
    request["answers"][code] = json!(choice);
    request
}

fn shown(shop: &mut Shop, tag: &str) -> cage::CylinderShown {
    cage::one(&mut shop.db, &shop.of, tag, None, Sees::Everything).expect("a cylinder")
}

fn said(shop: &mut Shop, seq: u64) -> Vec<(String, String)> {
    let found = shop.findings(seq).into_iter();
    found.map(|(code, grade, _)| (code, grade)).collect()
}

/// Halfmoon's and Quillfeather's of one name: asked once, then both own all of it, in every cylinder it
/// goes on to, and no appliance gets it.
#[test]
fn e10_another_owners_refrigerant_is_asked_about_before_it_is_poured_in() {
    let mut shop = shop();
    shop.ok(recover("HG-RACK-A", "REC-1", "3 lb"));
    shop.ok(answered(
        recover("HG-RACK-A", "REC-1", "2 lb"),
        "look_alike",
        "as_stated",
    ));
    let other = recover("QK-RACK-9", "REC-1", "1 lb");
    let refused = shop.refused(other.clone());
    assert_eq!(Shop::questions(&refused), ["several_owners"]);
    let Refusal::NeedsAnswer(questions) = &refused else {
        panic!("{refused}");
    };
    let books = &questions[0].choices[0].books;
    assert!(books.contains("reclaim or destruction only"), "{books}");
    let booked = shop.ok(answered(other, "several_owners", "as_stated"));
    let normal = |code: &str| (code.to_string(), "normal".to_string());
    assert!(said(&mut shop, booked.seq).contains(&normal("several_owners")));
    let both = ["Halfmoon Grocers", "Quillfeather Kitchen"];
    assert_eq!(shown(&mut shop, "REC-1").owners, both);
    assert_eq!(
        shown(&mut shop, "REC-1").only_to_reclaim,
        Some("several_owners")
    );
    // Either's again is no news.
    shop.ok(answered(
        recover("QK-RACK-9", "REC-1", "0.5 lb"),
        "look_alike",
        "as_stated",
    ));
    for appliance in ["HG-RACK-A", "QK-RACK-9", "NOBODYS-1"] {
        let refused = shop.refused(charge("REC-1", appliance));
        assert_eq!(Shop::stops(&refused), ["other_owner"], "{appliance}");
    }
    let fits = |shop: &mut Shop| -> Vec<String> {
        let fits = fitting::to_charge(&mut shop.db, &shop.of, "R-448A", None, 20).expect("a list");
        fits.into_iter().map(|one| one.tag).collect()
    };
    assert_eq!(
        fits(&mut shop),
        ["SUP-88231"],
        "none that no appliance gets"
    );
    shop.ok(transfer("REC-1", "REC-2", "1 lb"));
    assert_eq!(shown(&mut shop, "REC-2").owners, both);
    // Sent on, the cylinder is nobody's, and the next owner is asked nothing.
    for tag in ["REC-1", "REC-2"] {
        let held = shown(&mut shop, tag).fill.net;
        let mass = format!("{} g", reports::mass::Mass::from_steps(held as i64));
        let sent = moved(
            "send_to_reclaim",
            &format!("cylinder:{tag}"),
            "counterparty:Corvane Reclaim",
            "R-448A",
            &mass,
        );
        shop.ok(sent);
        assert_eq!(shown(&mut shop, tag).only_to_reclaim, None);
    }
    shop.ok(answered(
        recover("QK-RACK-9", "REC-1", "0.7 lb"),
        "look_alike",
        "as_stated",
    ));
    shop.sound();
    shop.caches_agree();
}

/// Two appliances of two owners emptied into one cylinder by one entry are no less two owners'.
#[test]
fn e10_two_owners_of_one_entry_are_asked_about() {
    let mut shop = shop();
    let from = |appliance: &str| {
        json!({"from": format!("appliance:{appliance}"), "to": "cylinder:REC-1",
               "refrigerant": "R-448A", "mass": "1 lb"})
    };
    let mut both = json!({"kind": "recover", "answers": {"balance_below_zero": "as_stated"},
        "body": {"movements": [from("HG-RACK-A"), from("QK-RACK-9")]}});
    assert_eq!(
        Shop::questions(&shop.refused(both.clone())),
        ["several_owners"]
    );
    both["answers"]["several_owners"] = json!("as_stated");
    shop.ok(both);
    assert_eq!(
        shown(&mut shop, "REC-1").only_to_reclaim,
        Some("several_owners")
    );
    shop.sound();
    shop.caches_agree();
}

/// What happened without signal is booked, with the finding that the answer would have left.
#[test]
fn e10_without_signal_several_owners_are_a_finding() {
    let mut shop = shop();
    shop.ok(recover("HG-RACK-A", "REC-1", "3 lb"));
    shop.ok(recover("QK-RACK-9", "REC-2", "3 lb"));
    let mut poured = transfer("REC-2", "REC-1", "1 lb");
    assert_eq!(
        Shop::questions(&shop.refused(poured.clone())),
        ["several_owners"]
    );
    poured["captured_offline"] = json!(true);
    let booked = shop.ok(poured);
    assert_eq!(
        said(&mut shop, booked.seq),
        [("several_owners".to_string(), "normal".to_string())]
    );
    assert_eq!(shown(&mut shop, "REC-2").owners, ["Quillfeather Kitchen"]);
    shop.sound();
    shop.caches_agree();
}

/// Recovered into a supply cylinder: asked; then it belongs to its owner, in a condition that nobody
/// knows unless one was stated, and charging from it is stopped or asked about.
#[test]
fn recovered_refrigerant_in_a_supply_cylinder_is_asked_about() {
    let mut shop = shop();
    let buy = |tag: &str| {
        let to = format!("cylinder:{tag}");
        let mut bought = moved(
            "purchase",
            "counterparty:Dunmore Supply",
            &to,
            "R-448A",
            "5 lb",
        );
        bought["body"]["state"] = json!("new");
        bought["body"]["invoice"] = json!("D-1188");
        bought
    };
    for tag in ["NEW-1", "NEW-2"] {
        shop.ok(buy(tag));
    }
    let poured = recover("HG-RACK-A", "NEW-1", "3 lb");
    assert_eq!(
        Shop::questions(&shop.refused(poured.clone())),
        ["recovered_into_supply"]
    );
    let booked = shop.ok(answered(poured, "recovered_into_supply", "as_stated"));
    let grave = ("recovered_into_supply".to_string(), "high".to_string());
    assert!(said(&mut shop, booked.seq).contains(&grave));
    assert_eq!(shop.leaf(booked.seq)["body"]["class"], "unknown");
    let shown_now = shown(&mut shop, "NEW-1");
    assert_eq!(shown_now.class.as_deref(), Some("unknown"));
    assert_eq!(shown_now.owners, ["Halfmoon Grocers"]);
    let refused = shop.refused(charge("NEW-1", "HG-RACK-A"));
    assert_eq!(Shop::questions(&refused), ["content_class"]);
    assert_eq!(
        Shop::stops(&shop.refused(charge("NEW-1", "QK-RACK-9"))),
        ["other_owner"]
    );
    // Stated, the condition is what was stated.
    let mut clean = answered(
        recover("HG-RACK-A", "NEW-2", "2 lb"),
        "recovered_into_supply",
        "as_stated",
    );
    clean["body"]["class"] = json!("clean");
    shop.ok(clean);
    assert_eq!(shown(&mut shop, "NEW-2").class.as_deref(), Some("clean"));
    // From cylinder to cylinder: what was recovered is asked about, what is new is not.
    shop.ok(recover("HG-RACK-A", "REC-1", "4 lb"));
    let refused = shop.refused(transfer("REC-1", "NEW-2", "1 lb"));
    assert_eq!(Shop::questions(&refused), ["recovered_into_supply"]);
    let fresh = shop.ok(transfer("SUP-88231", "NEW-2", "1 lb"));
    assert_eq!(fresh.findings, []);
    // Of an appliance whose owner nobody knows, without a condition: it stood in a recovery cylinder.
    shop.ok(recover("NOBODYS-1", "REC-2", "2 lb"));
    let refused = shop.refused(transfer("REC-2", "NEW-2", "1 lb"));
    assert_eq!(Shop::questions(&refused), ["recovered_into_supply"]);
    // The same request again is the same entry, though the leaf says more than the request did.
    let again = json!({"entry_id": booked.entry_id, "kind": "recover",
        "body": {"from": "appliance:HG-RACK-A", "to": "cylinder:NEW-1", "refrigerant": "R-448A",
                 "mass": "3 lb"}});
    assert!(shop.ok(again).replayed);
    shop.sound();
    shop.caches_agree();
}

/// R-22 and R-448A have met and the finding is settled: the cylinder says where it goes, and charging or
/// pouring from it is stopped; a manager may lift that, and nobody stops its way to the reclaimer.
#[test]
fn what_is_mixed_goes_to_reclaim_only_after_its_finding_is_settled() {
    let mut shop = shop();
    shop.ok(recover("HG-RACK-A", "REC-1", "3 lb"));
    let into = moved("recover", "unregistered", "cylinder:REC-1", "R-22", "2 lb");
    let mixed = shop.ok(answered(into, "mixing", "already_happened"));
    let quarantined = shop.refused(transfer("REC-1", "REC-2", "1 lb"));
    assert_eq!(
        Shop::stops(&quarantined),
        ["quarantined"],
        "one stop, not two"
    );
    shop.ok(json!({"kind": "settle", "body": {"code": "mixing",
        "entries": [mixed.entry_id], "reason": "checked"}}));
    let renamed = json!({"kind": "redesignate", "body": {"becomes": "mixture",
        "parts": ["R-448A", "R-22"], "movements": [
        {"from": "cylinder:REC-1", "refrigerant": "R-448A", "mass": "3 lb"},
        {"from": "cylinder:REC-1", "refrigerant": "R-22", "mass": "2 lb"}]}});
    for renames in [false, true] {
        if renames {
            shop.ok(renamed.clone());
        }
        assert_eq!(shown(&mut shop, "REC-1").only_to_reclaim, Some("mixed"));
        let name = if renames { "mixture" } else { "R-448A" };
        let mut drawn = charge("REC-1", "HG-RACK-A");
        drawn["body"]["refrigerant"] = json!(name);
        let mut poured = transfer("REC-1", "REC-2", "1 lb");
        poured["body"]["refrigerant"] = json!(name);
        for request in [drawn, poured] {
            let refused = shop.refused(request);
            assert_eq!(Shop::stops(&refused), ["mixed_content"]);
            assert!(
                refused.to_string().contains("reclaim or destruction only"),
                "{refused}"
            );
        }
    }
    let mut poured = transfer("REC-1", "REC-2", "1 lb");
    poured["body"]["refrigerant"] = json!("mixture");
    poured["reason_text"] = json!("Two small ones into one for the reclaimer.");
    let technician = shop.technician;
    let lifted = answered(poured, "mixed_content", "lifted");
    let refused = shop.post_as(&technician, lifted.clone()).unwrap_err();
    assert!(
        matches!(refused, ActionError::Refused(Refusal::Forbidden { .. })),
        "{refused}"
    );
    let booked = shop.ok(lifted);
    assert!(said(&mut shop, booked.seq).contains(&("mixed_content".into(), "normal".into())));
    assert_eq!(shown(&mut shop, "REC-2").only_to_reclaim, Some("mixed"));
    shop.ok(moved(
        "send_to_reclaim",
        "cylinder:REC-1",
        "counterparty:Corvane Reclaim",
        "mixture",
        "4 lb",
    ));
    assert_eq!(shown(&mut shop, "REC-1").only_to_reclaim, None);
    shop.sound();
    shop.caches_agree();
}

/// One of two names that met becomes the other: it reads like one refrigerant then, so that an analysis is
/// asked for, also of a manager, and the office looks at it.
#[test]
fn a_mixture_does_not_become_one_name_unasked() {
    let mut shop = shop();
    shop.ok(recover("HG-RACK-A", "REC-1", "10 lb"));
    let into = moved("recover", "unregistered", "cylinder:REC-1", "R-22", "5 lb");
    shop.ok(answered(into, "mixing", "already_happened"));
    let renamed = json!({"kind": "redesignate", "body": {"place": "cylinder:REC-1",
        "refrigerant": "R-22", "mass": "5 lb", "becomes": "R-448A"}});
    let refused = shop.refused(renamed.clone());
    assert_eq!(Shop::questions(&refused), ["content_renamed"]);
    let booked = shop.ok(answered(renamed, "content_renamed", "analysed"));
    assert!(said(&mut shop, booked.seq).contains(&("content_renamed".into(), "high".into())));
    shop.sound();
    shop.caches_agree();
}
