//! Reading over HTTP: pages, standings, the flagged list, findings.

use api::ledger::id::Id;
use harness::service::{Service, Who, charge};
use serde_json::{Value, json};

/// All items of a list, page by page; also by the header `Link`.
fn all(service: &Service, who: &Who, path: &str) -> Vec<Value> {
    let mut items = Vec::new();
    let mut next = Some(path.to_string());
    while let Some(path) = next {
        let reply = service.get(who, &path).expect(200);
        let page = reply.json();
        next = page["next"].as_str().map(str::to_string);
        let link = reply.header("link").map(str::to_string);
        assert_eq!(
            link,
            next.as_ref().map(|next| format!("<{next}>; rel=\"next\""))
        );
        items.extend(page["items"].as_array().expect("a list").iter().cloned());
        assert!(items.len() < 10_000, "pages without end");
    }
    items
}

/// Pages are whole: nothing is left out or repeated, whatever their size.
#[test]
fn pages_join_to_the_whole_list() {
    let service = Service::stocked();
    let who = service.firm.manager.clone();
    for number in 0..23 {
        let facts = json!({"tag": format!("Ü {number}/%&+?#"), "use": "recovery"});
        service.booked(&who, json!({"kind": "cylinder", "body": {"facts": facts}}));
    }
    for path in [
        "/api/v1/entries",
        "/api/v1/cylinders",
        "/api/v1/counterparties",
    ] {
        let whole = all(&service, &who, &format!("{path}?limit=500"));
        for limit in [1, 7, 25] {
            let paged = all(&service, &who, &format!("{path}?limit={limit}"));
            assert_eq!(paged, whole, "{path} by {limit}");
        }
    }
    let seqs: Vec<u64> = all(&service, &who, "/api/v1/entries?limit=9")
        .iter()
        .map(|entry| entry["seq"].as_u64().expect("a number"))
        .collect();
    assert_eq!(seqs, (0..seqs.len() as u64).collect::<Vec<_>>());
    let name = "/api/v1/cylinders/%C3%9C%207%2F%25%26%2B%3F%23";
    assert_eq!(
        service.get(&who, name).expect(200).json()["tag"],
        "Ü 7/%&+?#"
    );
}

/// E28: pages stay whole while entries arrive: what stood when the first page was read comes once, in
/// order, and what arrives comes after it, by a page a posting.
#[test]
fn e28_pages_are_stable_while_entries_arrive() {
    let service = Service::stocked();
    let (who, poster) = (
        service.firm.manager.clone(),
        service.firm.technician.clone(),
    );
    let before = all(&service, &who, "/api/v1/entries?limit=500");
    let (mut seen, mut arrived) = (Vec::new(), 0);
    let mut next = Some("/api/v1/entries?limit=3".to_string());
    while let Some(path) = next {
        let page = service.get(&who, &path).expect(200).json();
        next = page["next"].as_str().map(str::to_string);
        let items = page["items"].as_array().expect("a list");
        seen.extend(
            items
                .iter()
                .map(|item| item["seq"].as_u64().expect("a number")),
        );
        // Fewer than a page holds, so that the end is reached.
        if arrived < 5 {
            arrived += 1;
            service.booked(&poster, charge(&format!("{arrived} oz")));
        }
    }
    assert!(
        seen.len() > before.len(),
        "{} of {}",
        seen.len(),
        before.len()
    );
    assert_eq!(
        seen,
        (0..(before.len() + arrived) as u64).collect::<Vec<_>>()
    );
}

