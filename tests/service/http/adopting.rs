//! Rules over the interface: tried before they are adopted, and adopted with what that re-works.
//!
//! By hand (40 CFR 84.106(b), (c)(2)(i)): 7 lb 10 oz into HG-RACK-A of 210 lb on the first day known
//! are 3.63 % a year, under 20 %; a layer that sets 3 % for its region makes it pass one limit.

use harness::service::{Service, charge};
use serde_json::json;

const FROM: &str = "2020-01-01";

fn layer() -> String {
    format!(
        "id = \"county-901\"\noverlays = \"us-federal-hfc\"\nlayer = \"local\"\n\
         title = \"Lower leak rate for shops (invented)\"\n\
         reason = \"county ordinance 12 (invented)\"\n\
         where = {{ region = {{ is = [\"US-CO\"] }} }}\n\n[values.trigger]\n\
         rows = [{{ from = \"{FROM}\", for = [\"commercial\"], is = \"3\", \
         clause = \"ordinance 12 s. 3 (invented)\" }}]\n"
    )
}

#[test]
fn a_preview_is_asked_for_and_an_adoption_says_what_it_re_works() {
    let service = Service::stocked();
    let (manager, auditor, technician) = (
        service.firm.manager.clone(),
        service.firm.auditor.clone(),
        service.firm.technician.clone(),
    );
    let base = reports::rules::shipped_texts().iter();
    let base = base
        .filter(|(name, _)| *name == "us-federal-hfc.toml")
        .map(|it| it.1);
    let base: String = base.collect();
    // Nothing happened yet, so nothing is worked out again and no reason is asked for.
    let adoption = json!({"kind": "rule_set", "body": {"toml": base, "from": "2026-01-01"}});
    service.booked(&manager, adoption);
    service.booked(&technician, charge("7 lb 10 oz"));
    let path = "/api/v1/rule-sets/preview";
    let asked = json!({"toml": layer(), "from": "2026-01-01", "most": 10});
    let found = service.post(&auditor, path, &asked).expect(200).json();
    assert_eq!(found["what"], "county-901");
    let counts = &found["counts"];
    assert_eq!(
        (&counts["appliances"], &counts["limits_passed"]),
        (&json!(1), &json!(1)),
        "{found}"
    );
    assert_eq!(found["changed"][0]["tag"], "HG-RACK-A");
    let line = found["changed"][0]["lines"][0].as_str().expect("a line");
    assert!(line.contains("ordinance 12 s. 3"), "{line}");
    // Elsewhere it would touch nothing, and says where the sites are.
    let other = json!({"toml": layer().replace("US-CO", "US-KS"), "from": "2026-01-01"});
    let found = service.post(&manager, path, &other).expect(200).json();
    assert_eq!(found["counts"]["appliances"], 0);
    let said = found["sentences"].to_string();
    assert!(
        said.contains("for US-KS") && said.contains("its sites are US-CO"),
        "{said}"
    );
    refusals(&service, &asked);
    let adopted = service.booked(
        &manager,
        json!({"kind": "rule_set", "note": "ordinance 12, county gazette (invented)",
               "body": {"toml": layer(), "from": "2026-01-01"}}),
    );
    for (counted, member) in [
        ("appliances", "appliances"),
        ("limits_passed", "limits_passed"),
        ("duties_appear", "duties_appear"),
    ] {
        assert_eq!(adopted["re_worked"][counted], counts[member], "{adopted}");
    }
}

/// Who may not ask, and what cannot be asked: each with the member that is wrong.
fn refusals(service: &Service, asked: &serde_json::Value) {
    let path = "/api/v1/rule-sets/preview";
    let (manager, technician) = (&service.firm.manager, &service.firm.technician);
    service
        .post(technician, path, asked)
        .expect_problem(403, "forbidden");
    for (body, status, kind, pointer) in [
        (json!({"from": "2026-01-01"}), 400, "malformed", ""),
        (json!({"toml": layer()}), 400, "malformed", ""),
        (
            json!({"toml": layer(), "from": "soon"}),
            422,
            "invalid-value",
            "/from",
        ),
        (
            json!({"toml": layer(), "from": FROM, "most": 501}),
            422,
            "invalid-value",
            "/most",
        ),
        (
            json!({"method": "guess", "from": FROM}),
            422,
            "invalid-value",
            "/method",
        ),
        (
            json!({"toml": "id = 1", "from": FROM}),
            422,
            "invalid-value",
            "/toml",
        ),
    ] {
        let problem = service
            .post(manager, path, &body)
            .expect_problem(status, kind)
            .json();
        let found = problem["errors"][0]["pointer"].as_str().unwrap_or_default();
        assert_eq!(found, pointer, "{problem}");
    }
}
