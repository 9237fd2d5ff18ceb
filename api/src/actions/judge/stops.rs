//! Hard stops.

use super::condition::class_in;
use super::room::{cut_text, limit_of, rule_text};
use super::{Case, Judged, Lens};
use crate::actions::moves::Moving;
use crate::actions::refusal::Stop;
use crate::ledger::entry::EntryKind;
use crate::store::StoreError;
use crate::store::book::Subject;
use crate::store::columns::{Class, Sort};
use crate::store::tx::Tx;
use reports::mass;
use reports::physics::FillLimit;
use reports::refrigerant::Table;

/// Looks for everything that must stop this movement.
pub fn look(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    moving: &Moving,
    lens: &Lens,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    if moving.dst.sort() == Sort::Cylinder && case.kind != EntryKind::Redesignate {
        into_cylinder(tx, case, moving, lens, judged)?;
    }
    if moving.src.sort() == Sort::Cylinder {
        out_of_cylinder(tx, case, moving, judged)?;
    }
    Ok(())
}

fn into_cylinder(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    moving: &Moving,
    lens: &Lens,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let table = tx.table;
    let cylinder = tx.subject(moving.dst)?;
    let name = name_of(cylinder);
    let other = (cylinder.balances.iter().map(|(code, _)| *code))
        .chain(
            lens.changes
                .keys()
                .filter(|(place, _)| *place == moving.dst)
                .map(|(_, c)| *c),
        )
        .find(|code| *code != moving.refrigerant && lens.balance(moving.dst, cylinder, *code) > 0);
    let mut stop = |word, text: String, may_lift| {
        judged.stops.push((
            Stop {
                word,
                text,
                may_lift,
            },
            moving.dst,
        ));
    };
    // A count pours nothing in: what the scale shows is in it already.
    let poured = other.filter(|_| case.kind != EntryKind::Count);
    if let Some(code) = poured {
        let inside = table.designation(code).unwrap_or("another refrigerant");
        let coming = table.designation(moving.refrigerant).unwrap_or("this one");
        let text = format!(
            "Cylinder {name} holds {inside}; {coming} would be mixed into it. Take another cylinder."
        );
        stop("mixing", text, true);
    }
    let fills = matches!(case.kind, EntryKind::Recover | EntryKind::Transfer);
    if fills {
        if let Some(due) = cylinder.brief.retest_on.filter(|due| *due < case.day) {
            let text =
                format!("The retest of cylinder {name} was due {due}. It must not be filled.");
            stop("expired", text, false);
        }
        if cylinder.brief.condition.as_deref() == Some("condemned") {
            let text = format!("Cylinder {name} is condemned. It must not be filled.");
            stop("condemned", text, false);
        }
        if cylinder.brief.usage.as_deref() == Some("disposable") {
            let text = format!("Cylinder {name} is disposable and is never refilled.");
            stop("disposable", text, false);
        }
    }
    let before = lens.total(moving.dst, cylinder);
    let after = before + i128::from(moving.mass.steps());
    let limit = fill_limit(case, moving, lens, cylinder, table);
    let passed = limit.filter(|limit| after > i128::from(limit.limit.steps()));
    if let Some(limit) = passed {
        let text = over_full_text(&name, &limit, before, moving);
        stop("over_full", text, true);
    }
    Ok(())
}

/// Why it would be over-full: the room, the limit, its rule and source.
fn over_full_text(name: &str, limit: &FillLimit, before: i128, moving: &Moving) -> String {
    let most = i128::from(limit.limit.steps());
    let room = (most - before).max(0);
    format!(
        "Cylinder {name} has room for {} ({}); {} would overfill it. Its limit is {}: {}. A full \
         cylinder can burst when it warms. Take another cylinder.",
        cut_text(room),
        mass::kg_text(room),
        mass::lb_oz_text(i128::from(moving.mass.steps())),
        cut_text(most),
        rule_text(limit)
    )
}

fn out_of_cylinder(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    moving: &Moving,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let goes_on = matches!(
        case.kind,
        EntryKind::SendToReclaim
            | EntryKind::SendToDestruction
            | EntryKind::Redesignate
            | EntryKind::Count
    );
    let table = tx.table;
    let cylinder = tx.subject(moving.src)?;
    let (name, owners) = (name_of(cylinder), cylinder.owners.clone());
    let is_mixed = cylinder.quarantine.is_none() && class_in(cylinder, table) == Class::Mixed;
    if let Some(entry) = cylinder.quarantine.filter(|_| !goes_on && !case.imported) {
        let text = format!(
            "Cylinder {name} is under quarantine since entry no. {entry}: until that finding is \
             settled it goes to reclaim or destruction only."
        );
        let stop = Stop {
            word: "quarantined",
            text,
            may_lift: false,
        };
        judged.stops.push((stop, moving.src));
    }
    let is_charge = case.kind == EntryKind::Charge && moving.dst.sort() == Sort::Appliance;
    let is_mixed = is_mixed && (is_charge || case.kind == EntryKind::Transfer);
    if is_mixed && !case.imported {
        let text = format!(
            "What is in cylinder {name} is mixed: it goes to reclaim or destruction only. Take \
             another cylinder."
        );
        let stop = Stop {
            word: "mixed_content",
            text,
            may_lift: true,
        };
        judged.stops.push((stop, moving.src));
    }
    if is_charge && !owners.is_empty() {
        let owner = tx.subject(moving.dst)?.brief.owner_on(case.day);
        let text = match owner {
            Some(owner) if owners == [owner] => return Ok(()),
            None if owners.len() == 1 => return Ok(()),
            Some(_) => format!(
                "Cylinder {name} holds refrigerant recovered from another owner's appliance. \
                 Recovered refrigerant goes back to its own owner or to reclaim."
            ),
            None => format!(
                "Cylinder {name} holds refrigerant recovered from several owners. It goes to \
                 reclaim or destruction only."
            ),
        };
        let stop = Stop {
            word: "other_owner",
            text,
            may_lift: true,
        };
        judged.stops.push((stop, moving.src));
    }
    Ok(())
}

/// The most a cylinder may hold of what is in it and what is to go in.
pub fn fill_limit(
    case: &Case<'_>,
    moving: &Moving,
    lens: &Lens,
    cylinder: &Subject,
    table: &Table,
) -> Option<FillLimit> {
    let coming = lens
        .changes
        .keys()
        .filter(|(place, _)| *place == moving.dst);
    let codes = (cylinder.balances.iter().map(|(code, _)| *code))
        .chain(coming.map(|(_, code)| *code))
        .filter(|code| lens.balance(moving.dst, cylinder, *code) > 0)
        .chain([moving.refrigerant]);
    let codes: Vec<u16> = codes.collect();
    let by_maker = case.kind == EntryKind::Purchase;
    limit_of(&cylinder.brief, table, &codes, by_maker)
}

/// How a message names a thing.
pub fn name_of(subject: &Subject) -> String {
    let id = || subject.id.map(|id| id.to_string()).unwrap_or_default();
    subject.tag.clone().unwrap_or_else(id)
}
