//! What is found out at a cylinder: what gauge and wall temperature can say of its content, and what it
//! weighs against the book.
//!
//! A check names nothing, it rules out; what it says is worked out when it is posted, and a cylinder in
//! doubt is locked away. A count moves the difference and settles what the scale had found.

use super::{FieldFrame, page};
use crate::actions::ActionError;
use crate::actions::count;
use crate::actions::service::{Allowed, Word};
use crate::actions::show::overview;
use crate::actions::show::things::{self, Sort, ThingShown};
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use crate::ledger::entry::EntryKind;
use crate::ledger::id::Id;
use crate::pages::form::box_problem;
use crate::pages::message::MessagePage;
use crate::pages::service::Step;
use crate::pages::service::form::Filled;
use crate::pages::way::{Visit, go_to};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;

/// What is offered.
const KINDS: [EntryKind; 2] = [EntryKind::Observation, EntryKind::Count];

/// Boxes of a count, as its action reads them.
pub const OF_A_COUNT: &[Word] = &[
    Word {
        name: "gross",
        allowed: Allowed::Mass,
        required: true,
    },
    Word {
        name: "reason",
        allowed: Allowed::List(count::REASONS),
        required: false,
    },
];

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "field/cylinder.html")]
pub struct CylinderFormsPage {
    /// Around the page.
    pub field: FieldFrame,
    /// The token of the forms.
    pub form_token: String,
    /// Its tag.
    pub tag: String,
    /// Where its page is.
    pub href: String,
    /// The forms.
    pub steps: Vec<Step>,
}

impl CylinderFormsPage {
    fn has_problems(&self) -> bool {
        self.steps.iter().any(|step| !step.problems.is_empty())
    }

    fn asks(&self) -> bool {
        self.steps.iter().any(|step| !step.questions.is_empty())
    }

    fn of(
        visit: &Visit,
        cylinder: &ThingShown,
        today: Day,
        filled: Option<&Filled>,
    ) -> Result<CylinderFormsPage, Problem> {
        let milliseconds = u64::try_from(visit.asked.now / 1_000).unwrap_or_default();
        let step = |kind: EntryKind| match filled.filter(|filled| filled.kind == kind) {
            Some(filled) => filled.step(&[]),
            None => {
                let mut fresh = Filled::new(kind);
                fresh.entry_id = Id::at(milliseconds).to_string();
                fresh.day = today.to_string();
                fresh.step(&[])
            }
        };
        Ok(CylinderFormsPage {
            field: FieldFrame::of(visit)?,
            form_token: visit.token.clone(),
            tag: cylinder.tag.clone(),
            href: crate::pages::cylinder_path(&cylinder.tag, &cylinder.id),
            steps: KINDS.into_iter().map(step).collect(),
        })
    }
}

async fn read(visit: &Visit) -> Result<(ThingShown, Day), Problem> {
    let (of, now) = (visit.by()?.signed_in.of.clone(), visit.asked.now);
    let name = visit.asked.name("id");
    let read = visit.asked.read(move |state| {
        let (today, _) = state.desk.read(|db| overview::today(db, &of, now))?;
        let cylinder = |db: &mut _| things::one(db, &of, Sort::Cylinder, &name);
        Ok((state.desk.read(cylinder)?, today))
    });
    read.await
}

/// `GET /cylinders/{id}/check`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (cylinder, today) = read(&visit).await?;
    let shown = CylinderFormsPage::of(&visit, &cylinder, today, None)?;
    Ok(page(StatusCode::OK, &shown))
}

/// `POST /cylinders/{id}/check`.
pub async fn take(mut visit: Visit) -> Result<HttpResponse, Problem> {
    let pairs = std::mem::take(&mut visit.form);
    let named = |kind: &EntryKind| {
        let mut pairs = pairs.iter();
        pairs.any(|(name, value)| name == "kind" && value == kind.word())
    };
    let filled = KINDS.into_iter().find(named);
    let filled = filled.and_then(|kind| Filled::read_as(kind, pairs.clone()));
    let Some(mut filled) = filled else {
        return Ok(page(StatusCode::BAD_REQUEST, &MessagePage::stale_form()));
    };
    let (cylinder, today) = read(&visit).await?;
    if filled.note_missing() {
        let shown = CylinderFormsPage::of(&visit, &cylinder, today, Some(&filled))?;
        return Ok(page(StatusCode::UNPROCESSABLE_ENTITY, &shown));
    }
    let request = filled.request_about(Sort::Cylinder.word(), &cylinder.id);
    let by = visit.by()?.poster();
    let posted = visit.asked.state.desk.post(&by, request);
    let posted = tokio::time::timeout(PATIENCE, posted).await;
    let posted = posted.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    let refusal = match posted {
        Ok(_) => {
            return Ok(go_to(&crate::pages::cylinder_path(
                &cylinder.tag,
                &cylinder.id,
            )));
        }
        Err(ActionError::Refused(refusal)) => refusal,
        Err(failed) => return Err(failed.into()),
    };
    let status = crate::http::problem::status_of(&refusal);
    let status = StatusCode::from_u16(status).unwrap_or(StatusCode::UNPROCESSABLE_ENTITY);
    match (filled.ask(&refusal), box_problem(&refusal)) {
        (true, _) => {}
        (false, Some(problem)) => filled.put_right(&refusal, problem.text),
        (false, None) => return Err(refusal.into()),
    }
    let shown = CylinderFormsPage::of(&visit, &cylinder, today, Some(&filled))?;
    Ok(page(status, &shown))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pages::form::BoxProblem;
    use crate::pages::sample;

    #[test]
    fn both_forms_are_read_and_hostile_values_stay_text() {
        for kind in KINDS {
            let pairs = vec![
                ("kind".to_string(), kind.word().to_string()),
                ("gross".to_string(), sample::hostile()),
                ("day".to_string(), "2026-07-14".to_string()),
            ];
            let filled = Filled::read_as(kind, pairs).unwrap();
            let request = filled.request_about("cylinder", "an id");
            assert_eq!(request["body"]["cylinder"], "an id");
            let mut step = filled.step(&[]);
            assert!(
                step.boxes.iter().all(|one| one.label != "Stated"),
                "{step:?}"
            );
            step.problems = vec![BoxProblem {
                field: "gross",
                text: sample::hostile(),
            }];
            let page = CylinderFormsPage {
                field: FieldFrame::default(),
                form_token: String::new(),
                tag: sample::hostile(),
                href: "/cylinders/TR-0417".to_string(),
                steps: vec![step],
            };
            let html = page.render().unwrap();
            sample::is_clean(&html);
            assert!(html.contains("<title>Error: "));
        }
        assert!(Filled::read_as(EntryKind::Count, vec![("colour".into(), "red".into())]).is_none());
    }
}
