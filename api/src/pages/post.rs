//! Posting a charge or a recovery.
//!
//! The first press shows the mass that would be booked, the second books it through the one door
//! for facts. What the door asks or stops comes back in the same form; what has happened already is
//! booked all the same.

use super::field::{FieldFrame, page};
use super::form::{Deed, Fields, Weighed, box_problem};
use super::message::MessagePage;
use super::posting::{Known, PostPage};
use super::way::{Visit, go_to};
use crate::actions::ActionError;
use crate::actions::refusal::Refusal;
use crate::actions::show::things::Sort;
use crate::actions::show::{fitting, lines, overview};
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use reports::day::Day;

/// Cylinders that are offered.
pub(super) const MOST_CYLINDERS: usize = 12;
/// Entries among which the one that retired the appliance is looked for.
const LOOKED_AT: usize = 40;

/// `GET /appliances/{id}/charge`.
pub async fn charge(visit: Visit) -> Result<HttpResponse, Problem> {
    show(visit, Deed::Charge).await
}

/// `GET /appliances/{id}/recover`.
pub async fn recover(visit: Visit) -> Result<HttpResponse, Problem> {
    show(visit, Deed::Recover).await
}

/// `POST /appliances/{id}/charge`.
pub async fn take_charge(visit: Visit) -> Result<HttpResponse, Problem> {
    take(visit, Deed::Charge).await
}

/// `POST /appliances/{id}/recover`.
pub async fn take_recover(visit: Visit) -> Result<HttpResponse, Problem> {
    take(visit, Deed::Recover).await
}

async fn show(visit: Visit, deed: Deed) -> Result<HttpResponse, Problem> {
    let milliseconds = u64::try_from(visit.asked.now / 1_000).unwrap_or_default();
    let asked = |name| visit.asked.query.text(name).unwrap_or_default();
    let fields = Fields {
        entry_id: Id::at(milliseconds).to_string(),
        unit: "lb+oz".to_string(),
        visit: asked("visit").to_string(),
        cylinder: asked("cylinder").trim().to_string(),
        ..Fields::default()
    };
    let (form, _) = form(&visit, deed, fields).await?;
    Ok(page(StatusCode::OK, &form))
}

async fn form(visit: &Visit, deed: Deed, fields: Fields) -> Result<(PostPage, Id), Problem> {
    form_of(visit, deed, fields, visit.asked.name("id").to_string()).await
}

/// The form with what is known of an appliance, and the appliance's id.
pub(super) async fn form_of(
    visit: &Visit,
    deed: Deed,
    fields: Fields,
    name: String,
) -> Result<(PostPage, Id), Problem> {
    let by = visit.by()?;
    let of = by.signed_in.of.clone();
    let may_lift = by.signed_in.roles.contains(&Role::ComplianceManager);
    let (now, sees) = (visit.asked.now, by.sees());
    let read = visit.asked.read(move |state| {
        let overview = state.desk.read(|db| overview::one(db, &of, &name, now))?;
        let refrigerant = super::appliances::fact(&overview.thing, "refrigerant");
        let refrigerant = refrigerant.unwrap_or_default().to_string();
        let owner = super::appliances::fact(&overview.thing, "owner").and_then(Id::parse);
        let today = Day::parse(&overview.standing.day).unwrap_or(Day::from_count(0));
        let cylinders = state.desk.read(|db| match deed {
            Deed::Charge => fitting::to_charge(db, &of, &refrigerant, owner, MOST_CYLINDERS),
            Deed::Recover => {
                fitting::to_recover(db, &of, &refrigerant, owner, today, MOST_CYLINDERS)
            }
        })?;
        let history = |db: &mut _| {
            let thing = (Sort::Appliance, overview.thing.id.as_str());
            lines::of_thing(db, &of, thing, None, LOOKED_AT, sees)
        };
        let known = Known::of(&overview, &state.desk.read(history)?.items);
        Ok((overview, refrigerant, cylinders, known))
    });
    let (overview, refrigerant, cylinders, known) = read.await?;
    let thing = &overview.thing;
    let id = Id::parse(&thing.id).ok_or_else(|| Problem::failure("an id that is none"))?;
    let mut fields = fields;
    if fields.day.is_empty() {
        fields.day = overview.standing.day.clone();
    }
    let path = super::appliance_path(&thing.tag, &thing.id);
    let page = PostPage {
        field: FieldFrame::of(visit)?,
        deed,
        appliance: id.to_string(),
        place: super::appliances::fact(thing, "place")
            .unwrap_or_default()
            .to_string(),
        action: format!("{path}/{}", deed.kind()),
        form_token: visit.token.clone(),
        tag: thing.tag.clone(),
        site: overview.site.clone(),
        about: about(deed, &overview),
        cautions: deed.cautions(&refrigerant),
        refrigerant: if refrigerant.is_empty() {
            "refrigerant".to_string()
        } else {
            refrigerant
        },
        known,
        cylinders,
        fields,
        problems: Vec::new(),
        questions: Vec::new(),
        stops: Vec::new(),
        echo: None,
        may_lift,
        corrects: None,
    };
    Ok((page, id))
}

/// What helps at the unit: full charge for a charge, what the book has in it for a recovery.
fn about(deed: Deed, overview: &overview::Overview) -> String {
    let standing = &overview.standing;
    match (deed, &standing.full_charge) {
        (Deed::Charge, Some(full)) => {
            format!("Full charge {}.", super::figures::mass_both(full))
        }
        (Deed::Charge, None) => "Full charge not known: read the nameplate.".to_string(),
        (Deed::Recover, _) => {
            let balance = super::figures::mass_both(&standing.balance);
            format!("By the book {balance} were charged and not recovered.")
        }
    }
}

async fn take(mut visit: Visit, deed: Deed) -> Result<HttpResponse, Problem> {
    let fields = match Fields::read(std::mem::take(&mut visit.form)) {
        Ok(fields) => fields,
        Err(_) => return Ok(page(StatusCode::BAD_REQUEST, &MessagePage::stale_form())),
    };
    let (form, appliance) = form(&visit, deed, fields).await?;
    if let Weighed::Show { mass, sum } = form.fields.weighed(deed) {
        return Ok(page(StatusCode::OK, &form.show(mass, sum)));
    }
    let request = form.fields.request(deed, appliance);
    let by = visit.by()?.poster();
    let posted = visit.asked.state.desk.post(&by, request);
    let posted = tokio::time::timeout(PATIENCE, posted).await;
    let posted = posted.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    match posted {
        Ok(receipt) => {
            let how = if receipt.replayed { "again" } else { "now" };
            Ok(go_to(&format!(
                "/entries/{}?posted={how}",
                receipt.entry_id
            )))
        }
        Err(ActionError::Refused(refusal)) => refused(form, refusal),
        Err(failed) => Err(failed.into()),
    }
}

/// The form again, with what is asked or to be put right.
pub(super) fn refused(mut form: PostPage, refusal: Refusal) -> Result<HttpResponse, Problem> {
    if let Some(problem) = box_problem(&refusal) {
        form.put_right(problem);
        let status = crate::http::problem::status_of(&refusal);
        let status = StatusCode::from_u16(status).unwrap_or(StatusCode::UNPROCESSABLE_ENTITY);
        return Ok(page(status, &form));
    }
    let asked = match refusal {
        Refusal::NeedsAnswer(questions) => form.ask(questions),
        Refusal::HardStop(stops) => form.stop(stops),
        other => return Err(other.into()),
    };
    Ok(page(StatusCode::UNPROCESSABLE_ENTITY, &asked))
}
