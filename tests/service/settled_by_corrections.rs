//! A correction settles what its chain left behind, because what stands instead is judged anew; and what
//! is stored of findings is held against the entries.
//!
//! Who may settle what is the model's (section 4.2, table of permissions): the highest grade and what was
//! registered on site are for a compliance manager. M2: a balance below zero is closed by a count or a
//! correction.

use api::actions::show::{Sees, found};
use api::ledger::id::Id;
use harness::shop::Shop;
use serde_json::{Value, json};

fn charge(mass: &str) -> Value {
    json!({"kind": "charge", "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
           "refrigerant": "R-448A", "mass": mass}})
}

fn corrected(entry: Id, replace: Option<Value>) -> Value {
    let mut body = json!({"corrects": entry, "reason": "misread"});
    if let Some(replace) = replace {
        body["replace"] = json!({"body": replace["body"]});
    }
    json!({"kind": "correction", "body": body})
}

fn with(mut request: Value, code: &str, choice: &str) -> Value {
    request["answers"][code] = json!(choice);
    request
}

/// Codes of the findings of an entry that are open.
fn open(shop: &mut Shop, seq: u64) -> Vec<String> {
    let found = shop.findings(seq).into_iter();
    found.filter(|it| !it.2).map(|it| it.0).collect()
}

/// The entry that settled it, and whether that is a correction.
fn settled_by(shop: &mut Shop, seq: u64, code: &str) -> Option<(u64, bool)> {
    let name = seq.to_string();
    let one = found::one(&mut shop.db, &shop.of, &name, code, Sees::Everything);
    let line = one.expect("a finding").settled?;
    Some((line.seq, line.corrects.is_some()))
}

/// The mass was misread: what stood of it is settled by the correction, what is still so is said anew.
#[test]
fn h5_what_a_corrected_entry_left_is_settled_by_the_correction() {
    let mut shop = Shop::stocked();
    let technician = shop.technician;
    let first = with(charge("30 lb"), "over_content", "as_stated");
    let first = shop.post_as(&technician, first).expect("booked");
    assert_eq!(open(&mut shop, first.seq), ["over_content"]);
    // Still more than 24 lb: the old finding is settled, the new one is open.
    let still = with(
        corrected(first.entry_id, Some(charge("29 lb"))),
        "over_content",
        "as_stated",
    );
    let still = shop.post_as(&technician, still).expect("corrected");
    assert_eq!(open(&mut shop, first.seq), Vec::<String>::new());
    assert_eq!(
        settled_by(&mut shop, first.seq, "over_content"),
        Some((still.seq, true))
    );
    assert!(open(&mut shop, still.seq).contains(&"over_content".to_string()));
    let right = shop.ok(corrected(still.entry_id, Some(charge("20 lb"))));
    assert_eq!(open(&mut shop, still.seq), Vec::<String>::new());
    assert_eq!(open(&mut shop, right.seq), Vec::<String>::new());
    shop.sound();
    shop.caches_agree();
}

/// A test of nitrogen whose readings decide nothing, corrected with one that does.
#[test]
fn h5_a_corrected_service_entry_leaves_no_finding_open() {
    let mut shop = Shop::stocked();
    let step = json!({"kind": "verification_test", "body": {"appliance": "HG-RACK-A",
        "result": "passed", "stage": "follow_up"}});
    let refused = Shop::questions(&shop.refused(step.clone()));
    assert_eq!(refused, ["out_of_order_step"]);
    let booked = shop.ok(with(step, "out_of_order_step", "as_stated"));
    assert_eq!(open(&mut shop, booked.seq), ["out_of_order_step"]);
    shop.ok(corrected(booked.entry_id, None));
    assert_eq!(open(&mut shop, booked.seq), Vec::<String>::new());
    shop.sound();
    shop.caches_agree();
}

/// What is of the highest grade stays open when a technician corrects, with the quarantine; it is settled
/// when a manager does.
#[test]
fn s3_grave_findings_are_settled_by_a_managers_correction_only() {
    for by_manager in [false, true] {
        let mut shop = Shop::stocked();
        let (technician, manager) = (shop.technician, shop.manager);
        let recover = |refrigerant: &str| {
            json!({"kind": "recover", "body": {"from": "unregistered", "number": 1,
                "to": "cylinder:TR-0417", "refrigerant": refrigerant, "mass": "2 lb"}})
        };
        shop.ok(recover("R-22"));
        let mixed = with(recover("R-134a"), "mixing", "already_happened");
        let mixed = shop.post_as(&technician, mixed).expect("booked");
        let who = if by_manager { manager } else { technician };
        shop.post_as(&who, corrected(mixed.entry_id, None))
            .expect("taken back");
        let left: &[&str] = if by_manager { &[] } else { &["mixing"] };
        assert_eq!(
            open(&mut shop, mixed.seq),
            left,
            "by a manager: {by_manager}"
        );
        let out = json!({"kind": "transfer", "body": {"from": "cylinder:TR-0417",
            "to": "cylinder:SUP-88231", "refrigerant": "R-22", "mass": "1 lb"},
            "answers": {"disposable": "already_happened", "mixing": "already_happened"}});
        let stops = Shop::stops(&shop.refused(json!({"kind": "transfer", "body": out["body"]})));
        assert_eq!(stops.contains(&"quarantined"), !by_manager, "{stops:?}");
        shop.sound();
        shop.caches_agree();
    }
}

