//! What is registered, in memory for the time of an import.
//!
//! Rows name things by their tags. Looking a million of them up in the database would cost more
//! than booking them, so the tags of a book are read once; a fleet of 25 000 appliances takes a
//! few megabytes.

use super::movements::{MovementColumn, MovementRow};
use super::nearest::nearest;
use super::problems::Bad;
use crate::ledger::entry::EntryKind;
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::store::StoreError;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::db::Db;
use crate::store::imports::{Registered, registered};
use reports::day::Zone;
use std::cell::Cell;
use std::collections::HashMap;

/// A registered thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Thing {
    /// Its number.
    pub place: PlaceNumber,
    /// Its id.
    pub id: Id,
    /// Its zone, as an index into [`Things::zones`]; 0 where it has none.
    pub zone: u16,
    /// Whether it has one.
    pub has_zone: bool,
}

/// Things of one sort by their tags.
type ByTag = HashMap<Box<str>, Thing>;

/// What is registered in a book.
pub struct Things {
    appliances: ByTag,
    cylinders: ByTag,
    /// Sites.
    pub sites: ByTag,
    /// Suppliers, reclaimers, owners.
    pub counterparties: ByTag,
    /// People.
    pub persons: ByTag,
    /// Zones of things; the first is the import's own.
    pub zones: Vec<Zone>,
    /// How often the nearest tag was looked for.
    advised: Cell<u32>,
}

/// Comparing one tag with a fleet takes milliseconds: it is done for what a person will read.
const ADVISED: u32 = 40;

/// One end of a movement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum End {
    /// A place that is there.
    At(Place, PlaceNumber),
    /// A counterparty that is registered with the first row that names it.
    New(Box<str>),
}

/// Both ends of a movement and the zone it happened in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ends {
    /// Where the mass was.
    pub from: End,
    /// Where it went.
    pub to: End,
    /// Index of the zone.
    pub zone: u16,
}

impl Things {
    /// Reads the tags of a book; `zone` is the import's own.
    pub fn read(db: &mut Db, org: i64, zone: Zone) -> Result<Things, StoreError> {
        let mut things = Things {
            appliances: ByTag::new(),
            cylinders: ByTag::new(),
            sites: ByTag::new(),
            counterparties: ByTag::new(),
            persons: ByTag::new(),
            zones: vec![zone],
            advised: Cell::new(0),
        };
        let mut zone_of_site = HashMap::new();
        for sort in [
            Sort::Site,
            Sort::Appliance,
            Sort::Cylinder,
            Sort::Counterparty,
            Sort::Person,
        ] {
            registered(db, org, sort, |thing| {
                let zone = match thing.zone.as_deref() {
                    Some(name) => things.zone(name),
                    None => thing
                        .site
                        .and_then(|site| zone_of_site.get(&site).copied())
                        .unwrap_or(0),
                };
                if sort == Sort::Site {
                    zone_of_site.insert(thing.id, zone);
                }
                let Registered {
                    place,
                    id,
                    tag,
                    zone: own,
                    ..
                } = thing;
                let has_zone = own.is_some();
                things.of(sort).insert(
                    tag.into(),
                    Thing {
                        place,
                        id,
                        zone,
                        has_zone,
                    },
                );
            })?;
        }
        Ok(things)
    }

    /// The things of a sort.
    pub fn of(&mut self, sort: Sort) -> &mut ByTag {
        match sort {
            Sort::Appliance => &mut self.appliances,
            Sort::Cylinder => &mut self.cylinders,
            Sort::Site => &mut self.sites,
            Sort::Person => &mut self.persons,
            _ => &mut self.counterparties,
        }
    }

    /// Whether a thing of this sort carries the tag.
    pub fn has(&self, sort: Sort, tag: &str) -> bool {
        match sort {
            Sort::Appliance => self.appliances.contains_key(tag),
            _ => self.cylinders.contains_key(tag),
        }
    }

