//! Steps of the service record: a leak found, a repair, a test after it, an inspection, what is
//! shut down, mothballed or decided.
//!
//! One page holds a form for each step, folded, so that a telephone that keeps the page can post
//! any of them without signal. A form has the boxes that the door for facts takes for its kind
//! (`actions::service::WORDS`); a kind that the door learns needs a line in `STEPS` and its words.

pub mod form;
pub mod measured;
mod missing;
pub mod words;

use super::field::{FieldFrame, page};
use super::form::{BoxProblem, box_problem};
use super::message::MessagePage;
use super::posting::AskedQuestion;
use super::way::{Visit, go_to};
use crate::actions::permit::posts;
use crate::actions::refusal::Refusal;
use crate::actions::show::lines::Line;
use crate::actions::show::overview::Overview;
use crate::actions::show::things::Sort;
use crate::actions::show::{lines, overview, second_tests};
use crate::actions::{ActionError, service};
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use crate::ledger::actor::Role;
use crate::ledger::entry::EntryKind;
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use form::{Box, Filled};

/// What is offered, in the order of a visit; what only a manager posts comes last.
pub const STEPS: &[EntryKind] = &[
    EntryKind::LeakFound,
    EntryKind::Repair,
    EntryKind::VerificationTest,
    EntryKind::PressureTest,
    EntryKind::VacuumTest,
    EntryKind::RunCheck,
    EntryKind::Inspection,
    EntryKind::Isolate,
    EntryKind::Shutdown,
    EntryKind::Mothball,
    EntryKind::BackInOperation,
    EntryKind::Plan,
    EntryKind::Extension,
    EntryKind::Decision,
    EntryKind::Notice,
];

/// Entries among which leaks are looked for.
const LOOKED_AT: usize = 100;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "service.html")]
pub struct ServicePage {
    /// Around the page.
    pub field: FieldFrame,
    /// The token of the forms.
    pub form_token: String,
    /// The appliance's id.
    pub appliance: String,
    /// Its tag.
    pub tag: String,
    /// Its site.
    pub site: String,
    /// Where it stands there.
    pub place: String,
    /// Its refrigerant.
    pub refrigerant: String,
    /// The day it was retired; empty: it was not.
    pub retired: String,
    /// Cautions that stand above all forms.
    pub cautions: Vec<String>,
    /// Where the forms go.
    pub action: String,
    /// Where its card is.
    pub card: String,
    /// The forms.
    pub steps: Vec<Step>,
    /// The number of the entry that the one form corrects.
    pub corrects: Option<u64>,
    /// Why it is corrected.
    pub why: String,
    /// What stands instead of it: empty, or `nothing`.
    pub instead: String,
}

/// One form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// The word of its kind.
    pub kind: &'static str,
    /// What it is called.
    pub title: &'static str,
    /// What stands beside its form.
    pub caution: &'static str,
    /// What it does, as the book says it.
    pub done: String,
    /// Unfolded?
    pub open: bool,
    /// Made when the page was served, so that a second press books nothing twice.
    pub entry_id: String,
    /// The visit.
    pub visit: String,
    /// The day.
    pub day: String,
    /// The time.
    pub time: String,
    /// A note.
    pub note: String,
    /// What it asks.
    pub boxes: Vec<Box>,
    /// What is to be put right.
    pub problems: Vec<BoxProblem>,
    /// What the book asks.
    pub questions: Vec<AskedQuestion>,
    /// Answers given before that are not asked for again.
    pub kept: Vec<(String, String)>,
}

/// A leak that a repair or a test may be about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownLeak {
    /// Its id.
    pub id: String,
    /// When it was found and where.
    pub says: String,
}

impl KnownLeak {
    /// The leaks that were found at an appliance, the newest first.
    fn all(history: &[Line]) -> Vec<KnownLeak> {
        let found = history
            .iter()
            .filter(|line| line.kind == "leak_found" && line.corrected_by.is_none());
        let known = |line: &Line| {
            let at = line.texts.get("place").map(|place| format!(": {place}"));
            let day = super::figures::day_text(&line.day);
            Some(KnownLeak {
                id: line.leak?.to_string(),
                says: format!("found {day}{}", at.unwrap_or_default()),
            })
        };
        found.filter_map(known).collect()
    }
}

