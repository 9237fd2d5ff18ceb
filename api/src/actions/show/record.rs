//! Everything a service record says: the entries of one visit at one appliance, with what is
//! registered of the appliance, its site, its owner and the people who did the work.

use super::lines::{self, Line, Named};
use super::overview::{self, Overview};
use super::things::{self, ThingShown};
use super::{Sees, reading, unknown};
use crate::actions::refusal::ActionError;
use crate::actions::standings::Standings;
use crate::ledger::id::Id;
use crate::store::columns::Sort;
use crate::store::open::Organisation;
use crate::store::{Db, StoreError, listing, log};
use serde_json::Value;

/// Entries of a visit that are looked at; far more than any has.
const MOST: usize = 200;

/// What a service record is made of.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// The entries, the earliest first; the one that was named is among them.
    pub lines: Vec<Line>,
    /// The appliance as it stands now.
    pub overview: Overview,
    /// Its site.
    pub site: Option<ThingShown>,
    /// Its owner.
    pub owner: Option<ThingShown>,
    /// Those who did the work; what may not be seen of them is left out.
    pub people: Vec<ThingShown>,
    /// The newest checkpoint: how many entries it covers, and the signed note.
    pub checkpoint: Option<(u64, String)>,
}

/// The record of the visit of an entry (its id or number); an entry without a visit stands alone.
pub fn of_entry(
    db: &mut Db,
    of: &Organisation,
    name: &str,
    sees: Sees,
    asks: Option<Id>,
    now: i64,
) -> Result<Record, ActionError> {
    reading(db, of, |db| {
        let named = lines::read(db, of, name, sees)?.ok_or_else(|| unknown("entry", name))?;
        let appliance = appliance_of(&named).ok_or_else(|| unknown("service record", name))?;
        let mut all = Vec::new();
        if let Some(visit) = named.visit {
            for seq in listing::entries_of_visit(db, of.org, visit, MOST)? {
                let line = lines::read(db, of, &seq.to_string(), sees)?;
                all.extend(line.filter(|line| appliance_of(line) == Some(appliance)));
            }
        }
        if all.iter().all(|line| line.seq != named.seq) {
            all.push(named);
        }
        let row = listing::thing(db, of.org, Sort::Appliance, &appliance.to_string())?;
        let row = row.ok_or_else(|| unknown("appliance", name))?;
        let standings = Standings::open(db, of, now)?;
        let overview = overview::drawn(db, of, &standings, row)?;
        let overview = overview.ok_or_else(|| unknown("appliance", name))?;
        let site = referred(db, of, Sort::Site, &overview.thing, "site")?;
        let owner = match referred(db, of, Sort::Counterparty, &overview.thing, "owner")? {
            None => match &site {
                Some(site) => referred(db, of, Sort::Counterparty, site, "owner")?,
                None => None,
            },
            own => own,
        };
        Ok(Record {
            people: people(db, of, &all, sees, asks)?,
            lines: all,
            overview,
            site,
            owner,
            checkpoint: log::newest_checkpoint(db, of.org)?,
        })
    })
}

/// The appliance an entry is about.
fn appliance_of(line: &Line) -> Option<Id> {
    let ends = line.moved.iter().flat_map(|moved| [&moved.to, &moved.from]);
    let is_one = |named: &&Named| named.word == "appliance";
    ends.chain(line.about.as_ref()).find(is_one)?.id
}

/// The thing that a fact of another names.
fn referred(
    db: &mut Db,
    of: &Organisation,
    sort: Sort,
    thing: &ThingShown,
    fact: &str,
) -> Result<Option<ThingShown>, StoreError> {
    let newest = thing.facts.get(fact).and_then(|values| values.last());
    let Some(id) = newest.and_then(|value| value.is.as_str()) else {
        return Ok(None);
    };
    let row = listing::thing(db, of.org, sort, id)?;
    row.map(|row| things::show(db, of, sort, row)).transpose()
}

/// Who did the work, each once, with the certificate where that may be seen.
fn people(
    db: &mut Db,
    of: &Organisation,
    all: &[Line],
    sees: Sees,
    asks: Option<Id>,
) -> Result<Vec<ThingShown>, StoreError> {
    const NAMES: [&str; 2] = ["name", "tag"];
    let mut ids: Vec<Id> = all.iter().filter_map(|line| line.did).collect();
    ids.sort();
    ids.dedup();
    let mut people = Vec::new();
    for id in ids {
        let Some(row) = listing::thing(db, of.org, Sort::Person, &id.to_string())? else {
            continue;
        };
        let mut shown = things::show(db, of, Sort::Person, row)?;
        if sees != Sees::Everything && asks != Some(id) {
            shown.facts.retain(|name, _| NAMES.contains(&name.as_str()));
        }
        people.push(shown);
    }
    Ok(people)
}

/// The value of a fact on a day, as it is known now; none: not known.
pub fn on<'t>(thing: &'t ThingShown, name: &str, day: &str) -> Option<&'t Value> {
    let values = thing.facts.get(name)?;
    let on = values.iter().rev().find(|value| value.from.as_str() <= day);
    Some(&on?.is).filter(|is| is.as_str() != Some("unknown"))
}
