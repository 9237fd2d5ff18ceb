//! Rule sets: which there are, which were adopted, and what they say.

use super::answer::Asked;
use super::listed;
use super::problem::Problem;
use crate::actions::show::{Page, rule_sets};
use actix_web::HttpResponse;

/// `GET /api/v1/rule-sets`.
pub async fn all(asked: Asked) -> Result<HttpResponse, Problem> {
    let of = asked.by()?.signed_in.of.clone();
    let items = asked
        .read(move |state| state.desk.read(|db| rule_sets::all(db, &of)))
        .await?;
    Ok(listed::answer(&asked, &Page { items, next: None }))
}

/// `GET /api/v1/rule-sets/{id}`.
pub async fn one(asked: Asked) -> Result<HttpResponse, Problem> {
    let (of, id) = (asked.by()?.signed_in.of.clone(), asked.name("id"));
    let set = asked
        .read(move |state| state.desk.read(|db| rule_sets::one(db, &of, &id)))
        .await?;
    Ok(HttpResponse::Ok().json(set))
}