impl Step {
    /// Leaves the second test out, unless it is what was filled in.
    fn without_second(&mut self) {
        let stages = self.boxes.iter_mut().filter(|one| one.name == "stage");
        for stage in stages.filter(|stage| stage.value != "follow_up") {
            stage.choices.retain(|(word, _)| word != "follow_up");
        }
    }

    /// Is the box of this name to be put right?
    pub fn is_wrong(&self, name: &str) -> bool {
        self.problems.iter().any(|problem| problem.field == name)
    }
}

impl ServicePage {
    /// Does something of a form have to be looked at again?
    fn has_problems(&self) -> bool {
        self.steps.iter().any(|step| !step.problems.is_empty())
    }

    /// The id of the entry it corrects, which its address names.
    fn corrected_id(&self) -> &str {
        super::posting::corrected_id(&self.action)
    }

    fn asks(&self) -> bool {
        self.steps.iter().any(|step| !step.questions.is_empty())
    }
}

/// What is read for the page.
struct Read {
    overview: Overview,
    leaks: Vec<KnownLeak>,
    retired: String,
    /// Kinds of measured tests that a rule set takes as the second test.
    second: Vec<EntryKind>,
}

async fn read(visit: &Visit, name: String) -> Result<Read, Problem> {
    let by = visit.by()?;
    let (of, sees, now) = (by.signed_in.of.clone(), by.sees(), visit.asked.now);
    let read = visit.asked.read(move |state| {
        let overview = state.desk.read(|db| overview::one(db, &of, &name, now))?;
        let history =
            |db: &mut _| lines::of_thing(db, &of, (Sort::Appliance, &name), None, LOOKED_AT, sees);
        let history = state.desk.read(history)?.items;
        let second = state.desk.read(|db| second_tests::kinds(db, &of))?;
        Ok(Read {
            overview,
            leaks: KnownLeak::all(&history),
            retired: super::posting::retired(&history),
            second,
        })
    });
    read.await
}

/// The page with every form that the reader may post; `filled` is one that was sent.
fn shown(visit: &Visit, read: &Read, filled: Option<&Filled>) -> Result<ServicePage, Problem> {
    let by = visit.by()?;
    let (thing, standing) = (&read.overview.thing, &read.overview.standing);
    let milliseconds = u64::try_from(visit.asked.now / 1_000).unwrap_or_default();
    let may = |kind: &EntryKind| by.signed_in.may(|role: Role| posts(role, *kind));
    let step = |kind: EntryKind| match filled.filter(|filled| filled.kind == kind) {
        Some(filled) => filled.step(&read.leaks),
        None => {
            let mut fresh = Filled::new(kind);
            fresh.entry_id = Id::at(milliseconds).to_string();
            fresh.day = standing.day.clone();
            let asked = visit.asked.query.text("visit");
            fresh.visit = asked.unwrap_or_default().to_string();
            fresh.step(&read.leaks)
        }
    };
    let offered = |kind: EntryKind| {
        let mut step = step(kind);
        let measured = matches!(kind, EntryKind::PressureTest | EntryKind::VacuumTest);
        if measured && !read.second.contains(&kind) {
            step.without_second();
        }
        step
    };
    let path = super::appliance_path(&thing.tag, &thing.id);
    let fact = |name| super::appliances::fact(thing, name).unwrap_or_default();
    Ok(ServicePage {
        field: FieldFrame::of(visit)?,
        form_token: visit.token.clone(),
        appliance: thing.id.clone(),
        tag: thing.tag.clone(),
        site: read.overview.site.clone(),
        place: fact("place").to_string(),
        refrigerant: fact("refrigerant").to_string(),
        cautions: super::cautions::of_charge(fact("refrigerant")),
        retired: read.retired.clone(),
        action: format!("{path}/service"),
        card: format!("/field{path}"),
        steps: STEPS.iter().copied().filter(may).map(offered).collect(),
        corrects: None,
        why: String::new(),
        instead: String::new(),
    })
}

/// The page with the one form that corrects an entry.
fn correcting(
    visit: &Visit,
    read: &Read,
    line: &Line,
    filled: &Filled,
) -> Result<ServicePage, Problem> {
    let mut page = shown(visit, read, Some(filled))?;
    page.steps.retain(|step| step.kind == line.kind);
    for step in &mut page.steps {
        step.open = true;
    }
    page.action = format!("/entries/{}/correct", line.entry_id);
    page.corrects = Some(line.seq);
    page.why = filled.why.clone();
    page.instead = filled.instead.clone();
    Ok(page)
}

