//! Signing in over HTTP: cookies, other sites, guesses (promises A5, A6, S5).

use harness::service::{PASSWORD, Reply, Service, Who};
use serde_json::{Value, json};

const PATH: &str = "/api/v1/sessions";
const EMAIL: &str = "nadia@tamarack.example";

fn sign_in(service: &Service, who: &Who, body: &Value) -> Reply {
    service.post(who, PATH, body)
}

#[test]
fn a_session_begins_with_a_cookie_and_ends_with_signing_out() {
    let service = Service::stocked();
    let body = json!({"email": " Nadia@Tamarack.Example", "password": PASSWORD});
    let reply = sign_in(&service, &Who::Nobody, &body).expect(201);
    let opened = reply.json();
    assert_eq!(opened["roles"], json!(["compliance_manager"]));
    assert_eq!(opened["organisation"], "Tamarack Ridge Mechanical");
    let set: Vec<&str> = (reply.headers.iter())
        .filter(|(name, _)| name == "set-cookie")
        .map(|(_, value)| value.as_str())
        .collect();
    assert_eq!(set.len(), 2, "a session, and the browser is known");
    for cookie in &set {
        for part in ["HttpOnly", "SameSite=Lax", "Path=/", "Max-Age="] {
            assert!(cookie.contains(part), "{cookie}");
        }
        // On a loopback address without TLS the name is plain.
        assert!(
            cookie.starts_with("tarebook") && !cookie.contains("Domain="),
            "{cookie}"
        );
    }
    assert!(!reply.text().contains(PASSWORD));
    let who = reply.cookies();
    let current = service
        .get(&who, "/api/v1/sessions/current")
        .expect(200)
        .json();
    assert_eq!(current["id"], opened["id"]);
    service
        .get(&who, "/api/v1/appliances/HG-RACK-A")
        .expect(200);
    let own = service.get(&who, PATH).expect(200).json();
    assert_eq!(own["items"][0]["current"], true, "{own}");
    let body = json!({"password": PASSWORD});
    let again = service
        .post(&who, "/api/v1/sessions/current", &body)
        .expect(201);
    let wrong = json!({"password": "another one altogether"});
    let refused = service.post(&again.cookies(), "/api/v1/sessions/current", &wrong);
    refused.expect_problem(401, "not-signed-in");
    service
        .get(&who, "/api/v1/sessions/current")
        .expect_problem(401, "not-signed-in");
    let who = again.cookies();
    let out = service
        .send(&who, "DELETE", "/api/v1/sessions/current", &[], None)
        .expect(204);
    assert!(
        out.header("set-cookie")
            .is_some_and(|cookie| cookie.contains("Max-Age=0"))
    );
    service
        .get(&who, "/api/v1/sessions/current")
        .expect_problem(401, "not-signed-in");
}

/// Behind TLS the cookie belongs to this host alone.
#[test]
fn behind_tls_cookies_are_bound_to_the_host() {
    let settings = [("TAREBOOK_ORIGIN", "https://book.example")];
    let service = Service::on(harness::database::Database::new(), &settings);
    let body = json!({"email": EMAIL, "password": PASSWORD});
    let reply = sign_in(&service, &Who::Nobody, &body).expect(201);
    let cookie = reply.header("set-cookie").expect("a cookie");
    assert!(
        cookie.starts_with("__Host-tarebook=") && cookie.contains("Secure"),
        "{cookie}"
    );
    assert!(reply.header("strict-transport-security").is_some());
    let who = reply.cookies();
    let change = |headers: &[(&str, &str)]| {
        service
            .send(&who, "DELETE", "/api/v1/sessions/current", headers, None)
            .status
    };
    assert_eq!(change(&[("Origin", "https://evil.example")]), 403);
    assert_eq!(change(&[("Origin", "http://book.example")]), 403);
    assert_eq!(change(&[("Origin", "null")]), 403);
    assert_eq!(change(&[("Origin", "https://book.example")]), 204);
}

