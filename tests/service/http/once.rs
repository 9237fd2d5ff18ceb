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
