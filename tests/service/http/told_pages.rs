//! What pages say beside the figures: who corrected and why, what is open about a cylinder, what a
//! cylinder holds before it is taken, and that nothing stands at an address.
//!
//! What the pages should say is common practice, no source, where none is named at the test.

use harness::service::{PASSWORD, Service, Who, charge};
use serde_json::{Value, json};

fn browser(service: &Service) -> Who {
    let body = json!({"email": "nadia@tamarack.example", "password": PASSWORD});
    let nadia = service.post(&Who::Nobody, "/api/v1/sessions", &body);
    nadia.expect(201).cookies()
}

/// Ines books, Nadia corrects: each page names both, the day, and what was wrong.
#[test]
fn a_correction_names_who_made_it_and_why_on_every_page() {
    let service = Service::stocked();
    let (ines, manager) = (
        service.firm.technician.clone(),
        service.firm.manager.clone(),
    );
    let old = service.booked(&ines, charge("7 lb 10 oz"));
    let mut instead = charge("7 lb 8 oz");
    let new = service.booked(
        &manager,
        json!({"kind": "correction", "note": "The pan was wet.", "body": {"corrects": old["entry_id"],
            "reason": "misread", "replace": {"body": instead["body"].take()}}}),
    );
    let nadia = browser(&service);
    let page = |path: &str| service.get(&nadia, path).expect(200).text();
    let (was, is) = (&old["seq"], &new["seq"]);
    for path in [
        format!("/entries/{is}"),
        "/appliances/HG-RACK-A".to_string(),
        "/cylinders/SUP-88231".to_string(),
        "/book".to_string(),
    ] {
        let said = page(&path);
        assert!(said.contains("ines"), "{path}: {said}");
        let by = said.split("Corrected by nadia on ").nth(1);
        let by = by.unwrap_or_else(|| panic!("{path}: {said}"));
        assert!(
            by.chars()
                .take(60)
                .collect::<String>()
                .contains(": the scale was misread."),
            "{path}: {by}"
        );
        assert!(said.contains("“The pan was wet.”"), "{path}");
        let corrects = format!("Corrects <a href=\"/entries/{was}\">no. {was}</a>");
        assert!(said.contains(&corrects), "{path}: {said}");
    }
    let before = page(&format!("/entries/{was}"));
    let stands = format!("<a href=\"/entries/{is}\">No. {is}</a> stands in its place.");
    assert!(before.contains(&stands), "{before}");
    let record = page(&format!("/r/{is}"));
    let replaced = format!("no. {was} is replaced by no. {is}, by nadia on ");
    assert!(record.contains(&replaced), "{record}");
    assert!(!record.contains("No corrections so far"), "{record}");
}

fn recover(into: &str, class: &str) -> Value {
    json!({"kind": "recover", "answers": {"balance_below_zero": "as_stated"}, "body": {
        "from": "appliance:HG-RACK-A", "to": format!("cylinder:{into}"),
        "mass": "2 lb", "reason": "repair", "class": class}})
}

/// R-448A from Halfmoon's rack, suspect: no other owner's, so the rack's form says the condition only.
#[test]
fn a_form_says_what_is_doubtful_about_a_cylinder_and_names_it_last() {
    let service = Service::stocked();
    let manager = service.firm.manager.clone();
    let fill = json!({"kind": "cylinder", "body": {"facts": {"tag": "AA-0001", "use": "recovery",
        "capacity": "24 lb", "tare": "20 lb"}}});
    service.booked(&manager, fill);
    service.booked(&manager, recover("AA-0001", "suspect"));
    service.booked(
        &manager,
        json!({"kind": "appliance", "body": {"facts": {"tag": "AL-2",
        "site": "Alder Street", "refrigerant": "R-448A", "owner": "Dunmore Supply",
        "full_charge": {"mass": "40 lb", "method": "calculation"}}}}),
    );
    let nadia = browser(&service);
    let page = |path: &str| service.get(&nadia, path).expect(200).text();
    let own = page("/appliances/HG-RACK-A/charge");
    assert!(
        own.contains("AA-0001 (R-448A, suspect, 2 lb 0 oz)"),
        "{own}"
    );
    let at = |tag: &str| own.find(&format!("<option value=\"{tag}\"")).expect(tag);
    assert!(at("SUP-88231") < at("AA-0001"), "{own}");
    let other = page("/appliances/AL-2/charge");
    let said = "AA-0001 (R-448A, suspect, of Halfmoon Grocers, 2 lb 0 oz)";
    assert!(other.contains(said), "{other}");
}

/// More came out than was in it: the open finding stands on the cylinder's own page until it is settled.
#[test]
fn a_cylinder_lists_what_is_open_about_it() {
    let service = Service::stocked();
    let manager = service.firm.manager.clone();
    let nadia = browser(&service);
    let page = |path: &str| service.get(&nadia, path).expect(200).text();
    assert!(!page("/cylinders/TR-0417").contains("Open findings"));
    let mixes = |refrigerant: &str| {
        json!({"kind": "recover", "answers": {"mixing": "already_happened"}, "body": {
            "from": "unregistered", "number": 1, "to": "cylinder:TR-0417",
            "refrigerant": refrigerant, "mass": "2 lb"}})
    };
    service.booked(&manager, mixes("R-22"));
    let mixed = service.booked(&manager, mixes("R-134a"));
    let said = page("/cylinders/TR-0417");
    let href = format!("href=\"/findings/{}/mixing\"", mixed["seq"]);
    assert!(
        said.contains("Open findings") && said.contains(&href),
        "{said}"
    );
    assert!(
        said.contains("id=\"held-level\""),
        "drawn by its condition: {said}"
    );
    let settle = json!({"kind": "settle", "body": {"code": "mixing", "reason": "checked",
        "entries": [mixed["entry_id"]]}});
    service.booked(&manager, settle);
    assert!(!page("/cylinders/TR-0417").contains(&href));
}

/// RFC 9110, 12.5.1: what a browser accepts is a page; a program is told in JSON (RFC 9457).
#[test]
fn nothing_stands_at_an_address() {
    let service = Service::start();
    let ask = |path: &str, accept: &str| {
        let headers = [("Accept", accept)];
        service
            .send(&Who::Nobody, "GET", path, &headers, None)
            .expect(404)
    };
    let browser = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8";
    let page = ask("/cylindres", browser);
    assert_eq!(
        page.header("content-type"),
        Some("text/html; charset=utf-8")
    );
    assert!(page.header("content-security-policy").is_some());
    let text = page.text();
    assert!(text.contains("Nothing stands at this address"), "{text}");
    assert!(text.contains("href=\"/\""), "{text}");
    for (path, accept) in [("/cylindres", "*/*"), ("/api/v1/cylindres", browser)] {
        let told = ask(path, accept);
        let kind = told.header("content-type").unwrap_or_default().to_string();
        assert!(
            kind.starts_with("application/problem+json"),
            "{path}: {kind}"
        );
    }
}
