//! Another name for what is in a cylinder, and with it perhaps another condition and another limit.
//!
//! A name follows from an analysis. Who keeps the book says so without being asked, unless the content
//! becomes milder by it; anybody else is asked, and whatever is answered the office looks at it.

use super::stops::name_of;
use super::{Case, Judged, Lens, condition};
use crate::actions::moves::Moving;
use crate::actions::refusal::{Question, QuestionChoice};
use crate::ledger::entry::EntryKind;
use crate::store::StoreError;
use crate::store::columns::{Class, PlaceNumber, Sort};
use crate::store::tx::Tx;
use std::collections::BTreeSet;

/// Looks at a mass that returns to its cylinder under its new name.
pub fn look(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    moving: &Moving,
    lens: &Lens,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let place = moving.dst;
    let asked = |judged: &Judged| {
        let known = |(question, at): &(Question, PlaceNumber)| {
            question.code == "content_renamed" && *at == place
        };
        judged.questions.iter().any(known)
    };
    if case.kind != EntryKind::Redesignate || place.sort() != Sort::Cylinder || asked(judged) {
        return Ok(());
    }
    let table = tx.table;
    let cylinder = tx.subject(place)?;
    let before = condition::class_in(cylinder, table);
    let others = lens.codes(place, cylinder).into_iter();
    let held = others.filter(|code| lens.balance(place, cylinder, *code) > 0);
    // One name once: what is renamed may join what carries the name already.
    let codes: BTreeSet<u16> = held.chain([moving.refrigerant]).collect();
    let names: Vec<&str> = (codes.into_iter())
        .filter_map(|code| table.designation(code))
        .collect();
    // As the store takes it: of the whole content what is stated beside it counts alone.
    let whole = lens.total(place, cylinder) <= 0;
    let said = match whole && case.class != Class::NotStated {
        true => case.class,
        false => cylinder.class.max(case.class),
    };
    let after = said.with_content(&names);
    if case.by_office && after >= before {
        return Ok(());
    }
    let text = format!(
        "What is in cylinder {} would be {} from now on, by its name {}. Was it analysed?",
        name_of(cylinder),
        condition::words(after),
        table.designation(moving.refrigerant).unwrap_or_default()
    );
    let books = [
        "the new name; the office looks at the analysis",
        "the new name; the office has it analysed",
    ];
    let question = analysed("content_renamed", text, books);
    judged.questions.push((question, place));
    Ok(())
}

/// A question whether something was analysed; `books`: what each of its answers books.
pub fn analysed(code: &'static str, text: String, books: [&str; 2]) -> Question {
    let [by_analysis, without] = books;
    let choice = |choice, text: &str, books: &str| QuestionChoice {
        choice,
        text: text.to_string(),
        books: books.to_string(),
    };
    Question {
        code,
        text,
        choices: vec![
            choice("analysed", "It was analysed", by_analysis),
            choice("not_analysed", "It was not", without),
        ],
    }
}
