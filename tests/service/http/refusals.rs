//! Bad input over HTTP: each with its status and type, the book unchanged, the process alive.
//!
//! Statuses and types are those of the specification (promises, section 4). What the door itself
//! refuses, sentence by sentence, stands in `references/refusals.json`; here that table is sent over
//! the wire.

use harness::service::{Reply, Service, Who, charge};
use serde_json::{Value, json};

const PATH: &str = "/api/v1/entries";

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

/// Status of each type, from the specification.
fn status_of(slug: &str) -> u16 {
    match slug {
        "malformed" | "missing-id" => 400,
        "not-signed-in" => 401,
        "forbidden" => 403,
        "not-found" => 404,
        "not-allowed" => 405,
        "in-progress" | "already-corrected" => 409,
        "stale-version" => 412,
        "too-large" => 413,
        "unsupported-encoding" => 415,
        "invalid-value" | "unknown-field" | "id-reused" | "needs-answer" | "hard-stop" => 422,
        "held" => 424,
        "version-required" => 428,
        "too-many" => 429,
        other => panic!("no such type: {other}"),
    }
}

/// E26: every refusal of the door's table is a problem document with the right pointer.
#[test]
fn refusals_of_the_door_have_their_status_and_place() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/references/refusals.json");
    let table: Value = serde_json::from_slice(&std::fs::read(file).unwrap()).unwrap();
    let service = Service::stocked();
    let who = service.firm.manager.clone();
    let before = size(&service);
    let mut seen = 0;
    for group in ["shape", "masses", "things and places"] {
        for case in table[group].as_array().expect("a group") {
            let Some((pointer, value)) = case["set"].as_object().and_then(|set| set.iter().next())
            else {
                continue;
            };
            let mut entry = charge("7 lb 4 oz");
            entry["happened"] = json!({"day": "2026-07-14", "time": "11:52"});
            set(&mut entry, pointer, value);
            let reply = service.entry(&who, entry.clone());
            let slug = case["slug"].as_str().expect("a slug");
            let problem = reply.expect_problem(status_of(slug), slug).json();
            let at = case["at"].as_str().expect("a pointer");
            assert_eq!(problem["errors"][0]["pointer"], at, "{entry}: {problem}");
            assert!(
                problem["detail"]
                    .as_str()
                    .is_some_and(|it| !it.starts_with('/')),
                "{problem}"
            );
            seen += 1;
        }
    }
    assert!(seen > 40, "only {seen} cases");
    assert_eq!(size(&service), before);
    service.booked(&who, charge("7 lb 4 oz"));
}

fn set(entry: &mut Value, pointer: &str, value: &Value) {
    let (above, name) = pointer.rsplit_once('/').expect("a pointer");
    let at = entry
        .pointer_mut(above)
        .expect("a place")
        .as_object_mut()
        .expect("an object");
    match value {
        Value::Null => drop(at.remove(name)),
        value => drop(at.insert(name.to_string(), value.clone())),
    }
}

fn send(service: &Service, headers: &[(&str, &str)], body: &[u8]) -> Reply {
    service.send(&service.firm.technician, "POST", PATH, headers, Some(body))
}

/// A1, A3, A4: bodies that are none, too large, too deep, of another type, compressed.
#[test]
fn a3_bodies_have_limits() {
    let service = Service::stocked();
    let before = size(&service);
    let entry = charge("1 lb").to_string();
    for bad in [
        "",
        "{",
        "[1,",
        "nonsense",
        "{\"kind\": \"charge\"} x",
        "\u{0}",
        "\"\\ud800\"",
        "{\"kind\":\"charge\",\"kind\":\"recover\"}",
        "[]",
        "7",
        "null",
        "\"charge\"",
    ] {
        send(&service, &[], bad.as_bytes()).expect_problem(400, "malformed");
    }
    send(&service, &[], &[0xff, 0xfe, b'{', b'}']).expect_problem(400, "malformed");
    // 256 KiB is the limit; white space is part of a body.
    let padded = |length: usize| format!("{entry}{}", " ".repeat(length - entry.len()));
    send(&service, &[], padded(256 * 1024).as_bytes()).expect_problem(400, "missing-id");
    send(&service, &[], padded(256 * 1024 + 1).as_bytes()).expect_problem(413, "too-large");
    send(&service, &[], padded(257 * 1024).as_bytes()).expect_problem(413, "too-large");
    let nested = |levels: usize| {
        let (open, close) = ("{\"a\":".repeat(levels - 1), "}".repeat(levels - 1));
        format!("{{\"entry_id\":\"x\",\"kind\":\"charge\",\"body\":{open}{{}}{close}}}")
    };
    send(&service, &[], nested(31).as_bytes()).expect_problem(422, "invalid-value");
    send(&service, &[], nested(32).as_bytes()).expect_problem(400, "malformed");
    send(&service, &[], nested(20_000).as_bytes()).expect_problem(400, "malformed");
    for kind in [
        "text/plain",
        "application/x-www-form-urlencoded",
        "multipart/form-data",
        "application/xml",
        "application/json; charset=utf-16",
        "",
    ] {
        let headers = [("Content-Type", kind)];
        send(&service, &headers, entry.as_bytes()).expect_problem(415, "unsupported-encoding");
    }
    for encoding in [
        "gzip",
        "br",
        "deflate",
        "zstd",
        "compress",
        "identity, gzip",
    ] {
        let headers = [("Content-Encoding", encoding)];
        send(&service, &headers, entry.as_bytes()).expect_problem(415, "unsupported-encoding");
    }
    let headers = [("Content-Type", "Application/JSON; charset=\"UTF-8\"")];
    send(&service, &headers, entry.as_bytes()).expect_problem(400, "missing-id");
    assert_eq!(size(&service), before);
    service.booked(&service.firm.technician, charge("1 lb"));
}

