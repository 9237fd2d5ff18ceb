//! One shipment: what was sent, what is stated, and the form by which a statement is entered.
//!
//! The form works without script: one row of boxes for each refrigerant that was sent and one for
//! another name. Other shipments of the same receiver that wait can be taken into the same statement.
//! What the door asks comes back in the same form; nothing is booked before it is answered.

mod filled;

use super::form::box_problem;
use super::frame::{Around, Frame, Part};
use super::posting::AskedQuestion;
use super::shipments::{ShipmentRow, State, became, path};
use super::way::{Visit, go_to, page};
use super::{figures, words};
use crate::actions::ActionError;
use crate::actions::refusal::{Question, Refusal};
use crate::actions::show::shipments::{self, Case, ShipmentsAsked};
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use crate::ledger::entry::EntryKind;
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use filled::{Filled, UNITS, WRONG};

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "shipment.html")]
pub struct ShipmentPage {
    /// Around the content.
    pub frame: Frame,
    /// Where the form goes.
    pub action: String,
    /// Who received it.
    pub receiver: String,
    /// The shipments, with where their entries are.
    pub sent: Vec<SentRow>,
    /// Shipments that the statement names and the receiver does not have any more.
    pub gone: Vec<GoneRow>,
    /// Statements of others that still speak of these shipments: entry, and whose it is.
    pub elsewhere: Vec<(u64, String)>,
    /// The statement that holds.
    pub statement: Option<StatementRow>,
    /// By refrigerant.
    pub rows: Vec<ShipmentRow>,
    /// How far two scales may be apart, for each row.
    pub tolerances: Vec<String>,
    /// How it stands.
    pub state: State,
    /// Other shipments to the same receiver that wait: entry and what they are.
    pub waiting: Vec<SentRow>,
    /// The entry that was just booked.
    pub posted: Option<u64>,
    /// May the reader enter statements?
    pub may_state: bool,
    /// Goes with the form, so that a second press books nothing twice.
    pub entry_id: String,
    /// The same, for taking the statement back.
    pub take_back_id: String,
    /// What was filled in.
    pub filled: Filled,
    /// What is to be put right.
    pub problems: Vec<String>,
    /// What the door asks.
    pub questions: Vec<AskedQuestion>,
}

/// A shipment in a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SentRow {
    /// Its entry.
    pub entry: u64,
    /// When, from which cylinders, with which papers.
    pub says: String,
}

/// A shipment that went, in a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GoneRow {
    /// By which it was sent.
    pub entry: u64,
    /// What became of it.
    pub became: String,
    /// By which entry.
    pub by: u64,
}

/// The statement in a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StatementRow {
    /// Its entry.
    pub entry: u64,
    /// When, with which number, accepted or disputed.
    pub says: String,
    /// Is it disputed, and nobody has settled that?
    pub is_disputed: bool,
}

/// Most shipments among which others that wait are looked for.
const LOOKED_AT: usize = 100;

fn sent_rows(case: &Case) -> Vec<SentRow> {
    let row = |sent: &shipments::SentShown| {
        let way = match sent.kind {
            "send_to_destruction" => "to destruction",
            _ => "to reclaim",
        };
        let mut says = format!(
            "{}, {way}, from {}",
            figures::day_text(&sent.day),
            sent.cylinders.join(", ")
        );
        if !sent.documents.is_empty() {
            says.push_str(&format!(", document {}", sent.documents.join(", ")));
        }
        SentRow {
            entry: sent.entry,
            says,
        }
    };
    case.shipments.iter().map(row).collect()
}

fn statement_row(case: &Case) -> Option<StatementRow> {
    let it = case.statement.as_ref()?;
    let number = it.document.as_ref();
    let number = number.map_or(String::new(), |text| format!(", document {text}"));
    Some(StatementRow {
        entry: it.entry,
        says: format!("{}{number}: {}", figures::day_text(&it.day), it.outcome),
        is_disputed: case.state == "disputed",
    })
}

impl GoneRow {
    fn of(gone: &shipments::GoneShown) -> GoneRow {
        GoneRow {
            entry: gone.entry,
            became: became(gone),
            by: gone.by,
        }
    }
}

/// Cases of others that have lost the shipment of a case.
fn elsewhere(cases: &[Case]) -> Vec<(u64, String)> {
    let lost = cases.iter().filter(|case| case.shipments.is_empty());
    let named = lost.filter_map(|case| {
        let statement = case.statement.as_ref()?.entry;
        Some((statement, case.counterparty.tag.clone()))
    });
    named.collect()
}

