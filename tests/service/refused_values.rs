//! Bad values at the door: names, times, texts and lengths that are none.
//!
//! The same as `refusals`, value by value: right refusal, right place, right sentence, and a book
//! that has not changed.

use crate::refusals::{all, with};
use api::actions::Refusal;
use api::ledger::id::Id;
use harness::shop::Shop;
use serde_json::{Value, json};

/// S1: things that are not in this book, and places that a kind does not go to.
#[test]
fn s1_unknown_things_and_wrong_places() {
    let nobody = "cylinder:9531985d-5d9d-49f8-9818-e811892f902b";
    all(&[
        (
            with("/body/from", json!(nobody)),
            "not-found",
            "/body/from",
            &["No cylinder", "register it first"],
        ),
        (
            with("/body/from", json!("cylinder:SUP-1")),
            "not-found",
            "/body/from",
            &["\"SUP-1\""],
        ),
        (
            with("/body/from", json!("cylinder:SUP\u{0}1")),
            "not-found",
            "/body/from",
            &["Check the spelling"],
        ),
        (
            with("/body/from", json!("cylinder:")),
            "invalid-value",
            "/body/from",
            &["cylinder:ID or cylinder:TAG"],
        ),
        (
            with("/body/from", json!("appliance:HG-RACK-A")),
            "invalid-value",
            "/body/from",
            &["cylinder:ID"],
        ),
        (
            with("/body/to", json!("atmosphere")),
            "invalid-value",
            "/body/to",
            &["appliance:ID"],
        ),
        (
            with("/body/to", json!(format!("appliance:{}", "x".repeat(3000)))),
            "not-found",
            "/body/to",
            &["…"],
        ),
        (
            with("/body/refrigerant", json!("R-9999")),
            "invalid-value",
            "/body/refrigerant",
            &["got \"R-9999\"", "R-410A"],
        ),
        (
            with("/did", json!("nobody")),
            "not-found",
            "/did",
            &["No person \"nobody\""],
        ),
        (
            with("/body/reason", json!("because")),
            "invalid-value",
            "/body/reason",
            &["one of leak_top_up"],
        ),
        (
            with("/visit", json!("visit 7")),
            "invalid-value",
            "/visit",
            &["a UUID"],
        ),
        (
            with("/kind", json!("teleport")),
            "invalid-value",
            "/kind",
            &["one of setting", "got \"teleport\""],
        ),
        (
            json!({"kind": "transfer", "body": {"from": "cylinder:TR-0417", "to": "cylinder:TR-0417",
            "refrigerant": "R-448A", "mass": "1 lb"}}),
            "invalid-value",
            "/body/to",
            &["another place"],
        ),
        (
            json!({"kind": "redesignate", "body": {"place": "cylinder:SUP-88231", "becomes": "R448A",
            "refrigerant": "R-448A", "mass": "1 lb"}}),
            "invalid-value",
            "/body/becomes",
            &["another designation"],
        ),
        (
            json!({"kind": "redesignate", "body": {"place": "cylinder:SUP-88231", "becomes": "mixture",
            "parts": ["R-448A"], "refrigerant": "R-448A", "readings": {"before": "2 lb", "after": "1 lb"}}}),
            "malformed",
            "/body/readings",
            &["Give mass."],
        ),
        (
            json!({"kind": "opening", "body": {"to": "appliance:QK-WIC-1", "refrigerant": "R-404A", "mass": "1 lb",
            "source": {"origin": "tarebook/0a5f2f63-52a5-4b5c-8a5b-2c9d6b5f4e10", "seq": 9_007_199_254_740_992_u64,
            "leaf_hash": "Z2VuZXNpcyBnZW5lc2lzIGdlbmVzaXMgZ2VuZXNpczE="}}}),
            "invalid-value",
            "/body/source/seq",
            &["2^53"],
        ),
        (
            json!({"kind": "rule_set", "body": {"ends": "Ines Vallory"}}),
            "invalid-value",
            "/body/ends",
            &["none is adopted"],
        ),
        (
            json!({"kind": "setting", "body": {"name": "late_days", "value": "many"}}),
            "invalid-value",
            "/body/value",
            &["1 to 365"],
        ),
        (
            json!({"kind": "setting", "body": {"name": "motto", "value": "x"}}),
            "invalid-value",
            "/body/name",
            &["zone, late_days, netting"],
        ),
        (
            json!({"kind": "link", "body": {"relation": "same_visit", "entries": [Id::random(), Id::random()]}}),
            "not-found",
            "/body/entries/0",
            &["No entry"],
        ),
        (
            json!({"kind": "correction", "body": {"corrects": Id::random(), "reason": "misread"}}),
            "not-found",
            "/body/corrects",
            &["No entry"],
        ),
    ]);
}

