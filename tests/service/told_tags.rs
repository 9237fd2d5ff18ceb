//! What a register entry is asked about: a tag that looks like another one, letter by letter, and a
//! condition that is said to be better than it was; and what it leaves when nobody can be asked.
//!
//! Letters that look alike: Unicode Technical Standard 39, confusables.txt (Cyrillic U+041D is shown as a
//! Latin H, U+0420 as P, Greek U+0391 as A, capital I and digit 1 as l, 0 as O).

use api::ledger::id::Id;
use harness::shop::Shop;
use serde_json::{Value, json};

fn registered(sort: &str, tag: &str) -> Value {
    json!({"kind": sort, "body": {"facts": {"tag": tag}}})
}

fn so(mut request: Value, code: &str, choice: &str) -> Value {
    request["answers"][code] = json!(choice);
    request
}

/// All letters of one foreign alphabet, or digits for letters: the same picture on a label.
#[test]
fn h9_a_tag_that_looks_like_another_is_asked_about() {
    let mut shop = Shop::stocked();
    // РНХ-1 in Cyrillic beside PHX-1, TR-O417 with a letter beside TR-0417, small letters beside capitals.
    shop.register("appliance", json!({"tag": "PHX-1"}));
    for (sort, tag, other) in [
        ("appliance", "\u{420}\u{41d}\u{425}-1", "PHX-1"),
        ("appliance", "PHX-I", "PHX-1"),
        ("appliance", "\u{3a1}\u{397}\u{3a7}-1", "PHX-1"),
        ("cylinder", "TR-O417", "TR-0417"),
        ("cylinder", "tr-0417", "TR-0417"),
        ("site", "alder street", "Alder Street"),
    ] {
        let refused = shop.refused(registered(sort, tag));
        assert_eq!(Shop::questions(&refused), ["tag_looks_alike"], "{tag}");
        assert!(
            refused.to_string().contains(&format!("\"{other}\"")),
            "{refused}"
        );
    }
    // Another sort of thing, another tag, and the own one said again are no question.
    shop.ok(registered("cylinder", "PHX-1"));
    shop.ok(registered("cylinder", "TR-0471"));
    shop.register_as("TR-0417", "cylinder", json!({"tag": "TR-0417"}));
    let id = shop.ok(so(
        registered("cylinder", "TR-O417"),
        "tag_looks_alike",
        "as_stated",
    ));
    assert_eq!(
        shop.findings(id.seq),
        [],
        "answered by whoever keeps the register"
    );
    // Renamed, the old tag is in nobody's way; a book read anew knows the same.
    shop.register_as("TR-O417", "cylinder", json!({"tag": "BLUE-1"}));
    shop.register_as("TR-0417", "cylinder", json!({"tag": "RED-1"}));
    shop.ok(registered("cylinder", "TR-O4I7"));
    for _ in 0..2 {
        let refused = shop.refused(registered("cylinder", "TR-0417"));
        assert_eq!(Shop::questions(&refused), ["tag_looks_alike"]);
        shop.books.clear();
    }
    shop.sound();
    shop.caches_agree();
}

/// Registered without signal: what would have been asked is a finding of its own, about the new thing;
/// a correction that says such a tag is asked as well.
#[test]
fn h9_a_registration_without_signal_leaves_what_nobody_was_asked() {
    let mut shop = Shop::stocked();
    let technician = shop.technician;
    let mut request = registered("appliance", "HG-RACK-\u{410}");
    request["captured_offline"] = json!(true);
    let booked = shop.post_as(&technician, request).expect("booked");
    let codes: Vec<String> = shop
        .findings(booked.seq)
        .into_iter()
        .map(|it| it.0)
        .collect();
    assert_eq!(
        codes,
        [
            "registered_on_site",
            "tag_looks_alike",
            "tag_of_several_alphabets"
        ]
    );
    let about = shop.inside(|tx| {
        let found = tx.findings_of(booked.seq)?;
        let mut ids = Vec::new();
        for (_, place, ..) in found {
            ids.push(tx.subject(place)?.tag.clone());
        }
        Ok(ids)
    });
    assert_eq!(about, vec![Some("HG-RACK-\u{410}".to_string()); 3]);
    let correction = json!({"kind": "correction", "captured_offline": true, "body": {
        "corrects": booked.entry_id, "reason": "misread",
        "replace": {"body": {"facts": {"tag": "HG-RACK-a"}}}}});
    let right = shop.ok(correction);
    let found = shop.inside(|tx| tx.findings_of(right.seq));
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].0, "tag_looks_alike");
    let tag = shop.inside(|tx| Ok(tx.subject(found[0].1)?.tag.clone()));
    assert_eq!(tag.as_deref(), Some("HG-RACK-a"));
    shop.sound();
    shop.caches_agree();
}

fn recover(class: &str) -> Value {
    json!({"kind": "recover", "body": {"from": "unregistered", "number": 1, "to": "cylinder:TR-0417",
        "refrigerant": "R-22", "mass": "2 lb", "class": class}})
}

/// Burnt or suspect content does not become clean by a line in the register: asked, and looked at.
#[test]
fn a_condition_that_is_said_to_be_better_is_asked_about() {
    let clean = |is: &str| {
        json!({"kind": "cylinder", "entry_id": Id::random(), "body": {"subject": "TR-0417",
            "facts": {"class": is}}})
    };
    for (was, said, asks) in [
        ("burn_out", "clean", true),
        ("suspect", "clean", true),
        ("burn_out", "suspect", true),
        ("suspect", "burn_out", false),
        ("clean", "clean", false),
    ] {
        let mut shop = Shop::stocked();
        shop.ok(recover(was));
        if !asks {
            assert_eq!(shop.ok(clean(said)).findings, [], "{was} to {said}");
            continue;
        }
        let refused = shop.refused(clean(said));
        assert_eq!(
            Shop::questions(&refused),
            ["content_cleared"],
            "{was} to {said}"
        );
        let booked = shop.ok(so(clean(said), "content_cleared", "not_analysed"));
        assert_eq!(
            shop.findings(booked.seq),
            [("content_cleared".to_string(), "high".to_string(), false)]
        );
        assert_eq!(
            shop.leaf(booked.seq)["answers"],
            json!({"content_cleared": "not_analysed"})
        );
        // Said once more as a correction it is no more analysed than before.
        let again = json!({"kind": "correction", "body": {"corrects": booked.entry_id,
            "reason": "misread", "replace": {"body": {"subject": "TR-0417", "facts": {"class": said}}}}});
        shop.ok(again);
        assert!(
            !shop.findings(booked.seq)[0].2,
            "the office looks at it still"
        );
        shop.sound();
        shop.caches_agree();
    }
    // An empty cylinder is in no condition.
    let mut shop = Shop::stocked();
    assert_eq!(shop.ok(clean("clean")).findings, []);
}