/// M2, E44: a lack that a correction of another entry makes good, and a twin that is alone again.
#[test]
fn m2_what_rested_on_a_corrected_entry_is_settled_with_it() {
    let mut shop = Shop::stocked();
    let first = shop.ok(charge("20 lb"));
    let lacking = shop.ok(with(
        with(charge("8 lb"), "over_content", "as_stated"),
        "rate_jump",
        "as_stated",
    ));
    assert!(open(&mut shop, lacking.seq).contains(&"over_content".to_string()));
    // 10 + 8 lb of 24 lb.
    let right = shop.ok(corrected(first.entry_id, Some(charge("10 lb"))));
    assert_eq!(
        settled_by(&mut shop, lacking.seq, "over_content"),
        Some((right.seq, true))
    );
    let twin = shop.ok(with(
        with(charge("8 lb"), "look_alike", "as_stated"),
        "over_content",
        "as_stated",
    ));
    let third = shop.ok(with(
        with(charge("8 lb"), "look_alike", "as_stated"),
        "over_content",
        "as_stated",
    ));
    shop.ok(corrected(lacking.entry_id, None));
    assert!(
        open(&mut shop, twin.seq).contains(&"look_alike".to_string()),
        "the third is like it still"
    );
    shop.ok(corrected(third.entry_id, None));
    assert_eq!(open(&mut shop, twin.seq), Vec::<String>::new());
    shop.sound();
    shop.caches_agree();
}

/// H4: findings changed in the database are named as far as the entries tell; what they do not tell is
/// not made up.
#[test]
fn h4_findings_that_were_changed_in_the_database_are_named() {
    let mut shop = Shop::stocked();
    let recover = |refrigerant: &str| {
        json!({"kind": "recover", "body": {"from": "unregistered", "number": 1,
            "to": "cylinder:TR-0417", "refrigerant": refrigerant, "mass": "2 lb"}})
    };
    shop.ok(recover("R-22"));
    let mixed = shop.ok(with(recover("R-134a"), "mixing", "already_happened"));
    let asked = shop.ok(with(charge("30 lb"), "over_content", "as_stated"));
    let settle = json!({"kind": "settle", "body": {"code": "over_content",
        "entries": [asked.entry_id], "reason": "checked"}});
    let settle = shop.ok(settle);
    shop.caches_agree();
    let (m, a, s) = (mixed.seq, asked.seq, settle.seq);
    let changes = [
        (
            format!("UPDATE findings SET settled = {s} WHERE seq = {m}"),
            format!("no. {s}, which is said to have settled it, does not"),
        ),
        (
            format!("DELETE FROM findings WHERE seq = {m}"),
            format!("finding mixing of no. {m}: it is missing, though the stop was answered"),
        ),
        (
            format!("UPDATE findings SET settled = -1 WHERE seq = {a}"),
            format!("it is open, though no. {s} settles it"),
        ),
        (
            format!("DELETE FROM findings WHERE seq = {a}"),
            format!("it is missing, though no. {s} settles it"),
        ),
        (
            format!("UPDATE findings SET seq = {} WHERE seq = {a}", s + 9),
            "there is no such entry".into(),
        ),
        (
            format!("UPDATE findings SET seq = {} WHERE seq = {a}", a - 1),
            "the entry is not about place".into(),
        ),
        (
            format!("UPDATE findings SET grade = 'none' WHERE seq = {a}"),
            "its grade is \"none\"".into(),
        ),
        (
            "UPDATE subjects SET quarantine = 3 WHERE quarantine >= 0".into(),
            "by no. 3: no finding of it is open there".into(),
        ),
    ];
    for (change, named) in changes {
        let told = shop.told_of(&change);
        assert!(
            told.iter().any(|line| line.contains(&named)),
            "{change}: {named:?} not in {told:?}"
        );
    }
    shop.caches_agree();
}
