//! The service as a browser without script uses it: signing in with a password, sending the form of a
//! page with its token.

use crate::service::{Reply, Service, Who};
use serde_json::json;

/// Signs in and answers with the cookies.
pub fn sign_in(service: &Service, email: &str, password: &str) -> Who {
    let body = json!({"email": email, "password": password});
    let reply = service.post(&Who::Nobody, "/api/v1/sessions", &body);
    reply.expect(201).cookies()
}

/// The value of a hidden box of a page.
pub fn hidden(page: &str, name: &str) -> String {
    let mark = format!("name=\"{name}\" value=\"");
    let (_, rest) = page
        .split_once(&mark)
        .unwrap_or_else(|| panic!("no box {name} in {page}"));
    rest.split('"').next().unwrap_or_default().to_string()
}

/// Sends a form of a page as a browser does, its token with it.
pub fn send(service: &Service, who: &Who, page: &str, path: &str, boxes: &[(&str, &str)]) -> Reply {
    let mut body = format!("form={}", hidden(page, "form"));
    for (name, value) in boxes {
        let value: String = value.bytes().map(|byte| format!("%{byte:02x}")).collect();
        body.push_str(&format!("&{name}={value}"));
    }
    let headers = [
        ("Sec-Fetch-Site", "same-origin"),
        ("Content-Type", "application/x-www-form-urlencoded"),
    ];
    service.send(who, "POST", path, &headers, Some(body.as_bytes()))
}