/// A cookie is borrowed by no other site: neither by a form nor by a script.
#[test]
fn other_sites_change_nothing() {
    let service = Service::stocked();
    let body = json!({"email": EMAIL, "password": PASSWORD});
    let who = sign_in(&service, &Who::Nobody, &body).expect(201).cookies();
    let entry = harness::service::charge("1 lb").to_string();
    let post = |headers: &[(&str, &str)]| {
        service.send(
            &who,
            "POST",
            "/api/v1/entries",
            headers,
            Some(entry.as_bytes()),
        )
    };
    for site in ["cross-site", "same-site", "none", ""] {
        post(&[("Sec-Fetch-Site", site)]).expect_problem(403, "forbidden");
    }
    post(&[("Origin", "https://evil.example")]).expect_problem(403, "forbidden");
    let form = [
        ("Sec-Fetch-Site", "same-origin"),
        ("Content-Type", "application/x-www-form-urlencoded"),
    ];
    post(&form).expect_problem(415, "unsupported-encoding");
    post(&[("Sec-Fetch-Site", "same-origin")]).expect_problem(400, "missing-id");
    post(&[("Origin", &service.base)]).expect_problem(400, "missing-id");
    // Signing somebody in by force is a change, too.
    let headers = [("Sec-Fetch-Site", "cross-site")];
    let forced = service.send(
        &Who::Nobody,
        "POST",
        PATH,
        &headers,
        Some(body.to_string().as_bytes()),
    );
    forced.expect_problem(403, "forbidden");
}

/// A6: an unknown address and a wrong password are the same in status and body.
#[test]
fn a6_unknown_and_wrong_are_the_same() {
    let service = Service::start();
    let answer = |email: &str, password: &str| {
        let body = json!({"email": email, "password": password});
        let reply = sign_in(&service, &Who::Nobody, &body).expect_problem(401, "not-signed-in");
        let mut problem = reply.json();
        problem["request_id"] = Value::Null;
        let names: Vec<String> = reply.headers.iter().map(|(name, _)| name.clone()).collect();
        (problem, names.len())
    };
    let wrong = answer(EMAIL, "not the password at all");
    assert_eq!(
        answer("nobody@tamarack.example", "not the password at all"),
        wrong
    );
    assert_eq!(answer("", ""), wrong);
    assert_eq!(answer(EMAIL, ""), wrong);
    for odd in [
        json!({}),
        json!({"email": EMAIL}),
        json!({"email": 1, "password": "x"}),
        json!({"password": "x"}),
    ] {
        sign_in(&service, &Who::Nobody, &odd).expect_problem(400, "malformed");
    }
    let odd = json!({"email": EMAIL, "password": "x", "remember": true});
    sign_in(&service, &Who::Nobody, &odd).expect_problem(422, "unknown-field");
    let long = json!({"email": EMAIL, "password": "x".repeat(5_000)});
    sign_in(&service, &Who::Nobody, &long).expect_problem(422, "invalid-value");
}

/// A5: after failures the name waits; a browser in which the person is known does not.
#[test]
fn a5_guesses_are_slowed_and_nobody_is_locked_out() {
    let service = Service::start();
    let good = json!({"email": EMAIL, "password": PASSWORD});
    let known = sign_in(&service, &Who::Nobody, &good).expect(201).cookies();
    let Who::Cookie(pairs) = &known else {
        panic!("cookies")
    };
    let device = pairs
        .split("; ")
        .find(|pair| pair.starts_with("tarebook-device="))
        .expect("known");
    let bad = json!({"email": EMAIL, "password": "guessed and guessed"});
    let mut statuses: Vec<u16> = Vec::new();
    for _ in 0..10 {
        statuses.push(sign_in(&service, &Who::Nobody, &bad).status);
    }
    assert_eq!(statuses[..5], [401; 5], "{statuses:?}");
    assert!(statuses.contains(&429), "{statuses:?}");
    let waits = sign_in(&service, &Who::Nobody, &good);
    let waits = waits.expect_problem(429, "too-many");
    assert!(
        waits
            .header("retry-after")
            .and_then(|it| it.parse::<u32>().ok())
            .is_some_and(|s| s > 0)
    );
    sign_in(&service, &Who::Cookie(device.to_string()), &good).expect(201);
}

