//! Reading a whole fleet, appliance by appliance in the order of tags, in constant memory.
//!
//! Where the tags stand in the order in which the appliances were registered (as after an import of
//! a sorted file), one pass over the covering index serves all; otherwise each history is looked up.
//! What entries after the cut say is not known yet.

use super::StoreError;
use super::booked::Booked;
use super::columns::{PlaceNumber, Sort};
use super::db::Db;
use super::dossier::{Dossier, Known};
use super::flush::int;
use super::history::{Gathering, Row};
use super::sql;
use super::statement::Bind;
use crate::ledger::id::Id;
use reports::appliance::Facts;
use reports::day::Day;
use reports::event::Event;
use std::collections::HashMap;

/// One appliance of the fleet.
pub struct Scanned<'a> {
    /// Its id.
    pub id: Id,
    /// Its tag.
    pub tag: &'a str,
    /// Its site, as known on the day asked.
    pub site: Option<Id>,
    /// Tag of that site.
    pub site_tag: &'a str,
    /// Zone of that site; empty: none is known.
    pub zone: &'a str,
    /// Its number.
    pub place: PlaceNumber,
    /// Its facts, with those of its site where it has none of its own.
    pub facts: &'a Facts,
    /// Its history.
    pub events: &'a [Event],
    /// When its entries were booked; a pass over the fleet does not ask.
    pub booked: Option<&'a Booked>,
}

/// Facts of a site that hold for its appliances, where these say nothing themselves.
const OF_THE_SITE: [&str; 5] = ["region", "owner", "owner_class", "land", "ghg_reporter"];

pub(super) struct Site {
    tag: String,
    zone: String,
    known: Vec<Known>,
}

impl Site {
    pub(super) fn of(dossier: &Dossier, tag: Option<String>, cut: u64) -> Site {
        let of_the_site = |known: &&Known| OF_THE_SITE.contains(&known.0.as_str());
        let newest = dossier.in_force(cut).filter(|known| known.0 == "zone");
        let zone = newest.max_by_key(|known| (known.1, known.3));
        Site {
            tag: (tag_at(dossier, cut).map(str::to_string))
                .or(tag)
                .unwrap_or_default(),
            zone: zone
                .and_then(|known| known.2.as_str())
                .unwrap_or_default()
                .to_string(),
            known: dossier.in_force(cut).filter(of_the_site).cloned().collect(),
        }
    }

    /// Its zone; empty: none is known.
    pub(super) fn zone(&self) -> &str {
        &self.zone
    }
}

struct Register {
    id: Id,
    place: PlaceNumber,
    tag: String,
    facts: String,
}

