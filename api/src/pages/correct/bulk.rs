//! What was recovered from small appliances that are not registered: its form has their number and what
//! came out of them in the place of the appliance. It goes without the phone's script, because a kept page
//! knows no other appliance to hold it against.

use crate::actions::refusal::Refusal;
use crate::actions::show::{fitting, overview};
use crate::http::Problem;
use crate::ledger::actor::Role;
use crate::pages::field::FieldFrame;
use crate::pages::form::{BoxProblem, Deed, Fields, box_problem, pointer_of};
use crate::pages::post::MOST_CYLINDERS;
use crate::pages::posting::{Known, PostPage};
use crate::pages::way::Visit;
use serde_json::Value;

/// The form.
pub(super) async fn form(visit: &Visit, fields: Fields) -> Result<PostPage, Problem> {
    let by = visit.by()?;
    let (of, now) = (by.signed_in.of.clone(), visit.asked.now);
    let may_lift = by.signed_in.roles.contains(&Role::ComplianceManager);
    let refrigerant = fields.refrigerant.clone();
    let read = visit.asked.read(move |state| {
        let (today, _) = state.desk.read(|db| overview::today(db, &of, now))?;
        let fit =
            |db: &mut _| fitting::to_recover(db, &of, &refrigerant, None, today, MOST_CYLINDERS);
        state.desk.read(fit)
    });
    let cylinders = read.await?;
    let deed = Deed::Recover;
    Ok(PostPage {
        field: FieldFrame::of(visit)?,
        deed,
        appliance: String::new(),
        place: String::new(),
        action: String::new(),
        form_token: visit.token.clone(),
        tag: "Small appliances".to_string(),
        site: String::new(),
        about: "Emptied in bulk; none of them is registered.".to_string(),
        cautions: deed.cautions(&fields.refrigerant),
        refrigerant: fields.refrigerant.clone(),
        known: Known::default(),
        cylinders,
        fields,
        problems: Vec::new(),
        questions: Vec::new(),
        stops: Vec::new(),
        echo: None,
        may_lift,
        corrects: None,
    })
}

/// What is wrong with the number before anything is sent.
pub(super) fn problem(fields: &Fields) -> Option<BoxProblem> {
    let is_number = fields.number.parse::<u32>().is_ok_and(|number| number > 0);
    if fields.number.is_empty() || is_number {
        return None;
    }
    let came = crate::actions::refusal::shown(&fields.number);
    Some(BoxProblem {
        field: "number",
        text: format!(
            "Expected a whole number from 1, got {came}. Count the small appliances, or leave it empty."
        ),
    })
}

/// Of other forms a refused refrigerant belongs to the cylinder; this one has a box for it.
pub(super) fn at_refrigerant(form: &PostPage, refusal: &Refusal) -> Option<BoxProblem> {
    let is_it = pointer_of(refusal).ends_with("/refrigerant");
    let problem = box_problem(refusal).filter(|_| is_it && form.appliance.is_empty())?;
    Some(BoxProblem {
        field: "refrigerant",
        ..problem
    })
}

/// Puts the small appliances into a request, in the place of the registered one.
pub(super) fn put(body: &mut Value, fields: &Fields) {
    body["from"] = "unregistered".into();
    body["refrigerant"] = fields.refrigerant.as_str().into();
    if let Ok(number) = fields.number.parse::<u32>() {
        body["number"] = number.into();
    }
}
