//! Lists: each item by itself, or all together; what waits behind a refused item (promise O4).

use api::ledger::id::Id;
use harness::service::{Reply, Service, charge};
use serde_json::{Value, json};

const PATH: &str = "/api/v1/entries";

fn id(number: u8) -> String {
    format!("01981f00-0000-7000-8000-0000000000{number:02}")
}

fn item(number: u8, mut entry: Value) -> Value {
    entry["entry_id"] = json!(id(number));
    entry
}

/// A recovery from the rack.
fn recover(mass: &str) -> Value {
    json!({"kind": "recover", "body": {
        "from": "appliance:HG-RACK-A", "to": "cylinder:TR-0417", "refrigerant": "R-448A",
        "mass": mass, "reason": "repair", "class": "clean"}})
}

/// What happens at the supplier's, away from rack and recovery cylinder.
fn purchase() -> Value {
    json!({"kind": "purchase", "body": {
        "from": "counterparty:Dunmore Supply", "to": "cylinder:SUP-90000",
        "refrigerant": "R-448A", "mass": "24 lb", "state": "new", "invoice": "D-1180"}})
}

fn with_second_cylinder() -> Service {
    let service = Service::stocked();
    let facts = json!({"tag": "SUP-90000", "use": "disposable", "refrigerant": "R-448A",
                       "capacity": "24 lb"});
    service.booked(
        &service.firm.manager,
        json!({"kind": "cylinder", "body": {"facts": facts}}),
    );
    service
}

fn statuses(reply: &Reply) -> Vec<u64> {
    let results = reply.json()["results"].clone();
    let status = |result: &Value| result["status"].as_u64().expect("a status");
    results
        .as_array()
        .expect("a list")
        .iter()
        .map(status)
        .collect()
}

fn size(service: &Service) -> u64 {
    let note = service
        .get(&service.firm.manager, "/api/v1/log/checkpoint")
        .expect(200)
        .text();
    note.lines()
        .nth(1)
        .and_then(|line| line.parse().ok())
        .expect("a size")
}

/// An outbox of four: the second is wrong, the third is about the same rack, the fourth is not.
#[test]
fn o4_items_behind_a_refused_one_are_held() {
    let service = with_second_cylinder();
    let who = service.firm.technician.clone();
    let rack = service
        .get(&who, "/api/v1/appliances/HG-RACK-A")
        .expect(200)
        .json();
    let mut by_id = recover("1 lb");
    by_id["body"]["from"] = json!(format!("appliance:{}", rack["id"].as_str().expect("an id")));
    let list = json!({"entries": [item(1, charge("2 lb")), item(2, charge("-3 lb")),
                                  item(3, by_id), item(4, purchase())]});
    let before = size(&service);
    let first = service.post(&who, PATH, &list).expect(207);
    assert_eq!(statuses(&first), [201, 422, 424, 201]);
    let results = first.json()["results"].clone();
    assert_eq!(results[1]["problem"]["type"], "/problems/invalid-value");
    assert_eq!(results[1]["problem"]["errors"][0]["pointer"], "/body/mass");
    assert_eq!(results[2]["problem"]["type"], "/problems/held");
    assert_eq!(results[2]["entry_id"], id(3));
    assert_eq!(size(&service), before + 2);
    // The same outbox again: what is booked is answered, what was refused is refused.
    assert_eq!(
        statuses(&service.post(&who, PATH, &list).expect(207)),
        [200, 422, 424, 200]
    );
    let mut right = list;
    right["entries"][1]["body"]["mass"] = json!("3 lb");
    assert_eq!(
        statuses(&service.post(&who, PATH, &right).expect(207)),
        [200, 201, 201, 200]
    );
    assert_eq!(size(&service), before + 4);
}

/// What is held holds the next: the chain of one cylinder is never torn.
#[test]
fn o4_being_held_goes_on_from_thing_to_thing() {
    let service = Service::stocked();
    let who = service.firm.manager.clone();
    service.booked(&who, charge("5 lb"));
    let transfer = json!({"kind": "transfer", "body": {
        "from": "cylinder:TR-0417", "to": "cylinder:TR-0500", "refrigerant": "R-448A",
        "mass": "1 lb"}});
    let new = json!({"kind": "cylinder", "body": {"facts": {"tag": "TR-0500", "use": "recovery",
        "tare": "soon", "water_capacity": "47.7 lb", "retest_on": "2099-05-31"}}});
    let list = json!({"entries": [
        // Its tare is no mass, so the new cylinder is not registered,
        item(1, new),
        // what goes into it waits, the recovery before it does not,
        item(2, recover("2 lb")), item(3, transfer),
        // and what corrects a waiting entry waits as well.
        item(4, json!({"kind": "correction", "body": {"corrects": id(3), "reason": "duplicate"}})),
        item(5, charge("1 lb"))]});
    let reply = service.post(&who, PATH, &list).expect(207);
    assert_eq!(statuses(&reply), [422, 201, 424, 424, 201]);
}

