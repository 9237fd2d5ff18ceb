//! The way every request goes: who asks, may they, what do they say, the handler, the answer.
//!
//! Whatever happens on that way, the client gets an answer of the same form, and the log one line
//! under the request id that the answer carries. A panic of a handler is caught: it costs one
//! request an answer 500, and nobody else anything.

use super::asker::{self, Asker};
use super::problem::Problem;
use super::query::{Query, percent_decoded};
use super::routes::{Access, ROUTES, Route};
use super::told::told;
use super::{State, body};
use crate::actions::permit::posts;
use crate::ledger::entry::EntryKind;
use actix_web::http::Method;
use actix_web::{HttpRequest, HttpResponse, guard, web};
use futures_util::FutureExt;
use serde_json::Value;
use std::panic::AssertUnwindSafe;
use std::pin::Pin;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// A request as a handler sees it.
pub struct Asked {
    /// What is the same for all requests.
    pub state: Arc<State>,
    /// The request, without its body.
    pub request: HttpRequest,
    /// Who asks; always somebody on routes that are not open.
    by: Option<Asker>,
    /// The body; null where there is none.
    pub body: Value,
    /// Members of the query.
    pub query: Query,
    /// Names the request in the log.
    pub request_id: String,
    /// When it came, microseconds since 1970.
    pub now: i64,
}

/// What a handler gives.
pub type Answer = Pin<Box<dyn Future<Output = Result<HttpResponse, Problem>>>>;

impl Asked {
    /// A request of somebody who was found out already.
    pub fn new(
        state: Arc<State>,
        request: HttpRequest,
        by: Option<Asker>,
        query: Query,
        request_id: &str,
    ) -> Asked {
        Asked {
            now: (state.now)(),
            state,
            request,
            by,
            body: Value::Null,
            query,
            request_id: request_id.to_string(),
        }
    }

    /// Who asks.
    pub fn by(&self) -> Result<&Asker, Problem> {
        self.by.as_ref().ok_or_else(asker::nobody)
    }

    /// Who asks, on a route that is open to everybody.
    pub fn by_if_any(&self) -> Option<&Asker> {
        self.by.as_ref()
    }

    /// The path that was asked.
    pub fn path(&self) -> &str {
        self.request.path()
    }

    /// A name in the path, decoded.
    pub fn name(&self, name: &str) -> String {
        // The router leaves some characters as they were encoded.
        let encoded = self.request.match_info().query(name);
        percent_decoded(encoded).unwrap_or_else(|| encoded.to_string())
    }

    /// Text of a header.
    pub fn header(&self, name: &str) -> Option<&str> {
        self.request
            .headers()
            .get(name)
            .and_then(|value| value.to_str().ok())
    }

    /// The address the request came from.
    pub fn source(&self) -> String {
        asker::source(&self.state.reached, &self.request)
    }

    /// Asks the book on a thread that may wait.
    pub async fn read<T: Send + 'static>(
        &self,
        question: impl FnOnce(&State) -> Result<T, crate::actions::ActionError> + Send + 'static,
    ) -> Result<T, Problem> {
        let state = Arc::clone(&self.state);
        let answered = web::block(move || question(&state));
        let answered = tokio::time::timeout(PATIENCE, answered).await;
        let answered =
            answered.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
        let answered = answered.map_err(|_| Problem::unavailable("no thread to ask the book"))?;
        Ok(answered?)
    }
}

/// Who waits longer is told that the book is away (promise A7).
pub const PATIENCE: Duration = Duration::from_millis(4_500);

/// Puts every route into the service.
pub fn serve(config: &mut web::ServiceConfig) {
    let mut done: Vec<&str> = Vec::new();
    for route in ROUTES {
        if done.contains(&route.path) {
            continue;
        }
        done.push(route.path);
        let same: Vec<&'static Route> = ROUTES
            .iter()
            .filter(|other| other.path == route.path)
            .collect();
        let mut resource = web::resource(route.path);
        for route in &same {
            resource = resource.route(handled(route));
        }
        let allowed: Vec<&str> = same.iter().map(|route| route.method.word()).collect();
        let allowed = allowed.join(", ");
        config.service(
            resource.default_service(web::to(move |request: HttpRequest| {
                let allowed = allowed.clone();
                async move { not_allowed(&request, &allowed) }
            })),
        );
    }
    config.default_service(web::to(|request: HttpRequest| async move {
        not_found(&request)
    }));
}

fn handled(route: &'static Route) -> actix_web::Route {
    let method = match route.method {
        super::routes::Verb::Get => {
            let read = guard::Any(guard::Get()).or(guard::Head());
            web::route().guard(read)
        }
        super::routes::Verb::Post => web::post(),
        super::routes::Verb::Patch => web::patch(),
        super::routes::Verb::Delete => web::delete(),
    };
    method.to(
        move |state: web::Data<State>, request: HttpRequest, payload: web::Payload| {
            answer(route, state, request, payload)
        },
    )
}

fn not_allowed(request: &HttpRequest, allowed: &str) -> HttpResponse {
    let detail = format!(
        "Expected one of {allowed} at this address, got {}.",
        request.method()
    );
    let problem = Problem::new("not-allowed", detail).with_header("Allow", allowed);
    finish(
        request,
        "other",
        Err(problem),
        &new_request_id(),
        Instant::now(),
        None,
    )
}