/// S4: a list is no object, though a reader may take its items for members in some order.
#[test]
fn s4_a_list_is_taken_for_no_object() {
    let service = Service::stocked();
    let before = size(&service);
    // A list is no object, however its items may be read.
    let (id, day) = ("01981f00-0000-7000-8000-000000000001", "2026-07-14");
    let mut entry = charge("1 lb");
    entry["entry_id"] = json!(id);
    for bad in [
        json!([
            id,
            "charge",
            null,
            null,
            null,
            null,
            null,
            {},
            false,
            entry["body"]
        ]),
        with(&entry, "happened", json!([day])),
        with(
            &entry,
            "body",
            json!(["cylinder:SUP-88231", "appliance:HG-RACK-A"]),
        ),
    ] {
        let reply = send(&service, &[], bad.to_string().as_bytes());
        let detail = reply.expect_problem(400, "malformed").json()["detail"].to_string();
        assert!(detail.contains("xpected an object"), "{detail}");
    }
    assert_eq!(size(&service), before);
}

fn with(entry: &Value, name: &str, value: Value) -> Value {
    let mut entry = entry.clone();
    entry[name] = value;
    entry
}

/// A1: an error tells nothing of the inside.
#[test]
fn a1_problems_name_no_path_no_statement_and_no_version() {
    let service = Service::stocked();
    let who = &service.firm.manager;
    let replies = [
        service.get(who, "/api/v1/appliances/NOBODY"),
        service.get(who, "/api/v1/appliances/%27%20OR%201=1"),
        service.get(who, "/api/v1/appliances/%00"),
        service.get(who, "/api/v1/entries?after=x"),
        service.get(who, "/api/v1/log/tile/0/../../etc/passwd"),
        service.get(who, "/api/v1/nothing"),
        service.get(&Who::Nobody, "/api/v1/entries"),
        service.entry(who, charge("7 stone")),
    ];
    for reply in replies {
        assert!((400..500).contains(&reply.status), "{}", reply.text());
        let text = reply.text().to_lowercase();
        for inside in [
            "select ", "sqlite", "postgres", "diesel", "actix", "/tmp", ".rs", "panick",
        ] {
            assert!(!text.contains(inside), "{inside} in {text}");
        }
        let problem = reply.json();
        assert_eq!(problem["request_id"].as_str(), reply.header("x-request-id"));
        let help = service.get(&Who::Nobody, problem["type"].as_str().expect("a type"));
        assert!(help.expect(200).text().contains("<main>"));
        for header in ["server", "x-powered-by"] {
            assert_eq!(reply.header(header), None);
        }
    }
}

