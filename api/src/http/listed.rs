//! Pages of lists: `items`, `next` and the same in the header `Link` (RFC 8288).

use super::answer::Asked;
use crate::actions::show::Page;
use actix_web::HttpResponse;
use serde::Serialize;
use serde_json::json;

/// The answer with a page of a list.
pub fn answer<T: Serialize>(asked: &Asked, page: &Page<T>) -> HttpResponse {
    let next = page.next.as_deref().map(|after| {
        let query = asked.query.with("after", after);
        format!("{}?{query}", asked.path())
    });
    let mut answer = HttpResponse::Ok();
    if let Some(next) = &next {
        answer.insert_header(("Link", format!("<{next}>; rel=\"next\"")));
    }
    answer.json(json!({"items": page.items, "next": next}))
}

/// The answer with one thing in a version; not sent again to who has it already.
pub fn tagged<T: Serialize>(asked: &Asked, tag: &str, value: &T) -> HttpResponse {
    let known = asked.header("if-none-match").unwrap_or_default();
    let mut known = known
        .split(',')
        .map(|known| known.trim().trim_start_matches("W/"));
    let known = known.any(|known| known == tag || known == "*");
    let mut answer = if known {
        HttpResponse::NotModified()
    } else {
        HttpResponse::Ok()
    };
    answer.insert_header(("ETag", tag));
    answer.insert_header(("Cache-Control", "private, no-cache"));
    if known {
        answer.finish()
    } else {
        answer.json(value)
    }
}