/// Hands every appliance to `with`, in the order of tags.
pub fn fleet<E: From<StoreError>>(
    db: &mut Db,
    org: i64,
    cut: u64,
    on: Day,
    mut with: impl FnMut(&Scanned<'_>) -> Result<(), E>,
) -> Result<(), E> {
    let sites = sites(db, org, cut)?;
    let mut registers = registers(db, org)?;
    registers.sort_by(|a, b| a.tag.cmp(&b.tag));
    let mut links = links(db, org, cut)?;
    let mut hand_on = |register: &Register, events: Vec<Event>| -> Result<(), E> {
        let dossier = Dossier::parse(&register.facts).ok_or_else(|| damaged(register.place))?;
        if dossier.in_force(cut).next().is_none() {
            return Ok(());
        }
        let site = site_of(&dossier, cut, on);
        let stands_at = site.and_then(|id| sites.get(&id));
        let facts = facts_of(&dossier, stands_at, cut);
        let site_tag = stands_at.map_or("", |site| site.tag.as_str());
        let tag = tag_at(&dossier, cut).unwrap_or(&register.tag);
        with(&Scanned {
            id: register.id,
            tag,
            site,
            site_tag,
            zone: stands_at.map_or("", Site::zone),
            place: register.place,
            facts: &facts,
            events: &events,
            booked: None,
        })
    };
    if registers.is_sorted_by_key(|register| register.place) {
        return in_one_pass(db, org, cut, &registers, &mut links, &mut hand_on);
    }
    for register in &registers {
        let mut gathering = Gathering::default();
        let binds = [
            Bind::Int(org),
            Bind::Int(register.place.0),
            Bind::Int(int(cut)),
        ];
        let rows: Vec<Row> = db
            .rows(sql::MovementsOfAppliance, &binds)
            .map_err(StoreError::from)?;
        for row in rows {
            gathering.take(row, cut)?;
        }
        let links = links.remove(&register.place).unwrap_or_default();
        hand_on(register, gathering.finish(&links))?;
    }
    Ok(())
}

type Links = HashMap<PlaceNumber, Vec<(u64, u64, String)>>;

fn in_one_pass<E: From<StoreError>>(
    db: &mut Db,
    org: i64,
    cut: u64,
    registers: &[Register],
    links: &mut Links,
    hand_on: &mut impl FnMut(&Register, Vec<Event>) -> Result<(), E>,
) -> Result<(), E> {
    let mut rest = registers.iter().peekable();
    let mut gathering = Gathering::default();
    let mut finish = |register: &Register, gathering: &mut Gathering| {
        let links = links.remove(&register.place).unwrap_or_default();
        hand_on(register, gathering.finish(&links))
    };
    type Wide = (i64, i64, i64, i64, i64, i64, Option<Vec<u8>>);
    let org = [Bind::Int(org)];
    db.each(
        sql::MovementsByAppliance,
        &org,
        |row: Wide| -> Result<(), Failure<E>> {
            let (appliance, day, seq, what, mass, id_high, ties) = row;
            while let Some(register) = rest.next_if(|register| register.place.0 < appliance) {
                finish(register, &mut gathering).map_err(Failure::Caller)?;
            }
            let known = rest
                .peek()
                .is_some_and(|register| register.place.0 == appliance);
            if !known {
                return Err(Failure::Store(damaged(PlaceNumber(appliance))));
            }
            gathering
                .take((day, seq, what, mass, id_high, ties), cut)
                .map_err(Failure::Store)
        },
    )
    .map_err(Failure::into_caller)?;
    for register in rest {
        finish(register, &mut gathering)?;
    }
    Ok(())
}

/// Why handing rows on ended: the store failed, or whoever takes them.
pub(super) enum Failure<E> {
    Store(StoreError),
    Caller(E),
}

impl<E: From<StoreError>> Failure<E> {
    /// As the caller has it.
    pub(super) fn into_caller(self) -> E {
        match self {
            Failure::Store(error) => E::from(error),
            Failure::Caller(error) => error,
        }
    }
}

impl<E> From<diesel::result::Error> for Failure<E> {
    fn from(error: diesel::result::Error) -> Failure<E> {
        Failure::Store(StoreError::Database(error))
    }
}

fn damaged(place: PlaceNumber) -> StoreError {
    StoreError::Broken(format!(
        "the register of place {} is missing or unreadable",
        place.0
    ))
}

fn registers(db: &mut Db, org: i64) -> Result<Vec<Register>, StoreError> {
    let mut registers = Vec::new();
    let binds = [Bind::Int(org), Bind::Int(Sort::Appliance as i64)];
    type Wide = (i64, Vec<u8>, Option<String>, String);
    db.each(sql::Registers, &binds, |(place, uuid, tag, facts): Wide| {
        let (place, tag) = (PlaceNumber(place), tag.unwrap_or_default());
        let id = Id::from_bytes(&uuid).ok_or_else(|| damaged(place))?;
        registers.push(Register {
            id,
            place,
            tag,
            facts,
        });
        Ok::<(), StoreError>(())
    })?;
    Ok(registers)
}

fn sites(db: &mut Db, org: i64, cut: u64) -> Result<HashMap<Id, Site>, StoreError> {
    let mut sites = HashMap::new();
    let binds = [Bind::Int(org), Bind::Int(Sort::Site as i64)];
    type Wide = (i64, Vec<u8>, Option<String>, String);
    db.each(sql::Registers, &binds, |(place, uuid, tag, facts): Wide| {
        let dossier = Dossier::parse(&facts).ok_or_else(|| damaged(PlaceNumber(place)))?;
        let id = Id::from_bytes(&uuid).ok_or_else(|| damaged(PlaceNumber(place)))?;
        sites.insert(id, Site::of(&dossier, tag, cut));
        Ok::<(), StoreError>(())
    })?;
    Ok(sites)
}

fn links(db: &mut Db, org: i64, cut: u64) -> Result<Links, StoreError> {
    let mut links = Links::new();
    let rows: Vec<(i64, i64, i64, String)> = db.rows(sql::Links, &[Bind::Int(org)])?;
    for (place, seq, entry, relation) in rows {
        if seq.unsigned_abs() <= cut {
            let list = links.entry(PlaceNumber(place)).or_default();
            list.push((seq.unsigned_abs(), entry.unsigned_abs(), relation));
        }
    }
    Ok(links)
}

pub(super) fn tag_at(dossier: &Dossier, cut: u64) -> Option<&str> {
    let tags = dossier.in_force(cut).filter(|known| known.0 == "tag");
    tags.max_by_key(|known| (known.1, known.3))
        .and_then(|known| known.2.as_str())
}

/// The site of an appliance on the day asked. One given later is better than none: it names where
/// the unit stands.
pub(super) fn site_of(dossier: &Dossier, cut: u64, on: Day) -> Option<Id> {
    let own: Vec<&Known> = (dossier.in_force(cut).filter(|known| known.0 == "site")).collect();
    let begun = own.iter().filter(|known| known.1 <= on.count());
    let in_force = begun.max_by_key(|known| (known.1, known.3)).or(own.first());
    in_force
        .and_then(|known| known.2.as_str())
        .and_then(Id::parse)
}

/// Facts of an appliance, completed by those of its site.
pub(super) fn facts_of(dossier: &Dossier, site: Option<&Site>, cut: u64) -> Facts {
    let mut facts = Facts::default();
    dossier.fold_into(&mut facts, cut);
    if let Some(site) = site {
        let missing: Vec<&Known> = site
            .known
            .iter()
            .filter(|known| facts.series(&known.0).is_empty())
            .collect();
        for Known(name, from, is, ..) in missing {
            if let Some(value) = super::dossier::fact_value(name, is) {
                facts.set(name, Day::from_count(*from), value);
            }
        }
    }
    facts
}

/// Hands one appliance to `with`, as [`fleet`] would; `None`: there is none of that number.
pub fn one<T>(
    db: &mut Db,
    org: i64,
    cut: u64,
    on: Day,
    place: PlaceNumber,
    with: impl FnOnce(&Scanned<'_>) -> T,
) -> Result<Option<T>, StoreError> {
    type Wide = (i64, Vec<u8>, Option<String>, String);
    let binds = [Bind::Int(org), Bind::Int(place.0), Bind::Int(int(cut))];
    let row: Option<Wide> = db.first(sql::RegisterByPlace, &binds[..2])?;
    let Some((_, uuid, tag, facts)) = row else {
        return Ok(None);
    };
    let own = Id::from_bytes(&uuid).ok_or_else(|| damaged(place))?;
    let dossier = Dossier::parse(&facts).ok_or_else(|| damaged(place))?;
    if dossier.in_force(cut).next().is_none() {
        return Ok(None);
    }
    let site = site_of(&dossier, cut, on);
    let mut stands_at = None;
    if let Some(id) = site {
        let row: Option<Wide> =
            db.first(sql::RegisterByUuid, &[binds[0], Bind::Bytes(&id.bytes())])?;
        if let Some((number, _, tag, facts)) = row {
            let read = Dossier::parse(&facts).ok_or_else(|| damaged(PlaceNumber(number)))?;
            stands_at = Some(Site::of(&read, tag, cut));
        }
    }
    let facts = facts_of(&dossier, stands_at.as_ref(), cut);
    let booked = Booked::of(db, org, place, cut)?;
    let tag = tag_at(&dossier, cut)
        .map(str::to_string)
        .or(tag)
        .unwrap_or_default();
    Ok(Some(with(&Scanned {
        id: own,
        tag: &tag,
        site,
        site_tag: stands_at.as_ref().map_or("", |site| site.tag.as_str()),
        zone: stands_at.as_ref().map_or("", Site::zone),
        place,
        facts: &facts,
        events: booked.events(),
        booked: Some(&booked),
    })))
}

/// The last entry booked by a moment (microseconds since 1970).
pub fn last_booked_by(db: &mut Db, org: i64, moment: i64) -> Result<Option<u64>, StoreError> {
    let seq: Option<i64> = db.first(sql::SeqBookedAt, &[Bind::Int(org), Bind::Int(moment)])?;
    Ok(seq.and_then(|seq| u64::try_from(seq).ok()))
}

/// Canonical JSON of the rule set with this hash, from the attachments.
pub fn attachment(db: &mut Db, org: i64, sha256: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
    Ok(db.first(sql::AttachmentBytes, &[Bind::Int(org), Bind::Bytes(sha256)])?)
}

/// When an entry was booked, microseconds since 1970.
pub fn booked_at(db: &mut Db, org: i64, seq: u64) -> Result<i64, StoreError> {
    let at: Option<i64> = db.first(sql::BookedAt, &[Bind::Int(org), Bind::Int(int(seq))])?;
    at.ok_or_else(|| StoreError::Broken(format!("entry no. {seq} is missing")))
}