    /// The zone of a registered site, where it has one.
    pub fn site_zone(&self, tag: &str) -> Option<&'static str> {
        let site = self.sites.get(tag).filter(|site| site.has_zone)?;
        Some(self.zones[usize::from(site.zone)].name())
    }

    /// The index of a zone; a name that no longer exists is the import's own.
    pub fn zone(&mut self, name: &str) -> u16 {
        if let Some(at) = self.zones.iter().position(|zone| zone.name() == name) {
            return u16::try_from(at).unwrap_or(0);
        }
        let Some(zone) = Zone::named(name) else {
            return 0;
        };
        self.zones.push(zone);
        u16::try_from(self.zones.len() - 1).unwrap_or(0)
    }

    /// Resolves both ends of a movement; what is wrong comes with its column.
    pub fn ends(&self, row: &MovementRow<'_>) -> Result<Ends, (MovementColumn, Bad)> {
        let from = |end: Result<(End, u16), Bad>| end.map_err(|bad| (MovementColumn::From, bad));
        let to = |end: Result<(End, u16), Bad>| end.map_err(|bad| (MovementColumn::To, bad));
        let (from, to) = match row.kind {
            EntryKind::Opening => (
                fixed(Place::Opening, PlaceNumber::OPENING),
                to(self.either(row.to))?,
            ),
            EntryKind::Purchase => (self.counterparty(row.from), to(self.cylinder(row.to))?),
            EntryKind::Charge => (from(self.cylinder(row.from))?, to(self.appliance(row.to))?),
            EntryKind::OutsideCharge => (
                fixed(Place::Outside, PlaceNumber::OUTSIDE),
                to(self.appliance(row.to))?,
            ),
            EntryKind::Recover => (from(self.appliance(row.from))?, to(self.cylinder(row.to))?),
            EntryKind::Transfer => (from(self.cylinder(row.from))?, to(self.cylinder(row.to))?),
            EntryKind::Loss => (
                from(self.either(row.from))?,
                fixed(Place::Atmosphere, PlaceNumber::ATMOSPHERE),
            ),
            _ => (from(self.cylinder(row.from))?, self.counterparty(row.to)),
        };
        let zone = from.1.max(to.1);
        Ok(Ends {
            from: from.0,
            to: to.0,
            zone,
        })
    }

    fn appliance(&self, tag: &str) -> Result<(End, u16), Bad> {
        let found = self.appliances.get(tag).map(appliance_at);
        found.ok_or_else(|| self.unknown("an appliance", tag, &self.appliances))
    }

    fn cylinder(&self, tag: &str) -> Result<(End, u16), Bad> {
        let found = self.cylinders.get(tag).map(cylinder_at);
        found.ok_or_else(|| self.unknown("a cylinder", tag, &self.cylinders))
    }

    /// An appliance or a cylinder; a tag that both carry must say which.
    fn either(&self, tag: &str) -> Result<(End, u16), Bad> {
        if let Some((word, tag)) = tag.split_once(':') {
            return match word {
                "appliance" => self.appliance(tag),
                "cylinder" => self.cylinder(tag),
                _ => Err(Bad::new(
                    "appliance:TAG or cylinder:TAG",
                    "Tags hold no colon.",
                )),
            };
        }
        match (self.appliances.get(tag), self.cylinders.get(tag)) {
            (Some(thing), None) => Ok(appliance_at(thing)),
            (None, Some(thing)) => Ok(cylinder_at(thing)),
            (None, None) => Err(self.unknown("an appliance or a cylinder", tag, &self.appliances)),
            (Some(_), Some(_)) => Err(Bad::new(
                "a tag that says which: an appliance and a cylinder carry it",
                "Write appliance:TAG or cylinder:TAG.",
            )),
        }
    }

    fn unknown(&self, what: &str, tag: &str, known: &ByTag) -> Bad {
        self.advised.set(self.advised.get() + 1);
        let near =
            (self.advised.get() <= ADVISED).then(|| nearest(tag, known.keys().map(AsRef::as_ref)));
        let remedy = match near.flatten() {
            Some(near) => format!("Did you mean '{near}'?"),
            None => "Import or register it first.".to_string(),
        };
        Bad::new(format!("the tag of {what} of this book"), remedy)
    }

    fn counterparty(&self, tag: &str) -> (End, u16) {
        match self.counterparties.get(tag) {
            Some(thing) => (End::At(Place::Counterparty(thing.id), thing.place), 0),
            None => (End::New(tag.into()), 0),
        }
    }
}

fn fixed(place: Place, number: PlaceNumber) -> (End, u16) {
    (End::At(place, number), 0)
}

fn appliance_at(thing: &Thing) -> (End, u16) {
    (End::At(Place::Appliance(thing.id), thing.place), thing.zone)
}

fn cylinder_at(thing: &Thing) -> (End, u16) {
    (End::At(Place::Cylinder(thing.id), thing.place), 0)
}
