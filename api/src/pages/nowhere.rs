//! An address at which nothing stands: a page for who reads pages, a problem for programs.

use super::message::MessagePage;
use super::way::{headers, page};
use crate::http::answer::{new_request_id, not_found};
use crate::http::told::told;
use actix_web::http::StatusCode;
use actix_web::http::header::ACCEPT;
use actix_web::{HttpRequest, HttpResponse, web};
use std::time::Instant;

/// Answers every address that no table has; put in after the interface, whose answer it replaces.
pub fn nowhere(config: &mut web::ServiceConfig) {
    config.default_service(web::to(
        |request: HttpRequest| async move { answer(&request) },
    ));
}

fn answer(request: &HttpRequest) -> HttpResponse {
    let accept = request.headers().get(ACCEPT);
    let accept = accept.and_then(|value| value.to_str().ok());
    if request.path().starts_with("/api/") || !prefers_pages(accept.unwrap_or_default()) {
        return not_found(request);
    }
    let (begun, id) = (Instant::now(), new_request_id());
    let mut response = page(StatusCode::NOT_FOUND, &MessagePage::nothing_here());
    headers(&mut response);
    told(request, "other", response, None, &id, begun, None)
}

/// Does a browser ask? It names HTML, with a weight that JSON does not exceed (RFC 9110, 12.5.1).
fn prefers_pages(accept: &str) -> bool {
    let weight = |wanted: &[&str]| {
        let weights = accept.split(',').filter_map(|range| {
            let mut parts = range.split(';').map(str::trim);
            let name = parts.next()?.to_ascii_lowercase();
            let q = parts.find_map(|part| part.strip_prefix("q="));
            let q = q.map_or(Some(1.0), |q| q.parse::<f32>().ok())?;
            wanted.contains(&name.as_str()).then_some(q)
        });
        weights.fold(0.0, f32::max)
    };
    let html = weight(&["text/html", "application/xhtml+xml"]);
    html > 0.0 && html >= weight(&["application/json", "application/problem+json"])
}

#[cfg(test)]
mod tests {
    use super::prefers_pages;

    /// What browsers send for a page (MDN, list of default Accept values), and what programs send.
    #[test]
    fn a_browser_is_known_by_what_it_accepts() {
        let browser = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8";
        assert!(prefers_pages(browser));
        assert!(prefers_pages("application/json;q=0.5, Text/HTML"));
        for program in [
            "",
            "*/*",
            "application/json",
            "text/html;q=0",
            "application/json, text/html;q=0.9",
        ] {
            assert!(!prefers_pages(program), "{program}");
        }
    }
}
