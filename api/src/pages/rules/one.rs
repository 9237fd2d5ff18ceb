//! What one rule set or layer says, who adopted it from when, and why.

use super::super::frame::Frame;
use super::super::way::{Visit, go_to, page};
use super::super::{figures, words};
use super::trial::{Outcome, Trial};
use super::written::{self, NumberLine, RuleLine};
use super::{Question, status};
use crate::actions::permit::Deed;
use crate::actions::show::rule_files::{FileShown, Status};
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;
use reports::rules::RuleFile;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "rule-set.html")]
pub struct RuleSetPage {
    /// Around the content.
    pub frame: Frame,
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// What it is: act and jurisdiction, or the base and where.
    pub lede: String,
    /// Whether it judges.
    pub status: String,
    /// What must be known before relying on it.
    pub caution: String,
    /// It was adopted a moment ago, by this entry.
    pub adopted_now: Option<u64>,
    /// May the reader adopt?
    pub may_adopt: bool,
    /// The set whose numbers the form changes.
    pub changes: String,
    /// Layers over it.
    pub layers: Vec<LayerLine>,
    /// Its numbers.
    pub numbers: Vec<NumberLine>,
    /// What is too much.
    pub limits: Vec<RuleLine>,
    /// What is then owed.
    pub duties: Vec<RuleLine>,
    /// Adoptions, newest first.
    pub adoptions: Vec<AdoptionLine>,
    /// How many examples it must answer.
    pub examples: usize,
    /// What its end is filled in with, where the reader may end it.
    pub ending: Option<Trial>,
}

/// A layer over a set.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub struct LayerLine {
    pub id: String,
    pub title: String,
    pub place: String,
    pub status: String,
}

/// An adoption.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub struct AdoptionLine {
    pub entry: u64,
    pub says: String,
    pub by: String,
    pub reason: String,
}

impl RuleSetPage {
    /// The page of a file; `all`: every file of the book.
    pub fn of(
        frame: Frame,
        today: Day,
        file: &FileShown,
        all: &[FileShown],
        adopted_now: Option<u64>,
    ) -> RuleSetPage {
        let base = |id: &str| {
            all.iter().find_map(|other| match &other.file {
                RuleFile::Set(set) if set.id == id => Some(&**set),
                _ => None,
            })
        };
        let (title, lede, caution, changes, base) = match &file.file {
            RuleFile::Set(set) => (
                set.title.clone(),
                format!("{}, {}.", set.act, set.jurisdiction),
                set.caution.clone(),
                set.id.clone(),
                None,
            ),
            RuleFile::Overlay(layer) => (
                layer.title.clone(),
                format!(
                    "A {} layer over {}, {}: {}.",
                    layer.layer.word(),
                    layer.overlays,
                    written::place(layer),
                    layer.reason
                ),
                String::new(),
                layer.overlays.clone(),
                base(&layer.overlays),
            ),
        };
        let (limits, duties, examples) = match &file.file {
            RuleFile::Set(set) => (
                written::limits(set),
                written::duties(set),
                set.examples.len(),
            ),
            RuleFile::Overlay(_) => (Vec::new(), Vec::new(), 0),
        };
        RuleSetPage {
            may_adopt: frame.may(Deed::AdoptRules),
            frame,
            id: file.id.clone(),
            title,
            lede,
            status: words::capital(&status(file.status, today)),
            caution,
            adopted_now,
            changes,
            layers: layers(&file.id, all, today),
            numbers: written::numbers(&file.file, base, today),
            limits,
            duties,
            adoptions: adoptions(file),
            examples,
            ending: None,
        }
    }

    /// Can it be ended? What judges, or will, can.
    fn can_end(&self, file: &FileShown) -> bool {
        let judges = matches!(file.status, Status::InForce(_) | Status::ToCome(_));
        self.may_adopt && judges
    }
}

fn layers(id: &str, all: &[FileShown], today: Day) -> Vec<LayerLine> {
    let over = all.iter().filter_map(|file| match &file.file {
        RuleFile::Overlay(layer) if layer.overlays == id => Some(LayerLine {
            id: file.id.clone(),
            title: layer.title.clone(),
            place: written::place(layer),
            status: status(file.status, today),
        }),
        _ => None,
    });
    over.collect()
}

fn adoptions(file: &FileShown) -> Vec<AdoptionLine> {
    let newest_first = file.adoptions.iter().rev();
    newest_first
        .map(|one| AdoptionLine {
            entry: one.entry,
            says: match one.ends {
                true => format!("Ends with {}", figures::day(one.since.plus(-1))),
                false => format!("Judges from {}", figures::day(one.since)),
            },
            by: one.by.clone(),
            reason: one.reason.clone(),
        })
        .collect()
}

/// `GET /rules/{id}`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (mut shown, can_end, today) = read(&visit).await?;
    shown.ending = match can_end {
        true => Some(Trial::new(&visit, today)?),
        false => None,
    };
    Ok(page(StatusCode::OK, &shown))
}

/// `POST /rules/{id}/end`: from a day on it judges no more.
pub async fn end(visit: Visit) -> Result<HttpResponse, Problem> {
    let (mut shown, ..) = read(&visit).await?;
    let trial = Trial::filled(&visit)?;
    match trial.ended(&visit, &shown.id).await? {
        Outcome::Adopted { id, entry } => Ok(go_to(&format!("/rules/{id}?adopted={entry}"))),
        Outcome::Shown(trial) => {
            shown.ending = Some(*trial);
            Ok(page(StatusCode::UNPROCESSABLE_ENTITY, &shown))
        }
    }
}

/// The page, whether it can be ended, and today.
async fn read(visit: &Visit) -> Result<(RuleSetPage, bool, Day), Problem> {
    let (question, id) = (Question::of(visit)?, visit.asked.name("id"));
    let adopted_now = visit.asked.query.number("adopted")?;
    let read = visit.asked.read(move |state| {
        let (frame, today, files) = question.files(state)?;
        let file = files.iter().find(|file| file.id == id);
        let file = file.ok_or_else(|| crate::actions::show::unknown("rule set", &id))?;
        let page = RuleSetPage::of(frame, today, file, &files, adopted_now);
        let can_end = page.can_end(file);
        Ok((page, can_end, today))
    });
    read.await
}

impl RuleSetPage {
    /// Does it come with the program, and nobody adopted it?
    pub fn is_offered(&self) -> bool {
        self.status == words::capital(&status(Status::Offered, Day::from_count(0)))
    }
}
