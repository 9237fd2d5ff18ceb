//! Spoilt bodies, and what lies beside a leaf: masses, corrections, texts, attachments, columns.

use super::*;
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::ledger::source::{ColumnMovement, Columns, ReadOfMovement};
use reports::day::Day;
use reports::mass::Mass;

#[test]
fn masses_follow_from_what_was_typed_or_read() {
    let movement = |leaf: &mut serde_json::Value, name: &str, value: serde_json::Value| {
        leaf["body"]["movements"][0][name] = value;
    };
    assert_eq!(
        found_after(8, |leaf| movement(leaf, "g", json!("2041.165666"))),
        [Check::Mass]
    );
    let exchanged = readings("14 lb 8 oz", "10 lb").1;
    assert_eq!(
        found_after(8, |leaf| movement(leaf, "readings", exchanged)),
        [Check::Mass]
    );
    let kilograms = json!({ "text": "25 lb", "unit": "kg" });
    assert_eq!(
        found_after(5, |leaf| movement(leaf, "typed", kilograms)),
        [],
        "the text says lb"
    );
    let kilograms = json!({ "text": "25", "unit": "kg" });
    assert_eq!(
        found_after(5, |leaf| movement(leaf, "typed", kilograms)),
        [Check::Mass]
    );
    let stone = json!({ "text": "25", "unit": "[stone_av]" });
    assert_eq!(
        found_after(5, |leaf| movement(leaf, "typed", stone)),
        [Check::Mass]
    );
    let neither = found_after(5, |leaf| {
        leaf["body"]["movements"][0]
            .as_object_mut()
            .unwrap()
            .remove("typed");
    });
    assert_eq!(neither, [Check::Mass]);
    // 7.12 lb is 7 lb 12 oz only when the entry's answer says so (one pound is 453.59237 g).
    let ounces = json!({ "text": "7.12", "unit": "[lb_av]" });
    let asked = |leaf: &mut serde_json::Value, answer: Option<&str>| {
        movement(leaf, "typed", ounces.clone());
        movement(leaf, "g", json!("3515.3408675"));
        if let Some(answer) = answer {
            leaf["answers"] = json!({ "pounds_or_ounces": answer });
        }
    };
    assert_eq!(found_after(5, |leaf| asked(leaf, None)), [Check::Mass]);
    assert_eq!(
        found_after(5, |leaf| asked(leaf, Some("as_pounds"))),
        [Check::Mass]
    );
    assert_eq!(
        found_after(5, |leaf| asked(leaf, Some("as_pounds_and_ounces"))),
        []
    );
}

#[test]
fn movements_have_two_ends_and_are_counted_at_both() {
    let twice = found_after(5, |leaf| {
        leaf["body"]["movements"][0]["from"] = json!(SUPPLY)
    });
    assert_eq!(twice, [Check::Movement]);
    let elsewhere = found_after(5, |leaf| {
        leaf["body"]["movements"][0]["to"] = json!(RECOVERY)
    });
    assert_eq!(elsewhere, [Check::Nth]);
    let mut book = SampleBook::with_a_year();
    let part = |from: &str, to: &str, g: &str, name: &str| json!({ "from": from, "to": to, "g": g, "refrigerant": name });
    let parts = json!([
        part(SUPPLY, "redesignation", "1000", "R-448A"),
        part("redesignation", SUPPLY, "999", "mixture"),
    ]);
    let seq = book.book("redesignate", json!({ "movements": parts }), &[SUPPLY], &[]);
    assert_eq!(found(&mut book), [(Check::Movement, Some(seq))]);
}

#[test]
fn corrections_reverse_what_is_in_force() {
    let reverse = |name: &'static str, value: &'static str| {
        move |leaf: &mut serde_json::Value| leaf["body"]["reverse"][0][name] = json!(value)
    };
    assert_eq!(found_after(7, reverse("g", "1")), [Check::Correction]);
    assert_eq!(
        found_after(7, reverse("refrigerant", "R-22")),
        [Check::Correction]
    );
    assert_eq!(
        found_after(7, reverse("from", RECOVERY)),
        [Check::Nth, Check::Correction]
    );
    let none = found_after(7, |leaf| {
        leaf["body"].as_object_mut().unwrap().remove("reverse");
    });
    assert_eq!(none, [Check::Correction]);
    let corrects = |name: &'static str, value: serde_json::Value| {
        move |leaf: &mut serde_json::Value| leaf["body"]["corrects"][name] = value
    };
    let id = "019b8eac-1180-7000-8000-000000000004";
    assert_eq!(
        found_after(7, corrects("id", json!(id))),
        [Check::Correction]
    );
    assert_eq!(
        found_after(7, corrects("seq", json!(7))),
        [Check::Correction]
    );
    let fixed = found_after(7, |leaf| {
        leaf["body"]["corrects"] =
            json!({ "id": "019b8eac-1180-7000-8000-000000000001", "seq": 1 });
    });
    assert_eq!(fixed, [Check::Correction]);

    // The same entry twice; the chain goes on from its newest; an annulled one may be revived.
    let mut book = SampleBook::with_a_year();
    let twice = book.correct(6, json!({ "reason": "other" }));
    assert_eq!(found(&mut book), [(Check::Correction, Some(twice))]);
    let mut book = SampleBook::with_a_year();
    let annulled = book.correct(7, json!({ "reason": "duplicate" }));
    assert_eq!(found(&mut book), []);
    let body = json!({ "corrects": { "id": book.leaf(annulled)["id"], "seq": annulled },
        "reason": "other", "replace": book.leaf(7)["body"]["replace"] });
    book.book("correction", body, &[RACK, SUPPLY], &[]);
    assert_eq!(found(&mut book), []);
}

