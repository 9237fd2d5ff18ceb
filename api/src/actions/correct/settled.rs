//! What a correction settles: the findings that its chain left, because what stands instead is judged
//! anew, and those of others that rested on what it takes back.
//!
//! Who corrects in their own name settles nothing of the highest grade by it, and no registration on
//! site: those are for a compliance manager, as with every other way of settling them.

use crate::actions::post::Intention;
use crate::actions::refusal::ActionError;
use crate::actions::statement::OPEN;
use crate::ledger::actor::{Actor, Role};
use crate::store::columns::{PlaceNumber, Sort, event_kind};
use crate::store::tx::Tx;
use reports::day::Day;
use reports::event::{Event, Kind};
use std::collections::{BTreeMap, BTreeSet};

/// Findings of a balance that only a count or a correction closes.
const CLOSES: [&str; 2] = ["balance_below_zero", "over_content"];

/// Two masses that could be one job, as a page of findings compares them: an ounce, in steps.
const OUNCE: i64 = 2_834_952_312_500;

/// Changes of balances by place and refrigerant.
pub(super) type Changes = BTreeMap<(PlaceNumber, u16), i128>;

/// Adds what a correction settles.
pub(super) fn settled(
    tx: &mut Tx<'_>,
    actor: &Actor,
    changes: &Changes,
    what: &mut Intention,
) -> Result<(), ActionError> {
    let keeps = matches!(actor.role, Role::ComplianceManager | Role::Operator);
    let mut settles: BTreeSet<(u64, String)> = BTreeSet::new();
    for seq in &what.chain {
        for (code, _, grade, by) in tx.findings_of(*seq)? {
            let is_grave = grade == "high" || code == "registered_on_site";
            // Saying again that content is clean is no analysis; whether a statement and the book agree
            // again is looked at apart.
            let stays = ["content_cleared", OPEN].contains(&code.as_str());
            let is_open = by.is_none() && !stays;
            if is_open && (keeps || !is_grave) {
                settles.insert((*seq, code));
            }
        }
    }
    let places: BTreeSet<PlaceNumber> = changes.keys().map(|(place, _)| *place).collect();
    for place in places {
        if !matches!(place.sort(), Sort::Appliance | Sort::Cylinder) {
            continue;
        }
        let open = tx.open_findings_of(place)?;
        let open = open
            .into_iter()
            .filter(|(seq, _)| !what.chain.contains(seq));
        let open: Vec<(u64, String)> = open.collect();
        if is_cured(tx, place, changes)? {
            let lacked = |(_, code): &&(u64, String)| CLOSES.contains(&code.as_str());
            settles.extend(open.iter().filter(lacked).cloned());
        }
        settles.extend(lone_twins(tx, place, &open, what)?);
    }
    what.settles.extend(settles);
    Ok(())
}

/// Was something of it below zero, and is nothing any more?
fn is_cured(tx: &mut Tx<'_>, place: PlaceNumber, changes: &Changes) -> Result<bool, ActionError> {
    let subject = tx.subject(place)?;
    let was_below = subject.balances.iter().any(|(_, mass)| *mass < 0);
    let now = |code: &u16| subject.balance(*code) + changes.get(&(place, *code)).unwrap_or(&0);
    let changed = changes.keys().filter(|(at, _)| *at == place);
    let mut codes =
        (subject.balances.iter().map(|(code, _)| *code)).chain(changed.map(|(_, code)| *code));
    Ok(was_below && codes.all(|code| now(&code) >= 0))
}

/// Findings of entries that looked like one that is taken back, and like no other.
fn lone_twins(
    tx: &mut Tx<'_>,
    place: PlaceNumber,
    open: &[(u64, String)],
    what: &Intention,
) -> Result<Vec<(u64, String)>, ActionError> {
    let twins = open
        .iter()
        .filter(|(_, code)| ["look_alike", "same_mass"].contains(&code.as_str()));
    let twins: Vec<(u64, String)> = twins.cloned().collect();
    if twins.is_empty() || place.sort() != Sort::Appliance {
        return Ok(Vec::new());
    }
    let events = tx.history(place)?.to_vec();
    let (gone, stay): (Vec<Event>, Vec<Event>) =
        (events.into_iter()).partition(|event| what.chain.contains(&event.entry));
    let mut lone = Vec::new();
    for (seq, code) in twins {
        let own: Vec<&Event> = stay.iter().filter(|event| event.entry == seq).collect();
        let alike = |looks: &Looks| own.iter().any(|event| looks.like(&Looks::of(event)));
        let others = stay
            .iter()
            .filter(|event| event.entry != seq)
            .map(Looks::of);
        let others = others.chain(instead(what, place));
        if gone.iter().map(Looks::of).any(|it| alike(&it))
            && !others.into_iter().any(|it| alike(&it))
        {
            lone.push((seq, code));
        }
    }
    Ok(lone)
}

/// What is compared of two entries.
struct Looks {
    kind: Kind,
    refrigerant: u16,
    mass: i64,
    day: Day,
}

impl Looks {
    fn of(event: &Event) -> Looks {
        Looks {
            kind: event.kind,
            refrigerant: event.refrigerant,
            mass: event.mass.steps(),
            day: event.day,
        }
    }

    fn like(&self, other: &Looks) -> bool {
        self.kind == other.kind
            && self.refrigerant == other.refrigerant
            && (self.mass - other.mass).abs() <= OUNCE
            && self.day.days_since(other.day).abs() <= 1
    }
}

/// What stands instead, at this place.
fn instead(what: &Intention, place: PlaceNumber) -> Vec<Looks> {
    let judged = what.judged_as.as_ref();
    let judged = judged.and_then(|(kind, happened, _)| Some((event_kind(*kind)?, happened.day)));
    let Some((kind, day)) = judged else {
        return Vec::new();
    };
    let here = |moving: &&crate::actions::moves::Moving| moving.src == place || moving.dst == place;
    let moves = what.moves.iter().filter(here);
    moves
        .map(|moving| Looks {
            kind,
            refrigerant: moving.refrigerant,
            mass: moving.mass.steps(),
            day,
        })
        .collect()
}
