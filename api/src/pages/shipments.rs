//! Shipments: what was sent, what the receiver states, what lies between, and how it stands.
//!
//! What was asked for stands in the address, so that a view can be sent to a colleague. Each line leads
//! to the one shipment, where its statement is entered.

mod gaps;

use super::frame::{Around, Frame, Part};
use super::picture::Picture;
use super::way::{Visit, page};
use super::{encoded, figures, words};
use crate::actions::show::Page;
use crate::actions::show::shipments::{self, Case, GoneShown, LineShown, STATES};
use crate::http::Problem;
use crate::http::shipments::asked_for;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::mass::lb_oz_text;
use reports::number::{Fraction, shown_beside};

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "shipments.html")]
pub struct ShipmentsPage {
    /// Around the content.
    pub frame: Frame,
    /// The headline as one sentence.
    pub lede: String,
    /// The state that is asked for; empty: any.
    pub state: String,
    /// The counterparty that is asked for; empty: anybody.
    pub counterparty: String,
    /// One row for each refrigerant of a case.
    pub rows: Vec<ShipmentRow>,
    /// The differences, drawn.
    pub picture: Option<Picture>,
    /// The address of what comes after.
    pub next: Option<String>,
}

/// One refrigerant of one case.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShipmentRow {
    /// Number of its newest shipment.
    pub entry: u64,
    /// Where the case is.
    pub href: String,
    /// When it was sent.
    pub on: String,
    /// To whom.
    pub to: String,
    /// From which cylinders, with the numbers of their papers.
    pub what: String,
    /// Designation.
    pub refrigerant: String,
    /// What was sent.
    pub own: String,
    /// What is stated.
    pub stated: String,
    /// Oil, water and air.
    pub residue: String,
    /// What lies between, with its share.
    pub difference: String,
    /// How it stands.
    pub state: State,
}

/// A state as it is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct State {
    /// Its word on the wire.
    pub word: &'static str,
    /// How it reads.
    pub says: &'static str,
    /// Which sign and colour: `fits`, `ask`, or nothing.
    pub sign: &'static str,
}

impl State {
    /// The state with this word.
    pub fn of(word: &str) -> State {
        let (word, says, sign) = match word {
            "disputed" => ("disputed", "disputed", "ask"),
            "open_difference" => ("open_difference", "open: book and statement differ", "ask"),
            "shipment_gone" => (
                "shipment_gone",
                "open: its shipment went elsewhere or was taken back",
                "ask",
            ),
            "accepted" => ("accepted", "difference accepted", "fits"),
            "fits" => ("fits", "fits", "fits"),
            "settled" => ("settled", "dispute settled, our weight stands", "fits"),
            _ => ("waiting", "waits for its statement", ""),
        };
        State { word, says, sign }
    }

    /// How it reads beside a figure.
    pub fn short(self) -> &'static str {
        match self.word {
            "disputed" => "disputed",
            "open_difference" => "open",
            "shipment_gone" => "shipment gone",
            "accepted" => "accepted",
            "fits" => "fits",
            "settled" => "settled",
            _ => "waiting",
        }
    }

    /// The states that can be asked for.
    pub fn all() -> Vec<State> {
        STATES.iter().map(|word| State::of(word)).collect()
    }
}

/// `−1 lb 12.8 oz (2.9 %)`, stated less sent; empty without a statement.
pub fn difference(line: &LineShown) -> String {
    let Some(difference) = line.steps.difference() else {
        return String::new();
    };
    if difference == 0 {
        return "none".to_string();
    }
    let sign = if difference < 0 { "−" } else { "+" };
    let mass = lb_oz_text(difference.abs());
    match line.steps.own {
        0 => format!("{sign}{mass}"),
        own => {
            let share = Fraction::new(difference.abs() * 100, own);
            format!("{sign}{mass} ({} %)", shown_beside(share, &[]))
        }
    }
}

