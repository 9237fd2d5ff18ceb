//! Adopting from a day in the past, and what the check of a rule file refuses with its line.
//!
//! Figures by hand from 40 CFR 84.106(b) and (c)(2)(i): HG-RACK-A holds 210 lb; 5 lb on 14 July 2026
//! and 5 lb on 13 August are 28.97 % a year, over 20 %: one limit passed, by one appliance.

use crate::duties::charge;
use api::actions::foreseen::re_worked;
use harness::shop::{Shop, now};
use reports::rules::shipped_texts;
use serde_json::{Value, json};

fn text(id: &str) -> &'static str {
    let file = format!("{id}.toml");
    let found = shipped_texts().iter().find(|(name, _)| *name == file);
    found.expect("a shipped set").1
}

fn adoption(from: &str) -> Value {
    json!({"kind": "rule_set", "body": {"toml": text("us-federal-hfc"), "from": from}})
}

fn over() -> Shop {
    let mut shop = Shop::stocked();
    charge(&mut shop, "HG-RACK-A");
    shop.wait_minutes(30 * 24 * 60);
    charge(&mut shop, "HG-RACK-A");
    shop.wait_minutes(24 * 60);
    shop
}

/// What was judged since the day is worked out again: that needs a reason. Where nothing happened
/// since, or the day is today, nothing is worked out again and none is asked for.
#[test]
fn an_adoption_from_a_past_day_needs_a_reason_where_it_re_works_something() {
    let mut shop = over();
    let size = shop.size();
    let refusal = shop.refused(adoption("2026-01-01"));
    assert_eq!(refusal.slug(), "invalid-value");
    let said = refusal.to_string();
    for part in [
        "/note",
        "2026-01-01",
        "a day in the past",
        "booked with the adoption",
    ] {
        assert!(said.contains(part), "{part} in {said}");
    }
    assert_eq!(shop.size(), size, "nothing was booked");
    let mut with = adoption("2026-01-01");
    with["note"] = json!("notice of 2 July: the part was overlooked (invented)");
    let first = shop.ok(with.clone());
    with["entry_id"] = json!(first.entry_id.to_string());
    with.as_object_mut().expect("an object").remove("note");
    assert!(shop.ok(with).replayed, "a repeat is the first adoption");
    shop.ok(adoption("2026-08-14"));
    let ends =
        json!({"kind": "rule_set", "body": {"ends": "us-federal-hfc", "from": "2026-08-01"}});
    assert!(shop.refused(ends).to_string().contains("/note"));
    let mut empty = Shop::stocked();
    empty.ok(adoption("2020-01-01"));
}

/// The answer says how much is judged otherwise, counted as the preview counts it.
#[test]
fn an_adoption_from_a_past_day_says_what_it_re_works() {
    let mut shop = over();
    let of = shop.of.clone();
    let mut look = |from: &str| re_worked(&mut shop.db, &of, &adoption(from), now());
    let found = look("2026-01-01").expect("a look").expect("a past day");
    assert_eq!((found.appliances, found.limits_passed), (1, 1), "{found:?}");
    assert_eq!((found.limits_no_longer, found.duties_vanish), (0, 0));
    assert!(found.duties_appear >= 1, "{found:?}");
    assert!(found.sentence.contains("1 appliance of 2"), "{found:?}");
    assert!(found.sentence.contains("The day is past"), "{found:?}");
    assert_eq!(look("2026-08-14").expect("a look"), None, "today");
}

/// A duty of being covered has no clock that could stand, and nothing follows from it: said with
/// the line. And a region is a code of ISO 3166.
#[test]
fn the_check_refuses_with_the_line_what_the_walk_would_not_read() {
    let mut shop = Shop::open();
    let good = text("ch-orrchem");
    let name = "name    = \"test_detection\"\n";
    assert!(good.contains(name), "the block this test changes");
    let wrong = |with: &str| good.replacen(name, &format!("{name}{with}\n"), 1);
    let line = good[..good.find(name).expect("a name")]
        .matches('\n')
        .count()
        + 2;
    let adopt = |toml: String| json!({"kind": "rule_set", "body": {"toml": toml}});
    for (with, width) in [
        ("paused_by = [\"mothball\"]", 9),
        ("not_before = [{ within = \"detection_gap\" }]", 10),
        (
            "extensions = [{ ground = \"parts\", clause = \"x\", due = [{ granted = true }] }]",
            10,
        ),
    ] {
        let member = &with[..width];
        let said = shop.refused(adopt(wrong(with))).to_string();
        let carets = format!("| {}", "^".repeat(width));
        for part in [
            format!("duties.test_detection.{member}"),
            format!("line {line}, column 1"),
            carets,
            "a duty of being covered".to_string(),
        ] {
            assert!(said.contains(&part), "{part} in {said}");
        }
    }
    let starts = "starts  = [{ covered = true }]\nrepeats = true";
    assert!(good.contains(starts), "the block this test changes");
    let follows = "[[duties]]\nname = \"tell\"\nmeans = \"tell\"\nclause = \"x\"\n\
                   starts = [{ missed = \"test_detection\" }]\nno_number = \"at once\"\n\
                   done_by = [{ event = \"notice\", what = \"start\" }]\n\n[[records]]";
    let said = shop
        .refused(adopt(good.replacen("[[records]]", follows, 1)))
        .to_string();
    assert!(
        said.contains("duties.tell.starts: 'test_detection'"),
        "{said}"
    );
    for code in ["Colorado", "UK", "US-COLO"] {
        let region = format!("region      = {{ is = [\"{code}\"] }}");
        let said = shop.refused(adopt(good.replacen(
            "region      = { is = [\"CH\"] }",
            &region,
            1,
        )));
        let expected = format!("'{code}' is no region; expected an ISO 3166 code such as US");
        assert!(said.to_string().contains(&expected), "{said}");
    }
}
