//! What goes back to a supplier: sound refrigerant unasked, mixed, burnt or unknown content only by an answer.
//!
//! Everything that is no stop is a question, and what has happened is booked and leaves a finding (the
//! model, 4.2). That mixed refrigerant goes to a reclaimer or to destruction is common practice, no source.

use harness::shop::Shop;
use serde_json::{Value, json};

fn back(more: &[&str]) -> Value {
    let movement = |refrigerant: &&str| {
        json!({"from": "cylinder:TR-0417", "to": "counterparty:Dunmore Supply",
               "refrigerant": refrigerant, "mass": "1 lb", "document": "R-17"})
    };
    let movements: Vec<Value> = more.iter().map(movement).collect();
    json!({"kind": "return", "body": {"movements": movements}})
}

fn recover(refrigerant: &str, class: Option<&str>) -> Value {
    let mut request = json!({"kind": "recover", "body": {"from": "unregistered", "number": 1,
        "to": "cylinder:TR-0417", "refrigerant": refrigerant, "mass": "3 lb"}});
    if let Some(class) = class {
        request["body"]["class"] = json!(class);
    }
    request
}

/// Two refrigerants that met, by a manager's leave, so that no quarantine stands in the way.
fn mixed() -> Shop {
    let mut shop = Shop::stocked();
    shop.ok(recover("R-22", None));
    let mut second = recover("R-134a", None);
    second["answers"]["mixing"] = json!("lifted");
    second["reason_text"] = json!("Poured together for the reclaimer.");
    shop.ok(second);
    shop
}

#[test]
fn m2_a_mixture_goes_back_to_a_supplier_by_an_answer_only() {
    let mut shop = mixed();
    let (before, size) = (shop.kept_balances(), shop.size());
    let request = back(&["R-22", "R-134a"]);
    let refused = shop.refused(request.clone());
    assert_eq!(
        Shop::questions(&refused),
        ["content_class"],
        "once for the cylinder"
    );
    let said = refused.to_string();
    assert!(
        said.contains("is mixed") && said.contains("reclaimer"),
        "{said}"
    );
    assert!(said.contains("Dunmore Supply"), "{said}");
    assert_eq!((shop.kept_balances(), shop.size()), (before, size));
    let mut answered = request;
    answered["answers"]["content_class"] = json!("as_stated");
    let booked = shop.ok(answered);
    assert_eq!(
        shop.leaf(booked.seq)["answers"]["content_class"],
        "as_stated"
    );
    let left = shop.findings(booked.seq);
    assert_eq!(
        left,
        [("content_class".to_string(), "normal".to_string(), false)]
    );
    shop.sound();
    shop.caches_agree();
}

/// Without signal nobody can be asked: it is booked, and somebody looks at it.
#[test]
fn m2_without_signal_a_mixture_that_went_back_leaves_a_finding() {
    let mut shop = mixed();
    let technician = shop.technician;
    let mut request = back(&["R-22"]);
    request["captured_offline"] = json!(true);
    let booked = shop.post_as(&technician, request).expect("booked");
    let left = shop.findings(booked.seq);
    assert_eq!(
        left,
        [("content_class".to_string(), "normal".to_string(), false)]
    );
    shop.sound();
    shop.caches_agree();
}

/// Every condition that is none to be charged again is asked about; sound content is not.
#[test]
fn m2_only_sound_content_goes_back_unasked() {
    for (refrigerant, class, asked) in [
        ("R-22", None, false),
        ("R-22", Some("clean"), false),
        ("R-22", Some("suspect"), true),
        ("R-22", Some("burn_out"), true),
        ("mixture", None, true),
        ("unknown", None, true),
    ] {
        let mut shop = Shop::stocked();
        shop.ok(recover(refrigerant, class));
        let request = back(&[refrigerant]);
        if asked {
            let refused = shop.refused(request.clone());
            assert_eq!(
                Shop::questions(&refused),
                ["content_class"],
                "{refrigerant} {class:?}"
            );
        } else {
            shop.ok(request);
        }
        // A reclaimer gets it unasked.
        let mut on = back(&[refrigerant]);
        on["kind"] = json!("send_to_reclaim");
        on["body"]["movements"][0]["to"] = json!("counterparty:Corvane Reclaim");
        shop.ok(on);
        shop.sound();
    }
}