/// Addresses that are refused, with status and type.
const ODD: &[(&str, u16, &str)] = &[
    ("/api/v1/entries?colour=red", 422, "unknown-field"),
    ("/api/v1/entries?limit=0", 422, "invalid-value"),
    ("/api/v1/entries?limit=501", 422, "invalid-value"),
    ("/api/v1/entries?after=-1", 422, "invalid-value"),
    (
        "/api/v1/entries?after=18446744073709551616",
        422,
        "invalid-value",
    ),
    ("/api/v1/entries?limit=1&limit=2", 422, "invalid-value"),
    ("/api/v1/entries?after=%ff", 400, "malformed"),
    ("/api/v1/appliances?after=%00", 422, "invalid-value"),
    (
        "/api/v1/appliances/HG-RACK-A/standing?on=tomorrow",
        422,
        "invalid-value",
    ),
    (
        "/api/v1/appliances/HG-RACK-A/standing?on=2026-02-30",
        422,
        "invalid-value",
    ),
    ("/api/v1/findings?settled=maybe", 422, "invalid-value"),
    ("/api/v1/findings?after=1.2", 422, "invalid-value"),
    ("/api/v1/follow-ups?since=2026", 422, "invalid-value"),
    ("/api/v1/reports/appliance-year.csv", 422, "invalid-value"),
    (
        "/api/v1/reports/appliance-year.csv?year=0",
        422,
        "invalid-value",
    ),
    (
        "/api/v1/reports/appliance-year.csv?year=2026&unit=stone",
        422,
        "invalid-value",
    ),
    (
        "/api/v1/reports/appliance-year.csv?year=2026&as_of=999999",
        422,
        "invalid-value",
    ),
    (
        "/api/v1/reports/appliance-year.csv?year=2026&as_of=now",
        422,
        "invalid-value",
    ),
    ("/api/v1/reports/mystery.csv?year=2026", 404, "not-found"),
    ("/api/v1/log/consistency", 422, "invalid-value"),
    ("/api/v1/log/consistency?from=0", 422, "invalid-value"),
    ("/api/v1/log/consistency?from=9999", 422, "invalid-value"),
    ("/api/v1/log/tile/0/999", 404, "not-found"),
    ("/api/v1/log/tile/0/000", 404, "not-found"),
    ("/api/v1/log/tile/64/000", 404, "not-found"),
    (
        "/api/v1/visits/01981f00-0000-7000-8000-000000000001",
        404,
        "not-found",
    ),
    ("/api/v1/visits/7", 404, "not-found"),
    ("/api/v1/entries/-1", 404, "not-found"),
    ("/api/v1/entries/99999", 404, "not-found"),
    ("/api/v1/rule-sets/mystery", 404, "not-found"),
    ("/problems/mystery", 404, "not-found"),
    ("/questions/mystery", 404, "not-found"),
    ("/api/v1", 404, "not-found"),
    ("/api/v1/entries/", 404, "not-found"),
];

/// Members of queries are as strict as those of bodies.
#[test]
fn queries_hold_known_members_within_their_range() {
    let service = Service::stocked();
    for (path, status, slug) in ODD {
        let reply = service.get(&service.firm.manager, path);
        assert_eq!(reply.status, *status, "{path}: {}", reply.text());
        assert_eq!(reply.problem(), *slug, "{path}");
    }
}

/// A2: a thing is changed in the version that was read, and a repeat is no other change.
#[test]
fn a2_no_update_is_lost() {
    let service = Service::stocked();
    let who = service.firm.manager.clone();
    let path = "/api/v1/appliances/HG-RACK-A";
    let patch = |headers: &[(&str, &str)], id: &str, category: &str| {
        let body = json!({"entry_id": id, "facts": {"category": category}});
        service.send(
            &who,
            "PATCH",
            path,
            headers,
            Some(body.to_string().as_bytes()),
        )
    };
    let (first, second) = (
        "01981f00-0000-7000-8000-000000000001",
        "01981f00-0000-7000-8000-000000000002",
    );
    let before = size(&service);
    patch(&[], first, "industrial_process").expect_problem(428, "version-required");
    let read = service.get(&who, path).expect(200);
    let tag = read.header("etag").expect("a version").to_string();
    let same = service
        .send(&who, "GET", path, &[("If-None-Match", &tag)], None)
        .expect(304);
    assert!(same.body.is_empty());
    patch(&[("If-Match", "\"another\"")], first, "industrial_process")
        .expect_problem(412, "stale-version");
    assert_eq!(size(&service), before);
    patch(&[("If-Match", &tag)], first, "industrial_process").expect(201);
    // The answer was lost: the same request again is a repeat, though the version is old by now.
    let again = patch(&[("If-Match", &tag)], first, "industrial_process").expect(200);
    assert_eq!(again.header("idempotency-replayed"), Some("true"));
    // Somebody else still has the old version: they are shown what stands there now.
    let stale = patch(&[("If-Match", &tag)], second, "comfort_cooling");
    let stale = stale.expect_problem(412, "stale-version");
    let now = service.get(&who, path).expect(200);
    assert_eq!(stale.json()["current"], now.json());
    assert_eq!(stale.header("etag"), now.header("etag"));
    let now = now.header("etag").expect("a version").to_string();
    let wrong = patch(&[("If-Match", &now)], second, "spaceship");
    let wrong = wrong.expect_problem(422, "invalid-value").json();
    assert_eq!(wrong["errors"][0]["pointer"], "/facts/category");
    patch(&[("If-Match", "*")], second, "comfort_cooling").expect(201);
    assert_eq!(size(&service), before + 2);
    let nobody = service.send(
        &who,
        "PATCH",
        "/api/v1/appliances/NOBODY",
        &[("If-Match", "*")],
        Some(br#"{"entry_id": "01981f00-0000-7000-8000-000000000003", "facts": {"tag": "X"}}"#),
    );
    nobody.expect_problem(404, "not-found");
}
