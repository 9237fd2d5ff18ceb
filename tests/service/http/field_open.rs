//! What the technician's pages say of what is open, and what they ask where the book does not know what an
//! appliance runs on. Expected sentences are read from the pages of the office; masses are worked out by
//! hand (1 lb = 453.59237 g, agreement of 1959).

use harness::browsing::{hidden, send, sign_in};
use harness::service::{PASSWORD, Service, Who};
use serde_json::{Value, json};

/// The sentences of a page that begin with the name of a thing and end with the entry.
fn said(page: &str, name: &str) -> Vec<String> {
    let starts = page.match_indices(name).map(|(at, _)| &page[at..]);
    let whole = starts.filter_map(|rest| Some(rest.split_once(").")?.0.to_string()));
    whole
        .filter(|text| text.contains("(entry no. ") && !text.contains('<'))
        .collect()
}

/// More was taken than the cylinder held: its card, the list that a phone keeps and the office say the
/// same, and the appliance says on its card what is open about it. Before, nobody says anything.
#[test]
fn what_is_open_stands_on_the_cards() {
    let service = Service::stocked();
    let ines = sign_in(&service, "ines@tamarack.example", PASSWORD);
    let kept = |who: &Who| -> Value {
        let list: Value = service.get(who, "/field/cylinders").expect(200).json();
        let all = list["cylinders"].as_array().expect("a list");
        all.iter()
            .find(|one| one["tag"] == "SUP-88231")
            .expect("it")["findings"]
            .clone()
    };
    let card = |path: &str| service.get(&ines, path).expect(200).text();
    assert_eq!(kept(&ines), Value::Null, "nothing is open yet");
    assert!(!card("/field/cylinders/SUP-88231").contains("Open findings"));
    let booked = service.booked(
        &ines,
        json!({"kind": "charge", "body": {"from": "cylinder:SUP-88231",
               "to": "appliance:HG-RACK-A", "refrigerant": "R-448A", "mass": "300 lb"},
               "captured_offline": true}),
    );
    let seq = booked["seq"].as_u64().expect("a number");
    let name = "Cylinder SUP-88231: more was taken than it held";
    let office = said(
        &service
            .get(&service.firm.manager, "/cylinders/SUP-88231")
            .expect(200)
            .text(),
        name,
    );
    assert_eq!(office, [format!("{name} (entry no. {seq}")], "the office");
    assert_eq!(said(&card("/field/cylinders/SUP-88231"), name), office);
    let lower = format!("c{}).", &office[0][1..]);
    assert!(
        kept(&ines)
            .as_array()
            .expect("findings")
            .iter()
            .any(|one| one[1] == json!(lower)),
        "{}",
        kept(&ines)
    );
    // 300 lb are beyond the 210 lb of the rack.
    let rack = card("/field/appliances/HG-RACK-A");
    assert!(
        rack.contains("Appliance HG-RACK-A: charged beyond its full charge"),
        "{rack}"
    );
}

/// Where the book does not know what an appliance runs on, the forms ask for it; a name that is none is put
/// right at its box, and *unknown* is taken, because nobody may know.
#[test]
fn where_the_refrigerant_is_not_known_the_form_asks_for_it() {
    let service = Service::stocked();
    let ines = sign_in(&service, "ines@tamarack.example", PASSWORD);
    service.booked(
        &ines,
        json!({"kind": "appliance", "body": {"facts": {"tag": "HG-RTU-77"}}}),
    );
    let path = "/appliances/HG-RTU-77/recover";
    let post = |page: &str, refrigerant: &str, checked: &str| {
        let id = hidden(page, "entry_id");
        let boxes = [
            ("entry_id", id.as_str()),
            ("cylinder", "TR-0417"),
            ("refrigerant", refrigerant),
            ("mass", "2 lb"),
            ("unit", "lb"),
            ("checked", checked),
            // By the book nothing was ever charged into it.
            ("answer.balance_below_zero", "as_stated"),
        ];
        send(&service, &ines, page, path, &boxes)
    };
    let page = service.get(&ines, path).expect(200).text();
    assert!(page.contains("name=\"refrigerant\""), "{page}");
    for (typed, status, says) in [
        ("", 400, "Expected a designation such as R-410A"),
        ("R-999Z", 422, "R-999Z"),
    ] {
        let refused = post(&page, typed, "907.18474").expect(status).text();
        assert!(
            refused.contains("id=\"refrigerant-problem\""),
            "{typed}: {refused}"
        );
        assert!(refused.contains(says), "{typed}: {refused}");
    }
    post(&page, "unknown", "907.18474").expect(303);
    let cylinder: Value = service
        .get(&ines, "/api/v1/cylinders/TR-0417")
        .expect(200)
        .json();
    let held = &cylinder["balances"][0];
    assert_eq!(held["refrigerant"], "unknown", "{cylinder}");
    assert_eq!(held["mass"]["g"], "907.18474", "{cylinder}");
    let known = service
        .get(&ines, "/appliances/HG-RACK-A/recover")
        .expect(200)
        .text();
    assert!(
        !known.contains("name=\"refrigerant\""),
        "asked where it is known"
    );
}

/// A correction begins with what the entry said: a condition, *all of it*, *not back to full charge*. What
/// fell away unseen would make a cylinder look cleaner than it is.
#[test]
fn the_form_of_a_correction_has_what_the_entry_said() {
    let service = Service::stocked();
    let ines = sign_in(&service, "ines@tamarack.example", PASSWORD);
    let form = |entry: Value| {
        let booked = service.booked(&ines, entry);
        let path = format!(
            "/entries/{}/correct",
            booked["entry_id"].as_str().expect("an id")
        );
        service.get(&ines, &path).expect(200).text()
    };
    let recovered = form(
        json!({"kind": "recover", "captured_offline": true, "body": {
        "from": "appliance:HG-RACK-A", "to": "cylinder:TR-0417", "refrigerant": "R-448A",
        "mass": "2 lb", "class": "suspect", "what": "all"}}),
    );
    for part in [
        "<option value=\"suspect\" selected>",
        "name=\"what\" value=\"all\" checked",
    ] {
        assert!(recovered.contains(part), "{part} in {recovered}");
    }
    let charged = form(json!({"kind": "charge", "captured_offline": true, "body": {
        "from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A", "refrigerant": "R-448A",
        "mass": "1 lb", "returned_to_full_charge": false, "process_shutdown": "no"}}));
    for part in [
        "name=\"full\" value=\"no\" checked",
        "name=\"process_shutdown\" value=\"no\" checked",
    ] {
        assert!(charged.contains(part), "{part} in {charged}");
    }
}

/// The forms that stand for an appliance which only the phone knows: kept by technicians, with what can be
/// said of any; not for who may not post.
#[test]
fn the_forms_for_an_appliance_that_waits_to_be_registered() {
    let service = Service::stocked();
    let ines = sign_in(&service, "ines@tamarack.example", PASSWORD);
    for deed in ["charge", "recover"] {
        let path = format!("/field/new/{deed}");
        let page = service
            .get(&ines, &format!("{path}?unit=1"))
            .expect(200)
            .text();
        for part in [
            "data-appliance=\"\"",
            "name=\"refrigerant\"",
            "treat it as flammable and toxic until you know",
            "Register the appliance first",
        ] {
            assert!(page.contains(part), "{path}: {part} in {page}");
        }
        service.get(&service.firm.auditor, &path).expect(403);
    }
}
