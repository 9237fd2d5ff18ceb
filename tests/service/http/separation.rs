//! Who may what, and who sees nothing: promises S1, S3, S4.

use api::http::routes::{ROUTES, Verb};
use harness::service::{Reply, Service, Who, charge};
use serde_json::{Value, json};

/// A request for a row of the table, with nothing that is known in it.
fn ask(service: &Service, who: &Who, method: &str, pattern: &str) -> Reply {
    let path = pattern
        .replace("{id}", "01981f00-0000-7000-8000-0000000000ff")
        .replace("{tile:.*}", "0/000.p/1")
        .replace("{name}", "appliance-year")
        .replace("{slug}", "held")
        .replace("{code}", "over_full")
        .replace("{secret}", "an-address-of-nobody");
    let query = match () {
        () if path.contains("/reports/") => "?year=2026",
        () if path.ends_with("/consistency") => "?from=1",
        () => "",
    };
    let body = matches!(method, "POST" | "PATCH").then_some(&b"{}"[..]);
    service.send(
        who,
        method,
        &format!("{path}{query}"),
        &[("If-Match", "*")],
        body,
    )
}

/// S3: every role on every route, against the table of the specification (promises, section 2) as
/// written out by hand in `references/routes.json`.
/// E41: an auditor's account reads and cannot write.
#[test]
fn s3_every_role_on_every_route() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/references/routes.json");
    let table: Value = serde_json::from_slice(&std::fs::read(file).unwrap()).unwrap();
    let service = Service::start();
    let firm = &service.firm;
    let roles = [
        ("technician", &firm.technician),
        ("compliance_manager", &firm.manager),
        ("auditor", &firm.auditor),
        ("administrator", &firm.administrator),
        ("device", &firm.device),
    ];
    for route in ROUTES {
        let row = format!("{} {}", route.method.word(), route.path);
        let may: Vec<&str> = match &table[&row] {
            Value::Array(words) => words.iter().filter_map(Value::as_str).collect(),
            _ => panic!("references/routes.json does not know {row}"),
        };
        let open = may == ["everybody"];
        let nobody = ask(&service, &Who::Nobody, route.method.word(), route.path);
        assert_eq!(nobody.status == 401, !open, "{row}: {}", nobody.text());
        for (role, who) in roles {
            let reply = ask(&service, who, route.method.word(), route.path);
            let allowed = open || may.contains(&role) || may == ["signed in"];
            // What needs a fresh sign-in or a person is refused to every token for that reason.
            let fresh = ["sign-in of the last five minutes", "cookie", "person"];
            let for_tokens = fresh.iter().any(|word| reply.text().contains(word));
            assert!(reply.status != 401, "{row} by {role}: {}", reply.text());
            match allowed {
                true => assert!(
                    reply.status != 403 || for_tokens,
                    "{row} by {role}: {}",
                    reply.text()
                ),
                false => drop(reply.expect_problem(403, "forbidden")),
            }
        }
    }
    let known = table.as_object().expect("rows").len();
    assert_eq!(
        known,
        ROUTES.len(),
        "references/routes.json has rows of no route"
    );
}

/// S1: what another organisation has is answered like what nobody has.
#[test]
fn s1_foreign_things_are_like_unknown_ones() {
    let service = Service::stocked();
    let other = service.found("Gale Creek Cooling");
    service.stock(&other);
    let theirs = service.booked(&other.technician, charge("3 lb"));
    let their_rack = service
        .get(&other.manager, "/api/v1/appliances/HG-RACK-A")
        .expect(200)
        .json();
    let text = |value: &Value| value.as_str().expect("text").to_string();
    let (entry, rack) = (text(&theirs["entry_id"]), text(&their_rack["id"]));
    let unknown = "01981f00-0000-7000-8000-0000000000ff";
    for route in ROUTES.iter().filter(|route| route.path.contains("{id}")) {
        for foreign in [&entry, &rack] {
            let ask = |id: &str| {
                let path = route.path.replace("{id}", id);
                let body = (route.method == Verb::Patch).then(|| {
                    json!({"entry_id": "01981f00-0000-7000-8000-0000000000fe",
                           "facts": {"tag": "X"}, "disabled": true})
                });
                let body = match (&body, route.path.contains("/people/")) {
                    (Some(_), _) if route.path.ends_with("/assignment") => {
                        Some(json!({"person": null}).to_string())
                    }
                    (Some(_), true) => Some(json!({"disabled": true}).to_string()),
                    (Some(_), false) => Some(
                        json!({"facts": {"place": "X"},
                        "entry_id": "01981f00-0000-7000-8000-0000000000fe"})
                        .to_string(),
                    ),
                    (None, _) => None,
                };
                let who = match route.path {
                    path if path.contains("/people/") => &service.firm.administrator,
                    _ => &service.firm.manager,
                };
                let body = body.as_deref().map(str::as_bytes);
                let reply =
                    service.send(who, route.method.word(), &path, &[("If-Match", "*")], body);
                (reply.status, reply.text().replace(id, "ID"), reply)
            };
            let (status, _, reply) = ask(foreign);
            let row = format!("{} {}", route.method.word(), route.path);
            if status == 403 {
                // Sessions are a person's; a token that stands for none has none.
                assert!(row.contains("/sessions/"), "{row}: {}", reply.text());
                continue;
            }
            assert_eq!(status, 404, "{row}: {}", reply.text());
            let without = |reply: Reply, id: &str| {
                let mut problem = reply.json();
                problem["request_id"] = Value::Null;
                problem.to_string().replace(id, "ID")
            };
            let (_, _, other) = ask(unknown);
            assert_eq!(without(reply, foreign), without(other, unknown), "{row}");
        }
    }
}

