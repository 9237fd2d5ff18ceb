//! What was recovered from small appliances that are not registered is corrected by a form: what is read
//! there, what is put right, what stays.
//!
//! By hand: 3 lb = 1360.77711 g (a pound is 453.59237 g, NIST Special Publication 811).

use harness::browsing::{hidden, send, sign_in};
use harness::service::{PASSWORD, Service};
use serde_json::{Value, json};

fn recovered(service: &Service) -> Value {
    let manager = service.firm.manager.clone();
    service.booked(
        &manager,
        json!({"kind": "recover", "body": {
            "from": "unregistered", "number": 4, "to": "cylinder:TR-0417", "refrigerant": "R-410A",
            "mass": "2 lb 4 oz", "class": "suspect", "reason": "disposal",
            "evacuation": {"value": "10", "unit": "[in_i'Hg]", "reference": "gauge"}}}),
    )
}

/// The boxes that a press sends, with those that are changed.
fn boxes<'a>(page: &'a str, changed: &[(&'a str, &'a str)]) -> Vec<(String, String)> {
    let mut boxes: Vec<(String, String)> = [
        ("unit", "lb+oz"),
        ("number", "4"),
        ("refrigerant", "R-410A"),
        ("cylinder", "TR-0417"),
        ("mass", "2 lb 4 oz"),
        ("reason", "disposal"),
        ("class", "suspect"),
        ("why", "misread"),
    ]
    .map(|(name, value)| (name.to_string(), value.to_string()))
    .to_vec();
    let day = page.split_once("name=\"day\" type=\"date\" required value=\"");
    let day = day.expect("a day").1.split('"').next().unwrap_or_default();
    boxes.push(("day".to_string(), day.to_string()));
    for name in ["entry_id", "checked"] {
        boxes.push((name.to_string(), hidden(page, name)));
    }
    for (name, value) in changed {
        boxes.retain(|(known, _)| known != name);
        boxes.push(((*name).to_string(), (*value).to_string()));
    }
    boxes
}

#[test]
fn what_came_from_unregistered_appliances_is_corrected_by_a_form() {
    let service = Service::stocked();
    let old = recovered(&service);
    let nadia = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    let entry = format!("/entries/{}", old["entry_id"].as_str().expect("an id"));
    let path = format!("{entry}/correct");
    let receipt = service.get(&nadia, &entry).expect(200).text();
    assert!(receipt.contains("Correct this entry"), "{receipt}");
    let form = service.get(&nadia, &path).expect(200).text();
    // It opens with everything that the entry says.
    for part in [
        "name=\"number\" type=\"text\" inputmode=\"numeric\" autocomplete=\"off\" value=\"4\"",
        "value=\"R-410A\"",
        "value=\"TR-0417\"",
        "value=\"2 lb 4 oz\"",
        "<option value=\"suspect\" selected>",
        "<option value=\"disposal\" selected>",
    ] {
        assert!(form.contains(part), "{part}: {form}");
    }
    let press = |page: &str, changed: &[(&str, &str)]| {
        let boxes = boxes(page, changed);
        let pairs: Vec<(&str, &str)> = (boxes.iter())
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect();
        send(&service, &nadia, page, &path, &pairs)
    };
    // Expected, got, what to do; nothing is booked.
    for (name, value, said, status) in [
        (
            "number",
            "four",
            "Expected a whole number from 1, got &#34;four&#34;",
            422,
        ),
        ("number", "0", "Expected a whole number from 1", 422),
        ("refrigerant", "R-999Z", "R-999Z", 422),
        ("cylinder", "TR-9999", "TR-9999", 404),
    ] {
        let shown = press(
            &form,
            &[("mass", "3 lb"), ("checked", "1360.77711"), (name, value)],
        );
        let shown = shown.expect(status).text();
        let at_box = format!("id=\"{name}-problem\"");
        assert!(
            shown.contains(said) && shown.contains(&at_box),
            "{name}: {shown}"
        );
    }
}

/// The first press shows the mass, the second books it.
#[test]
fn what_is_corrected_by_the_form_keeps_what_it_has_no_box_for() {
    let service = Service::stocked();
    let old = recovered(&service);
    let nadia = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    let entry = format!("/entries/{}", old["entry_id"].as_str().expect("an id"));
    let path = format!("{entry}/correct");
    let form = service.get(&nadia, &path).expect(200).text();
    let press = |page: &str, changed: &[(&str, &str)]| {
        let boxes = boxes(page, changed);
        let pairs: Vec<(&str, &str)> = (boxes.iter())
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect();
        send(&service, &nadia, page, &path, &pairs)
    };
    let shown = press(&form, &[("mass", "3 lb"), ("number", "6")])
        .expect(200)
        .text();
    assert!(shown.contains("3 lb 0 oz"), "{shown}");
    press(&shown, &[("mass", "3 lb"), ("number", "6")]).expect(303);
    let booked = service
        .get(&nadia, &format!("/api/v1{entry}"))
        .expect(200)
        .json();
    let by = booked["corrected_by"].as_u64().expect("corrected");
    let leaf = service
        .get(&nadia, &format!("/api/v1/entries/{by}"))
        .expect(200)
        .json();
    let instead = &leaf["body"]["replace"];
    assert_eq!(instead["kind"], "recover");
    let first = service
        .get(&nadia, &format!("/api/v1{entry}"))
        .expect(200)
        .json();
    assert_eq!(instead["happened"]["day"], first["happened"]["day"]);
    let moved = &instead["body"]["movements"][0];
    assert_eq!(
        (
            &moved["from"],
            &moved["number"],
            &moved["g"],
            &moved["refrigerant"]
        ),
        (
            &json!("unregistered"),
            &json!(6),
            &json!("1360.77711"),
            &json!("R-410A")
        )
    );
    assert_eq!(instead["body"]["class"], "suspect");
    // What the form has no box for stays as it was stated.
    assert_eq!(instead["body"]["evacuation"]["value"], "10");
    assert_eq!(instead["body"]["evacuation"]["reference"], "gauge");
}

/// It did not happen: nothing stands instead, after a second press.
#[test]
fn what_came_from_unregistered_appliances_is_taken_back_by_the_form() {
    let service = Service::stocked();
    let old = recovered(&service);
    let nadia = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    let path = format!(
        "/entries/{}/correct",
        old["entry_id"].as_str().expect("an id")
    );
    let form = service.get(&nadia, &path).expect(200).text();
    let press = |page: &str| {
        let boxes = boxes(page, &[("instead", "nothing"), ("why", "did_not_happen")]);
        let pairs: Vec<(&str, &str)> = (boxes.iter())
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect();
        send(&service, &nadia, page, &path, &pairs)
    };
    let asked = press(&form).expect(200).text();
    assert!(asked.contains("Not taken back yet"), "{asked}");
    press(&asked).expect(303);
    let said = service.get(&nadia, "/cylinders/TR-0417").expect(200).text();
    assert!(!said.contains("2 lb 4 oz of"), "{said}");
    service.get(&nadia, &path).expect(200);
}