/// An entry by id and by number, with its texts; the leaf it carries hashes to what it says.
#[test]
fn an_entry_carries_what_proves_it() {
    use base64::Engine;
    use sha2::{Digest, Sha256};
    let service = Service::stocked();
    let who = service.firm.manager.clone();
    let mut posted = charge("7 lb 10 oz");
    posted["note"] = json!("the header weeps");
    let booked = service.booked(&who, posted);
    let path = format!(
        "/api/v1/entries/{}",
        booked["entry_id"].as_str().expect("an id")
    );
    let entry = service.get(&who, &path).expect(200);
    let shown = entry.json();
    let by_number = format!("/api/v1/entries/{}", booked["seq"]);
    assert_eq!(service.get(&who, &by_number).expect(200).json(), shown);
    assert_eq!(shown["texts"]["note"], "the header weeps");
    // 122 oz of 28.349523125 g (international avoirdupois): 3458.64182125 g.
    assert_eq!(shown["body"]["movements"][0]["g"], "3458.64182125");
    let base64 = base64::engine::general_purpose::STANDARD;
    let leaf = base64
        .decode(shown["leaf"].as_str().expect("a leaf"))
        .expect("base64");
    assert!(!String::from_utf8_lossy(&leaf).contains("weeps"));
    // RFC 6962, section 2.1: the hash of a leaf is over 0x00 and its bytes.
    let hash = Sha256::digest([&[0], &leaf[..]].concat());
    assert_eq!(
        base64.encode(hash),
        booked["leaf_hash"].as_str().expect("a hash")
    );
    let tag = entry.header("etag").expect("a version");
    service
        .send(&who, "GET", &path, &[("If-None-Match", tag)], None)
        .expect(304);
    let correction = json!({"kind": "correction", "body": {
        "corrects": booked["entry_id"], "reason": "did_not_happen"}});
    let correction = service.booked(&who, correction);
    let after = service
        .send(&who, "GET", &path, &[("If-None-Match", tag)], None)
        .expect(200);
    assert_eq!(after.json()["corrected_by"], correction["seq"]);
    let again = json!({"kind": "correction", "body": {
        "corrects": booked["entry_id"], "reason": "duplicate"}});
    let again = service
        .entry(&who, again)
        .expect_problem(409, "already-corrected");
    assert_eq!(again.json()["entry"], correction["seq"]);
    assert!(again.header("link").is_some());
    let head = service.send(&who, "HEAD", &path, &[], None).expect(200);
    assert!(head.body.is_empty());
}

/// A rack that goes over its limit at its second charge, with the answers to both.
/// By hand: 22 lb and 21 lb within a year of 210 lb of full charge are over 20 % by either method.
pub fn over_its_limit() -> (Service, String, Value, Value) {
    let service = Service::stocked();
    let (visit, first, second) = go_over_its_limit(&service);
    (service, visit, first, second)
}

/// The same in a service that runs already.
pub fn go_over_its_limit(service: &Service) -> (String, Value, Value) {
    let (manager, technician) = (
        service.firm.manager.clone(),
        service.firm.technician.clone(),
    );
    let toml = include_str!("../../../reports/rules/us-federal-hfc.toml");
    let adoption = json!({"kind": "rule_set", "body": {"toml": toml, "from": "2026-01-01"}});
    service.booked(&manager, adoption);
    assert_eq!(
        all(service, &technician, "/api/v1/follow-ups"),
        Vec::<Value>::new()
    );
    let visit = Id::random().to_string();
    let mut big = charge("22 lb");
    big["visit"] = json!(visit);
    big["answers"] = json!({"rate_jump": "as_stated"});
    let first = service.booked(&technician, big);
    let purchase = json!({"kind": "purchase", "answers": {"over_room": "as_stated"}, "body": {
        "from": "counterparty:Dunmore Supply", "to": "cylinder:SUP-88231",
        "refrigerant": "R-448A", "mass": "22 lb", "state": "new", "invoice": "D-1178"}});
    service.booked(&manager, purchase);
    let mut more = charge("21 lb");
    more["answers"] = json!({"rate_jump": "as_stated", "look_alike": "as_stated"});
    let second = service.booked(&technician, more);
    (visit, first, second)
}

/// The posting says that the limit is passed, and so do standing, list and duties.
#[test]
fn an_appliance_over_its_limit_is_flagged_on_the_spot() {
    let (service, _, first, second) = over_its_limit();
    let technician = service.firm.technician.clone();
    assert_eq!(first["standing"]["tag"], "HG-RACK-A", "{first}");
    assert_eq!(second["standing"]["over"], "yes", "{second}");
    let path = "/api/v1/appliances/HG-RACK-A/standing";
    let standing = service.get(&technician, path).expect(200).json();
    assert_eq!(
        standing["exceedances"].as_array().map(Vec::len),
        Some(1),
        "{standing}"
    );
    let clause = standing["exceedances"][0]["clause"]
        .as_str()
        .expect("a clause");
    assert!(clause.contains("84.106"), "{clause}");
    let list = all(&service, &technician, "/api/v1/follow-ups");
    assert_eq!(list.len(), 1);
    assert_eq!(list[0]["exceedances"], standing["exceedances"]);
    assert_eq!(list[0]["first_due"], standing["duties"][0]["due"]);
    // The list of duties holds these, and what is owed without any limit having been passed.
    let duties = all(&service, &technician, "/api/v1/duties?state=all");
    for duty in list[0]["duties"].as_array().expect("duties") {
        assert!(duties.iter().any(|item| item["duty"] == *duty), "{duty}");
    }
    let before = service
        .get(&technician, &format!("{path}?on=2026-01-01"))
        .expect(200)
        .json();
    assert_eq!(before["exceedances"], json!([]));
    let future = service
        .get(&technician, "/api/v1/follow-ups?since=2999-01-01")
        .expect(200);
    assert_eq!(future.json()["items"], json!([]));
}