/// S1: a posting cannot name another organisation's things, by id or by tag.
#[test]
fn s1_a_posting_reaches_nothing_foreign() {
    let service = Service::stocked();
    let other = service.found("Gale Creek Cooling");
    service.stock(&other);
    let facts = json!({"tag": "THEIRS-1", "refrigerant": "R-448A", "full_charge": "10 lb"});
    service.booked(
        &other.manager,
        json!({"kind": "appliance", "body": {"facts": facts}}),
    );
    let their = service
        .get(&other.manager, "/api/v1/appliances/THEIRS-1")
        .expect(200)
        .json();
    let id = their["id"].as_str().expect("an id").to_string();
    let answer = |name: &str| {
        let mut entry = charge("1 lb");
        entry["body"]["to"] = json!(format!("appliance:{name}"));
        let problem = service
            .entry(&service.firm.technician, entry)
            .expect(404)
            .json();
        problem["detail"]
            .as_str()
            .expect("text")
            .replace(name, "NAME")
    };
    let unknown = answer("01981f00-0000-7000-8000-0000000000ff");
    assert_eq!(answer(&id), unknown);
    assert_eq!(answer("THEIRS-1"), answer("NOBODY-1"));
    for path in [
        "/api/v1/appliances",
        "/api/v1/entries?limit=500",
        "/api/v1/findings",
        "/api/v1/people",
        "/api/v1/tokens",
        "/api/v1/access-records",
    ] {
        let text = service.get(&service.firm.manager, path).expect(200).text();
        assert!(!text.contains("THEIRS-1") && !text.contains(&id), "{path}");
        assert!(!text.contains("gale.example"), "{path}");
    }
}

/// S3: a device reads back its own postings and nothing else.
#[test]
fn s3_a_device_sees_its_own_postings_only() {
    let service = Service::stocked();
    let firm = &service.firm;
    let own = service.booked(&firm.device, charge("1 lb"));
    let others = service.booked(&firm.technician, charge("2 lb"));
    let path = |entry: &Value| format!("/api/v1/entries/{}", entry["entry_id"].as_str().unwrap());
    service.get(&firm.device, &path(&own)).expect(200);
    service
        .get(&firm.device, &format!("{}/proof", path(&own)))
        .expect(200);
    service
        .get(&firm.device, &path(&others))
        .expect_problem(404, "not-found");
    service
        .get(&firm.device, &format!("{}/proof", path(&others)))
        .expect_problem(404, "not-found");
    let page = service
        .get(&firm.device, "/api/v1/entries?limit=500")
        .expect(200)
        .json();
    assert_eq!(page["items"].as_array().map(Vec::len), Some(1), "{page}");
    service
        .get(&firm.device, "/api/v1/log/tile/0/000.p/1")
        .expect_problem(403, "forbidden");
    // What it may name it was given with its token; the register is not for it (table of permissions).
    for path in [
        "/api/v1/appliances",
        "/api/v1/appliances/HG-RACK-A/standing",
        "/api/v1/cylinders/TR-0417",
        "/api/v1/sites",
        "/api/v1/scales",
        "/api/v1/rule-sets",
    ] {
        service
            .get(&firm.device, path)
            .expect_problem(403, "forbidden");
    }
    // Nor do the pages show it what the interface does not.
    for path in [
        "/appliances?as=file",
        "/appliances/HG-RACK-A",
        "/fleet",
        "/cylinders",
        "/cylinders/TR-0417",
        "/labels",
        "/book",
        "/field",
        "/field/cage",
        "/field/cylinders",
        "/field/appliances/HG-RACK-A",
        "/me",
    ] {
        service.get(&firm.device, path).expect(403);
    }
    let facts = json!({"tag": "SENSOR-1", "use": "recovery"});
    let register = json!({"kind": "cylinder", "body": {"facts": facts}});
    service
        .entry(&firm.device, register)
        .expect_problem(403, "forbidden");
}

/// One kind of authentication a request; a scheme or a secret that is none is answered 401.
#[test]
fn one_way_of_saying_who_asks() {
    let service = Service::start();
    let Who::Token(token) = &service.firm.manager else {
        panic!("a token")
    };
    let get = |headers: &[(&str, &str)]| {
        service.send(&Who::Nobody, "GET", "/api/v1/appliances", headers, None)
    };
    let bearer = format!("Bearer {token}");
    get(&[("Authorization", &bearer)]).expect(200);
    get(&[("Authorization", &bearer), ("Cookie", "tarebook=x")]).expect_problem(400, "malformed");
    for bad in [
        "Bearer",
        "Bearer x",
        "Basic bmFkaWE6cGFzcw==",
        &format!("{bearer}x"),
        "tb_",
    ] {
        let reply = get(&[("Authorization", bad)]).expect_problem(401, "not-signed-in");
        assert_eq!(reply.header("www-authenticate"), Some("Bearer"));
    }
    get(&[("Cookie", "tarebook=nonsense")]).expect_problem(401, "not-signed-in");
}
