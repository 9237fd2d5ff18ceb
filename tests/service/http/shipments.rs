//! Shipments and statements over the interface. By hand: three shipments of 10, 9 and 8 lb; 9.95 lb stated of
//! 10 lb are 0.05 lb = 22.6796185 g less, half a hundredth, within the hundredth that two scales may be apart
//! (common practice, no source).

use api::ledger::id::Id;
use harness::browsing::{hidden, send, sign_in};
use harness::service::{PASSWORD, Service, Who};
use serde_json::{Value, json};

const PATH: &str = "/api/v1/shipments";

/// A firm that has sent 10, 9 and 8 lb, oldest first; numbers of the entries.
fn shipped(service: &Service, manager: &Who) -> Vec<u64> {
    let facts = json!({"tag": "Lakehead Reclaim"});
    service.booked(
        manager,
        json!({"kind": "counterparty", "body": {"facts": facts}}),
    );
    let facts = json!({"tag": "BIG", "use": "recovery", "water_capacity": "120 lb"});
    service.booked(
        manager,
        json!({"kind": "cylinder", "body": {"facts": facts}}),
    );
    service.booked(
        manager,
        json!({"kind": "recover", "body": {"from": "unregistered", "number": 9,
            "to": "cylinder:BIG", "refrigerant": "R-410A", "mass": "27 lb"}}),
    );
    let send = |mass: &str| {
        let body = json!({"from": "cylinder:BIG", "to": "counterparty:Lakehead Reclaim",
                          "refrigerant": "R-410A", "mass": mass, "document": "L-1"});
        let sent = json!({"kind": "send_to_reclaim", "body": body,
                          "answers": {"heel_left": "as_stated"}});
        service.booked(manager, sent)["seq"]
            .as_u64()
            .expect("a number")
    };
    ["10 lb", "9 lb", "8 lb"].map(send).to_vec()
}

fn items(service: &Service, who: &Who, query: &str) -> Vec<Value> {
    let page = service
        .get(who, &format!("{PATH}?{query}"))
        .expect(200)
        .json();
    page["items"].as_array().expect("items").clone()
}

/// The newest first, a page at a time.
fn pages(service: &Service, auditor: &Who, sent: &[u64]) {
    let first = service.get(auditor, &format!("{PATH}?limit=2")).expect(200);
    let page = first.json();
    let numbers = |page: &Value| -> Vec<Value> {
        let items = page["items"].as_array().expect("items").iter();
        items
            .map(|item| item["shipments"][0]["entry"].clone())
            .collect()
    };
    assert_eq!(numbers(&page), [json!(sent[2]), json!(sent[1])]);
    let next = page["next"].as_str().expect("more").to_string();
    assert!(
        first
            .header("link")
            .is_some_and(|link| link.contains("after="))
    );
    let last = service.get(auditor, &next).expect(200).json();
    assert_eq!(numbers(&last), [json!(sent[0])]);
    assert_eq!(last["next"], Value::Null);
}