/// An id that a list names twice is the first's repeat.
#[test]
fn o4_an_id_twice_in_a_list_is_a_repeat() {
    let service = Service::stocked();
    let who = service.firm.technician.clone();
    let list = json!({"entries": [item(1, charge("2 lb")), item(1, charge("2 lb")),
                                  item(1, charge("3 lb"))]});
    assert_eq!(
        statuses(&service.post(&who, PATH, &list).expect(207)),
        [201, 200, 422]
    );
}

/// All or nothing, and the place of what is wrong.
#[test]
fn o4_an_atomic_list_is_booked_whole_or_not_at_all() {
    let service = Service::stocked();
    let who = service.firm.technician.clone();
    let before = size(&service);
    let mut list = json!({"atomic": true, "entries": [
        item(1, charge("2 lb")), item(2, recover("1 lb")), item(3, charge("four"))]});
    for _ in 0..2 {
        let refused = service
            .post(&who, PATH, &list)
            .expect_problem(422, "invalid-value")
            .json();
        assert_eq!(refused["errors"][0]["pointer"], "/entries/2/body/mass");
        assert_eq!(size(&service), before);
    }
    // A neighbour in the same moment is not touched.
    service.entry(&who, item(9, charge("1 lb"))).expect(201);
    list["entries"][2]["body"]["mass"] = json!("4 lb");
    let booked = service.post(&who, PATH, &list).expect(201);
    assert_eq!(statuses(&booked), [201, 201, 201]);
    let again = service.post(&who, PATH, &list).expect(200);
    assert_eq!(again.header("idempotency-replayed"), Some("true"));
    assert_eq!(statuses(&again), [200, 200, 200]);
    assert_eq!(size(&service), before + 4);
}

/// A3: a list has 1 to 500 entries; the 500th is booked like the first.
#[test]
fn a3_lists_are_bounded() {
    let service = Service::stocked();
    let who = service.firm.technician.clone();
    let entry = |_| {
        let mut entry = charge("0.01 lb");
        // The same amount again and again is meant here.
        entry["answers"] = json!({"look_alike": "as_stated"});
        entry["entry_id"] = json!(Id::random());
        entry
    };
    let list = |count: usize| json!({"entries": (0..count).map(entry).collect::<Vec<_>>()});
    let before = size(&service);
    service
        .post(&who, PATH, &list(501))
        .expect_problem(413, "too-large");
    service
        .post(&who, PATH, &list(0))
        .expect_problem(400, "malformed");
    let odd = json!({"entries": [entry(0)], "colour": "red"});
    service
        .post(&who, PATH, &odd)
        .expect_problem(422, "unknown-field");
    let odd = json!({"entries": {"a": 1}});
    service
        .post(&who, PATH, &odd)
        .expect_problem(400, "malformed");
    assert_eq!(size(&service), before);
    let whole = service.post(&who, PATH, &list(500)).expect(207);
    assert_eq!(statuses(&whole), vec![201; 500]);
    assert_eq!(size(&service), before + 500);
}

/// A device whose clock is wrong is asked about its days; who cannot be asked leaves a finding.
#[test]
fn a_wrong_clock_of_a_device_is_asked_about() {
    let service = Service::stocked();
    let who = service.firm.technician.clone();
    let mut entry = item(1, charge("2 lb"));
    let list = |entry: &Value, clock: &str| json!({"device_now": clock, "entries": [entry]});
    let wrong = service
        .post(&who, PATH, &list(&entry, "2001-01-01T00:00:00Z"))
        .expect(207);
    let problem = wrong.json()["results"][0]["problem"].clone();
    assert_eq!(problem["questions"][0]["code"], "clock_skew", "{problem}");
    entry["answers"] = json!({"clock_skew": "as_stated"});
    let answered = service
        .post(&who, PATH, &list(&entry, "2001-01-01T00:00:00Z"))
        .expect(207);
    assert_eq!(statuses(&answered), [201]);
    let mut offline = item(2, charge("3 lb"));
    offline["captured_offline"] = json!(true);
    let booked = service
        .post(&who, PATH, &list(&offline, "2001-01-01T00:00:00Z"))
        .expect(207);
    let findings = booked.json()["results"][0]["entry"]["findings"].clone();
    assert_eq!(findings[0]["code"], "clock_skew", "{findings}");
    let odd = list(&item(3, charge("1 lb")), "noon");
    service
        .post(&who, PATH, &odd)
        .expect_problem(422, "invalid-value");
}

/// Steps, counts and observations name their thing without its sort, and wait for it all the same.
#[test]
fn o4_steps_and_counts_wait_for_their_thing() {
    let service = Service::stocked();
    let who = service.firm.manager.clone();
    let step = json!({"kind": "leak_found", "body": {"appliance": "HG-RACK-A"}});
    let count = json!({"kind": "count", "body": {"cylinder": "TR-0417", "gross": "28 lb",
                                                 "reason": "counted"}});
    let list = json!({"entries": [item(1, recover("-3 lb")), item(2, step), item(3, count)]});
    let reply = service.post(&who, PATH, &list).expect(207);
    assert_eq!(statuses(&reply), [422, 424, 424], "{}", reply.text());
}