/// An administrator handles people: adds, changes in a version, disables; sessions end at once.
#[test]
fn people_are_handled_over_http() {
    let service = Service::start();
    let admin = service.firm.administrator.clone();
    let person = json!({"entry_id": "01981f00-0000-7000-8000-000000000001",
                        "email": "tam@tamarack.example", "name": "Tam Oakes", "tag": "TAM",
                        "roles": ["technician"], "password": "a ladder and two gauges"});
    let added = service.post(&admin, "/api/v1/people", &person).expect(201);
    assert_eq!(added.json()["tag"], "TAM");
    let again = service.post(&admin, "/api/v1/people", &person).expect(201);
    assert_eq!(again.json()["id"], added.json()["id"]);
    let path = added.header("location").expect("an address").to_string();
    let mut weak = person.clone();
    weak["entry_id"] = json!("01981f00-0000-7000-8000-000000000002");
    weak["email"] = json!("kim@tamarack.example");
    weak["password"] = json!("short");
    let refused = service
        .post(&admin, "/api/v1/people", &weak)
        .expect_problem(422, "invalid-value");
    assert_eq!(refused.json()["errors"][0]["pointer"], "/password");
    weak.as_object_mut().unwrap().remove("entry_id");
    service
        .post(&admin, "/api/v1/people", &weak)
        .expect_problem(400, "missing-id");
    let body = json!({"email": "tam@tamarack.example", "password": "a ladder and two gauges"});
    let tam = sign_in(&service, &Who::Nobody, &body).expect(201).cookies();
    // Colleagues see names; the office sees addresses and roles.
    let seen = service.get(&tam, "/api/v1/people").expect(200).text();
    assert!(
        seen.contains("nadia") && !seen.contains("nadia@tamarack.example"),
        "{seen}"
    );
    let tag = service
        .get(&admin, &path)
        .expect(200)
        .header("etag")
        .expect("a version")
        .to_string();
    let patch = |headers: &[(&str, &str)], body: Value| {
        service.send(
            &admin,
            "PATCH",
            &path,
            headers,
            Some(body.to_string().as_bytes()),
        )
    };
    patch(&[], json!({"disabled": true})).expect_problem(428, "version-required");
    let raised = json!({"roles": ["technician", "auditor"]});
    let changed = patch(&[("If-Match", &tag)], raised.clone()).expect(200);
    patch(&[("If-Match", &tag)], raised).expect_problem(412, "stale-version");
    let tag = changed.header("etag").expect("a version").to_string();
    patch(&[("If-Match", &tag)], json!({"disabled": true})).expect(200);
    service
        .get(&tam, "/api/v1/sessions/current")
        .expect_problem(401, "not-signed-in");
    let records = service
        .get(&admin, "/api/v1/access-records")
        .expect(200)
        .text();
    for what in ["person_added", "roles_set", "person_disabled", "sign_in"] {
        assert!(records.contains(what), "{what} is missing in {records}");
    }
    assert!(!records.contains("gauges"));
}

/// A manager issues a device's token within five minutes of signing in; revoked, it holds no longer.
#[test]
fn tokens_are_issued_shown_once_and_revoked() {
    let service = Service::stocked();
    let body = json!({"email": EMAIL, "password": PASSWORD});
    let who = sign_in(&service, &Who::Nobody, &body).expect(201).cookies();
    let asked = json!({"name": "scale on the bench", "days": 30, "refrigerants": ["R-448A"],
                       "places": ["cylinder:SUP-88231", "appliance:HG-RACK-A"]});
    let issued = service
        .post(&who, "/api/v1/tokens", &asked)
        .expect(201)
        .json();
    let secret = issued["token"].as_str().expect("a secret").to_string();
    let device = Who::Token(secret.clone());
    service.booked(&device, harness::service::charge("1 lb"));
    let mut elsewhere = harness::service::charge("1 lb");
    elsewhere["kind"] = json!("recover");
    elsewhere["body"] = json!({"from": "appliance:HG-RACK-A", "to": "cylinder:TR-0417",
        "refrigerant": "R-448A", "mass": "1 lb", "reason": "repair", "class": "clean"});
    service
        .entry(&device, elsewhere)
        .expect_problem(404, "not-found");
    // What a whole cylinder weighs is for a person to say, of its own cylinder, too.
    let count = json!({"kind": "count", "body": {"cylinder": "SUP-88231", "gross": "30 lb",
                                                 "reason": "counted"}});
    service
        .entry(&device, count)
        .expect_problem(403, "forbidden");
    let listed = service.get(&who, "/api/v1/tokens").expect(200).text();
    assert!(listed.contains("scale on the bench") && !listed.contains(&secret));
    for (asked, status, slug) in [
        (json!({"name": ""}), 422, "invalid-value"),
        (json!({"name": "x", "days": 366}), 422, "invalid-value"),
        (
            json!({"name": "x", "may": ["everything"]}),
            422,
            "invalid-value",
        ),
        (
            json!({"name": "x", "places": ["cylinder:NOBODY"]}),
            404,
            "not-found",
        ),
        (
            json!({"name": "x", "places": ["atmosphere"]}),
            422,
            "invalid-value",
        ),
        (
            json!({"name": "x", "refrigerants": ["R-9999"]}),
            422,
            "invalid-value",
        ),
        (
            json!({"name": "x", "role": "auditor"}),
            422,
            "unknown-field",
        ),
    ] {
        service
            .post(&who, "/api/v1/tokens", &asked)
            .expect_problem(status, slug);
    }
    let path = format!("/api/v1/tokens/{}", issued["id"].as_str().expect("an id"));
    for _ in 0..2 {
        service.send(&who, "DELETE", &path, &[], None).expect(204);
    }
    let entry = harness::service::charge("1 lb");
    service
        .entry(&device, entry)
        .expect_problem(401, "not-signed-in");
}
