//! Forms of the service record as pages and as requests.

use super::super::sample;
use super::*;
use crate::actions::service::TEXTS;
use serde_json::json;

fn page_of(filled: &Filled, leaks: &[KnownLeak]) -> ServicePage {
    ServicePage {
        cautions: crate::pages::cautions::of_charge("R-290"),
        retired: String::new(),
        field: FieldFrame::default(),
        form_token: "f".repeat(64),
        appliance: Id::from_bits(7).to_string(),
        tag: sample::hostile(),
        site: sample::hostile(),
        place: sample::hostile(),
        refrigerant: "R-448A".to_string(),
        action: "/appliances/HG-RACK-A/service".to_string(),
        card: "/field/appliances/HG-RACK-A".to_string(),
        steps: vec![filled.step(leaks)],
        corrects: None,
        why: String::new(),
        instead: String::new(),
    }
}

fn pairs(given: &[(&str, &str)]) -> Vec<(String, String)> {
    let pair = |(name, value): &(&str, &str)| (name.to_string(), value.to_string());
    given.iter().map(pair).collect()
}

#[test]
fn every_word_of_every_step_has_a_label_and_its_choices_are_words() {
    for kind in STEPS {
        let step = Filled::new(*kind).step(&[]);
        assert_ne!(step.title, "Step", "{kind:?}");
        for one in &step.boxes {
            assert_ne!(one.label, "Stated", "{kind:?} {}", one.name);
            for (value, says) in &one.choices {
                assert!(!says.contains('_'), "{kind:?} {value}");
            }
        }
        for (name, _) in words::texts(*kind) {
            assert!(TEXTS.contains(name), "{kind:?} {name}");
        }
    }
}

#[test]
fn a_filled_form_is_a_request_of_the_door() {
    let filled = Filled::read(pairs(&[
        ("form", "x"),
        ("kind", "leak_found"),
        ("entry_id", "019b0c6e-0000-7000-8000-000000000001"),
        ("found_by", "technician"),
        ("process_shutdown", ""),
        ("place", " flare nut, suction line "),
        ("day", "2026-07-14"),
        ("answer.old_day", "as_stated"),
    ]))
    .unwrap();
    let expected = json!({
        "entry_id": "019b0c6e-0000-7000-8000-000000000001",
        "kind": "leak_found",
        "happened": {"day": "2026-07-14"},
        "answers": {"old_day": "as_stated"},
        "body": {
            "appliance": "thing",
            "found_by": "technician",
            "place": "flare nut, suction line",
            "leak": "019b0c6e-0000-7000-8000-000000000001",
        },
    });
    assert_eq!(filled.request("thing"), expected);
}

#[test]
fn a_box_of_another_kind_and_a_kind_of_no_step_are_not_read() {
    assert!(Filled::read(pairs(&[("kind", "repair"), ("found_by", "owner")])).is_none());
    assert!(Filled::read(pairs(&[("kind", "charge")])).is_none());
    assert!(Filled::read(pairs(&[("note", "no kind")])).is_none());
}

#[test]
fn what_was_typed_comes_back_as_text_beside_what_is_wrong() {
    let hostile = sample::hostile();
    let mut filled = Filled::read(pairs(&[
        ("kind", "verification_test"),
        ("place", &hostile),
        ("note", &hostile),
    ]))
    .unwrap();
    let refusal = Refusal::Malformed {
        pointer: "/body/stage".to_string(),
        detail: "Say it.".to_string(),
    };
    filled.put_right(&refusal, "Say it.".to_string());
    let leak = KnownLeak {
        id: Id::from_bits(3).to_string(),
        says: hostile,
    };
    let html = page_of(&filled, &[leak]).render().unwrap();
    sample::is_clean(&html);
    for part in [
        "<title>Error: ",
        "href=\"#verification_test-stage\"",
        "id=\"verification_test-stage-problem\"",
        "Which leak?",
        "<details class=\"step\" id=\"verification_test\" open>",
    ] {
        assert!(html.contains(part), "{part} in {html}");
    }
}

#[test]
fn a_step_is_corrected_with_its_old_words_and_stays_the_leak_it_was() {
    let mut line = sample::line("HG-RACK-A");
    line.kind = "leak_found".to_string();
    line.moved = Vec::new();
    line.words = [("found_by".to_string(), "owner".to_string())].into();
    line.texts = [("replace.body.place".to_string(), "valve".to_string())].into();
    let mut filled = Filled::of_line(EntryKind::LeakFound, &line);
    filled.why = "misread".to_string();
    let request = filled.correction("old", "thing");
    assert_eq!(request["kind"], "correction");
    assert_eq!(request["body"]["corrects"], "old");
    let instead = &request["body"]["replace"];
    assert_eq!(instead["kind"], "leak_found");
    assert_eq!(
        instead["happened"],
        json!({"day": "2026-07-14", "time": "11:52"})
    );
    let body = json!({"appliance": "thing", "found_by": "owner", "place": "valve", "leak": "old"});
    assert_eq!(instead["body"], body);
    filled.instead = "nothing".to_string();
    assert_eq!(
        filled.correction("old", "thing")["body"].get("replace"),
        None
    );
}
