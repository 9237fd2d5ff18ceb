//! Filled-in forms as requests, and refusals as boxes.

use super::*;

fn filled(pairs: &[(&str, &str)]) -> Fields {
    let pairs = pairs
        .iter()
        .map(|(name, value)| (name.to_string(), value.to_string()));
    Fields::read(pairs.collect()).unwrap()
}

#[test]
fn a_filled_form_is_a_request_of_the_door() {
    let fields = filled(&[
        ("entry_id", "019b0c6e-0000-7000-8000-000000000001"),
        ("cylinder", " SUP-88231 "),
        ("unit", "lb"),
        ("before", "29.25"),
        ("after", "14.75"),
        ("full", "yes"),
        ("reason", "leak_top_up"),
        ("day", "2026-07-14"),
        ("time", "11:52"),
        ("note", "two\r\nlines"),
        ("answer.rate_jump", "as_stated"),
        ("answer.mixing", ""),
    ]);
    let appliance = Id::from_bits(7);
    let expected = json!({
        "entry_id": "019b0c6e-0000-7000-8000-000000000001",
        "kind": "charge",
        "happened": {"day": "2026-07-14", "time": "11:52"},
        "note": "two\nlines",
        "answers": {"rate_jump": "as_stated"},
        "body": {
            "from": "cylinder:SUP-88231",
            "to": "appliance:00000000-0000-0000-0000-000000000007",
            "readings": {"before": "29.25", "after": "14.75", "unit": "lb"},
            "reason": "leak_top_up",
            "returned_to_full_charge": true,
        },
    });
    assert_eq!(fields.request(Deed::Charge, appliance), expected);
}

#[test]
fn a_recovery_goes_the_other_way_and_takes_a_net_weight() {
    let fields = filled(&[
        ("cylinder", "TR-0417"),
        ("unit", "lb"),
        ("mass", "20 lb 10 oz"),
        ("class", "clean"),
        ("full", "yes"),
        ("day", "2026-07-14"),
    ]);
    let body = fields.request(Deed::Recover, Id::from_bits(7))["body"].clone();
    assert_eq!(body["to"], "cylinder:TR-0417");
    assert_eq!(
        body["from"],
        "appliance:00000000-0000-0000-0000-000000000007"
    );
    assert_eq!(body["mass"], json!({"text": "20 lb 10 oz", "unit": "lb"}));
    assert_eq!(body["class"], "clean");
    assert_eq!(body.get("returned_to_full_charge"), None);
    assert_eq!(body.get("readings"), None);
}

#[test]
fn readings_and_a_net_weight_together_are_left_to_the_door() {
    let fields = filled(&[
        ("unit", "lb"),
        ("before", "29"),
        ("after", "14"),
        ("mass", "15 lb"),
    ]);
    assert_eq!(fields.weighed(Deed::Charge), Weighed::GoOn);
    let body = fields.request(Deed::Charge, Id::from_bits(7))["body"].clone();
    assert!(
        body.get("mass").is_some() && body.get("readings").is_some(),
        "{body}"
    );
}

#[test]
fn a_box_nobody_knows_is_refused_by_name() {
    let pairs = vec![("admin".to_string(), "1".to_string())];
    assert_eq!(Fields::read(pairs), Err("admin".to_string()));
}

/// 29 lb 4 oz less 14 lb 12 oz is 14 lb 8 oz; 14.5 x 453.59237 g = 6577.089365 g (by hand).
#[test]
fn a_mass_is_shown_once_before_it_is_booked() {
    let mut fields = filled(&[("unit", "lb+oz"), ("before", "29 4"), ("after", "14 12")]);
    let Weighed::Show { mass, sum } = fields.weighed(Deed::Charge) else {
        panic!("expected a mass to show");
    };
    assert_eq!(mass.to_string(), "6577.089365");
    assert_eq!(sum, "29 lb 4 oz − 14 lb 12 oz =");
    fields.checked = mass.to_string();
    assert_eq!(fields.weighed(Deed::Charge), Weighed::GoOn);
    fields.after = "14 11".to_string();
    assert!(
        matches!(fields.weighed(Deed::Charge), Weighed::Show { .. }),
        "changed meanwhile"
    );
}

#[test]
fn what_the_door_asks_about_is_not_shown_first() {
    let ambiguous = filled(&[("unit", "lb"), ("before", "29.25"), ("after", "14.12")]);
    assert_eq!(ambiguous.weighed(Deed::Charge), Weighed::GoOn);
    let swapped = filled(&[("unit", "lb"), ("before", "14"), ("after", "29")]);
    assert_eq!(swapped.weighed(Deed::Charge), Weighed::GoOn);
    let nothing = filled(&[("unit", "lb")]);
    assert_eq!(nothing.weighed(Deed::Charge), Weighed::GoOn);
}

#[test]
fn every_refusal_of_a_box_finds_its_box() {
    for (pointer, field) in [
        ("/body/from", "cylinder"),
        ("/body/to", "cylinder"),
        ("/body/readings/before", "before"),
        ("/body/readings/after", "after"),
        ("/body/readings", "before"),
        ("/body/mass", "mass"),
        ("/body", "before"),
        ("/happened/day", "day"),
        ("/happened/time", "time"),
        ("/reason_text", "reason_text"),
        ("/entry_id", "post"),
    ] {
        let refusal = Refusal::InvalidValue {
            pointer: pointer.to_string(),
            detail: "Expected this, got that.".to_string(),
        };
        let problem = box_problem(&refusal).unwrap();
        assert_eq!(problem.field, field, "{pointer}");
    }
    assert_eq!(box_problem(&Refusal::NeedsAnswer(Vec::new())), None);
    assert_eq!(box_problem(&Refusal::HardStop(Vec::new())), None);
}
