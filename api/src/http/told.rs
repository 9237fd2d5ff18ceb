//! The end of every request: headers of all answers, one line of log, one measurement.

use super::problem::Problem;
use super::{Reached, State, metrics};
use actix_web::http::header::{HeaderName, HeaderValue};
use actix_web::{HttpRequest, HttpResponse, web};
use std::time::Instant;

/// Gives an answer the headers of all answers; tells the log and the measurements of it.
pub fn told(
    request: &HttpRequest,
    pattern: &str,
    mut response: HttpResponse,
    problem: Option<&Problem>,
    request_id: &str,
    begun: Instant,
    state: Option<&web::Data<State>>,
) -> HttpResponse {
    headers(&mut response, request_id, state.map(|state| &state.reached));
    let status = response.status().as_u16();
    let took = begun.elapsed();
    let method = request.method().as_str();
    let took_us = u64::try_from(took.as_micros()).unwrap_or(u64::MAX);
    let (slug, cause) = match problem {
        Some(problem) => (problem.kind.slug, problem.cause.as_deref().unwrap_or("")),
        None => ("", ""),
    };
    if status >= 500 {
        tracing::error!(
            request_id,
            method,
            route = pattern,
            status,
            took_us,
            slug,
            cause,
            "failed"
        );
    } else {
        tracing::info!(
            request_id,
            method,
            route = pattern,
            status,
            took_us,
            slug,
            cause,
            "answered"
        );
    }
    if let Some(state) = state {
        state
            .metrics
            .answered(metrics::Labels::new(method, pattern, status), took);
    }
    response
}

/// Headers of every answer; an answer that has set one keeps it.
fn headers(response: &mut HttpResponse, request_id: &str, reached: Option<&Reached>) {
    let mut set = |name: &'static str, value: &str| {
        let name = HeaderName::from_static(name);
        if let (false, Ok(value)) = (
            response.headers().contains_key(&name),
            HeaderValue::from_str(value),
        ) {
            response.headers_mut().insert(name, value);
        }
    };
    set("x-request-id", request_id);
    set("cache-control", "no-store");
    set("x-content-type-options", "nosniff");
    set("referrer-policy", "no-referrer");
    set(
        "permissions-policy",
        "camera=(), microphone=(), geolocation=()",
    );
    set(
        "content-security-policy",
        "default-src 'none'; frame-ancestors 'none'",
    );
    set("cross-origin-resource-policy", "same-origin");
    if reached
        .and_then(|reached| reached.origin.as_deref())
        .is_some_and(|o| o.starts_with("https:"))
    {
        set("strict-transport-security", "max-age=31536000");
    }
    let json = HeaderValue::from_static("application/json; charset=utf-8");
    if let Some(kind) = response.headers_mut().get_mut("content-type")
        && kind.as_bytes() == b"application/json"
    {
        *kind = json;
    }
}
