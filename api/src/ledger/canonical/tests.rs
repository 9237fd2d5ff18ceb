//! The canonical form against another implementation: the crate `serde_json_canonicalizer` (MIT).

use super::*;
use proptest::prelude::*;
use serde_json::{Map, json};

fn theirs(value: &Value) -> Vec<u8> {
    serde_json_canonicalizer::to_vec(value).unwrap()
}

/// Values that a leaf may hold, and often ones that it may not.
fn value() -> impl Strategy<Value = Value> {
    let number = prop_oneof![
        any::<i64>().prop_map(Value::from),
        any::<u64>().prop_map(Value::from),
        (-(1_i64 << 53)..(1 << 53)).prop_map(Value::from),
        (-3_i64..3).prop_map(|n| Value::from(n + (1 << 53))),
    ];
    let text = prop_oneof![
        "[ -~]{0,12}",
        "\\PC{0,6}",
        ".{0,6}",
        "(e\u{301}|\u{e9}|\u{1F9CA}|\u{fb33}){0,3}"
    ];
    let leaf = prop_oneof![
        text.clone().prop_map(Value::from),
        any::<bool>().prop_map(Value::from),
        number,
    ];
    leaf.prop_recursive(4, 40, 6, move |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..5).prop_map(Value::from),
            prop::collection::vec((text.clone(), inner), 0..5)
                .prop_map(|members| Value::Object(Map::from_iter(members))),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// What we write is what the other implementation writes, and our reader accepts it.
    #[test]
    fn the_same_as_another_implementation(value in value()) {
        match to_canonical(&value) {
            Ok(bytes) => {
                prop_assert_eq!(&bytes, &theirs(&value));
                prop_assert_eq!(check(&bytes), Ok(()));
            }
            // The other one writes what we refuse; our reader refuses those bytes as well.
            Err(_) => prop_assert!(check(&theirs(&value)).is_err(), "{}", value),
        }
    }

    /// Whatever the reader accepts is exactly what the writer makes of it.
    #[test]
    fn what_the_reader_accepts_is_what_the_writer_writes(
        value in value(), at in any::<prop::sample::Index>(), byte in any::<u8>(), how in 0..3,
    ) {
        let Ok(mut bytes) = to_canonical(&value) else { return Ok(()) };
        let at = at.index(bytes.len());
        match how {
            0 => bytes[at] = byte,
            1 => bytes.insert(at, byte),
            _ => { bytes.remove(at); }
        }
        if check(&bytes).is_ok() {
            let value: Value = serde_json::from_slice(&bytes).unwrap();
            prop_assert_eq!(to_canonical(&value).unwrap(), bytes);
        }
    }
}

/// RFC 8785, 3.2.3: the sorting example (its order; the control character is refused here).
#[test]
fn names_are_sorted_as_utf_16() {
    let value = json!({ "\u{20ac}": 1, "\u{1F600}": 2, "1": 3, "\u{f6}": 4, "\u{fb33}": 5 });
    let (a, b) = (
        "{\"1\":3,\"\u{f6}\":4,\"\u{20ac}\":1,",
        "\"\u{1F600}\":2,\"\u{fb33}\":5}",
    );
    let expected = format!("{a}{b}");
    // U+FB33 is a composition exclusion: it is not in NFC, and a leaf may not hold it.
    assert_eq!(to_canonical(&value), Err(NotCanonical::NotNormalised));
    assert_eq!(String::from_utf8(theirs(&value)).unwrap(), expected);
    let value = json!({ "\u{20ac}": 1, "\u{1F600}": 2, "1": 3, "\u{f6}": 4, "\u{ffee}": 5 });
    let expected = expected.replace('\u{fb33}', "\u{ffee}");
    assert_eq!(to_canonical(&value), Ok(expected.clone().into_bytes()));
    assert_eq!(check(expected.as_bytes()), Ok(()));
    let unsorted = "{\"\u{ffee}\":5,\"\u{1F600}\":2}";
    assert!(matches!(
        check(unsorted.as_bytes()),
        Err(NotCanonical::Spelling { at: 9 })
    ));
}

