//! What the service tells of itself: a log that nobody can forge, measurements that name nobody
//! (promises S5, S8), and how it bears bodies that mean harm and passwords by the hundred (A3, A4).

use api::ledger::id::Id;
use harness::database::Database;
use harness::service::{LOG_FILE, PASSWORD, Service, Who, charge};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde_json::{Value, json};
use std::time::{Duration, Instant};

/// A service that logs everything into a file and gives its measurements.
fn watched() -> (Service, tempfile::TempDir, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("log").display().to_string();
    let settings = [
        ("TAREBOOK_LOG_LEVEL", "info"),
        ("TAREBOOK_METRICS_LISTEN", "127.0.0.1:0"),
        (LOG_FILE, file.as_str()),
    ];
    let service = Service::on(Database::new(), &settings);
    service.stock(&service.firm);
    (service, folder, file)
}

fn lines(file: &str) -> Vec<Value> {
    let text = std::fs::read_to_string(file).expect("a log");
    text.lines()
        .map(|line| {
            let line: Value =
                serde_json::from_str(line).unwrap_or_else(|_| panic!("no JSON: {line}"));
            assert!(line.is_object(), "{line}");
            line
        })
        .collect()
}

/// S8: every line is one JSON object, whatever was asked; S5: no secret stands in it.
#[test]
fn s8_nobody_writes_into_the_log_and_s5_no_secret_stands_there() {
    let (service, _folder, file) = watched();
    let forged = "x\n{\"level\":\"ERROR\",\"message\":\"forged\"}";
    let mut entry = charge("1 lb");
    entry["kind"] = json!(forged);
    service
        .entry(&service.firm.technician, entry)
        .expect_problem(422, "invalid-value");
    let path =
        "/api/v1/appliances/%0A%7B%22level%22%3A%22ERROR%22%2C%22message%22%3A%22forged%22%7D";
    service
        .get(&service.firm.manager, path)
        .expect_problem(404, "not-found");
    let body = json!({"email": forged, "password": PASSWORD});
    service
        .post(&Who::Nobody, "/api/v1/sessions", &body)
        .expect_problem(401, "not-signed-in");
    let body = json!({"email": "nadia@tamarack.example", "password": PASSWORD});
    let opened = service
        .post(&Who::Nobody, "/api/v1/sessions", &body)
        .expect(201);
    let cookie = opened.header("set-cookie").expect("a cookie");
    let secret = cookie
        .split(['=', ';'])
        .nth(1)
        .expect("a secret")
        .to_string();
    let asked = service
        .get(&service.firm.manager, "/api/v1/appliances/HG-RACK-A")
        .expect(200);
    let log = lines(&file);
    let forged = log.iter().filter(|line| line["message"] == "forged");
    assert_eq!(forged.count(), 0);
    let id = asked.header("x-request-id").expect("an id");
    let mine: Vec<_> = log.iter().filter(|line| line["request_id"] == id).collect();
    assert_eq!(mine.len(), 1, "one line a request");
    assert_eq!(mine[0]["route"], "/api/v1/appliances/{id}");
    assert_eq!(mine[0]["status"], 200);
    let text = std::fs::read_to_string(&file).expect("a log");
    let Who::Token(token) = &service.firm.manager else {
        panic!("a token")
    };
    for hidden in [PASSWORD, &secret, token, "HG-RACK-A", "nadia@", "Halfmoon"] {
        assert!(!text.contains(hidden), "{hidden} stands in the log");
    }
}

/// Measurements are labelled by the patterns of routes; an id never becomes a label.
#[test]
fn measurements_name_patterns_only() {
    let (service, _folder, file) = watched();
    for number in 0..30 {
        let path = format!("/api/v1/appliances/NOBODY-{number}");
        service.get(&service.firm.manager, &path).expect(404);
    }
    service.get(&Who::Nobody, "/nothing/here").expect(404);
    let told = lines(&file);
    let address = told.iter().find_map(|line| {
        let text = line["message"].as_str()?.strip_prefix("measurements at ")?;
        Some(text.to_string())
    });
    let address = address.expect("where the measurements are");
    let text = ureq::get(&address)
        .call()
        .expect("an answer")
        .body_mut()
        .read_to_string();
    let text = text.expect("text");
    let counted = "tarebook_requests_total{method=\"GET\",route=\"/api/v1/appliances/{id}\",status=\"404\"} 30";
    assert!(text.contains(counted), "{text}");
    assert!(
        !text.contains("NOBODY") && !text.contains("/nothing"),
        "{text}"
    );
    assert!(text.contains("tarebook_answer_seconds_bucket") && text.ends_with("# EOF\n"));
    // The interface itself gives none.
    service.get(&Who::Nobody, "/metrics").expect(404);
}

/// A value that may stand anywhere in a request.
fn anything() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<u64>().prop_map(Value::from),
        prop_oneof!["[ -~]{0,24}", "\\PC{0,12}", "[0-9]{1,40}( lb| kg| oz)?"].prop_map(Value::from),
        prop::sample::select(vec![
            "cylinder:SUP-88231",
            "appliance:HG-RACK-A",
            "atmosphere",
            "R-448A",
            "R-22",
            "7 lb 10 oz",
            "1e400",
            "-0",
            "2026-07-14",
            "0000-00-00",
            "9999-12-31",
            "24:00",
            "as_stated",
            "already_happened",
            "lifted",
            "America/Denver",
            "\u{0}",
            "\u{202e}",
            "charge",
        ])
        .prop_map(Value::from),
    ];
    leaf.prop_recursive(4, 24, 6, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
            prop::collection::hash_map(member(), inner, 0..6)
                .prop_map(|members| Value::Object(members.into_iter().collect())),
        ]
    })
}

