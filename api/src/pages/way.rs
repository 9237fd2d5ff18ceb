//! The way every page goes: who asks, may they, what did they fill in, the page, its headers.
//!
//! A page is asked with the cookie of a session. Whoever has none is sent to the sign-in and comes
//! back. A form must come from a page of ours (Fetch metadata or Origin) and bring the token that
//! was made for this session. Whatever goes wrong is a page, too, in the same words.

use super::form_token;
use super::message::MessagePage;
use super::sign_in::SignInPage;
use super::table::{Entry, PAGES, PageRow};
use crate::actions::permit::posts;
use crate::http::answer::{Asked, guarded, new_request_id};
use crate::http::asker::{self, Asker};
use crate::http::query::Query;
use crate::http::routes::Verb;
use crate::http::told::told;
use crate::http::{Problem, State, body};
use crate::ledger::entry::EntryKind;
use actix_web::http::StatusCode;
use actix_web::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, ETAG, IF_NONE_MATCH, LOCATION,
};
use actix_web::{FromRequest, HttpRequest, HttpResponse, guard, web};
use askama::Template;
use std::pin::Pin;
use std::time::{Duration, Instant};

/// Most KiB of a filled-in form: a note of 2 000 characters, percent-encoded, and some boxes.
const LARGEST_FORM: usize = 64;
/// The same of a form with a rule file: 1 MiB of text, of which a third may have to be encoded.
const LARGEST_RULES: usize = 512;
/// A filled-in form arrives within this time.
const PATIENCE: Duration = Duration::from_secs(30);

/// A request as a page sees it.
pub struct Visit {
    /// The request: state, who asks, query.
    pub asked: Asked,
    /// What was filled in; empty where nothing was sent.
    pub form: Vec<(String, String)>,
    /// The token of the forms of this session; empty without one.
    pub token: String,
}

/// What a page gives.
pub type Shown = Pin<Box<dyn Future<Output = Result<HttpResponse, Problem>>>>;

impl Visit {
    /// Who asks.
    pub fn by(&self) -> Result<&Asker, Problem> {
        self.asked.by()
    }

    /// The text of a box; empty where it was not sent.
    pub fn filled(&self, name: &str) -> &str {
        let pair = self.form.iter().find(|(known, _)| known == name);
        pair.map_or("", |(_, value)| value.as_str())
    }
}

/// Puts every page into the service.
pub fn serve(config: &mut web::ServiceConfig) {
    let mut done: Vec<&str> = Vec::new();
    for row in PAGES {
        if done.contains(&row.path) {
            continue;
        }
        done.push(row.path);
        let mut resource = web::resource(row.path);
        for same in PAGES.iter().filter(|other| other.path == row.path) {
            resource = resource.route(handled(same));
        }
        let limit = largest_form(row.path) * 1024;
        config.service(resource.app_data(web::FormConfig::default().limit(limit)));
    }
}

/// Most KiB of a form that is sent to an address.
fn largest_form(path: &str) -> usize {
    match path.starts_with("/rules/") {
        true => LARGEST_RULES,
        false => LARGEST_FORM,
    }
}

fn handled(row: &'static PageRow) -> actix_web::Route {
    let method = match row.verb {
        Verb::Post => web::post(),
        _ => web::route().guard(guard::Any(guard::Get()).or(guard::Head())),
    };
    method.to(
        move |state: web::Data<State>, request: HttpRequest, payload: web::Payload| {
            answer(row, state, request, payload)
        },
    )
}

async fn answer(
    row: &'static PageRow,
    state: web::Data<State>,
    request: HttpRequest,
    payload: web::Payload,
) -> HttpResponse {
    let begun = Instant::now();
    let request_id = new_request_id();
    let running = state.metrics.begin();
    let outcome = guarded(go(row, &state, &request, payload, &request_id)).await;
    drop(running);
    let (mut response, problem) = match outcome {
        Ok(response) => (unchanged(&request, response), None),
        Err(problem) => (as_page(row, &request, &problem, &request_id), Some(problem)),
    };
    headers(&mut response);
    let problem = problem.as_ref();
    told(
        &request,
        row.path,
        response,
        problem,
        &request_id,
        begun,
        Some(&state),
    )
}