/// Where a case is shown: under its newest shipment, or under its statement where it has none any more.
pub fn path(case: &Case) -> String {
    format!("/shipments/{}", number(case))
}

fn number(case: &Case) -> u64 {
    let statement = case.statement.as_ref().map_or(0, |it| it.entry);
    case.shipments.first().map_or(statement, |sent| sent.entry)
}

/// `went to Dunmore Supply`: what became of a shipment that a statement names.
pub fn became(gone: &GoneShown) -> String {
    let to: Vec<&str> = gone.to.iter().map(|it| it.tag.as_str()).collect();
    match to.is_empty() {
        true => "was taken back".to_string(),
        false => format!("went to {}", to.join(" and ")),
    }
}

impl ShipmentRow {
    /// The rows of a case.
    pub fn of(case: &Case) -> Vec<ShipmentRow> {
        let newest = case.shipments.first();
        let named: Vec<String> = (case.shipments.iter())
            .map(|sent| match sent.documents.is_empty() {
                true => sent.cylinders.join(", "),
                false => format!(
                    "{}, {}",
                    sent.cylinders.join(", "),
                    sent.documents.join(", ")
                ),
            })
            .collect();
        let gone = case.gone.iter();
        let gone = gone.map(|it| format!("no. {} {} by no. {}", it.entry, became(it), it.by));
        let named: Vec<String> = named.into_iter().chain(gone).collect();
        let stated = case.statement.as_ref();
        let stated = stated.map(|it| format!("Stated {}", figures::day_text(&it.day)));
        let row = |line: &LineShown| ShipmentRow {
            entry: number(case),
            href: path(case),
            on: match newest {
                Some(sent) => figures::day_text(&sent.day),
                None => stated.clone().unwrap_or_default(),
            },
            to: case.counterparty.tag.clone(),
            what: named.join("; "),
            refrigerant: line.refrigerant.clone(),
            own: match newest {
                Some(_) => line.own.lb_oz.clone(),
                None => "none".to_string(),
            },
            stated: line
                .stated
                .as_ref()
                .map_or(String::new(), |it| it.lb_oz.clone()),
            residue: line
                .residue
                .as_ref()
                .map_or(String::new(), |it| it.lb_oz.clone()),
            difference: difference(line),
            state: State::of(case.state),
        };
        case.lines.iter().map(row).collect()
    }
}

impl ShipmentsPage {
    /// The page of what was read.
    pub fn of(
        frame: Frame,
        state: String,
        counterparty: String,
        page: Page<Case>,
    ) -> ShipmentsPage {
        let count = |word: &str| page.items.iter().filter(|case| case.state == word).count();
        let lede = match page.items.len() {
            0 => "Nothing to show here.".to_string(),
            all => format!(
                "{}: {} to be settled, {} waiting for a statement.",
                figures::counted(all, "shipment or statement", "shipments and statements"),
                shipments::open(&page.items),
                count("waiting"),
            ),
        };
        let next = page.next.map(|after| {
            let (state, to) = (encoded(&state), encoded(&counterparty));
            format!("/shipments?state={state}&counterparty={to}&after={after}")
        });
        ShipmentsPage {
            frame,
            lede: words::capital(&lede),
            rows: page.items.iter().flat_map(ShipmentRow::of).collect(),
            picture: gaps::picture(&page.items),
            state,
            counterparty,
            next,
        }
    }
}

/// Cases of one page.
const MOST: usize = 50;

/// `GET /shipments`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (around, of) = (Around::of(&visit)?, visit.by()?.signed_in.of.clone());
    let asked = asked_for(&visit.asked.query, MOST)?;
    let read = visit.asked.read(move |state| {
        let (frame, _, _) = around.read(state, Part::Cylinders)?;
        let page = state.desk.read(|db| shipments::page(db, &of, &asked))?;
        Ok(ShipmentsPage::of(
            frame,
            asked.state,
            asked.counterparty,
            page,
        ))
    });
    Ok(page(StatusCode::OK, &read.await?))
}