impl ShipmentPage {
    /// The page of a case; `others`: cases of the same receiver that wait.
    fn of(frame: Frame, case: &Case, others: &[Case], may_state: bool) -> ShipmentPage {
        let own = path(case);
        let others = others.iter().filter(|other| path(other) != own);
        let refrigerants: Vec<String> = (case.lines.iter())
            .map(|line| line.refrigerant.clone())
            .collect();
        ShipmentPage {
            frame,
            action: own.clone(),
            receiver: case.counterparty.tag.clone(),
            sent: sent_rows(case),
            gone: case.gone.iter().map(GoneRow::of).collect(),
            elsewhere: Vec::new(),
            statement: statement_row(case),
            rows: ShipmentRow::of(case),
            tolerances: case
                .lines
                .iter()
                .map(|line| line.tolerance.lb_oz.clone())
                .collect(),
            state: State::of(case.state),
            waiting: others.flat_map(sent_rows).collect(),
            posted: None,
            may_state,
            entry_id: String::new(),
            take_back_id: String::new(),
            filled: Filled::empty(&refrigerants),
            problems: Vec::new(),
            questions: Vec::new(),
        }
    }

    fn title(&self) -> String {
        match self.sent.as_slice() {
            [] => format!(
                "Statement no. {} of {}",
                figures::number(self.statement.as_ref().map_or(0, |it| it.entry)),
                self.receiver
            ),
            [one] => format!(
                "Shipment no. {} to {}",
                figures::number(one.entry),
                self.receiver
            ),
            _ => format!("Shipments to {}", self.receiver),
        }
    }

    /// Is the form shown open?
    fn is_open(&self) -> bool {
        let asked = !self.problems.is_empty() || !self.questions.is_empty();
        self.statement.is_none() || (asked && !self.filled.takes_back)
    }

    /// Puts what the door refuses beside the form.
    fn refuse(&mut self, refusal: Refusal) -> Result<(), Problem> {
        let asked = |question: Question| AskedQuestion {
            answered: self.filled.answered(question.code),
            code: question.code,
            text: question.text,
            choices: question.choices,
        };
        match refusal {
            Refusal::NeedsAnswer(questions) => {
                self.questions = questions.into_iter().map(asked).collect();
            }
            refusal => match box_problem(&refusal) {
                Some(problem) => self.problems.push(problem.text),
                None => return Err(refusal.into()),
            },
        }
        Ok(())
    }
}

/// Reads the page of the shipment that the address names.
async fn read(visit: &Visit) -> Result<(ShipmentPage, Case), Problem> {
    let by = visit.by()?;
    let may = |role| crate::actions::permit::posts(role, EntryKind::Statement);
    let (around, of, may_state) = (
        Around::of(visit)?,
        by.signed_in.of.clone(),
        by.signed_in.may(may),
    );
    let name = visit.asked.name("id").to_string();
    let milliseconds = u64::try_from(visit.asked.now / 1_000).unwrap_or_default();
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Cylinders)?;
        let mut cases = state.desk.read(|db| shipments::one(db, &of, &name))?;
        let case = cases.remove(0);
        let asked = ShipmentsAsked {
            state: "waiting".to_string(),
            counterparty: case.counterparty.id.clone(),
            most: LOOKED_AT,
            after: None,
        };
        let others = state
            .desk
            .read(|db| shipments::page(db, &of, &asked))?
            .items;
        let mut shown = ShipmentPage::of(frame, &case, &others, may_state);
        shown.elsewhere = elsewhere(&cases);
        shown.entry_id = Id::at(milliseconds).to_string();
        shown.take_back_id = Id::at(milliseconds).to_string();
        Ok((shown, case))
    });
    read.await
}

/// `GET /shipments/{id}`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let posted = visit.asked.query.number("posted")?;
    let (mut shown, _) = read(&visit).await?;
    shown.posted = posted;
    Ok(page(StatusCode::OK, &shown))
}

/// `POST /shipments/{id}`.
pub async fn take(mut visit: Visit) -> Result<HttpResponse, Problem> {
    let filled = Filled::read(std::mem::take(&mut visit.form));
    let (mut shown, case) = read(&visit).await?;
    let action = shown.action.clone();
    // The form that comes back keeps the id it was served with.
    let id = match filled.takes_back {
        true => &mut shown.take_back_id,
        false => &mut shown.entry_id,
    };
    if !filled.entry_id.is_empty() {
        id.clone_from(&filled.entry_id);
    }
    let entry_id = id.clone();
    shown.problems = filled.problems();
    shown.filled = filled.beside(&shown.filled);
    if !shown.problems.is_empty() {
        return Ok(page(StatusCode::UNPROCESSABLE_ENTITY, &shown));
    }
    let request = shown.filled.request(&entry_id, &case);
    let by = visit.by()?.poster();
    let posted = visit.asked.state.desk.post(&by, request);
    let posted = tokio::time::timeout(PATIENCE, posted).await;
    let posted = posted.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
    let refusal = match posted {
        // What is taken back and had no shipment any more stands on no page but the book's.
        Ok(receipt) if case.shipments.is_empty() => {
            return Ok(go_to(&format!("/entries/{}?posted=now", receipt.entry_id)));
        }
        Ok(receipt) => return Ok(go_to(&format!("{action}?posted={}", receipt.seq))),
        Err(ActionError::Refused(refusal)) => refusal,
        Err(failed) => return Err(failed.into()),
    };
    let status = crate::http::problem::status_of(&refusal);
    shown.refuse(refusal)?;
    let status = StatusCode::from_u16(status).unwrap_or(StatusCode::UNPROCESSABLE_ENTITY);
    Ok(page(status, &shown))
}
