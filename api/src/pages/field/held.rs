//! Custody by scan: whoever holds the label and the cylinder says with one press that it is theirs now.
//!
//! It is booked as a dated fact of the cylinder, so that the list of a van and the search for a missing
//! cylinder follow from the book.

use crate::actions::code;
use crate::actions::show::things::{self, Sort};
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use crate::ledger::id::Id;
use crate::pages::appliances::fact;
use crate::pages::way::{Visit, go_to};
use actix_web::HttpResponse;
use serde_json::json;

/// `POST /cylinders/{id}/held`: the person who is signed in has it now.
pub async fn take(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (of, person) = (by.signed_in.of.clone(), by.signed_in.person);
    let name = visit.asked.name("id");
    let read = visit.asked.read(move |state| {
        let cylinder = |db: &mut _| things::one(db, &of, Sort::Cylinder, &name);
        let cylinder = state.desk.read(cylinder)?;
        let person = match person {
            Some(person) => {
                let id = person.to_string();
                let read = |db: &mut _| things::one(db, &of, Sort::Person, &id);
                let person = state.desk.read(read)?;
                fact(&person, "name").unwrap_or(&person.tag).to_string()
            }
            None => String::new(),
        };
        Ok((cylinder, person))
    });
    let (cylinder, person) = read.await?;
    let request = json!({"entry_id": visit.filled("entry_id"), "kind": "cylinder",
        "body": {"subject": cylinder.id, "facts": {"held_by": person}}});
    let by = by.poster();
    let posted = visit.asked.state.desk.post(&by, request);
    let posted = tokio::time::timeout(PATIENCE, posted).await;
    let posted = posted.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    posted?;
    let code = Id::parse(&cylinder.id).and_then(|id| code::of(Sort::Cylinder, id));
    Ok(go_to(&match code {
        Some(code) => format!("/q/{code}"),
        None => crate::pages::cylinder_path(&cylinder.tag, &cylinder.id),
    }))
}
