//! A scale with the known weights that were put on it, and the form for the next one.
//!
//! What it shows is typed as it stands there; how far it is off is worked out and stands beside every
//! weighing of the following year. A scale that is off beyond its step leaves a finding.

use super::{FieldFrame, page};
use crate::actions::ActionError;
use crate::actions::refusal::{Question, Refusal};
use crate::actions::show::overview;
use crate::actions::show::scales::{self, ScaleShown};
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use crate::ledger::id::Id;
use crate::pages::form::{BoxProblem, box_problem, pointer_of};
use crate::pages::message::MessagePage;
use crate::pages::posting::AskedQuestion;
use crate::pages::way::{Visit, go_to};
use crate::pages::{encoded, figures};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// Boxes of the form, with what the door calls them.
const BOXES: [(&str, &str); 3] = [
    ("nominal", "/body/facts/check_weight/nominal"),
    ("shown", "/body/facts/check_weight/shown"),
    ("day", "/happened"),
];

/// The page.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "field/scale.html")]
pub struct ScalePage {
    /// Around the page.
    pub field: FieldFrame,
    /// The token of the form.
    pub form_token: String,
    /// Made when the form was served, so that a second press books nothing twice.
    pub entry_id: String,
    /// Its id.
    pub id: String,
    /// Its tag.
    pub tag: String,
    /// What it shows and when it is to be checked.
    pub says: Vec<String>,
    /// Is it to be checked now?
    pub is_due: bool,
    /// Checks, the newest first.
    pub checks: Vec<WeightLine>,
    /// The known weight, what it showed, the day.
    pub filled: [String; 3],
    /// What is to be put right.
    pub problems: Vec<BoxProblem>,
    /// What the book asks.
    pub questions: Vec<AskedQuestion>,
    /// Answers by code.
    pub answers: BTreeMap<String, String>,
}

/// One check.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WeightLine {
    /// The entry.
    pub entry: u64,
    /// The day.
    pub on: String,
    /// What it showed.
    pub says: String,
    /// Beyond its step?
    pub is_off: bool,
}

/// A scale in one line of a list: tag, step, the last check, and whether one is due.
pub fn line(scale: &ScaleShown, today: Day) -> (String, bool) {
    let step = match &scale.resolution {
        Some(step) => format!("shows steps of {}", step.lb_oz.trim_start_matches("0 lb ")),
        None => "what it shows is not known".to_string(),
    };
    let (due, is_due) = due(scale, today);
    let off = WeightLine::all(scale).into_iter().next();
    let off = off.filter(|newest| newest.is_off);
    let failed = off.as_ref().map_or(String::new(), |newest| {
        format!(" Its last check failed: {}.", newest.says)
    });
    (
        format!("{}, {step}. {due}{failed}", scale.thing.tag),
        is_due,
    )
}

/// The address of a scale in the field.
pub fn path(scale: &ScaleShown) -> String {
    format!("/field/scales/{}", scale.thing.id)
}

/// Did it show the newest known weight wrong by more than its step?
pub fn failed(scale: &ScaleShown) -> bool {
    let newest = scale.checks.first();
    newest.is_some_and(|check| check.within_step == Some(false))
}

fn due(scale: &ScaleShown, today: Day) -> (String, bool) {
    let (Some(checked), Some(due)) = (&scale.checked_on, &scale.check_due) else {
        return (
            "Never checked with a known weight: due now.".to_string(),
            true,
        );
    };
    let is_due = *due <= today.to_string();
    let day = figures::day_text;
    let text = match is_due {
        true => format!("Checked {}, due since {}.", day(checked), day(due)),
        false => format!("Checked {}, due again {}.", day(checked), day(due)),
    };
    (text, is_due)
}

