//! What somebody is told of the appliances a posting is about, the first time and when asked again.

use super::Posting;
use crate::actions::answer::{Posted, replay};
use crate::actions::refusal::ActionError;
use crate::actions::standings;
use crate::ledger::actor::{Actor, Via};
use crate::ledger::entry::{Body, Happened};
use crate::store::StoreError;
use crate::store::tx::Tx;
use reports::day::Day;

/// Answers a repeat. Whoever asks again because the first answer was lost must hear what the
/// posting made of the appliance, too: the standing is the one of now.
pub fn repeated(
    tx: &mut Tx<'_>,
    actor: &Actor,
    seq: u64,
    posting: &Posting,
) -> Result<Posted, ActionError> {
    let mut posted = replay(tx, seq, posting, actor.person)?;
    let about = days_about(&posting.happened, &posting.what.body);
    tell_standings(tx, actor, &mut posted, &about)?;
    Ok(posted)
}

/// The days that an entry speaks of.
pub fn days_about(happened: &Happened<'_>, body: &Body<'_>) -> Vec<Day> {
    let replaced = body.replace.as_ref().map(|new| new.happened.day);
    std::iter::once(happened.day).chain(replaced).collect()
}

/// Adds what follows for the appliances. An import leaves that to whoever reads: its rows stand in
/// no order of time.
pub fn tell_standings(
    tx: &mut Tx<'_>,
    actor: &Actor,
    posted: &mut Posted,
    about: &[Day],
) -> Result<(), StoreError> {
    if actor.via == Via::Import {
        return Ok(());
    }
    let mut places = Vec::new();
    for place in posted.nth.keys() {
        places.extend(tx.place_number(*place)?);
    }
    posted.standings = standings::after(tx, &places, Some(posted.seq), about)?;
    Ok(())
}
