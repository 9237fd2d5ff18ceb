//! The condition of what is poured: burnt, suspect, mixed or unknown refrigerant is asked about before it
//! goes into an appliance, or makes the good content of another cylinder as bad as itself.
//!
//! The law leaves recovered refrigerant to its own owner's appliances and everything else to a reclaimer
//! (the stop `other_owner`); what acid and moisture do to a compressor is no matter of law, so this is
//! a question, and whoever answers it leaves a finding.

use super::stops::name_of;
use super::{Case, Judged, Lens, as_stated};
use crate::actions::moves::Moving;
use crate::actions::refusal::Stop;
use crate::ledger::entry::EntryKind;
use crate::store::StoreError;
use crate::store::book::Subject;
use crate::store::columns::{Class, PlaceNumber, Sort};
use crate::store::tx::Tx;
use reports::refrigerant::Table;

/// Looks at the condition of what goes into an appliance or a cylinder.
pub fn look(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    moving: &Moving,
    lens: &Lens,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let table = tx.table;
    let coming = match moving.src.sort() {
        Sort::Cylinder => class_in(tx.subject(moving.src)?, table),
        _ => Class::NotStated,
    };
    let coming = coming.max(case.class);
    let is_stopped =
        |(stop, place): &(Stop, PlaceNumber)| stop.word == "mixed_content" && *place == moving.src;
    let is_stopped = judged.stops.iter().any(is_stopped);
    if coming.is_fit() || case.kind == EntryKind::Redesignate || is_stopped {
        return Ok(());
    }
    let words = words(coming);
    if moving.dst.sort() == Sort::Appliance && moving.src.sort() == Sort::Cylinder {
        let from = name_of(tx.subject(moving.src)?);
        let into = name_of(tx.subject(moving.dst)?);
        let text = format!(
            "What is in cylinder {from} is {words}. Acid, moisture or another refrigerant would go \
             into {into}. Send it to reclaim, or have it analysed and its condition recorded first."
        );
        return ask(judged, text, moving.src);
    }
    if case.kind == EntryKind::Return {
        let from = name_of(tx.subject(moving.src)?);
        let to = name_of(tx.subject(moving.dst)?);
        let text = format!(
            "What is in cylinder {from} is {words}. A supplier takes back what it sold; this is for a \
             reclaimer or for destruction. Does {to} know what it gets, and take it?"
        );
        return ask(judged, text, moving.src);
    }
    if moving.dst.sort() == Sort::Cylinder {
        // Mixing is stopped by its own word; what is worse than either is no second question.
        let mixes =
            |(stop, place): &(Stop, PlaceNumber)| stop.word == "mixing" && *place == moving.dst;
        if judged.stops.iter().any(mixes) {
            return Ok(());
        }
        let cylinder = tx.subject(moving.dst)?;
        let held = lens.total(moving.dst, cylinder) > 0;
        if held && class_in(cylinder, table) < coming {
            let name = name_of(cylinder);
            let text = format!(
                "What would go into cylinder {name} is {words}, and all that is in it would be so. \
                 Take another cylinder."
            );
            return ask(judged, text, moving.dst);
        }
    }
    Ok(())
}

fn ask(judged: &mut Judged, text: String, place: PlaceNumber) -> Result<(), StoreError> {
    let books = "the mass as stated; the condition goes with it";
    let question = as_stated("content_class", text, books);
    // Several refrigerants of one cylinder are one question.
    if !judged.questions.contains(&(question.clone(), place)) {
        judged.questions.push((question, place));
    }
    Ok(())
}

/// The condition of what a cylinder holds.
pub fn class_in(cylinder: &Subject, table: &Table) -> Class {
    let names: Vec<&str> = cylinder
        .holds()
        .filter_map(|code| table.designation(code))
        .collect();
    cylinder.class.with_content(&names)
}

/// A condition as a sentence says it.
pub fn words(class: Class) -> &'static str {
    match class {
        Class::NotStated => "of a condition that nobody stated",
        Class::Clean => "clean",
        Class::Suspect => "suspect",
        Class::Unknown => "not known",
        Class::BurnOut => "from a burn-out",
        Class::Mixed => "mixed",
    }
}
