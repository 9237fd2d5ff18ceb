//! Custody: whoever holds a cylinder says with one press that it is theirs now, or to whom it went.
//!
//! It is booked as a dated fact of the cylinder, so that the list of a van and the search for a missing
//! cylinder follow from the book.

use crate::actions::ActionError;
use crate::actions::manage_people::{self, Member};
use crate::actions::show::Organisation;
use crate::actions::show::things::{self, Sort};
use crate::http::answer::PATIENCE;
use crate::http::{Problem, State};
use crate::ledger::actor::Role;
use crate::pages::appliances::fact;
use crate::pages::field::cage::{card_path, own_name};
use crate::pages::way::{Visit, go_to};
use actix_web::HttpResponse;
use serde_json::json;

/// Where a cylinder goes that nobody carries about.
pub const SHOP: &str = "shop";
/// People to whom a cylinder can be given.
const MOST_PEOPLE: usize = 100;

/// Colleagues who carry cylinders, with their names: technicians and managers, without the reader.
pub fn people(
    state: &State,
    of: &Organisation,
    own: &str,
) -> Result<Vec<(String, String)>, ActionError> {
    let members = state.desk.read(|db| {
        let members = manage_people::list(db, of.org);
        members.map_err(ActionError::from)
    })?;
    let carries = |one: &Member| {
        let carry = [Role::Technician, Role::ComplianceManager];
        one.disabled_at.is_none() && carry.iter().any(|role| one.roles.contains(role))
    };
    let carrying = members.into_iter().filter(carries);
    let named = carrying.filter_map(|one| Some((one.person.to_string(), one.name?)));
    let mut named: Vec<_> = named.filter(|(_, name)| name != own).collect();
    named.sort_by(|one, other| one.1.cmp(&other.1));
    named.truncate(MOST_PEOPLE);
    Ok(named)
}

/// `POST /cylinders/{id}/held`: the person who is signed in has it now, or whom `to` names: the shop, or
/// a person by id.
pub async fn take(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (of, person) = (by.signed_in.of.clone(), by.signed_in.person);
    let name = visit.asked.name("id");
    let to = visit.filled("to").to_string();
    let read = visit.asked.read(move |state| {
        let cylinder = |db: &mut _| things::one(db, &of, Sort::Cylinder, &name);
        let cylinder = state.desk.read(cylinder)?;
        let person = match to.as_str() {
            "" => own_name(state, &of, person)?,
            SHOP => SHOP.to_string(),
            other => {
                let read = |db: &mut _| things::one(db, &of, Sort::Person, other);
                let person = state.desk.read(read)?;
                fact(&person, "name").unwrap_or(&person.tag).to_string()
            }
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
    Ok(go_to(&card_path(&cylinder.tag, &cylinder.id)))
}
