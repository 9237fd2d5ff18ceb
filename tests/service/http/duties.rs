//! Duties, assignments and calendars over HTTP, and their pages.

use super::reading::{go_over_its_limit, over_its_limit};
use harness::database::Database;
use harness::service::{LOG_FILE, Service, Who};
use serde_json::{Value, json};

/// E29: who changes without a version is asked for it, who brings a stale one is shown what holds.
#[test]
fn a2_an_assignment_is_changed_in_the_version_that_was_read() {
    let (service, ..) = over_its_limit();
    let (manager, technician) = (&service.firm.manager, &service.firm.technician);
    let path = "/api/v1/appliances/HG-RACK-A/assignment";
    let read = service.get(manager, path).expect(200);
    let tag = read.header("etag").expect("a version").to_string();
    assert_eq!(read.json()["person"], Value::Null);
    let people = service.get(manager, "/api/v1/people").expect(200).json();
    let ines = people["items"].as_array().expect("people").iter();
    let ines = ines.clone().find(|it| it["name"] == "ines").expect("Ines")["id"].clone();
    let body = json!({"person": ines}).to_string();
    let change = |who: &Who, version: &[(&str, &str)], body: &str| {
        service.send(who, "PATCH", path, version, Some(body.as_bytes()))
    };
    change(manager, &[], &body).expect_problem(428, "version-required");
    change(technician, &[("If-Match", &tag)], &body).expect_problem(403, "forbidden");
    change(manager, &[("If-Match", &tag)], "{}").expect_problem(400, "malformed");
    let unknown = json!({"person": "nobody known"}).to_string();
    change(manager, &[("If-Match", &tag)], &unknown).expect_problem(404, "not-found");
    let done = change(manager, &[("If-Match", &tag)], &body).expect(200);
    assert_eq!(done.json()["person"]["id"], ines);
    let stale = change(manager, &[("If-Match", &tag)], &body).expect_problem(412, "stale-version");
    assert_eq!(stale.json()["current"]["person"]["id"], ines);
    assert_eq!(stale.header("etag"), done.header("etag"));
    let own = service
        .get(technician, "/api/v1/duties?person=me")
        .expect(200)
        .json();
    let own = own["items"].as_array().expect("items");
    assert!(
        !own.is_empty() && own.iter().all(|it| it["assigned"]["id"] == ines),
        "{own:?}"
    );
    for wrong in [
        "state=early",
        "from=soon",
        "site=Nowhere",
        "after=x",
        "limit=0",
    ] {
        let refused = service.get(manager, &format!("/api/v1/duties?{wrong}"));
        assert!(
            [404, 422].contains(&refused.status),
            "{wrong}: {}",
            refused.text()
        );
    }
}

/// E23, S1, S5: the address opens the calendar and nothing else does; revoked it answers exactly like
/// one that never was; neither log nor answer repeats it.
#[test]
fn s_a_calendar_opens_by_its_address_only() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("log").display().to_string();
    let settings = [("TAREBOOK_LOG_LEVEL", "debug"), (LOG_FILE, file.as_str())];
    let service = Service::on(Database::new(), &settings);
    service.stock(&service.firm);
    go_over_its_limit(&service);
    let manager = &service.firm.manager;
    let wanted = json!({"everything": true});
    let made = service
        .post(manager, "/api/v1/calendars", &wanted)
        .expect(201)
        .json();
    let address = made["address"].as_str().expect("an address");
    let path = address
        .strip_prefix(&service.base)
        .expect("of this service");
    let secret = path
        .trim_start_matches("/calendar/")
        .trim_end_matches(".ics");
    let fetched = service.get(&Who::Nobody, path).expect(200);
    assert_eq!(
        fetched.header("content-type"),
        Some("text/calendar; charset=utf-8")
    );
    assert!(fetched.text().contains("HG-RACK-A"), "{}", fetched.text());
    let listed = service.get(manager, "/api/v1/calendars").expect(200);
    assert!(!listed.text().contains(secret), "shown once");
    assert!(listed.json()["items"][0]["read_at"].is_string());
    let technician = &service.firm.technician;
    let too_wide = service.post(technician, "/api/v1/calendars", &wanted);
    too_wide.expect_problem(403, "forbidden");
    let id = made["id"].as_str().expect("an id");
    let end = format!("/api/v1/calendars/{id}");
    service
        .send(technician, "DELETE", &end, &[], None)
        .expect_problem(404, "not-found");
    service.send(manager, "DELETE", &end, &[], None).expect(204);
    let never = format!("/calendar/{}.ics", "A".repeat(43));
    let answer = |path: &str| {
        let reply = service
            .get(&Who::Nobody, path)
            .expect_problem(404, "not-found");
        assert!(!reply.text().contains(secret), "{}", reply.text());
        let mut problem = reply.json();
        problem["request_id"] = Value::Null;
        problem
    };
    assert_eq!(answer(path), answer(&never));
    let log = std::fs::read_to_string(&file).expect("a log");
    assert!(
        log.contains("/calendar/{secret}.ics"),
        "the fetch was logged"
    );
    assert!(!log.contains(secret), "a secret in the log");
    let records = service
        .get(manager, "/api/v1/access-records")
        .expect(200)
        .text();
    assert!(records.contains("calendar_made") && records.contains("calendar_revoked"));
    assert!(!records.contains(secret));
}