fn appliance_of(line: &Line) -> String {
    let about = line.about.as_ref().and_then(|about| about.id);
    about.map(|id| id.to_string()).unwrap_or_default()
}

/// The form that corrects a step.
pub async fn show_correction(
    visit: Visit,
    line: Line,
    kind: EntryKind,
) -> Result<HttpResponse, Problem> {
    let read = read(&visit, appliance_of(&line)).await?;
    let mut filled = Filled::of_line(kind, &line);
    let milliseconds = u64::try_from(visit.asked.now / 1_000).unwrap_or_default();
    filled.entry_id = Id::at(milliseconds).to_string();
    Ok(page(
        StatusCode::OK,
        &correcting(&visit, &read, &line, &filled)?,
    ))
}

/// Takes the form that corrects a step.
pub async fn take_correction(mut visit: Visit, line: Line) -> Result<HttpResponse, Problem> {
    let pairs = std::mem::take(&mut visit.form);
    let Some(mut filled) = Filled::read(pairs) else {
        return Ok(page(StatusCode::BAD_REQUEST, &MessagePage::stale_form()));
    };
    let read = read(&visit, appliance_of(&line)).await?;
    let request = filled.correction(&line.entry_id.to_string(), &read.overview.thing.id);
    match posted(&visit, request, &mut filled).await? {
        Ok(path) => Ok(go_to(&path)),
        Err(status) => Ok(page(status, &correcting(&visit, &read, &line, &filled)?)),
    }
}

/// `GET /appliances/{id}/service`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let read = read(&visit, visit.asked.name("id").to_string()).await?;
    Ok(page(StatusCode::OK, &shown(&visit, &read, None)?))
}

/// `POST /appliances/{id}/service`.
pub async fn take(mut visit: Visit) -> Result<HttpResponse, Problem> {
    let pairs = std::mem::take(&mut visit.form);
    let Some(mut filled) = Filled::read(pairs) else {
        return Ok(page(StatusCode::BAD_REQUEST, &MessagePage::stale_form()));
    };
    let read = read(&visit, visit.asked.name("id").to_string()).await?;
    let request = filled.request(&read.overview.thing.id);
    match posted(&visit, request, &mut filled).await? {
        Ok(path) => Ok(go_to(&path)),
        Err(status) => Ok(page(status, &shown(&visit, &read, Some(&filled))?)),
    }
}

/// Posts a request: where its receipt is, or the status of the page that says what is asked or to
/// be put right, which is noted in the form.
async fn posted(
    visit: &Visit,
    request: serde_json::Value,
    filled: &mut Filled,
) -> Result<Result<String, StatusCode>, Problem> {
    if filled.instead != "nothing" && filled.note_missing() {
        return Ok(Err(StatusCode::UNPROCESSABLE_ENTITY));
    }
    let by = visit.by()?.poster();
    let posted = visit.asked.state.desk.post(&by, request);
    let posted = tokio::time::timeout(PATIENCE, posted).await;
    let posted = posted.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    let refusal = match posted {
        Ok(receipt) => {
            let how = if receipt.replayed { "again" } else { "now" };
            return Ok(Ok(format!("/entries/{}?posted={how}", receipt.entry_id)));
        }
        Err(ActionError::Refused(refusal)) => refusal,
        Err(failed) => return Err(failed.into()),
    };
    let status = crate::http::problem::status_of(&refusal);
    match refusal {
        Refusal::NeedsAnswer(questions) => filled.questions = questions,
        refusal => match box_problem(&refusal) {
            Some(problem) => filled.put_right(&refusal, problem.text),
            None => return Err(refusal.into()),
        },
    }
    Ok(Err(
        StatusCode::from_u16(status).unwrap_or(StatusCode::UNPROCESSABLE_ENTITY)
    ))
}

/// Is there a form for this kind?
pub fn is_step(kind: EntryKind) -> bool {
    STEPS.contains(&kind)
}

/// The words a kind takes, without those that nobody types.
fn words_of(kind: EntryKind) -> &'static [service::Word] {
    match kind {
        EntryKind::Count => super::field::cylinder::OF_A_COUNT,
        kind => service::words(kind),
    }
}

#[cfg(test)]
mod tests;
