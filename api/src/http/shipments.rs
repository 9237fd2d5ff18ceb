//! Shipments beside what the receivers state of them.

use super::answer::Asked;
use super::listed;
use super::problem::Problem;
use super::query::Query;
use crate::actions::show::Page;
use crate::actions::show::shipments::{self, STATES, ShipmentsAsked};
use actix_web::HttpResponse;

/// What a query asks of the list.
pub fn asked_for(query: &Query, most: usize) -> Result<ShipmentsAsked, Problem> {
    let text = |name| query.text(name).unwrap_or_default().trim().to_string();
    Ok(ShipmentsAsked {
        after: query.number("after")?,
        state: match query.text("state").unwrap_or_default() {
            // A form sends its boxes empty.
            "" => String::new(),
            _ => query.word("state", &STATES)?.to_string(),
        },
        counterparty: text("counterparty"),
        most,
    })
}

/// `GET /api/v1/shipments`.
pub async fn page(asked: Asked) -> Result<HttpResponse, Problem> {
    let of = asked.by()?.signed_in.of.clone();
    let question = asked_for(&asked.query, asked.query.limit()?)?;
    let page = asked
        .read(move |state| state.desk.read(|db| shipments::page(db, &of, &question)))
        .await?;
    Ok(listed::answer(&asked, &page))
}

/// `GET /api/v1/shipments/{id}`.
pub async fn one(asked: Asked) -> Result<HttpResponse, Problem> {
    let (of, name) = (asked.by()?.signed_in.of.clone(), asked.name("id"));
    let items = asked
        .read(move |state| state.desk.read(|db| shipments::one(db, &of, &name)))
        .await?;
    Ok(listed::answer(&asked, &Page { items, next: None }))
}