async fn go(
    row: &'static PageRow,
    state: &web::Data<State>,
    request: &HttpRequest,
    payload: web::Payload,
    request_id: &str,
) -> Result<HttpResponse, Problem> {
    let query = Query::read(request.query_string(), row.query)?;
    let by = match row.entry {
        Entry::Open | Entry::Address => None,
        _ => Some(
            asker::find(state, request)
                .await?
                .ok_or_else(asker::nobody)?,
        ),
    };
    if let Some(by) = &by {
        if !row.before_factor() {
            asker::refuse_half_signed_in(by)?;
        }
        permitted(row, by)?;
    }
    let cookie = request.cookie(asker::session_cookie(&state.reached));
    let token = match (&by, &cookie) {
        (Some(_), Some(cookie)) => form_token::of(cookie.value()),
        _ => String::new(),
    };
    let mut form = Vec::new();
    if row.verb == Verb::Post {
        // A mail program that asks by itself says nothing of where it comes from, and shows no cookie.
        let strict = row.entry != Entry::Address;
        asker::refuse_other_sites(&state.reached, request, strict)?;
        body::refuse_encoding(request)?;
        if strict {
            form = filled_in(request, payload).await?;
        }
        let brought = form
            .iter()
            .find(|(name, _)| name == "form")
            .map(|(_, value)| value.as_str());
        let open = matches!(row.entry, Entry::Open | Entry::Address);
        if !open && !form_token::fits(&token, brought.unwrap_or_default()) {
            return Ok(page(StatusCode::FORBIDDEN, &MessagePage::stale_form()));
        }
    }
    let shared = state.clone().into_inner();
    let asked = Asked::new(shared, request.clone(), by, query, request_id);
    (row.show)(Visit { asked, form, token }).await
}

async fn filled_in(
    request: &HttpRequest,
    payload: web::Payload,
) -> Result<Vec<(String, String)>, Problem> {
    type Pairs = web::Form<Vec<(String, String)>>;
    let mut payload = payload.into_inner();
    let read = tokio::time::timeout(PATIENCE, Pairs::from_request(request, &mut payload)).await;
    let read = read.map_err(|_| {
        let detail = "Expected the whole form within 30 seconds, got part of it. Send it again.";
        Problem::new("timed-out", detail)
    })?;
    let read = read.map_err(|error| {
        let status = error.as_response_error().status_code();
        let most = largest_form(request.path());
        let detail = format!(
            "Expected a filled-in form of at most {most} KiB, got something else. Open the page \
             again and fill it in anew."
        );
        let slug = match status {
            StatusCode::PAYLOAD_TOO_LARGE => "too-large",
            StatusCode::UNSUPPORTED_MEDIA_TYPE => "unsupported-encoding",
            _ => "malformed",
        };
        let mut problem = Problem::new(slug, detail);
        problem.cause = Some(error.to_string());
        problem
    })?;
    Ok(read.into_inner())
}

/// Refuses whom the page is not for. Pages show the register; the token of a device has its own narrow
/// ways through the interface.
fn permitted(row: &PageRow, by: &Asker) -> Result<(), Problem> {
    if by.scopes.is_some() {
        let detail = "Expected a person, got the token of a device. Ask the interface, /api/v1.";
        return Err(Problem::new("forbidden", detail));
    }
    let posting = |kind: EntryKind| by.signed_in.may(|role| posts(role, kind));
    match row.entry {
        Entry::Open | Entry::Address | Entry::SignedIn => Ok(()),
        Entry::To(deed) if by.may(deed) => Ok(()),
        Entry::To(deed) => Err(asker::forbidden(deed)),
        Entry::Posting(kind) if posting(kind) => Ok(()),
        Entry::Posting(_) => {
            let detail = "Expected a role that posts weights, got none of them.";
            Err(Problem::new("forbidden", detail))
        }
    }
}

/// A page with its status.
pub fn page(status: StatusCode, page: &impl Template) -> HttpResponse {
    match page.render() {
        Ok(html) => written(status, html),
        // Writing into memory does not fail.
        Err(_) => HttpResponse::InternalServerError().finish(),
    }
}

/// A page that is written already.
pub fn written(status: StatusCode, html: String) -> HttpResponse {
    HttpResponse::build(status)
        .content_type("text/html; charset=utf-8")
        .body(html)
}

