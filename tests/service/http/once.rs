//! Once and only once: promises O1 to O4.

use harness::service::{Service, Who, charge};
use serde_json::{Value, json};

fn with_id(mut entry: Value, id: &str) -> Value {
    entry["entry_id"] = json!(id);
    entry
}

const ID: &str = "01981f00-0000-7000-8000-000000000001";

/// O1: the same id with the same content is answered with the first booking, across a restart.
#[test]
fn o1_a_repeat_books_nothing_and_answers_the_first_booking() {
    let mut service = Service::stocked();
    let who = service.firm.technician.clone();
    let entry = with_id(charge("7 lb 4 oz"), ID);
    let first = service.entry(&who, entry.clone()).expect(201);
    assert_eq!(first.header("idempotency-replayed"), None);
    let before = size(&service, &service.firm.manager);
    for restart in [None, Some("-TERM"), Some("-KILL")] {
        if let Some(signal) = restart {
            service.restart(signal);
        }
        let again = service.entry(&who, entry.clone()).expect(200);
        assert_eq!(again.header("idempotency-replayed"), Some("true"));
        for member in [
            "entry_id",
            "seq",
            "booked_at",
            "leaf_hash",
            "nth",
            "proof",
            "findings",
            "standing",
        ] {
            assert_eq!(again.json()[member], first.json()[member], "{member}");
        }
    }
    assert_eq!(size(&service, &service.firm.manager), before);
}

/// How many entries the book has, as an auditor's checkpoint says it.
fn size(service: &Service, who: &Who) -> u64 {
    let note = service
        .get(who, "/api/v1/log/checkpoint")
        .expect(200)
        .text();
    note.lines()
        .nth(1)
        .and_then(|line| line.parse().ok())
        .expect("a size")
}

/// E4, O2: the same id with other content is refused, and nothing is booked.
#[test]
fn o2_an_id_belongs_to_one_content() {
    let service = Service::stocked();
    let (who, manager) = (
        service.firm.technician.clone(),
        service.firm.manager.clone(),
    );
    let booked = service
        .entry(&who, with_id(charge("7 lb 4 oz"), ID))
        .expect(201)
        .json();
    let before = size(&service, &manager);
    let reused = service.entry(&who, with_id(charge("7 lb 5 oz"), ID));
    let reused = reused.expect_problem(422, "id-reused").json();
    assert_eq!(reused["entry"], booked["seq"]);
    assert_eq!(reused["errors"][0]["pointer"], "/entry_id");
    let mut noted = with_id(charge("7 lb 4 oz"), ID);
    noted["note"] = json!("said otherwise");
    let noted = service.entry(&who, noted).expect_problem(422, "id-reused");
    assert!(noted.text().contains("(note)"), "{}", noted.text());
    // Answers and how it was captured are no content (model of the ledger, section 8).
    let mut same = with_id(charge("116 oz"), ID);
    same["captured_offline"] = json!(true);
    service.entry(&who, same).expect(200);
    service
        .post(&who, "/api/v1/entries", &charge("1 lb"))
        .expect_problem(400, "missing-id");
    let key = [("Idempotency-Key", "01981f00-0000-7000-8000-000000000009")];
    let body = with_id(charge("1 lb"), ID).to_string();
    let other = service.send(&who, "POST", "/api/v1/entries", &key, Some(body.as_bytes()));
    other.expect_problem(422, "invalid-value");
    assert_eq!(size(&service, &manager), before);
}

/// O1, O2, M3: many senders of one id at once get one booking between them; those that come while it
/// is being booked are told so, or get its answer.
#[test]
fn o2_many_senders_of_one_id_book_it_once() {
    let service = Service::stocked();
    let who = service.firm.technician.clone();
    let before = size(&service, &service.firm.manager);
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let senders: Vec<_> = (0..12)
            .map(|_| scope.spawn(|| service.entry(&who, with_id(charge("1 lb"), ID)).status))
            .collect();
        senders
            .into_iter()
            .map(|sender| sender.join().expect("an answer"))
            .collect()
    });
    assert_eq!(
        statuses.iter().filter(|status| **status == 201).count(),
        1,
        "{statuses:?}"
    );
    assert!(
        statuses
            .iter()
            .all(|status| [200, 201, 409].contains(status)),
        "{statuses:?}"
    );
    assert_eq!(size(&service, &service.firm.manager), before + 1);
}

/// O3: another organisation's use of an id has no effect and cannot be seen.
#[test]
fn o3_ids_are_unique_in_one_book_only() {
    let service = Service::stocked();
    let other = service.found("Gale Creek Cooling");
    service.stock(&other);
    let who = service.firm.technician.clone();
    service
        .entry(&who, with_id(charge("7 lb 4 oz"), ID))
        .expect(201);
    let theirs = service.entry(&other.technician, with_id(charge("2 lb"), ID));
    assert_eq!(theirs.expect(201).header("idempotency-replayed"), None);
}

/// H1, H5: what is booked has no method that changes it.
#[test]
fn h1_nothing_changes_an_entry() {
    let service = Service::stocked();
    let who = service.firm.manager.clone();
    let id = service.booked(&who, charge("1 lb"))["entry_id"]
        .as_str()
        .expect("an id")
        .to_string();
    let before = service
        .get(&who, &format!("/api/v1/entries/{id}"))
        .expect(200)
        .json();
    for method in ["PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"] {
        let path = format!("/api/v1/entries/{id}");
        let reply = service.send(&who, method, &path, &[], None);
        let reply = reply.expect_problem(405, "not-allowed");
        assert_eq!(reply.header("allow"), Some("GET"));
    }
    assert_eq!(
        service
            .get(&who, &format!("/api/v1/entries/{id}"))
            .expect(200)
            .json(),
        before
    );
}