#[test]
fn what_a_leaf_may_not_hold() {
    let deep = (0..40).fold(json!(1), |inner, _| json!([inner]));
    for (value, why) in [
        (json!({ "a": 1.5 }), NotCanonical::Fraction),
        (json!({ "a": null }), NotCanonical::Null),
        (
            json!(9_007_199_254_740_992_u64),
            NotCanonical::NumberTooLarge,
        ),
        (
            json!(-9_007_199_254_740_992_i64),
            NotCanonical::NumberTooLarge,
        ),
        (json!("e\u{301}"), NotCanonical::NotNormalised),
        (json!({ "e\u{301}": 1 }), NotCanonical::NotNormalised),
        (json!("a\nb"), NotCanonical::ControlCharacter),
        (json!("\u{7f}"), NotCanonical::ControlCharacter),
        (json!("\u{85}"), NotCanonical::ControlCharacter),
        (json!("x".repeat(LONGEST)), NotCanonical::TooLong),
        (deep, NotCanonical::TooDeep),
    ] {
        assert_eq!(to_canonical(&value), Err(why));
        assert!(check(&theirs(&value)).is_err(), "{value}");
    }
    // The other one writes 1e3 as 1000; a float is refused here before it is looked at.
    assert_eq!(to_canonical(&json!([1e3])), Err(NotCanonical::Fraction));
    assert_eq!(
        to_canonical(&json!("x".repeat(LONGEST - 2))).unwrap().len(),
        LONGEST
    );
    assert_eq!(
        to_canonical(&json!(-9_007_199_254_740_991_i64)).unwrap(),
        b"-9007199254740991"
    );
}

#[test]
fn the_reader_refuses_other_spellings() {
    for good in [
        "{}",
        "[]",
        "0",
        "-1",
        "\"\"",
        "{\"a\":[true,false,{\"b\":\"\\\"\\\\\"}]}",
        "\"é\"",
    ] {
        assert_eq!(check(good.as_bytes()), Ok(()), "{good}");
    }
    for bad in [
        "",
        " {}",
        "{} ",
        "{ }",
        "{\"a\": 1}",
        "{\"a\":1,}",
        "[1,]",
        "[,1]",
        "01",
        "-0",
        "-",
        "+1",
        "1.0",
        "1e2",
        "null",
        "nul",
        "tru",
        "\"",
        "\"\\n\"",
        "\"\\u0041\"",
        "\"\\/\"",
        "{\"b\":1,\"a\":1}",
        "{\"a\":1,\"a\":1}",
        "{a:1}",
        "{\"a\"}",
        "{\"a\":1",
        "[1",
        "[1 ,2]",
        "\"\t\"",
        "{1:2}",
        "\u{feff}{}",
    ] {
        assert!(check(bad.as_bytes()).is_err(), "{bad}");
    }
    assert!(check(b"\"\xff\"").is_err());
    assert!(check(&[b'['; 20_000]).is_err());
    assert!(check(&[b'['; 9_000]).is_err());
}

/// The hand-written bytes below were hashed by `sha256sum`: printf of the label, the
/// id, the field, 32 bytes 0x07 and the text `HG-RACK-A`, a line feed after each of the first three.
#[test]
fn a_commitment_is_a_plain_hash() {
    let id = Id::parse("019b941b-ab80-7ef8-9227-66581e27a1c0").unwrap();
    let made = commitment(id, "facts.tag.0", &[7; 32], b"HG-RACK-A");
    assert_eq!(made, "KJ+nzFrnkHoY26aKCh5hmv5mlanKyLeQAqXFZ9qLqVM=");
    assert_ne!(made, commitment(id, "facts.tag.0", &[8; 32], b"HG-RACK-A"));
    assert_ne!(made, commitment(id, "facts.tag.1", &[7; 32], b"HG-RACK-A"));
}
