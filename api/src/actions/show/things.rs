//! Registered things as they are read back: dated facts, counts, what is in them.

use super::{Page, reading, unknown};
use crate::actions::refusal::{ActionError, Refusal};
use crate::ledger::id::Id;
use crate::ledger::tree::sha256;
use crate::store::dossier::{Dossier, Known};
use crate::store::listing::{self, ThingRow};
use crate::store::open::Organisation;
use crate::store::tx::Tx;
use crate::store::{Db, StoreError, spelt};
use reports::day::Day;
use reports::refrigerant::Table;
use reports::standing::MassShown;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

pub use crate::store::columns::Sort;

/// A registered thing as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ThingShown {
    /// Its id.
    pub id: String,
    /// Its tag.
    pub tag: String,
    /// `appliance`, `cylinder` and so on.
    pub kind: &'static str,
    /// Its facts by name, each by first day.
    pub facts: BTreeMap<String, Vec<FactShown>>,
    /// How many entries are about it; of appliances and cylinders.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nth: Option<u64>,
    /// The entry that put it under quarantine.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub quarantine: Option<u64>,
    /// What is booked to be in it; of appliances and cylinders.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub balances: Option<Vec<BalanceShown>>,
    /// Names this state of it.
    #[serde(skip)]
    pub version: String,
}

/// One value of a fact.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FactShown {
    /// First day it holds.
    pub from: String,
    /// The value.
    pub is: Value,
    /// The entry that said it.
    pub entry: u64,
}

/// A balance.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BalanceShown {
    /// Designation.
    pub refrigerant: String,
    /// The mass; it may be below zero.
    pub mass: MassShown,
}

/// At most `most` things of a sort whose tags come after `after`.
pub fn page(
    db: &mut Db,
    of: &Organisation,
    sort: Sort,
    after: &str,
    most: usize,
) -> Result<Page<ThingShown>, ActionError> {
    reading(db, of, |db| {
        let rows = listing::things_after(db, of.org, sort, after, most + 1)?;
        let page = Page::of(rows, most, |row| row.tag.clone());
        let shown = page.items.into_iter().map(|row| show(db, of, sort, row));
        let items = shown.collect::<Result<_, StoreError>>()?;
        Ok(Page {
            items,
            next: page.next,
        })
    })
}

/// The thing of a sort with this id or tag.
pub fn one(
    db: &mut Db,
    of: &Organisation,
    sort: Sort,
    name: &str,
) -> Result<ThingShown, ActionError> {
    reading(db, of, |db| {
        let row = listing::thing(db, of.org, sort, name)?;
        let row = row.ok_or_else(|| unknown(sort.word(), name))?;
        Ok(show(db, of, sort, row)?)
    })
}

/// The thing of a sort that is meant by what somebody typed: its id, or its tag whatever the case.
pub fn meant(
    db: &mut Db,
    of: &Organisation,
    sort: Sort,
    typed: &str,
) -> Result<Option<ThingShown>, ActionError> {
    reading(db, of, |db| {
        let name = match Id::parse(typed) {
            Some(_) => Some(typed.to_string()),
            None => spelt::tag(db, of.org, sort, typed)?,
        };
        let row = match name {
            Some(name) => listing::thing(db, of.org, sort, &name)?,
            None => None,
        };
        Ok(row.map(|row| show(db, of, sort, row)).transpose()?)
    })
}

/// The beginning of a tag, typed in any case, as the tags of this sort have it.
pub fn beginning(
    db: &mut Db,
    of: &Organisation,
    sort: Sort,
    typed: &str,
) -> Result<String, ActionError> {
    reading(db, of, |db| Ok(spelt::beginning(db, of.org, sort, typed)?))
}

