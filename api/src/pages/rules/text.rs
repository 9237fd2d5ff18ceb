//! The whole text of a rule set or layer: edit it, check it, see what it would change, adopt it.

use super::super::frame::Frame;
use super::super::way::{Visit, go_to, page};
use super::super::{figures, words};
use super::trial::{Outcome, Trial};
use super::{Question, status};
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "rule-text.html")]
pub struct RuleTextPage {
    /// Around the content.
    pub frame: Frame,
    /// The set or layer that the text began with.
    pub id: String,
    /// Whether that judges.
    pub status: String,
    /// The text.
    pub toml: String,
    /// How many lines the box shows.
    pub lines: usize,
    /// What was filled in beside it, and what came of it.
    pub trial: Trial,
}

/// `GET /rules/{id}/text`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (mut shown, today) = begun(&visit).await?;
    shown.trial = Trial::new(&visit, today)?;
    Ok(page(StatusCode::OK, &shown))
}

/// `POST /rules/{id}/text`.
pub async fn take(visit: Visit) -> Result<HttpResponse, Problem> {
    let (mut shown, _) = begun(&visit).await?;
    // Browsers send line breaks as CR LF.
    shown.toml = visit.filled("toml").replace("\r\n", "\n");
    shown.lines = box_lines(&shown.toml);
    let name = format!("{}.toml", shown.id);
    let trial = Trial::filled(&visit)?;
    match trial.tried(&visit, &name, &shown.toml).await? {
        Outcome::Adopted { id, entry } => Ok(go_to(&format!("/rules/{id}?adopted={entry}"))),
        Outcome::Shown(trial) => {
            let status = match trial.problems.is_empty() {
                true => StatusCode::OK,
                false => StatusCode::UNPROCESSABLE_ENTITY,
            };
            shown.trial = *trial;
            Ok(page(status, &shown))
        }
    }
}

/// The page with the text as it stands, and today.
async fn begun(visit: &Visit) -> Result<(RuleTextPage, reports::day::Day), Problem> {
    let (question, id) = (Question::of(visit)?, visit.asked.name("id"));
    let read = visit.asked.read(move |state| {
        let (frame, today, file) = question.file(state, &id)?;
        let toml = match file.own_text {
            Some(text) => text.to_string(),
            None => file
                .file
                .to_toml()
                .unwrap_or_else(|why| format!("# {why}\n")),
        };
        let page = RuleTextPage {
            frame,
            id,
            status: status(file.status, today),
            lines: box_lines(&toml),
            toml,
            trial: Trial::default(),
        };
        Ok((page, today))
    });
    read.await
}

fn box_lines(text: &str) -> usize {
    (text.lines().count() + 1).clamp(12, 32)
}