#[test]
fn texts_open_their_commitments() {
    let mut book = SampleBook::with_a_year();
    book.disclosures[4].value.push('!');
    assert_eq!(found(&mut book), [(Check::Commitment, Some(6))]);
    let mut book = SampleBook::with_a_year();
    book.disclosures[4].salt[0] ^= 1;
    assert_eq!(found(&mut book), [(Check::Commitment, Some(6))]);
    let mut book = SampleBook::with_a_year();
    book.disclosures[4].field = "reason_text".to_string();
    assert_eq!(found(&mut book), [(Check::Commitment, Some(6))]);
    let mut book = SampleBook::with_a_year();
    book.disclosures.remove(4);
    assert_eq!(found(&mut book), [], "an erased text is no break");
}

#[test]
fn attachments_have_their_hash_and_are_there() {
    let mut book = SampleBook::with_a_year();
    book.attachments.values_mut().next().unwrap().push(b' ');
    assert_eq!(found(&mut book), [(Check::Attachment, Some(1))]);
    let mut book = SampleBook::with_a_year();
    book.attachments.pop_first();
    assert_eq!(found(&mut book), [(Check::Attachment, Some(1))]);
    let size = found_after(1, |leaf| leaf["body"]["lists"]["bytes"] = json!(1));
    assert_eq!(size, [Check::Attachment]);
}

#[test]
fn columns_say_what_the_leaf_says() {
    let columns = |book: &SampleBook| Columns {
        entry_id: Id::parse(book.leaf(8)["id"].as_str().unwrap()).unwrap(),
        kind: EntryKind::Recover,
        day: Day::parse("2026-07-14").unwrap(),
        // `date -ud '2026-07-14 00:00:08' +%s` says 1783987208.
        booked_at: 1_783_987_208_000_000,
        movements: vec![ColumnMovement {
            from: Place::parse(RACK).unwrap(),
            to: Place::parse(RECOVERY).unwrap(),
            refrigerant: "R-448A".into(),
            mass: Mass::from_grams_text("2041.165665").unwrap(),
            read: ReadOfMovement {
                appliance: Place::parse(RACK),
                day: Day::parse("2026-07-14").unwrap().count(),
                second: book.leaf(8)["happened"]["time"]
                    .as_str()
                    .and_then(|time| reports::day::parse_clock(time).map(|clock| clock.0)),
                kind: "recover".into(),
                reason: book.leaf(8)["body"]["reason"]
                    .as_str()
                    .map(|word| word.to_string().into()),
                visit: book.leaf(8)["visit"].as_str().and_then(Id::parse),
                id_high: Id::parse(book.leaf(8)["id"].as_str().unwrap())
                    .map(|id| (id.bits() >> 64) as u64),
                ..ReadOfMovement::default()
            },
        }],
    };
    let mut book = SampleBook::with_a_year();
    book.entries[8].columns = Some(columns(&book));
    let report = check(&mut book);
    assert!(report.holds(), "{report}");
    assert_eq!(report.columns, 1);
    let spoil: [fn(&mut Columns); 10] = [
        |columns| columns.movements[0].read.day += 1,
        |columns| columns.movements[0].read.visit = Some(Id::from_bits(1)),
        |columns| columns.movements[0].read.appliance = None,
        |columns| columns.entry_id = Id::from_bits(1),
        |columns| columns.kind = EntryKind::Charge,
        |columns| columns.day = columns.day.plus(1),
        |columns| columns.booked_at += 1000,
        |columns| columns.movements[0].mass = Mass::from_steps(Mass::GRAM),
        |columns| columns.movements[0].refrigerant = "R-22".into(),
        |columns| columns.movements.clear(),
    ];
    for change in spoil {
        let mut spoilt = columns(&book);
        change(&mut spoilt);
        book.entries[8].columns = Some(spoilt);
        assert_eq!(found(&mut book), [(Check::Columns, Some(8))]);
    }
}
