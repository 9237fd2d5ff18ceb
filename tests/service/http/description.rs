//! The description is in step with the table, and people can read it without any script.

use api::http::routes::ROUTES;
use harness::service::{Service, Who};
use serde_json::Value;
use std::collections::BTreeSet;

/// E27: every route has an operation, and every operation a route. That every answer seen in the tests
/// fits its schema is looked at where they are received (harness/service.rs).
#[test]
fn every_route_is_described_and_nothing_else() {
    let service = Service::start();
    let document = service
        .get(&Who::Nobody, "/api/v1/openapi.json")
        .expect(200)
        .json();
    assert_eq!(document["openapi"], "3.1.0");
    let mut described = BTreeSet::new();
    for (path, operations) in document["paths"].as_object().expect("paths") {
        for (method, operation) in operations.as_object().expect("operations") {
            described.insert(format!("{} {path}", method.to_uppercase()));
            for (status, response) in operation["responses"].as_object().expect("responses") {
                assert!(
                    response["description"].is_string(),
                    "{method} {path} {status}"
                );
            }
        }
    }
    let routes: BTreeSet<String> = (ROUTES.iter())
        .map(|route| {
            format!(
                "{} {}",
                route.method.word(),
                route.path.replace(":.*}", "}")
            )
        })
        .collect();
    assert_eq!(described, routes);
    let ids: Vec<&Value> = (document["paths"].as_object().expect("paths").values())
        .flat_map(|operations| operations.as_object().expect("operations").values())
        .map(|operation| &operation["operationId"])
        .collect();
    let distinct: BTreeSet<String> = ids.iter().map(|id| id.to_string()).collect();
    assert_eq!(distinct.len(), ids.len(), "operation ids are unique");
    references(&document, &document);
}

/// Every reference leads somewhere.
fn references(document: &Value, value: &Value) {
    match value {
        Value::Object(members) => {
            if let Some(Value::String(target)) = members.get("$ref") {
                let pointer = target
                    .strip_prefix('#')
                    .expect("a reference into the document");
                assert!(
                    document.pointer(pointer).is_some(),
                    "{target} leads nowhere"
                );
            }
            members
                .values()
                .for_each(|member| references(document, member));
        }
        Value::Array(list) => list.iter().for_each(|item| references(document, item)),
        _ => {}
    }
}

/// Types, questions and stops each have a help page; the page of the interface names them all. None
/// of these pages asks for a script, a style or anything from elsewhere.
#[test]
fn help_can_be_read_by_everybody() {
    let service = Service::start();
    let docs = service.get(&Who::Nobody, "/api/v1/docs").expect(200).text();
    let mut pages = vec![docs.clone()];
    let links: BTreeSet<&str> = (docs.split("href=\"").skip(1))
        .filter_map(|rest| rest.split('"').next())
        .filter(|link| link.starts_with('/'))
        .collect();
    assert!(links.len() > 40, "{links:?}");
    for link in links {
        let page = service.get(&Who::Nobody, link).expect(200);
        if page
            .header("content-type")
            .is_some_and(|kind| kind.starts_with("text/html"))
        {
            pages.push(page.text());
        }
    }
    for route in ROUTES {
        assert!(
            docs.contains(&route.path.replace(":.*}", "}")),
            "{}",
            route.path
        );
    }
    for page in pages {
        let lower = page.to_lowercase();
        assert!(lower.starts_with("<!doctype html>") && lower.contains("<html lang=\"en\">"));
        for foreign in [
            "<script", "<style", " style=", "http://", "https://", "<img", "<iframe",
        ] {
            assert!(!lower.contains(foreign), "{foreign} in {page}");
        }
    }
}