impl WeightLine {
    fn all(scale: &ScaleShown) -> Vec<WeightLine> {
        let line = |check: &scales::WeightShown| {
            let off = &check.off.lb_oz;
            let off = match off.strip_prefix(['-', '−']) {
                Some(little) => format!("{} too little", little.trim_start_matches("0 lb ")),
                None if check.off.g == "0" => "right".to_string(),
                None => format!("{} too much", off.trim_start_matches("0 lb ")),
            };
            let (nominal, shown) = (&check.nominal.lb_oz, &check.shown.lb_oz);
            WeightLine {
                entry: check.entry,
                on: figures::day_text(&check.day),
                says: format!("{nominal} shown as {shown}: {off}"),
                is_off: check.within_step == Some(false),
            }
        };
        scale.checks.iter().map(line).collect()
    }
}

impl ScalePage {
    fn value(&self, name: &str) -> &str {
        let at = BOXES.iter().position(|(known, _)| *known == name);
        at.map_or("", |at| self.filled[at].as_str())
    }

    fn is_wrong(&self, name: &str) -> bool {
        self.problems.iter().any(|problem| problem.field == name)
    }

    /// The request for the door; a weight says its unit.
    fn request(&self) -> Value {
        let [nominal, shown, day] = &self.filled;
        let mut request = json!({"entry_id": self.entry_id, "kind": "scale",
            "body": {"subject": self.id,
                     "facts": {"check_weight": {"nominal": nominal, "shown": shown}}}});
        if !day.is_empty() {
            request["happened"] = json!({"day": day});
        }
        if !self.answers.is_empty() {
            request["answers"] = json!(self.answers);
        }
        request
    }

    fn of(mut self, scale: &ScaleShown, today: Day) -> ScalePage {
        self.id.clone_from(&scale.thing.id);
        self.tag.clone_from(&scale.thing.tag);
        let (text, is_due) = due(scale, today);
        let step = match &scale.resolution {
            Some(step) => format!(
                "It shows steps of {}.",
                step.lb_oz.trim_start_matches("0 lb ")
            ),
            None => "What it shows is not known: the office records its step.".to_string(),
        };
        self.says = vec![step, text];
        self.is_due = is_due;
        self.checks = WeightLine::all(scale);
        self
    }
}

async fn read(visit: &Visit) -> Result<(ScaleShown, Day), Problem> {
    let (of, now) = (visit.by()?.signed_in.of.clone(), visit.asked.now);
    let name = visit.asked.name("id");
    let read = visit.asked.read(move |state| {
        let (today, _) = state.desk.read(|db| overview::today(db, &of, now))?;
        let scale = state.desk.read(|db| scales::one(db, &of, &name))?;
        Ok((scale, today))
    });
    read.await
}

fn fresh_id(visit: &Visit) -> String {
    let milliseconds = u64::try_from(visit.asked.now / 1_000).unwrap_or_default();
    Id::at(milliseconds).to_string()
}

/// `GET /field/scales/{id}`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (scale, today) = read(&visit).await?;
    let shown = ScalePage {
        field: FieldFrame::of(&visit)?,
        form_token: visit.token.clone(),
        entry_id: fresh_id(&visit),
        filled: [String::new(), String::new(), today.to_string()],
        ..ScalePage::default()
    };
    Ok(page(StatusCode::OK, &shown.of(&scale, today)))
}

