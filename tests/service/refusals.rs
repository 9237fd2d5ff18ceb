//! Bad input at the door: what is refused, where it points, and what the sentence says.
//!
//! Promises M2, O2, S3 and S4. Every sentence says what was expected, what came and what to do.
//! After each refusal the book has the same size and balances, and the shop still works. The cases
//! of masses are those of the requirement's list of bad input; the sentences are our own.

use api::actions::{ActionError, Refusal};
use api::ledger::actor::{Actor, Role, Via};
use api::ledger::id::Id;
use harness::shop::Shop;
use serde_json::{Value, json};

fn charge() -> Value {
    json!({"kind": "charge", "happened": {"day": "2026-07-14", "time": "11:52"},
           "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
                    "refrigerant": "R-448A", "mass": "7 lb 4 oz", "reason": "leak_top_up"}})
}

/// The charge with one member at a JSON pointer set (or, with null, taken out).
fn with(pointer: &str, value: Value) -> Value {
    let mut request = charge();
    let (above, name) = pointer.rsplit_once('/').unwrap();
    let at = request.pointer_mut(above).unwrap().as_object_mut().unwrap();
    match value {
        Value::Null => drop(at.remove(name)),
        value => drop(at.insert(name.to_string(), value)),
    }
    request
}

fn pointer(refusal: &Refusal) -> &str {
    match refusal {
        Refusal::Malformed { pointer, .. }
        | Refusal::UnknownField { pointer, .. }
        | Refusal::InvalidValue { pointer, .. }
        | Refusal::Unknown { pointer, .. } => pointer,
        _ => "",
    }
}

/// Refused so, and nothing has changed.
fn refused(shop: &mut Shop, request: Value, slug: &str, at: &str, says: &[&str]) {
    let before = (shop.size(), shop.kept_balances());
    let shown = request.to_string();
    let refusal = shop.refused(request);
    let text = refusal.to_string();
    assert_eq!(
        (refusal.slug(), pointer(&refusal)),
        (slug, at),
        "{shown}: {text}"
    );
    for part in says {
        assert!(
            text.contains(part),
            "{shown}: {part:?} is missing in: {text}"
        );
    }
    assert!(
        !text.contains("  ") && text.ends_with(['.', '?', ')']),
        "{text:?}"
    );
    for ours in ["struct ", "enum ", "variant", "MassRequest", "EntryRequest"] {
        assert!(!text.contains(ours), "a name of the program in: {text}");
    }
    assert_eq!((shop.size(), shop.kept_balances()), before, "{shown}");
}

/// The cases of one group of the table, each against the same shop, which works on.
fn all(group: &str) {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/references/refusals.json");
    let table: Value = serde_json::from_slice(&std::fs::read(file).unwrap()).unwrap();
    let cases = table[group].as_array().expect("a group of the table");
    assert!(cases.len() >= 8, "{group}");
    let mut shop = Shop::stocked();
    for case in cases {
        let text = |value: &Value| value.as_str().expect("text").to_string();
        let request = match case["set"].as_object() {
            Some(set) => {
                let (pointer, value) = set.iter().next().expect("one member");
                with(pointer, value.clone())
            }
            None => case["request"].clone(),
        };
        let says: Vec<String> = case["says"]
            .as_array()
            .expect("a list")
            .iter()
            .map(text)
            .collect();
        let says: Vec<&str> = says.iter().map(String::as_str).collect();
        refused(
            &mut shop,
            request,
            &text(&case["slug"]),
            &text(&case["at"]),
            &says,
        );
    }
    shop.ok(charge());
    shop.sound();
    shop.caches_agree();
}

/// S4: members nobody knows, members that are missing, values of another type.
#[test]
fn s4_requests_of_another_shape() {
    all("shape");
}

/// M5: masses that cannot be read.
#[test]
fn m5_masses_that_are_none() {
    all("masses");
}

/// S1: things that are not in this book, and places that a kind does not go to.
#[test]
fn s1_unknown_things_and_wrong_places() {
    all("things and places");
}

