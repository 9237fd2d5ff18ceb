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

pub fn charge() -> Value {
    json!({"kind": "charge", "happened": {"day": "2026-07-14", "time": "11:52"},
           "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
                    "refrigerant": "R-448A", "mass": "7 lb 4 oz", "reason": "leak_top_up"}})
}

/// The charge with one member at a JSON pointer set (or, with null, taken out).
pub fn with(pointer: &str, value: Value) -> Value {
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

pub fn all(cases: &[(Value, &str, &str, &[&str])]) {
    let mut shop = Shop::stocked();
    for (request, slug, at, says) in cases {
        refused(&mut shop, request.clone(), slug, at, says);
    }
    shop.ok(charge());
    shop.sound();
    shop.caches_agree();
}

/// S4: members nobody knows, members that are missing, values of another type.
#[test]
fn s4_requests_of_another_shape() {
    all(&[
        (
            with("/colour", json!("red")),
            "unknown-field",
            "/colour",
            &["\"colour\"", "Known here: entry_id, kind"],
        ),
        (
            with("/body/weight", json!("1 lb")),
            "unknown-field",
            "/body/weight",
            &["\"weight\"", "mass"],
        ),
        (
            with("/happened/when", json!("now")),
            "unknown-field",
            "/when",
            &["day, time"],
        ),
        (
            with("/body/mass", json!({"value": "1", "units": "kg"})),
            "unknown-field",
            "/body/mass/units",
            &["unit"],
        ),
        (
            with("/kind", Value::Null),
            "malformed",
            "",
            &["Expected a member \"kind\", got none. Add it."],
        ),
        (
            with("/body", Value::Null),
            "malformed",
            "/body",
            &["Expected an object"],
        ),
        (
            with("/body", json!([1])),
            "malformed",
            "/body",
            &["Expected an object"],
        ),
        (
            with("/body/mass", json!(7.25)),
            "malformed",
            "/body/mass",
            &["Expected a mass as text such as", "got `7.25`"],
        ),
        (
            with("/body/mass", Value::Null),
            "malformed",
            "/body",
            &["Expected either mass or readings"],
        ),
        (
            with("/body/mass", json!({"value": 7, "unit": "kg"})),
            "malformed",
            "/body/mass",
            &["Expected text in quotes, got integer `7`", "travel as text"],
        ),
        (
            with("/body/mass", json!({"value": "7", "text": "7 lb"})),
            "malformed",
            "/body/mass",
            &["either value with unit, or text"],
        ),
        (
            with("/body/readings", json!({"before": "2 lb", "after": "1 lb"})),
            "malformed",
            "/body",
            &["either mass or readings"],
        ),
        (
            with("/body/movements", json!([])),
            "malformed",
            "/body/movements",
            &["at least one movement"],
        ),
        (
            with("/body/from", Value::Null),
            "malformed",
            "/body/from",
            &["Expected cylinder:ID or cylinder:TAG, got nothing"],
        ),
        (
            with("/body/returned_to_full_charge", json!("yes")),
            "malformed",
            "/body",
            &["Expected a boolean, got string \"yes\""],
        ),
        (
            with("/captured_offline", json!(1)),
            "malformed",
            "",
            &["Expected a boolean"],
        ),
        (
            with("/body/number", json!(4)),
            "invalid-value",
            "/body/number",
            &["only of small appliances", "got \"4\""],
        ),
        (
            with("/answers", json!({"Ines Vallory": "yes"})),
            "unknown-field",
            "/answers/Ines Vallory",
            &["rate_jump"],
        ),
        (
            with("/answers", json!({"rate_jump": "Ines Vallory"})),
            "invalid-value",
            "/answers/rate_jump",
            &["Expected one of as_stated", "Choose one."],
        ),
        (
            with("/answers", json!({"over_full": "yes"})),
            "invalid-value",
            "/answers/over_full",
            &["already_happened, lifted"],
        ),
    ]);
}

/// M5: masses that cannot be read, or not exactly.
#[test]
fn m5_masses_that_are_none() {
    let says = |text: &str, part: &'static str| (text.to_string(), part);
    let mut shop = Shop::stocked();
    for (text, part) in [
        says("7 lb 16 oz", "16"),
        says("1,250", "1.25 or 1250"),
        says("-3 lb", "-3 lb"),
        says("0 lb", "0"),
        says("0", "0"),
        says("NaN lb", "NaN"),
        says("inf", "inf"),
        says("1e3 kg", "1e3"),
        says("1000000000000000000000000000000 kg", "kg"),
        says("93 000 kg", "93"),
        says("92234 kg", "92"),
        says("7 stone", "stone"),
        says("", "mass"),
        says("٣ kg", "٣"),
    ] {
        let request = with("/body/mass", json!(text));
        refused(&mut shop, request, "invalid-value", "/body/mass", &[part]);
    }
    let request = with("/body/mass", json!({"value": "7", "unit": "stone"}));
    refused(
        &mut shop,
        request,
        "invalid-value",
        "/body/mass/unit",
        &["[lb_av]", "got \"stone\""],
    );
    let request = with("/body/mass", json!(format!("{} kg", "1".repeat(3000))));
    refused(
        &mut shop,
        request,
        "invalid-value",
        "/body/mass",
        &["at most 100 characters"],
    );
    for (text, code) in [
        ("1/8 oz", "finer_than_a_step"),
        ("7.12 lb", "pounds_or_ounces"),
    ] {
        let before = shop.size();
        let refusal = shop.refused(with("/body/mass", json!(text)));
        assert!(Shop::questions(&refusal).contains(&code), "{refusal}");
        assert_eq!(shop.size(), before);
    }
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
    // The same mass typed otherwise is the same content; so is another note.
    request["body"]["mass"] = json!({"value": "7.25", "unit": "lb"});
    request["note"] = json!("sent again");
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
    use api::actions::permit::{POSTED, posts};
    use api::ledger::entry::EntryKind;
    let mut shop = Shop::stocked();
    for kind in EntryKind::ALL
        .into_iter()
        .filter(|kind| !POSTED.contains(kind))
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
        for kind in POSTED.into_iter().filter(|kind| !posts(role, *kind)) {
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
    let allowed = |role| POSTED.into_iter().filter(|kind| posts(role, *kind)).count();
    assert_eq!(allowed(Role::Auditor) + allowed(Role::Administrator), 0);
    assert_eq!(allowed(Role::ComplianceManager), POSTED.len());
    assert!(
        !posts(Role::Technician, EntryKind::Setting) && !posts(Role::Device, EntryKind::Correction)
    );
    assert_eq!(shop.size(), before);
}