/// `POST /field/scales/{id}`.
pub async fn take(mut visit: Visit) -> Result<HttpResponse, Problem> {
    let pairs = std::mem::take(&mut visit.form);
    let (scale, today) = read(&visit).await?;
    let mut shown = ScalePage {
        field: FieldFrame::of(&visit)?,
        form_token: visit.token.clone(),
        ..ScalePage::default()
    };
    shown = shown.of(&scale, today);
    for (name, value) in pairs {
        match (
            name.as_str(),
            BOXES.iter().position(|(known, _)| *known == name),
        ) {
            ("form", _) => {}
            ("entry_id", _) => shown.entry_id = value,
            (name, _) if name.starts_with("answer.") => {
                let code = name.trim_start_matches("answer.").to_string();
                // What is not right is changed in the boxes; then it is asked anew.
                if !value.is_empty() {
                    shown.answers.insert(code, value);
                }
            }
            (_, Some(at)) => shown.filled[at] = value.trim().to_string(),
            _ => return Ok(page(StatusCode::BAD_REQUEST, &MessagePage::stale_form())),
        }
    }
    let by = visit.by()?.poster();
    let posted = visit.asked.state.desk.post(&by, shown.request());
    let posted = tokio::time::timeout(PATIENCE, posted).await;
    let posted = posted.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    let refusal = match posted {
        Ok(_) => return Ok(go_to(&format!("/field/scales/{}", encoded(&shown.id)))),
        Err(ActionError::Refused(refusal)) => refusal,
        Err(failed) => return Err(failed.into()),
    };
    let status = crate::http::problem::status_of(&refusal);
    let status = StatusCode::from_u16(status).unwrap_or(StatusCode::UNPROCESSABLE_ENTITY);
    if let Refusal::NeedsAnswer(questions) = &refusal {
        let asked = |question: &Question| AskedQuestion {
            code: question.code,
            text: question.text.clone(),
            choices: question.choices.clone(),
            answered: String::new(),
        };
        shown.questions = questions.iter().map(asked).collect();
        return Ok(page(status, &shown));
    }
    let at = pointer_of(&refusal);
    let field = BOXES.iter().find(|(_, pointer)| at.starts_with(pointer));
    let text = box_problem(&refusal).map(|problem| problem.text);
    let text = text.unwrap_or_else(|| refusal.to_string());
    let field = field.map_or("nominal", |(name, _)| *name);
    shown.problems.push(BoxProblem { field, text });
    Ok(page(status, &shown))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::actions::show::things::FactShown;
    use crate::pages::sample;

    fn scale(checks: &[(&str, &str)]) -> ScaleShown {
        let standing = sample::standing(None, Vec::new());
        let mut thing = sample::overview(&sample::hostile(), "", standing).thing;
        let fact = |from: &str, is| FactShown {
            from: from.to_string(),
            is,
            entry: 3,
        };
        let step = vec![fact("2025-01-01", json!({"g": "5"}))];
        let checks = checks.iter().map(|(day, shown)| {
            fact(
                day,
                json!({"nominal": {"g": "5000"}, "shown": {"g": shown}}),
            )
        });
        let checks: Vec<FactShown> = checks.collect();
        thing.facts = [("resolution".to_string(), step)].into();
        if !checks.is_empty() {
            thing.facts.insert("check_weight".to_string(), checks);
        }
        ScaleShown::of(thing)
    }

    /// Steps of 5 g: 5 010 g for 5 000 g are two steps too much; 31 days after 1 June is 2 July.
    #[test]
    fn a_scale_says_when_it_is_due_and_what_it_showed() {
        let today = Day::parse("2026-07-01").unwrap();
        assert!(line(&scale(&[]), today).1);
        let checked = scale(&[("2026-05-01", "5005"), ("2026-06-01", "5010")]);
        let (text, is_due) = line(&checked, today);
        assert!(!is_due && text.contains("due again 2 July 2026"), "{text}");
        assert!(failed(&checked) && !failed(&scale(&[("2026-06-01", "5005")])));
        assert!(text.contains("Its last check failed: "), "{text}");
        assert!(text.ends_with(": 0.3527 oz too much."), "{text}");
        assert!(line(&checked, Day::parse("2026-07-02").unwrap()).1);
        let lines = WeightLine::all(&checked);
        // 10 g are 0.3527 oz.
        assert!(lines[0].is_off && lines[0].says.ends_with(": 0.3527 oz too much"));
        let light = scale(&[("2026-06-01", "4990")]);
        assert!(
            WeightLine::all(&light)[0]
                .says
                .ends_with(": 0.3527 oz too little")
        );
        assert!(!lines[1].is_off, "a step is within the step");
        let page = ScalePage::default().of(&checked, today);
        sample::is_clean(&page.render().unwrap());
    }
}
