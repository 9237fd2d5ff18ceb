//! One finding: what was asked and what was answered, the entry that left it beside its neighbours,
//! what to do first, and the form that settles it.
//!
//! A cylinder can be weighed and its content named on the same page, because that is what most
//! findings about cylinders wait for. The form carries the state that was looked at (an ETag in a
//! box): when something was booked meanwhile, nothing is settled and the page shows it anew.

mod deed;
mod said;
mod ways;

use super::findings::path;
use super::frame::{Around, Frame, Part};
use super::lines::Row;
use super::posting::AskedQuestion;
use super::way::{Visit, go_to, page};
use super::{figures, words};
use crate::actions::ActionError;
use crate::actions::CLASSES;
use crate::actions::permit::posts;
use crate::actions::show::findings::{FindingShown, says};
use crate::actions::show::found::{self, Beside, OneFound};
use crate::actions::show::things::ThingShown;
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use crate::http::asker::Asker;
use crate::ledger::actor::Role;
use crate::ledger::entry::EntryKind;
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::ETAG;
use askama::Template;
use deed::{Filled, Step};
use ways::Ways;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "finding.html")]
pub struct FindingPage {
    /// Around the content.
    pub frame: Frame,
    /// Where its forms go.
    pub action: String,
    /// The number of the entry that left it.
    pub entry: u64,
    /// What it says.
    pub says: String,
    /// Of the highest grade.
    pub high: bool,
    /// What was asked at the door, and what was answered.
    pub asked: Vec<String>,
    /// Nobody answered yet.
    pub unanswered: bool,
    /// The appliances and cylinders it is about.
    pub things: Vec<AboutLine>,
    /// The entry and those beside it.
    pub entries: Vec<BesideRow>,
    /// What settles it.
    pub ways: Ways,
    /// The state that the forms carry.
    pub version: String,
    /// What was settled, and what that changed.
    pub settled: Vec<String>,
    /// Why the reader cannot settle it; empty: they can.
    pub not_yours: &'static str,
    /// Where the entry is corrected, by who reads.
    pub correct: Option<String>,
    /// The appliance whose register can be completed: its tag and the form.
    pub complete: Option<(String, String)>,
    /// The cylinder that can be weighed and named here.
    pub cylinder: Option<CylinderLine>,
    /// What was filled in.
    pub filled: Filled,
    /// What is to be put right.
    pub problems: Vec<String>,
    /// What the book asks.
    pub questions: Vec<AskedQuestion>,
    /// Something was booked meanwhile.
    pub stale: bool,
    /// Ids for the three forms, made when the page was served.
    pub ids: [String; 3],
}

/// A thing the finding is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AboutLine {
    /// Its tag.
    pub tag: String,
    /// Its page.
    pub href: String,
    /// How it stands.
    pub stands: String,
}

/// The cylinder that can be weighed and named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CylinderLine {
    /// Its tag.
    pub tag: String,
    /// What the book holds in it.
    pub holds: String,
    /// Is there something to name?
    pub is_held: bool,
}

/// An entry beside others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BesideRow {
    /// What it is here.
    pub how: &'static str,
    /// Is it the entry that left the finding?
    pub own: bool,
    /// What it says.
    pub row: Row,
    /// When it was booked.
    pub booked: String,
}

fn how(beside: Beside) -> &'static str {
    match beside {
        Beside::Alike => "Looks like it",
        Beside::Before => "Before it",
        Beside::Since => "Since then",
        Beside::Corrects => "Stands in its place",
    }
}

fn about(thing: &ThingShown) -> AboutLine {
    let is_cylinder = thing.kind == "cylinder";
    let href = match is_cylinder {
        _ if thing.kind == "counterparty" => {
            format!("/shipments?counterparty={}", super::encoded(&thing.tag))
        }
        true => super::cylinder_path(&thing.tag, &thing.id),
        false => super::appliance_path(&thing.tag, &thing.id),
    };
    AboutLine {
        tag: thing.tag.clone(),
        href,
        stands: match (is_cylinder, thing.quarantine) {
            (false, _) => String::new(),
            (true, None) => format!("holds {}; not under quarantine", deed::holds(thing)),
            (true, Some(by)) => format!(
                "holds {}; under quarantine since no. {}",
                deed::holds(thing),
                figures::number(by)
            ),
        },
    }
}

/// Why somebody cannot settle a finding; empty: they can.
fn not_yours(by: &Asker, found: &OneFound) -> &'static str {
    let manages = by.signed_in.roles.contains(&Role::ComplianceManager);
    let posting = by.signed_in.may(|role| posts(role, EntryKind::Settle));
    let own = found.line.booked_by.is_some() && found.line.booked_by == by.signed_in.person;
    let high = found.rows.iter().any(|row| row.grade == "high");
    match (manages, posting, own, high) {
        (true, ..) => "",
        (_, false, ..) => "Your role reads and settles nothing.",
        (.., true) => "A compliance manager settles this: it is of the highest grade.",
        (_, _, false, _) => "Who booked the entry, or a compliance manager, settles this.",
        _ => "",
    }
}