/// What the asker has already is not sent again: the answer names its print, and the request one
/// that is the same.
fn unchanged(request: &HttpRequest, response: HttpResponse) -> HttpResponse {
    let print = response.headers().get(ETAG);
    let has = request.headers().get(IF_NONE_MATCH);
    if response.status() != StatusCode::OK || print.is_none() || print != has {
        return response;
    }
    let mut answer = HttpResponse::NotModified().finish();
    for name in [ETAG, CONTENT_SECURITY_POLICY, CACHE_CONTROL] {
        if let Some(value) = response.headers().get(&name) {
            answer.headers_mut().insert(name, value.clone());
        }
    }
    answer
}

/// Sends the browser on to an address of ours, with GET.
pub fn go_to(path: &str) -> HttpResponse {
    HttpResponse::SeeOther()
        .insert_header((LOCATION, path))
        .finish()
}

/// An answer that hands on the cookies of another.
pub fn with_cookies(mut answer: HttpResponse, of: &HttpResponse) -> HttpResponse {
    for cookie in of.cookies() {
        // A name and a value that were valid before stay so.
        let _ = answer.add_cookie(&cookie);
    }
    answer
}

/// The address at which browsers reach this service: as it is set, or as this one asked.
pub fn origin(visit: &Visit) -> String {
    crate::http::calendar::base(&visit.asked)
}

/// A problem as a page.
fn as_page(
    row: &PageRow,
    request: &HttpRequest,
    problem: &Problem,
    request_id: &str,
) -> HttpResponse {
    let status = StatusCode::from_u16(problem.kind.status);
    let status = status.unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let message = match problem.kind.slug {
        "not-signed-in" if row.verb == Verb::Get => {
            let asked = request.uri().path_and_query().map_or("/", |it| it.as_str());
            return go_to(&format!("/sign-in?next={}", super::encoded(asked)));
        }
        "not-signed-in" => {
            let ended = SignInPage {
                notice: Some(
                    "Your sign-in has ended and nothing was booked. Sign in, then fill the form in \
                     again."
                        .to_string(),
                ),
                next: super::sign_in::path(request.path()),
                ..SignInPage::default()
            };
            return page(StatusCode::UNAUTHORIZED, &ended);
        }
        "factor-needed" if row.verb == Verb::Get => return go_to("/me/factor"),
        "factor-needed" => MessagePage {
            title: "A second factor first".to_string(),
            detail:
                "Your organisation asks for a second factor. Nothing was booked; set it up, then \
                     fill the form in again."
                    .to_string(),
            to: Some(("/me/factor", "Set it up")),
            ..MessagePage::default()
        },
        "not-found" => MessagePage::not_here(&problem.detail),
        "forbidden" => MessagePage::not_yours(&problem.detail),
        "unavailable" | "clock" => MessagePage::not_now(),
        "failure" => MessagePage {
            title: "Something failed here".to_string(),
            detail: problem.detail.clone(),
            request_id: Some(request_id.to_string()),
            ..MessagePage::default()
        },
        _ => MessagePage {
            title: problem.kind.title.to_string(),
            detail: problem.detail.clone(),
            ..MessagePage::default()
        },
    };
    let mut response = page(status, &message);
    if let Some((_, seconds)) = problem
        .headers
        .iter()
        .find(|(name, _)| *name == "Retry-After")
    {
        let name = actix_web::http::header::RETRY_AFTER;
        if let Ok(value) = seconds.parse() {
            response.headers_mut().insert(name, value);
        }
    }
    response
}

/// What a page may load: our own style and signs, nothing else; and where its forms may go.
const POLICY: &str = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; \
                      base-uri 'none'; frame-ancestors 'none'";

/// The headers of every page.
pub fn headers(response: &mut HttpResponse) {
    // Field pages, which have a script, bring their own.
    if !response.headers().contains_key(CONTENT_SECURITY_POLICY) {
        let policy = actix_web::http::header::HeaderValue::from_static(POLICY);
        response
            .headers_mut()
            .insert(CONTENT_SECURITY_POLICY, policy);
    }
    if !response.headers().contains_key(CACHE_CONTROL) {
        let none = actix_web::http::header::HeaderValue::from_static("no-store");
        response.headers_mut().insert(CACHE_CONTROL, none);
    }
}
