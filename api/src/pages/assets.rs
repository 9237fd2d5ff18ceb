//! The style sheets, the mark and the small scripts: what an office page loads.

use super::field::assets::{packed, written};
use super::way::Visit;
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::header::CACHE_CONTROL;
use std::sync::LazyLock;

/// Long enough to spare a telephone the second request, short enough for an upgrade to show.
const FOR_A_WHILE: &str = "public, max-age=300";

/// The style sheet of all pages.
pub const STYLE_TEXT: &str = include_str!("../../assets/tarebook.css");

static PACKED_STYLE: LazyLock<Vec<u8>> = LazyLock::new(|| packed(STYLE_TEXT));

/// `GET /assets/tarebook.css`.
pub async fn style(visit: Visit) -> Result<HttpResponse, Problem> {
    let kind = "text/css; charset=utf-8";
    Ok(written(
        &visit,
        kind,
        STYLE_TEXT,
        &PACKED_STYLE,
        FOR_A_WHILE,
    ))
}

/// `GET /assets/paper.css`.
pub async fn paper(_: Visit) -> Result<HttpResponse, Problem> {
    let text = include_str!("../../assets/paper.css");
    Ok(asset("text/css; charset=utf-8", text))
}

/// `GET /assets/pictures.css`.
pub async fn pictures(_: Visit) -> Result<HttpResponse, Problem> {
    let text = include_str!("../../assets/pictures.css");
    Ok(asset("text/css; charset=utf-8", text))
}

/// `GET /assets/copy.mjs`.
pub async fn copy(_: Visit) -> Result<HttpResponse, Problem> {
    let text = include_str!("../../assets/copy.mjs");
    Ok(asset("text/javascript; charset=utf-8", text))
}

/// `GET /assets/chain.mjs`.
pub async fn chain(_: Visit) -> Result<HttpResponse, Problem> {
    let text = include_str!("../../assets/chain.mjs");
    Ok(asset("text/javascript; charset=utf-8", text))
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
