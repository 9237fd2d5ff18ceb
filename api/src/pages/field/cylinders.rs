//! The cylinders as a phone keeps them: no page, but what its check before posting reads when there
//! is no signal. It goes with the kept pages when somebody signs in or out.

use crate::actions::show;
use crate::actions::show::carried;
use crate::http::Problem;
use crate::pages::cautions;
use crate::pages::field::cage::own_name;
use crate::pages::way::Visit;
use actix_web::HttpResponse;
use actix_web::http::header::{CACHE_CONTROL, ETAG};
use serde_json::json;
use std::collections::BTreeMap;

/// `GET /field/cylinders`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (of, person, now) = (
        by.signed_in.of.clone(),
        by.signed_in.person,
        visit.asked.now,
    );
    let read = visit.asked.read(move |state| {
        let cylinders = state.desk.read(|db| carried::cylinders(db, &of))?;
        Ok((cylinders, own_name(state, &of, person)?))
    });
    let (cylinders, name) = read.await?;
    let held = cylinders.iter().flat_map(|one| &one.holds);
    let burns = |(name, _): &(String, String)| Some((name.clone(), cautions::of_class(name)?));
    let warned: BTreeMap<String, String> = held.filter_map(burns).collect();
    let mut said = json!({"cylinders": cylinders, "name": name,
        "caution": cautions::PRESSURE, "cautions": warned});
    let print = super::weak_print(said.to_string().as_bytes());
    said["made"] = json!(show::instant(now));
    Ok(HttpResponse::Ok()
        .insert_header((CACHE_CONTROL, "no-store"))
        .insert_header((ETAG, print))
        .json(said))
}