/// The answer to a program that asks for an address at which nothing stands.
pub fn not_found(request: &HttpRequest) -> HttpResponse {
    let detail = "There is nothing at this address. /api/v1/openapi.json lists what there is.";
    let problem = Problem::new("not-found", detail);
    finish(
        request,
        "other",
        Err(problem),
        &new_request_id(),
        Instant::now(),
        None,
    )
}

/// 128 random bits: nobody can guess what another asked.
pub fn new_request_id() -> String {
    crate::ledger::id::Id::random().to_string()
}

async fn answer(
    route: &'static Route,
    state: web::Data<State>,
    request: HttpRequest,
    payload: web::Payload,
) -> HttpResponse {
    let begun = Instant::now();
    let request_id = new_request_id();
    let running = state.metrics.begin();
    let way = go(route, &state, &request, payload, &request_id);
    let outcome = guarded(way).await;
    drop(running);
    finish(
        &request,
        route.path,
        outcome,
        &request_id,
        begun,
        Some(&state),
    )
}

/// Catches a panic of a handler: it costs one request its answer, and nobody else anything.
pub async fn guarded<T>(way: impl Future<Output = Result<T, Problem>>) -> Result<T, Problem> {
    let outcome = AssertUnwindSafe(way).catch_unwind().await;
    outcome.unwrap_or_else(|panic| {
        let what = panic.downcast_ref::<&str>().map(|text| (*text).to_string());
        let what = what.or_else(|| panic.downcast_ref::<String>().cloned());
        let what = what.unwrap_or_default();
        Err(Problem::failure(format!("a handler panicked: {what}")))
    })
}

async fn go(
    route: &'static Route,
    state: &web::Data<State>,
    request: &HttpRequest,
    payload: web::Payload,
    request_id: &str,
) -> Result<HttpResponse, Problem> {
    let changes = *request.method() != Method::GET && *request.method() != Method::HEAD;
    let query = Query::read(request.query_string(), &route.query_names())?;
    let by = match route.access {
        Access::Open => None,
        Access::Maybe => asker::find(state, request).await.or_else(|problem| {
            // Who signs in anew may still show the cookie of a session that has ended.
            if problem.kind.slug == "not-signed-in" {
                Ok(None)
            } else {
                Err(problem)
            }
        })?,
        _ => Some(
            asker::find(state, request)
                .await?
                .ok_or_else(asker::nobody)?,
        ),
    };
    if changes {
        let strict = by.as_ref().is_some_and(asker::by_cookie);
        let by_token = by.is_some() && !strict;
        if !by_token {
            asker::refuse_other_sites(&state.reached, request, strict)?;
        }
    }
    if let Some(by) = &by {
        if !route.before_factor() {
            asker::refuse_half_signed_in(by)?;
        }
        permitted(route, by)?;
    }
    body::refuse_encoding(request)?;
    let mut read = match route.reads_body() {
        true => Some(body::read(request, payload, &state.waiting).await?),
        false => None,
    };
    let body = read
        .as_mut()
        .map(|read| std::mem::take(&mut read.value))
        .unwrap_or_default();
    let shared = state.clone().into_inner();
    let mut asked = Asked::new(shared, request.clone(), by, query, request_id);
    asked.body = body;
    (route.answer)(asked).await
}

/// Refuses whom the route is not for.
fn permitted(route: &Route, by: &Asker) -> Result<(), Problem> {
    match route.access {
        Access::Open | Access::Maybe | Access::SignedIn => Ok(()),
        Access::To(deed) if by.may(deed) => Ok(()),
        Access::To(deed) => Err(asker::forbidden(deed)),
        Access::Posting => {
            let posting = |role| EntryKind::ALL.into_iter().any(|kind| posts(role, kind));
            match by.signed_in.may(posting) {
                true => Ok(()),
                false => {
                    let detail = "Expected a role that posts entries, got none of them.";
                    Err(Problem::new("forbidden", detail))
                }
            }
        }
    }
}

/// Turns the outcome into the answer, with the headers of all answers, a line of log and a
/// measurement.
fn finish(
    request: &HttpRequest,
    pattern: &str,
    outcome: Result<HttpResponse, Problem>,
    request_id: &str,
    begun: Instant,
    state: Option<&web::Data<State>>,
) -> HttpResponse {
    match outcome {
        Ok(response) => told(request, pattern, response, None, request_id, begun, state),
        Err(problem) => {
            // An address that is a secret is not said again.
            let instance = match pattern.contains("{secret}") {
                true => pattern,
                false => request.path(),
            };
            let response = as_response(instance, &problem, request_id);
            let problem = Some(&problem);
            told(
                request, pattern, response, problem, request_id, begun, state,
            )
        }
    }
}

fn as_response(instance: &str, problem: &Problem, request_id: &str) -> HttpResponse {
    let status = actix_web::http::StatusCode::from_u16(problem.kind.status)
        .unwrap_or(actix_web::http::StatusCode::INTERNAL_SERVER_ERROR);
    let mut response = HttpResponse::build(status);
    response.content_type("application/problem+json; charset=utf-8");
    for (name, value) in &problem.headers {
        response.insert_header((*name, value.as_str()));
    }
    let members = problem.members(instance, request_id);
    response.body(Value::Object(members).to_string())
}