/// The ids of appliances and cylinders that a request names `word:ID` or `word:TAG`.
pub fn places(db: &mut Db, of: &Organisation, names: &[String]) -> Result<Vec<Id>, ActionError> {
    reading(db, of, |db| {
        let mut ids = Vec::with_capacity(names.len());
        for (at, name) in names.iter().enumerate() {
            let pointer = format!("/places/{at}");
            let parts = name.split_once(':');
            let sort = parts.and_then(|(word, _)| Sort::named(word));
            let (Some((_, rest)), Some(sort @ (Sort::Appliance | Sort::Cylinder))) = (parts, sort)
            else {
                let expected = "appliance:ID or cylinder:ID, or a tag instead of the id";
                return Err(Refusal::invalid(&pointer, expected, name, "Write it so.").into());
            };
            let thing = listing::thing(db, of.org, sort, rest)?;
            let (what, name) = (sort.word().to_string(), rest.to_string());
            ids.push(
                thing
                    .ok_or(Refusal::Unknown {
                        pointer,
                        what,
                        name,
                    })?
                    .id,
            );
        }
        Ok(ids)
    })
}

/// Designations as the table spells them.
pub fn designations(names: &[String]) -> Result<Vec<String>, ActionError> {
    let table = Table::shipped();
    let known = |(at, name): (usize, &String)| {
        let row = table.understood(name).map(|row| row.designation.clone());
        row.ok_or_else(|| {
            let pointer = format!("/refrigerants/{at}");
            let expected = "a designation of the refrigerant table";
            Refusal::invalid(&pointer, expected, name, "Write for example R-410A.").into()
        })
    };
    names.iter().enumerate().map(known).collect()
}

/// The version of a thing as a write transaction sees it; `None`: there is no such thing.
pub fn version(tx: &mut Tx<'_>, sort: Sort, name: &str) -> Result<Option<String>, StoreError> {
    let Some(place) = tx.find(sort, name)? else {
        return Ok(None);
    };
    let dossier = tx.dossier(place)?;
    let subject = tx.subject(place)?;
    Ok(Some(version_of(&dossier, subject.nth, subject.quarantine)))
}

/// Every change of a thing is an entry, so its facts with their entries, and the count of entries
/// about it, name its state.
fn version_of(dossier: &Dossier, nth: u64, quarantine: Option<u64>) -> String {
    let text = format!(
        "{nth} {} {}",
        quarantine.map_or(-1, i128::from),
        dossier.text()
    );
    sha256(text.as_bytes())[..12]
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

pub(super) fn show(
    db: &mut Db,
    of: &Organisation,
    sort: Sort,
    row: ThingRow,
) -> Result<ThingShown, StoreError> {
    let counted = matches!(sort, Sort::Appliance | Sort::Cylinder);
    let table = Table::shipped();
    let balance = |(code, mass): (u16, i128)| BalanceShown {
        refrigerant: table.designation(code).unwrap_or("unknown").to_string(),
        mass: MassShown::of(mass),
    };
    let balances = match counted {
        true => Some(
            listing::balances(db, of.org, row.place)?
                .into_iter()
                .map(balance)
                .collect(),
        ),
        false => None,
    };
    Ok(ThingShown {
        id: row.id.to_string(),
        version: version_of(&row.dossier, row.nth, row.quarantine),
        tag: row.tag,
        kind: sort.word(),
        facts: facts(&row.dossier),
        nth: counted.then_some(row.nth),
        quarantine: row.quarantine,
        balances,
    })
}

/// The facts in force, each by first day; of two from one day the one booked later.
fn facts(dossier: &Dossier) -> BTreeMap<String, Vec<FactShown>> {
    let mut known: Vec<&Known> = dossier.in_force(u64::MAX).collect();
    known.sort_by_key(|known| (known.1, known.3));
    let mut facts: BTreeMap<String, Vec<FactShown>> = BTreeMap::new();
    for Known(name, from, is, entry, _) in known {
        let from = Day::from_count(*from).to_string();
        let series = facts.entry(name.clone()).or_default();
        series.retain(|other| other.from != from);
        series.push(FactShown {
            from,
            is: is.clone(),
            entry: *entry,
        });
    }
    facts
}
