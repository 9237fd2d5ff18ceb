//! What the pages say of a mixture whose finding is settled, and of a finding that a correction settled.
//!
//! Where mixed refrigerant goes is the model's (section 4.2); expected texts are read as a person reads
//! the page. 2 lb and 2 lb are 4 lb, under the old names and under the new one.

use harness::service::{PASSWORD, Service};
use serde_json::{Value, json};

fn recover(refrigerant: &str) -> Value {
    json!({"kind": "recover", "answers": {"mixing": "already_happened"}, "body": {
        "from": "unregistered", "number": 1, "to": "cylinder:TR-0417", "refrigerant": refrigerant,
        "mass": "2 lb"}})
}

#[test]
fn a_mixture_says_everywhere_where_it_goes() {
    let service = Service::stocked();
    let manager = service.firm.manager.clone();
    let body = json!({"email": "nadia@tamarack.example", "password": PASSWORD});
    let nadia = service.post(&harness::service::Who::Nobody, "/api/v1/sessions", &body);
    let nadia = nadia.expect(201).cookies();
    let only = "ixed: to reclaim or destruction only";
    service.booked(&manager, recover("R-22"));
    let page = |path: &str| service.get(&nadia, path).expect(200).text();
    assert!(!page("/cylinders").contains(only) && !page("/cylinders/TR-0417").contains(only));
    let mixed = service.booked(&manager, recover("R-134a"));
    let settle = json!({"kind": "settle", "body": {"code": "mixing", "reason": "checked",
        "entries": [mixed["entry_id"]]}});
    service.booked(&manager, settle);
    let out = |name: &str| json!({"from": "cylinder:TR-0417", "refrigerant": name, "mass": "2 lb"});
    let named = json!({"kind": "redesignate", "body": {"becomes": "mixture",
        "parts": ["R-22", "R-134a"], "movements": [out("R-22"), out("R-134a")]}});
    service.booked(&manager, named);
    for path in ["/cylinders", "/cylinders/TR-0417"] {
        assert!(page(path).contains(only), "{path}");
    }
    let told = service
        .get(&manager, "/api/v1/cylinders/TR-0417")
        .expect(200)
        .json();
    assert_eq!(told["only_to_reclaim"], "mixed");
    let own = page("/cylinders/TR-0417");
    assert!(own.contains("<td class=\"fig\">4 lb 0 oz</td>"), "{own}");
    assert!(!own.contains("8 lb 0 oz"), "{own}");
}

#[test]
fn a_finding_says_which_correction_settled_it() {
    let service = Service::stocked();
    let manager = service.firm.manager.clone();
    let body = json!({"email": "nadia@tamarack.example", "password": PASSWORD});
    let nadia = service.post(&harness::service::Who::Nobody, "/api/v1/sessions", &body);
    let nadia = nadia.expect(201).cookies();
    service.booked(&manager, recover("R-22"));
    let mixed = service.booked(&manager, recover("R-134a"));
    let path = format!("/findings/{}/mixing", mixed["seq"]);
    let open = service.get(&nadia, &path).expect(200).text();
    assert!(!open.contains("Settled by"), "{open}");
    let taken_back = json!({"kind": "correction", "reason_text": "It was TR-0422.", "body": {
        "corrects": mixed["entry_id"], "reason": "wrong_cylinder"}});
    let by = service.booked(&manager, taken_back);
    let page = service.get(&nadia, &path).expect(200).text();
    let says = format!(
        "as no. {}: the entry that left it was corrected (wrong cylinder).",
        by["seq"]
    );
    assert!(
        page.contains("Settled by") && page.contains(&says),
        "{page}"
    );
    assert!(page.contains("It was TR-0422."), "{page}");
    let list = service.get(&nadia, "/findings").expect(200).text();
    assert!(!list.contains(&path), "{list}");
}
