//! Whose refrigerant meets in a cylinder, and what was recovered in a cylinder for new refrigerant.
//!
//! Nobody is hurt by either, so both are questions: content of several owners goes only to reclaim or
//! destruction afterwards (recovered refrigerant goes back to its own owner's appliances or is reclaimed;
//! from memory), and what comes out of a supply cylinder is taken for new.

use super::stops::name_of;
use super::{Case, Judged, Lens, as_stated};
use crate::actions::moves::Moving;
use crate::actions::refusal::{Question, Stop};
use crate::ledger::entry::{Body, EntryKind, Moved};
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::store::StoreError;
use crate::store::columns::{Class, PlaceNumber, Sort};
use crate::store::tx::Tx;
use std::borrow::Cow;

/// The question whether recovered refrigerant may go into a supply cylinder.
const INTO_SUPPLY: &str = "recovered_into_supply";

impl Judged {
    /// Does recovered refrigerant go into a supply cylinder?
    pub fn into_supply(&self) -> bool {
        let asked = |(question, _): &(Question, _)| question.code == INTO_SUPPLY;
        self.questions.iter().any(asked)
    }
}

/// What is recovered into a supply cylinder is in a condition that is not known, unless one is stated.
pub fn doubted(body: &mut Body<'static>, into_supply: bool) {
    let body = match &mut body.replace {
        Some(new) => &mut new.body,
        None => body,
    };
    let is_recovery = |moved: &Moved<'_>| !matches!(moved.from, Place::Cylinder(_));
    let recovers = body.movements.iter().flatten().any(is_recovery);
    if into_supply && recovers && body.class.is_none() {
        body.class = Some(Cow::Borrowed("unknown"));
    }
}

/// Looks at what is poured into a cylinder.
pub fn look(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    moving: &Moving,
    lens: &Lens,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let pours = matches!(case.kind, EntryKind::Recover | EntryKind::Transfer);
    if !pours || moving.dst.sort() != Sort::Cylinder {
        return Ok(());
    }
    let coming = coming(tx, case, moving)?;
    // What the same entry poured in before counts, too.
    let mut known = tx.subject(moving.dst)?.owners.clone();
    for earlier in case
        .moves
        .iter()
        .take_while(|it| !std::ptr::eq(*it, moving))
    {
        if earlier.dst == moving.dst {
            known.extend(self::coming(tx, case, earlier)?.owners);
        }
    }
    several_owners(tx, moving, lens, (&known, &coming), judged)?;
    into_supply(tx, moving, &coming, judged)
}

/// What comes: whose it is, and whether it was recovered from something.
struct Coming {
    owners: Vec<Id>,
    is_recovered: bool,
}

fn coming(tx: &mut Tx<'_>, case: &Case<'_>, moving: &Moving) -> Result<Coming, StoreError> {
    let from = tx.subject(moving.src)?;
    Ok(match moving.src.sort() {
        Sort::Appliance => Coming {
            owners: from.brief.owner_on(case.day).into_iter().collect(),
            is_recovered: true,
        },
        Sort::Cylinder => Coming {
            owners: from.owners.clone(),
            // New and reclaimed refrigerant has no owner, nobody states its condition, and it stands in
            // no recovery cylinder.
            is_recovered: !from.owners.is_empty()
                || from.class != Class::NotStated
                || from.brief.usage.as_deref() == Some("recovery"),
        },
        _ => Coming {
            owners: Vec::new(),
            is_recovered: case.kind == EntryKind::Recover,
        },
    })
}

/// A further owner's refrigerant makes all that is in the cylinder belong to several.
fn several_owners(
    tx: &mut Tx<'_>,
    moving: &Moving,
    lens: &Lens,
    (known, coming): (&[Id], &Coming),
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let cylinder = tx.subject(moving.dst)?;
    let held = lens.total(moving.dst, cylinder) > 0;
    let further = coming.owners.iter().any(|owner| !known.contains(owner));
    // What is mixed already is stopped by its own word, and goes to reclaim in any case.
    let mixes = |(stop, place): &(Stop, PlaceNumber)| stop.word == "mixing" && *place == moving.dst;
    if !held || known.is_empty() || !further || judged.stops.iter().any(mixes) {
        return Ok(());
    }
    let text = format!(
        "Cylinder {} holds refrigerant recovered from another owner's appliance. Take another \
         cylinder, so that each can go back to its own owner.",
        name_of(cylinder)
    );
    let books = "the mass as stated; the content belongs to all of them from then on and goes to \
                 reclaim or destruction only";
    let question = as_stated("several_owners", text, books);
    judged.questions.push((question, moving.dst));
    Ok(())
}

/// New refrigerant is taken from a supply cylinder without a thought; what was recovered belongs into a
/// recovery cylinder (common practice, no source).
fn into_supply(
    tx: &mut Tx<'_>,
    moving: &Moving,
    coming: &Coming,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let cylinder = tx.subject(moving.dst)?;
    if !coming.is_recovered || cylinder.brief.usage.as_deref() != Some("supply") {
        return Ok(());
    }
    let text = format!(
        "Cylinder {} is a supply cylinder, for new refrigerant; what was recovered would be poured \
         into it. Take a recovery cylinder.",
        name_of(cylinder)
    );
    let books = "the mass as stated; all that is in it counts as recovered from then on, and where no \
                 condition was ever stated of it, that is not known";
    judged
        .questions
        .push((as_stated(INTO_SUPPLY, text, books), moving.dst));
    Ok(())
}