#[test]
fn shipments_are_listed_stated_filtered_and_read_by_number() {
    let service = Service::stocked();
    let (manager, auditor) = (service.firm.manager.clone(), service.firm.auditor.clone());
    let sent = shipped(&service, &manager);
    let id = Id::random();
    let statement = json!({"entry_id": id, "kind": "statement", "body": {
        "counterparty": "Lakehead Reclaim", "entries": [sent[0].to_string()], "document": "S-9",
        "outcome": "accepted", "stated": [{"refrigerant": "R-410A", "mass": "9.95 lb"}]}});
    let booked = service
        .entry(&manager, statement.clone())
        .expect(201)
        .json();
    assert_eq!(booked["findings"], json!([]));
    let again = service.entry(&manager, statement).expect(200);
    assert_eq!(again.header("idempotency-replayed"), Some("true"));

    pages(&service, &auditor, &sent);

    let fits = items(
        &service,
        &auditor,
        "state=fits&counterparty=Lakehead%20Reclaim",
    );
    assert_eq!(fits.len(), 1);
    let line = &fits[0]["lines"][0];
    assert_eq!(line["difference_g"], "-22.6796185");
    assert_eq!(
        (&line["percent"], &line["within_tolerance"]),
        (&json!("-0.5000"), &json!(true))
    );
    assert_eq!(fits[0]["statement"]["document"], "S-9");
    assert_eq!(items(&service, &auditor, "state=waiting").len(), 2);
    assert!(items(&service, &auditor, "state=disputed").is_empty());

    // By the shipment's number, and by the statement's id: the same case.
    let by_number = service
        .get(&auditor, &format!("{PATH}/{}", sent[0]))
        .expect(200)
        .json();
    let by_id = service
        .get(&auditor, &format!("{PATH}/{id}"))
        .expect(200)
        .json();
    assert_eq!(by_number["items"], json!(fits));
    assert_eq!(by_id["items"], json!(fits));

    service
        .get(&auditor, &format!("{PATH}/0"))
        .expect_problem(404, "not-found");
    service
        .get(&auditor, &format!("{PATH}?counterparty=Nobody"))
        .expect_problem(404, "not-found");
    service
        .get(&auditor, &format!("{PATH}?state=lost"))
        .expect_problem(422, "invalid-value");
    let technician = service.firm.technician.clone();
    service
        .get(&technician, PATH)
        .expect_problem(403, "forbidden");
}

/// Its shipment went to somebody else: the statement stands with its receiver, says what became of it, and is
/// taken back there; the other receiver's shipment names it as long as it stands.
#[test]
fn a_statement_without_a_shipment_has_a_page_with_the_way_out() {
    let service = Service::stocked();
    let manager = service.firm.manager.clone();
    let sent = shipped(&service, &manager);
    let stated = service.booked(
        &manager,
        json!({"kind": "statement", "body": {"counterparty": "Lakehead Reclaim",
            "entries": [sent[0].to_string()], "outcome": "accepted",
            "stated": [{"refrigerant": "R-410A", "mass": "9.95 lb"}]}}),
    );
    let fits = items(&service, &manager, "state=fits");
    let first = &fits[0]["shipments"][0]["entry_id"];
    let moved = service.booked(
        &manager,
        json!({"kind": "correction", "answers": {"heel_left": "as_stated"},
            "body": {"corrects": first, "reason": "other", "replace": {"body": {
                "from": "cylinder:BIG", "to": "counterparty:Dunmore Supply",
                "refrigerant": "R-410A", "mass": "10 lb"}}}}),
    );
    let gone = items(&service, &manager, "state=shipment_gone");
    assert_eq!(gone.len(), 1);
    assert_eq!(gone[0]["counterparty"]["tag"], "Lakehead Reclaim");
    assert_eq!(
        (&gone[0]["shipments"], &gone[0]["gone"][0]["by"]),
        (&json!([]), &moved["seq"])
    );

    let nadia = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    let read = |path: &str| service.get(&nadia, path).expect(200).text();
    let list = read("/shipments?counterparty=Lakehead%20Reclaim");
    let path = format!("/shipments/{}", stated["seq"]);
    assert!(list.contains(&format!("href=\"{path}\"")), "{list}");
    assert!(list.contains("went to Dunmore Supply by no."), "{list}");
    let other = read(&format!("/shipments/{}", moved["seq"]));
    assert!(
        other.contains("still speaks of it") && other.contains(&path),
        "{other}"
    );

    let page = read(&path);
    assert!(
        page.contains("Open: its shipment went elsewhere or was taken back"),
        "{page}"
    );
    assert!(
        page.contains("went to Dunmore Supply") && page.contains("What to do"),
        "{page}"
    );
    assert!(
        !page.contains("Book the statement"),
        "nothing to state of nothing sent"
    );
    let id = hidden(&page, "entry_id");
    let boxes = [
        ("entry_id", id.as_str()),
        ("step", "take_back"),
        ("why", "other"),
    ];
    let went = send(&service, &nadia, &page, &path, &boxes).expect(303);
    assert!(
        went.header("location")
            .is_some_and(|to| to.starts_with("/entries/"))
    );
    assert!(items(&service, &manager, "state=shipment_gone").is_empty());
    assert!(!read(&format!("/shipments/{}", moved["seq"])).contains("still speaks of it"));
}