/// A visit gathers what was done in it; a rule set shows its adoption and its text.
#[test]
fn visits_and_rule_sets_are_read_back() {
    let (service, visit, first, _) = over_its_limit();
    let manager = service.firm.manager.clone();
    let of_visit = service
        .get(&manager, &format!("/api/v1/visits/{visit}"))
        .expect(200)
        .json();
    assert_eq!(
        of_visit["items"].as_array().map(Vec::len),
        Some(1),
        "{of_visit}"
    );
    assert_eq!(of_visit["items"][0]["entry_id"], first["entry_id"]);
    let sets = service
        .get(&manager, "/api/v1/rule-sets")
        .expect(200)
        .json();
    let mut sets = sets["items"].as_array().expect("sets").iter();
    let set = sets
        .find(|set| set["id"] == "us-federal-hfc")
        .expect("the set");
    assert_eq!(set["adopted"].as_array().map(Vec::len), Some(1));
    let text = service
        .get(&manager, "/api/v1/rule-sets/us-federal-hfc")
        .expect(200)
        .json();
    assert_eq!(text["id"], "us-federal-hfc");
}

/// Stops and questions as the contract writes them, and the findings that their answers leave.
#[test]
fn stops_and_questions_are_answered_by_the_same_request_again() {
    let service = Service::stocked();
    let (manager, technician) = (
        service.firm.manager.clone(),
        service.firm.technician.clone(),
    );
    let refill = json!({"kind": "recover", "entry_id": Id::random().to_string(), "body": {
        "from": "appliance:HG-RACK-A", "to": "cylinder:SUP-88231", "refrigerant": "R-448A",
        "mass": "1 lb", "reason": "repair", "class": "clean"}});
    let stopped = service
        .entry(&technician, refill.clone())
        .expect_problem(422, "hard-stop")
        .json();
    assert_eq!(stopped["stop"], "disposable");
    assert_eq!(
        stopped["lift"],
        json!({"roles": [], "already_happened": true})
    );
    let mut happened = refill;
    happened["answers"] = json!({});
    for stop in stopped["stops"].as_array().expect("all stops") {
        happened["answers"][stop["stop"].as_str().expect("a word")] = json!("already_happened");
    }
    let asked = service
        .entry(&technician, happened.clone())
        .expect_problem(422, "needs-answer");
    let asked = asked.json();
    let codes: Vec<&str> = asked["questions"]
        .as_array()
        .expect("questions")
        .iter()
        .filter_map(|question| question["code"].as_str())
        .collect();
    assert!(codes.contains(&"balance_below_zero"), "{asked}");
    for code in &codes {
        happened["answers"][code] = json!("as_stated");
        service
            .get(&Who::Nobody, &format!("/questions/{code}"))
            .expect(200);
    }
    let booked = service.entry(&technician, happened).expect(201).json();
    assert!(
        booked["findings"].to_string().contains("\"disposable\""),
        "{booked}"
    );
    let findings = all(&service, &technician, "/api/v1/findings?limit=1");
    let grave = findings
        .iter()
        .find(|finding| finding["code"] == "disposable")
        .expect("a finding");
    assert_eq!(grave["grade"], "high");
    assert_eq!(grave["entries"], json!([booked["seq"]]));
    let cylinder = service
        .get(&technician, "/api/v1/cylinders/SUP-88231")
        .expect(200)
        .json();
    assert_eq!(cylinder["quarantine"], booked["seq"]);
    let settle = json!({"kind": "settle", "body": {
        "code": "disposable", "entries": [booked["entry_id"]], "reason": "checked"}});
    service
        .entry(&technician, settle.clone())
        .expect_problem(403, "forbidden");
    service.booked(&manager, settle);
    let open = all(&service, &technician, "/api/v1/findings");
    assert!(open.iter().all(|finding| finding["code"] != "disposable"));
    let everything = all(&service, &technician, "/api/v1/findings?settled=yes");
    assert_eq!(everything.len(), open.len() + 1);
}