/// H6: times that are none, both forms at once, and an offset the place never had.
#[test]
fn h6_times_that_are_none() {
    all("times");
}

/// H9: texts that cannot be kept, tags that cannot be told apart, words nobody knows.
#[test]
fn h9_texts_that_are_none() {
    all("texts");
}

/// H6: a time that a clock change skips or doubles is asked about, with the choices there are.
#[test]
fn h6_skipped_and_doubled_times_are_asked_about() {
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
        let Refusal::NeedsAnswer(questions) = shop.refused(with("/happened", time)) else {
            panic!("a question was expected");
        };
        let asked = questions
            .iter()
            .find(|it| it.code == "skipped_or_doubled_time");
        let offered: Vec<&str> = asked.unwrap().choices.iter().map(|it| it.choice).collect();
        assert_eq!(offered, choices);
    }
}

/// M5: a mass between two steps, or with two readings, is asked about.
#[test]
fn m5_doubtful_masses_are_asked_about() {
    let mut shop = Shop::stocked();
    let before = shop.size();
    for (text, code) in [
        ("1/8 oz", "finer_than_a_step"),
        ("7.12 lb", "pounds_or_ounces"),
    ] {
        let refusal = shop.refused(with("/body/mass", json!(text)));
        assert!(Shop::questions(&refusal).contains(&code), "{refusal}");
    }
    assert_eq!(shop.size(), before);
}

/// A3: what is too long, in a member and in all.
#[test]
fn a3_what_is_too_long() {
    let mut shop = Shop::stocked();
    let x = |count: usize| "x".repeat(count);
    let note = with("/note", json!(x(3_000)));
    refused(
        &mut shop,
        note,
        "invalid-value",
        "/note",
        &["at most 2000 characters", "…"],
    );
    let tag = json!({"kind": "site", "body": {"facts": {"tag": x(201)}}});
    refused(
        &mut shop,
        tag,
        "invalid-value",
        "/body/facts/tag",
        &["200 characters"],
    );
    let to = with("/body/to", json!(format!("appliance:{}", x(3_000))));
    refused(&mut shop, to, "not-found", "/body/to", &["…"]);
    let mass = with("/body/mass", json!(format!("{} kg", "1".repeat(3_000))));
    refused(
        &mut shop,
        mass,
        "invalid-value",
        "/body/mass",
        &["at most 100 characters"],
    );
    let movement = |n| {
        json!({"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A", "refrigerant": "R-448A",
            "mass": "0.01 lb", "document": format!("{n}")})
    };
    let many: Vec<Value> = (0..80).map(movement).collect();
    let leaf = json!({"kind": "charge", "answers": {"look_alike": "as_stated"}, "body": {"movements": many}});
    refused(
        &mut shop,
        leaf,
        "too-large",
        "",
        &["at most 16384 bytes", "several entries"],
    );
    shop.ok(charge());
    shop.sound();
}

/// O2: an id with other content is refused; a missing or malformed one too.
#[test]
fn o2_an_id_means_one_fact() {
    let mut shop = Shop::stocked();
    let mut request = with("/entry_id", json!("019f61c1-f910-7a23-a217-beaddbc496cb"));
    let seq = shop.ok(request.clone()).seq;
    let changes = [
        ("/body/mass", json!("7 lb 5 oz")),
        ("/body/to", json!("appliance:QK-WIC-1")),
        ("/body/refrigerant", json!("R-404A")),
        ("/happened/day", json!("2026-07-13")),
        ("/kind", json!("outside_charge")),
    ];
    for (at, value) in changes {
        let mut other = request.clone();
        *other.pointer_mut(at).unwrap() = value;
        if at == "/kind" {
            other["body"]["from"] = json!("outside");
        }
        let said = format!("belongs to entry no. {seq}");
        refused(&mut shop, other, "id-reused", "", &[&said, "make a new id"]);
    }
    // The same mass typed otherwise is the same content.
    request["body"]["mass"] = json!({"value": "7.25", "unit": "lb"});
    assert!(shop.ok(request.clone()).replayed);
    let manager = shop.manager;
    let missing = with("/entry_id", Value::Null);
    let Err(ActionError::Refused(refusal)) = shop.send(&manager, &missing) else {
        panic!("a refusal was expected");
    };
    assert_eq!(refusal.slug(), "missing-id");
    refused(
        &mut shop,
        with("/entry_id", json!("7")),
        "invalid-value",
        "/entry_id",
        &["a UUID"],
    );
}

