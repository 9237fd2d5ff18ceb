//! The cylinders as a phone keeps them: no page, but what its check before posting reads when there
//! is no signal. It goes with the kept pages when somebody signs in or out.

use crate::actions::show;
use crate::actions::show::carried;
use crate::http::Problem;
use crate::pages::way::Visit;
use actix_web::HttpResponse;
use actix_web::http::header::CACHE_CONTROL;
use serde_json::json;

/// `GET /field/cylinders`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (of, now) = (visit.by()?.signed_in.of.clone(), visit.asked.now);
    let read = visit
        .asked
        .read(move |state| state.desk.read(|db| carried::cylinders(db, &of)));
    let cylinders = read.await?;
    Ok(HttpResponse::Ok()
        .insert_header((CACHE_CONTROL, "no-store"))
        .json(json!({"made": show::instant(now), "cylinders": cylinders})))
}