/// H6: times that are none, both forms at once, and an offset the place never had.
#[test]
fn h6_times_that_are_none() {
    let at = |value: Value| with("/happened", value);
    all(&[
        (
            at(json!({"day": "2026-02-30"})),
            "invalid-value",
            "/happened/day",
            &["YYYY-MM-DD", "2026-02-30"],
        ),
        (
            at(json!({"time": "11:52"})),
            "invalid-value",
            "/happened/day",
            &["YYYY-MM-DD"],
        ),
        (
            at(json!({"day": "2026-07-14", "time": "25:00"})),
            "invalid-value",
            "/happened/time",
            &["HH:MM"],
        ),
        (
            at(json!({"day": "2026-07-14", "offset": "-06:00"})),
            "invalid-value",
            "/happened/offset",
            &["together with a time"],
        ),
        (
            at(json!({"day": "2026-07-14", "time": "11:52", "offset": "+09:00"})),
            "invalid-value",
            "/happened/offset",
            &["-06:00 of America/Denver"],
        ),
        (
            at(json!({"day": "2026-07-14", "zone": "Mars/Olympus"})),
            "invalid-value",
            "/happened/zone",
            &["America/Denver"],
        ),
        (
            at(json!({"day": "2026-07-14", "at": "2026-07-14T11:52:00-06:00"})),
            "malformed",
            "/happened",
            &["either at, or day"],
        ),
        (
            at(json!({"at": "2026-07-14T11:52:00"})),
            "invalid-value",
            "/happened/at",
            &["with its offset"],
        ),
    ]);
    let mut shop = Shop::stocked();
    // Clock changes of the IANA time-zone database: Denver, 8 March and 1 November 2026.
    for (time, choices) in [
        (
            json!({"day": "2026-03-08", "time": "02:30"}),
            vec!["day_only"],
        ),
        (
            json!({"day": "2026-11-01", "time": "01:30"}),
            vec!["first", "second"],
        ),
    ] {
        let Refusal::NeedsAnswer(questions) = shop.refused(at(time)) else {
            panic!("a question was expected");
        };
        let asked = questions
            .iter()
            .find(|it| it.code == "skipped_or_doubled_time");
        let offered: Vec<&str> = asked.unwrap().choices.iter().map(|it| it.choice).collect();
        assert_eq!(offered, choices);
    }
}

/// H9: texts that are no texts, and an entry that is longer than a leaf may be.
#[test]
fn h9_texts_and_lengths() {
    let register = |facts: Value| json!({"kind": "site", "body": {"facts": facts}});
    let many: Vec<Value> = (0..80)
        .map(|n| {
            json!({"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
            "refrigerant": "R-448A", "mass": "0.01 lb", "document": format!("{n}")})
        })
        .collect();
    all(&[
        (
            with("/note", json!("x".repeat(3000))),
            "invalid-value",
            "/note",
            &["at most 2000 characters", "…"],
        ),
        (
            with("/note", json!("bell \u{7}")),
            "invalid-value",
            "/note",
            &["control characters"],
        ),
        (
            register(json!({"tag": "two\nlines"})),
            "invalid-value",
            "/body/facts/tag",
            &["control characters"],
        ),
        (
            register(json!({"tag": "x".repeat(201)})),
            "invalid-value",
            "/body/facts/tag",
            &["200 characters"],
        ),
        (
            register(json!({"tag": "a:b"})),
            "invalid-value",
            "/body/facts/tag",
            &["no colon"],
        ),
        (
            register(json!({"tag": "Alder Street"})),
            "invalid-value",
            "/body/facts/tag",
            &["unique"],
        ),
        (
            register(json!({"region": "US-CO"})),
            "malformed",
            "/body/facts",
            &["Expected a tag"],
        ),
        (
            register(json!({"tag": "S", "region": "Colorado"})),
            "invalid-value",
            "/body/facts/region",
            &["ISO 3166"],
        ),
        (
            register(json!({"tag": "S", "mood": "good"})),
            "unknown-field",
            "/body/facts/mood",
            &["zone"],
        ),
        (
            register(json!({"tag": "S", "land": "ines_vallory"})),
            "invalid-value",
            "/body/facts/land",
            &["federal, aboriginal, other"],
        ),
        (
            register(json!({"tag": "S", "type": "ines_vallory"})),
            "invalid-value",
            "/body/facts/type",
            &["supplier"],
        ),
        (
            register(
                json!({"tag": "S", "region": [{"from": "2026-01-01", "is": "US-CO"}, {"from": "2026-01-01", "is": "US-AZ"}]}),
            ),
            "invalid-value",
            "/body/facts/region",
            &["one value from each day", "two from 2026-01-01"],
        ),
        (
            json!({"kind": "charge", "body": {"movements": many}}),
            "too-large",
            "",
            &["at most 16384 bytes", "several entries"],
        ),
    ]);
}