/// Names that mean something somewhere, and others.
fn member() -> impl Strategy<Value = String> {
    let known = vec![
        "entry_id",
        "kind",
        "happened",
        "day",
        "time",
        "zone",
        "at",
        "offset",
        "did",
        "visit",
        "note",
        "answers",
        "captured_offline",
        "body",
        "from",
        "to",
        "refrigerant",
        "mass",
        "value",
        "unit",
        "text",
        "readings",
        "before",
        "after",
        "scale",
        "movements",
        "number",
        "reason",
        "facts",
        "subject",
        "tag",
        "is",
        "corrects",
        "replace",
        "entries",
        "atomic",
        "device_now",
        "code",
        "toml",
        "set",
        "name",
        "leak",
        "returned_to_full_charge",
        "full_charge",
        "resolution",
    ];
    prop_oneof![
        8 => prop::sample::select(known).prop_map(str::to_string),
        1 => "[a-z_]{0,12}",
    ]
}

/// A request that is right but for a member or two.
fn nearly_right(today: String) -> impl Strategy<Value = Value> {
    let kinds = prop::sample::select(vec![
        "charge",
        "recover",
        "purchase",
        "transfer",
        "loss",
        "opening",
        "redesignate",
        "appliance",
        "cylinder",
        "site",
        "correction",
        "link",
        "settle",
        "setting",
        "method",
        "rule_set",
        "person",
    ]);
    let places = prop::sample::select(vec!["", "/body", "/body/facts", "/happened", "/answers"]);
    let spoil = prop::collection::vec((places, member(), anything()), 0..4);
    (kinds, spoil).prop_map(move |(kind, spoil)| {
        let mut entry = charge("1 lb");
        entry["kind"] = json!(kind);
        entry["entry_id"] = json!(Id::random());
        entry["happened"] = json!({"day": today, "zone": "UTC"});
        entry["answers"] = json!({});
        for (place, name, value) in spoil {
            if let Some(Value::Object(members)) = entry.pointer_mut(place) {
                members.insert(name, value);
            }
        }
        entry
    })
}

/// A4: no body makes the service panic, hang or answer 500; what is refused books nothing.
#[test]
fn a4_no_body_harms_the_service() {
    let service = Service::stocked();
    let who = service.firm.manager.clone();
    let size = |service: &Service| {
        let note = service
            .get(&who, "/api/v1/log/checkpoint")
            .expect(200)
            .text();
        note.lines()
            .nth(1)
            .and_then(|line| line.parse::<u64>().ok())
            .expect("a size")
    };
    let first = service.get(&who, "/api/v1/entries/0").expect(200).json();
    let today = first["booked_at"].as_str().expect("a moment")[..10].to_string();
    let before = size(&service);
    let booked = std::cell::Cell::new(0);
    let mut runner = TestRunner::new(Config {
        cases: 400,
        failure_persistence: None,
        ..Config::default()
    });
    let bodies = prop_oneof![1 => anything(), 3 => nearly_right(today)];
    let ran = runner.run(&bodies, |body| {
        let begun = Instant::now();
        let reply = service.post(&who, "/api/v1/entries", &body);
        prop_assert!(reply.status < 500, "{}: {}", body, reply.text());
        prop_assert!(begun.elapsed() < Duration::from_secs(2), "{}", body);
        let items = reply.json()["results"]
            .as_array()
            .cloned()
            .unwrap_or_default();
        for item in &items {
            prop_assert!(
                item["status"].as_u64().is_some_and(|it| it < 500),
                "{}: {}",
                body,
                item
            );
        }
        let new = items.iter().filter(|item| item["status"] == 201).count() as u64;
        booked.set(
            booked.get()
                + if reply.status == 201 && items.is_empty() {
                    1
                } else {
                    new
                },
        );
        Ok(())
    });
    ran.unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(size(&service), before + booked.get());
    assert!(booked.get() > 0, "some of the bodies are right");
}

/// A3: a storm of sign-ins is refused beyond what may wait; memory stays bounded and others are
/// answered meanwhile.
#[test]
fn a3_a_storm_of_passwords_holds_up_nobody() {
    let service = Service::stocked();
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let storm: Vec<_> = (0..150)
            .map(|number| {
                let service = &service;
                scope.spawn(move || {
                    let email = format!("guess{number}@tamarack.example");
                    let body = json!({"email": email, "password": "no such password here"});
                    service.post(&Who::Nobody, "/api/v1/sessions", &body).status
                })
            })
            .collect();
        for _ in 0..10 {
            let begun = Instant::now();
            service
                .get(&service.firm.manager, "/api/v1/appliances/HG-RACK-A")
                .expect(200);
            assert!(
                begun.elapsed() < Duration::from_secs(1),
                "{:?}",
                begun.elapsed()
            );
        }
        storm
            .into_iter()
            .map(|guess| guess.join().expect("an answer"))
            .collect()
    });
    assert!(
        statuses
            .iter()
            .all(|status| [401, 429, 503].contains(status)),
        "{statuses:?}"
    );
    assert!(
        statuses.iter().any(|status| *status != 401),
        "none of 150 at once was put off"
    );
    // 19 MiB for each of at most as many hashes as there are cores, and the program itself.
    let cores = std::thread::available_parallelism().map_or(1, usize::from) as u64;
    let most = 1024 * (150 + 24 * cores);
    assert!(
        service.peak_memory() < most,
        "{} KiB, at most {most}",
        service.peak_memory()
    );
}