impl FindingPage {
    /// The page of what was read.
    pub fn of(frame: Frame, by: &Asker, code: &str, found: &OneFound, now: i64) -> FindingPage {
        let first = &found.rows[0];
        let own = BesideRow {
            how: "The entry that left it",
            own: true,
            row: Row::of(&found.line),
            booked: figures::instant(&found.line.booked_at),
        };
        let near = found.beside.iter().map(|(beside, line)| BesideRow {
            how: how(*beside),
            own: false,
            row: Row::of(line),
            booked: figures::instant(&line.booked_at),
        });
        let cylinder = found.things.iter().find(|thing| thing.kind == "cylinder");
        let manages = by.signed_in.roles.contains(&Role::ComplianceManager);
        let milliseconds = u64::try_from(now / 1_000).unwrap_or_default();
        let ways = ways::of(code);
        FindingPage {
            frame,
            action: path(first),
            entry: found.line.seq,
            says: says(code).to_string(),
            high: found.rows.iter().any(|row| row.grade == "high"),
            asked: said::asked(&ways, found),
            unanswered: said::is_unanswered(found),
            things: found.things.iter().map(about).collect(),
            entries: [own].into_iter().chain(near).collect(),
            version: found.version.clone(),
            settled: said::settled(&ways, found),
            not_yours: not_yours(by, found),
            correct: super::receipt::may::correct(by, &found.line),
            complete: (found.things.iter())
                .find(|thing| thing.kind == "appliance" && manages)
                .map(|thing| {
                    let at = super::appliance_path(&thing.tag, &thing.id);
                    (thing.tag.clone(), format!("{at}/register"))
                }),
            cylinder: cylinder.filter(|_| manages).map(|thing| CylinderLine {
                tag: thing.tag.clone(),
                holds: deed::holds(thing),
                is_held: deed::is_held(thing),
            }),
            ways,
            filled: Filled::default(),
            problems: Vec::new(),
            questions: Vec::new(),
            stale: false,
            ids: [(); 3].map(|()| Id::at(milliseconds).to_string()),
        }
    }

    fn title(&self) -> String {
        let about = self.things.first().map(|thing| thing.tag.as_str());
        let about = about.map_or(String::new(), |tag| format!("{tag}: "));
        words::capital(&format!("{about}{}", self.says))
    }

    fn ends_quarantine(&self) -> bool {
        let mut about = self.things.iter();
        self.high && about.any(|thing| thing.stands.contains("; under quarantine"))
    }

    fn may_settle(&self) -> bool {
        self.settled.is_empty() && self.not_yours.is_empty()
    }

    fn asks(&self, step: &str) -> &[AskedQuestion] {
        match self.filled.step.word() == step {
            true => &self.questions,
            false => &[],
        }
    }
}

/// `GET /findings/{id}`: the findings of an entry; where it is one, that one.
pub async fn of_entry(visit: Visit) -> Result<HttpResponse, Problem> {
    let of = visit.by()?.signed_in.of.clone();
    let name = visit.asked.name("id").to_string();
    let read = visit
        .asked
        .read(move |state| state.desk.read(|db| found::of_entry(db, &of, &name)));
    let mut all: Vec<FindingShown> = read.await?;
    // What is open goes before what is settled, what is grave before what is not.
    all.sort_by_key(|finding| (finding.settled.is_some(), finding.grade != "high"));
    match all.first() {
        Some(first) => Ok(go_to(&path(first))),
        None => Err(Problem::new(
            "not-found",
            "This entry left nothing that is to be looked at.",
        )),
    }
}

async fn read(visit: &Visit) -> Result<(FindingPage, OneFound), Problem> {
    let by = visit.by()?.clone();
    let (around, of, sees) = (Around::of(visit)?, by.signed_in.of.clone(), by.sees());
    let name = visit.asked.name("id").to_string();
    let code = visit.asked.name("code").to_string();
    let now = visit.asked.now;
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Today)?;
        let read = |db: &mut _| found::one(db, &of, &name, &code, sees);
        let found = state.desk.read(read)?;
        Ok((FindingPage::of(frame, &by, &code, &found, now), found))
    });
    read.await
}

fn answer(status: StatusCode, shown: &FindingPage) -> HttpResponse {
    let mut response = page(status, shown);
    if let Ok(value) = format!("\"{}\"", shown.version).parse() {
        response.headers_mut().insert(ETAG, value);
    }
    response
}

/// `GET /findings/{id}/{code}`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (shown, _) = read(&visit).await?;
    Ok(answer(StatusCode::OK, &shown))
}

/// `POST /findings/{id}/{code}`.
pub async fn take(mut visit: Visit) -> Result<HttpResponse, Problem> {
    let filled = Filled::read(std::mem::take(&mut visit.form));
    let (mut shown, found) = read(&visit).await?;
    let action = shown.action.clone();
    let again = found.settled.as_ref().map(|line| line.entry_id.to_string());
    if filled.step == Step::Settle && again.as_deref() == Some(filled.entry_id.as_str()) {
        return Ok(go_to(&action));
    }
    let is_stale = filled.version != shown.version;
    shown.problems = filled.problems();
    shown.filled = filled;
    if is_stale {
        shown.stale = true;
        return Ok(answer(StatusCode::PRECONDITION_FAILED, &shown));
    }
    if !shown.problems.is_empty() {
        return Ok(answer(StatusCode::UNPROCESSABLE_ENTITY, &shown));
    }
    let request = shown.filled.request(&visit.asked.name("code"), &found);
    let by = visit.by()?.poster();
    let posted = visit.asked.state.desk.post(&by, request);
    let posted = tokio::time::timeout(PATIENCE, posted).await;
    let posted = posted.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    let refusal = match posted {
        Ok(_) => return Ok(go_to(&action)),
        Err(ActionError::Refused(refusal)) => refusal,
        Err(failed) => return Err(failed.into()),
    };
    let status = crate::http::problem::status_of(&refusal);
    shown.refuse(refusal)?;
    let status = StatusCode::from_u16(status).unwrap_or(StatusCode::UNPROCESSABLE_ENTITY);
    Ok(answer(status, &shown))
}
