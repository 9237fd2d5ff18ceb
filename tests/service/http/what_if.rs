//! What a posting would come to, before it is booked: the same door, and nothing is kept.
//!
//! Figures by hand: HG-RACK-A has a full charge of 210 lb; 10 lb put in with no addition in the
//! year before is 10 / 210 = 4.7619 % a year (40 CFR 84.106(b), annualising method, first addition:
//! the days since the last one count as 365).

use harness::service::{Service, Who, charge};
use serde_json::{Value, json};

const WHAT_IF: &str = "/api/v1/entries/what-if";

fn heads(service: &Service, who: &Who) -> (String, Value) {
    let note = service.get(who, "/api/v1/log/checkpoint").expect(200);
    let rack = service.get(who, "/api/v1/appliances/HG-RACK-A").expect(200);
    (note.text(), rack.json())
}

/// Trying books nothing: neither the log nor the appliance changes, and the posting that follows
/// comes to exactly what was said.
#[test]
fn what_a_charge_would_come_to_is_what_it_comes_to() {
    let service = Service::stocked();
    let (who, manager) = (&service.firm.technician, &service.firm.manager);
    let untouched = heads(&service, manager);
    let tried = service.post(who, WHAT_IF, &charge("10 lb")).expect(200);
    let tried = tried.json();
    assert_eq!(tried["booked"], false);
    let percent = |standing: &Value| {
        let additions = standing["additions"].as_array().expect("additions");
        let newest = additions.last().expect("an addition");
        newest["rates"]["annualising"]["percent"].clone()
    };
    assert_eq!(percent(&tried["standing"]), "4.7619", "{tried}");
    assert_eq!(tried["before"]["tag"], "HG-RACK-A");
    assert_eq!(
        tried["before"]["additions"],
        json!([]),
        "nothing went in yet"
    );
    // Tried twice is still nothing.
    service.post(who, WHAT_IF, &charge("10 lb")).expect(200);
    assert_eq!(heads(&service, manager), untouched);
    let booked = service.entry(who, charge("10 lb")).expect(201).json();
    let without_time = |mut standing: Value| {
        standing
            .as_object_mut()
            .expect("a standing")
            .remove("as_of");
        standing
    };
    assert_eq!(
        without_time(booked["standing"].clone()),
        without_time(tried["standing"].clone())
    );
    // Now it stands in the book: trying the same id again says so.
    let mut again = charge("10 lb");
    again["entry_id"] = booked["entry_id"].clone();
    let again = service.post(who, WHAT_IF, &again).expect(200).json();
    assert_eq!(again["booked"], true);
}

/// Questions, stops and refusals come in the words of the door, and leave nothing behind.
#[test]
fn a_trial_is_asked_and_refused_as_a_posting_is() {
    let service = Service::stocked();
    let (who, manager) = (&service.firm.technician, &service.firm.manager);
    let untouched = heads(&service, manager);
    let mut asked = Vec::new();
    for mass in ["300 lb", "7", "-3 lb", "0 lb"] {
        let tried = service.post(who, WHAT_IF, &charge(mass));
        let mut posted = charge(mass);
        posted["entry_id"] = json!("01981f00-0000-7000-8000-00000000000a");
        let posted = service.post(who, "/api/v1/entries", &posted);
        let told = |reply: &Value| {
            let mut told = reply.clone();
            for changing in ["instance", "request_id"] {
                told.as_object_mut().expect("a problem").remove(changing);
            }
            told
        };
        assert_eq!(told(&tried.json()), told(&posted.json()), "{mass}");
        asked.push(tried.json()["type"].clone());
    }
    assert_eq!(
        asked[0], "/problems/needs-answer",
        "more than the full charge"
    );
    let list = json!({"entries": [charge("1 lb")]});
    service.post(who, WHAT_IF, &list).expect(422);
    let auditor = &service.firm.auditor;
    service
        .post(auditor, WHAT_IF, &charge("1 lb"))
        .expect_problem(403, "forbidden");
    assert_eq!(heads(&service, manager), untouched);
}