/// S3: kinds nobody posts, and roles that lack a kind, for every role and kind.
#[test]
fn s3_roles_and_kinds() {
    use api::actions::permit::{posted, posts};
    use api::ledger::entry::EntryKind;
    let mut shop = Shop::stocked();
    for kind in EntryKind::ALL
        .into_iter()
        .filter(|kind| !posted().any(|known| known == *kind))
    {
        let request = json!({"kind": kind.word()});
        refused(
            &mut shop,
            request,
            "invalid-value",
            "/kind",
            &["nobody posts it"],
        );
    }
    let before = shop.size();
    for role in Role::ALL {
        for kind in posted().filter(|kind| !posts(role, *kind)) {
            let actor = Actor {
                via: Via::User,
                ..Actor::person(Id::random(), role, None)
            };
            let error = shop
                .post_as(&actor, json!({"kind": kind.word()}))
                .unwrap_err();
            let ActionError::Refused(refusal) = error else {
                panic!("{error}")
            };
            assert_eq!(refusal.slug(), "forbidden", "{role:?} {kind:?}");
            assert!(refusal.to_string().contains(role.word()));
        }
    }
    // The table itself, against the specification's permissions.
    let allowed = |role| posted().filter(|kind| posts(role, *kind)).count();
    assert_eq!(allowed(Role::Auditor), 0);
    // An administrator handles people: of entries only the registration of a person.
    assert_eq!(allowed(Role::Administrator), 1);
    assert!(posts(Role::Administrator, EntryKind::Person));
    assert_eq!(allowed(Role::ComplianceManager), posted().count());
    assert!(
        !posts(Role::Technician, EntryKind::Setting) && !posts(Role::Device, EntryKind::Correction)
    );
    assert_eq!(shop.size(), before);
}

/// Tags that look like others, and texts that turn the sentence around them.
#[test]
fn what_cannot_be_seen_is_no_tag() {
    let mut shop = Shop::stocked();
    for tag in [
        "\u{200b}HG-RACK-A",
        "HG-RACK-A\u{202e}",
        "\u{200b}\u{200b}",
        "HG\u{2028}RACK",
    ] {
        let request = json!({"kind": "appliance", "body": {"facts": {"tag": tag}}});
        let refusal = shop.refused(request).to_string();
        assert!(
            refusal.contains("visible") || refusal.contains("direction"),
            "{refusal}"
        );
    }
    let mut turned = json!({"kind": "leak_found", "body": {"appliance": "HG-RACK-A"}});
    turned["note"] = json!("abc\u{202e}def");
    let refusal = shop.refused(turned).to_string();
    assert!(refusal.contains("direction of writing"), "{refusal}");
}

/// Unicode Technical Standard 39: a tag of one alphabet is a tag; one that mixes a Cyrillic letter
/// into Latin ones looks like another and is asked about, not refused.
#[test]
fn a_tag_of_several_alphabets_is_asked_about() {
    let mut shop = Shop::stocked();
    let tagged = |tag: &str| {
        let facts = json!({"tag": tag, "use": "recovery", "tare": "27.5 lb"});
        json!({"kind": "cylinder", "body": {"facts": facts}})
    };
    for fine in ["TR-0499", "ТР-0499", "ΚΑΛΗ-7", "冷媒ボンベ-3"] {
        shop.ok(tagged(fine));
    }
    // The second letter is CYRILLIC CAPITAL LETTER ER.
    let mut mixed = tagged("TР-0500");
    let refused = shop.refused(mixed.clone());
    assert_eq!(Shop::questions(&refused), ["tag_of_several_alphabets"]);
    mixed["answers"] = json!({"tag_of_several_alphabets": "as_stated"});
    shop.ok(mixed);
}
