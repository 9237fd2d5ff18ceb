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
