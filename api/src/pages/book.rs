//! The book: its entries, its newest seal, and how anyone checks it without us.

use super::chain::ChainStrip;
use super::field::page;
use super::figures;
use super::frame::Frame;
use super::frame::{Around, Part};
use super::lines::Row;
use super::way::Visit;
use crate::actions::permit::{self, Deed, Reach};
use crate::actions::show::Page;
use crate::actions::show::lines;
use crate::actions::show::lines::Line;
use crate::actions::show::log;
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "book.html")]
pub struct BookPage {
    /// Around the content.
    pub frame: Frame,
    /// The headline as one sentence.
    pub lede: String,
    /// May the reader take the whole book?
    pub may_bundle: bool,
    /// The strip of blocks, for who may take the whole book.
    pub strip: Option<ChainStrip>,
    /// Which entries are shown.
    pub span: Option<String>,
    /// The entries, newest first.
    pub lines: Vec<Row>,
    /// The address of older entries.
    pub older: Option<String>,
    /// The address of the newest, where these are not they.
    pub newer: Option<String>,
}

impl BookPage {
    /// The page of what was read. `newest`: number of the newest entry.
    pub fn of(frame: Frame, newest: u64, before: Option<u64>, page: Page<Line>) -> BookPage {
        let whole = |role: &_| permit::reach(*role, Deed::ReadLog) == Reach::Whole;
        let lines: Vec<Row> = page.items.iter().map(Row::of).collect();
        let span = (lines.last().zip(lines.first())).map(|(oldest, newest)| {
            format!(
                "{} to {}",
                figures::number(oldest.entry),
                figures::number(newest.entry)
            )
        });
        let count = figures::many(newest + 1, "entries");
        BookPage {
            strip: None,
            may_bundle: frame.roles.iter().any(whole),
            frame,
            lede: format!(
                "{count}, numbered from 0. None is ever changed or removed; seals close \
                 stretches of the book, so that whoever holds an older seal sees any later change."
            ),
            span,
            lines,
            older: page.next.map(|before| format!("/book?before={before}")),
            newer: before.is_some().then(|| "/book".to_string()),
        }
    }
}

/// Entries of one page.
const MOST: usize = 50;

/// `GET /book`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (around, of, sees) = (Around::of(&visit)?, by.signed_in.of.clone(), by.sees());
    let of_chain = of.clone();
    let before = visit.asked.query.number("before")?;
    let read = visit.asked.read(move |state| {
        let (frame, _, newest) = around.read(state, Part::Book)?;
        let entries = state
            .desk
            .read(|db| lines::newest(db, &of, before, MOST, sees))?;
        let mut shown = BookPage::of(frame, newest, before, entries);
        if shown.may_bundle {
            let chain = state.desk.read(|db| log::chain(db, &of_chain))?;
            shown.strip = ChainStrip::of(&chain);
        }
        Ok(shown)
    });
    Ok(page(StatusCode::OK, &read.await?))
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::ledger::actor::Role;
    use askama::Template;

    fn shown(role: Role, items: Vec<Line>) -> String {
        let frame = sample::frame(role, Part::Book);
        let page = Page { items, next: None };
        BookPage::of(frame, 4_826, None, page).render().unwrap()
    }

    #[test]
    fn the_book_says_how_it_is_checked_and_who_takes_it() {
        let html = shown(Role::Auditor, vec![sample::line(&sample::hostile())]);
        assert!(html.contains("4\u{202f}827 entries, numbered from 0."));
        assert!(html.contains("href=\"/api/v1/log/bundle\""));
        assert!(html.contains("tarebook verify --bundle"));
        assert!(html.contains("No seal was signed yet."));
        sample::is_clean(&html);
        let technician = shown(Role::Technician, Vec::new());
        assert!(!technician.contains("/api/v1/log/bundle"));
        assert!(technician.contains("There is no entry here."));
    }
}
