//! The style sheet and the mark: the only things a page loads.

use super::way::Visit;
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::header::CACHE_CONTROL;

/// Long enough to spare a telephone the second request, short enough for an upgrade to show.
const FOR_A_WHILE: &str = "private, max-age=300";

/// `GET /assets/tarebook.css`.
pub async fn style(_: Visit) -> Result<HttpResponse, Problem> {
    let text = include_str!("../../assets/tarebook.css");
    Ok(asset("text/css; charset=utf-8", text))
}

/// `GET /assets/mark.svg`.
pub async fn mark(_: Visit) -> Result<HttpResponse, Problem> {
    let text = include_str!("../../assets/mark.svg");
    Ok(asset("image/svg+xml", text))
}

fn asset(kind: &'static str, text: &'static str) -> HttpResponse {
    HttpResponse::Ok()
        .content_type(kind)
        .insert_header((CACHE_CONTROL, FOR_A_WHILE))
        .body(text)
}
