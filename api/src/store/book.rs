//! A book in memory: where its log stands, and what is known of the things it speaks about.
//!
//! The writer keeps one [`Book`] per organisation. It is trusted exactly while its `next_seq`
//! equals that of the locked head row: every fact is an entry, so nothing can have changed
//! without it. Whoever finds another number drops the book and reads it anew.

use super::alike::Alike;
use super::by_number::ByNumber;
use super::columns::{Class, PlaceNumber, Sort};
use super::dossier::{Dossier, mass_of};
use super::flush::Pending;
use super::left::Left;
use crate::ledger::id::Id;
use crate::ledger::tree::{Frontier, Hash};
use reports::appliance::Facts;
use reports::day::Day;
use reports::event::Event;
use reports::mass::Mass;
use reports::refrigerant::Table;
use reports::rules::OwnedJudge;
use reports::rules::review::SiteSettings;
use std::collections::HashMap;
use std::sync::Arc;

/// How many things a book keeps in memory before it forgets the clean ones.
const MOST_SUBJECTS: usize = 60_000;
/// How many histories it keeps.
const MOST_HISTORIES: usize = 4_000;

/// One organisation's book in memory.
pub struct Book {
    /// The organisation.
    pub org: i64,
    /// Origin of the log, `tarebook/UUID`.
    pub log: String,
    /// Number of the next entry.
    pub next_seq: u64,
    /// When the newest entry was booked, microseconds since 1970.
    pub booked_at: i64,
    /// Newest entry that changes judgements.
    pub judged_by: u64,
    /// Lowest engine that may write.
    pub engine: u32,
    /// The tree over all entries.
    pub frontier: Frontier,
    /// Unfinished tiles, level 0 first.
    pub(super) tiles: Vec<Vec<Hash>>,
    pub(super) subjects: ByNumber<PlaceNumber, Subject>,
    pub(super) by_uuid: ByNumber<Id, PlaceNumber>,
    pub(super) by_tag: HashMap<(Sort, String), PlaceNumber>,
    /// Tags by what they look like, of the sorts that somebody asked for.
    pub(super) alike: HashMap<Sort, Alike>,
    pub(super) numbers: HashMap<Sort, i64>,
    pub(super) adopted: Option<Arc<Adopted>>,
    /// The adopted rule sets made ready, once somebody asked by them.
    pub(super) judge: Option<Arc<OwnedJudge>>,
    /// What `assess` reads of appliances beside their histories.
    pub(super) assessed: ByNumber<PlaceNumber, Arc<Assessed>>,
    /// What the newest engine entry says, once it was looked up.
    pub(super) engine_said: Option<String>,
    pub(super) histories: ByNumber<PlaceNumber, Vec<Event>>,
    pub(super) pending: Pending,
}

/// What is known of an appliance, a cylinder or another thing (or a place of the world).
#[derive(Clone, Debug, Default)]
pub struct Subject {
    /// Its UUID; none for places of the world.
    pub id: Option<Id>,
    /// Its tag.
    pub tag: Option<String>,
    /// What stops and questions read of its facts.
    pub brief: Brief,
    /// How many entries are about it.
    pub nth: u64,
    /// The entry that put it under quarantine.
    pub quarantine: Option<u64>,
    /// Owners of the recovered content since it was last empty.
    pub owners: Vec<Id>,
    /// Condition of the content, the strictest since it was last empty.
    pub class: Class,
    /// What was in it before, by the entries that emptied it; the oldest first.
    pub left: Vec<Left>,
    /// The newest entry that moved the content of a cylinder, or observed it.
    pub newest: Option<u64>,
    /// How many entries did.
    pub moved: u64,
    /// Mass by refrigerant code, in steps; zero balances may stand here too.
    pub balances: Vec<(u16, i128)>,
}

impl Subject {
    /// Its balance of one refrigerant.
    pub fn balance(&self, refrigerant: u16) -> i128 {
        self.balances
            .iter()
            .find(|(code, _)| *code == refrigerant)
            .map_or(0, |(_, mass)| *mass)
    }

    /// Everything in it together.
    pub fn total(&self) -> i128 {
        self.balances.iter().map(|(_, mass)| mass).sum()
    }

    /// Refrigerants it holds a positive balance of.
    pub fn holds(&self) -> impl Iterator<Item = u16> {
        self.balances
            .iter()
            .filter(|(_, mass)| *mass > 0)
            .map(|(code, _)| *code)
    }
}

/// The few facts that every posting reads, parsed once.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Brief {
    /// Refrigerant codes by first day.
    pub refrigerant: Vec<(Day, u16)>,
    /// Full charges by first day; `None`: recorded as unknown.
    pub full_charge: Vec<(Day, Option<Mass>)>,
    /// Owners by first day.
    pub owner: Vec<(Day, Id)>,
    /// The day it was installed.
    pub installed: Option<Day>,
    /// Its site.
    pub site: Option<Id>,
    /// Its zone (a site's).
    pub zone: Option<String>,
    /// How much it may hold of its refrigerant.
    pub capacity: Option<Mass>,
    /// How much water it would hold.
    pub water_capacity: Option<Mass>,
    /// What it weighs empty.
    pub tare: Option<Mass>,
    /// Its use: supply, recovery, disposable.
    pub usage: Option<String>,
    /// In service, condemned, retired.
    pub condition: Option<String>,
    /// The day its retest falls due.
    pub retest_on: Option<Day>,
    /// Smallest step a scale shows.
    pub resolution: Option<Mass>,
}

impl Brief {
    /// Reads what matters from all that is known.
    pub fn of(dossier: &Dossier, table: &Table) -> Brief {
        let mut brief = Brief::default();
        let word = |name: &str| dossier.newest(name)?.as_str();
        brief.installed = word("installed").and_then(Day::parse);
        brief.site = word("site").and_then(Id::parse);
        brief.zone = word("zone").map(str::to_string);
        brief.usage = word("use").map(str::to_string);
        brief.condition = word("condition").map(str::to_string);
        brief.retest_on = word("retest_on").and_then(Day::parse);
        brief.capacity = dossier.newest("capacity").and_then(mass_of);
        brief.water_capacity = dossier.newest("water_capacity").and_then(mass_of);
        brief.tare = dossier.newest("tare").and_then(mass_of);
        brief.resolution = dossier.newest("resolution").and_then(mass_of);
        let mut known: Vec<_> = dossier.in_force(u64::MAX).collect();
        known.sort_by_key(|known| (known.1, known.3));
        for known in known {
            let (from, is) = (Day::from_count(known.1), &known.2);
            match known.0.as_str() {
                "refrigerant" => {
                    let code = is.as_str().and_then(|name| table.code(name));
                    brief.refrigerant.extend(code.map(|code| (from, code)));
                }
                "full_charge" => brief.full_charge.push((from, mass_of(is))),
                "owner" => {
                    let owner = is.as_str().and_then(Id::parse);
                    brief.owner.extend(owner.map(|owner| (from, owner)));
                }
                _ => {}
            }
        }
        brief
    }

    /// The refrigerant on a day; before the first record, the first.
    pub fn refrigerant_on(&self, day: Day) -> Option<u16> {
        on(&self.refrigerant, day).or(self.refrigerant.first().map(|(_, code)| *code))
    }

    /// The full charge on a day, if it is known.
    pub fn full_charge_on(&self, day: Day) -> Option<Mass> {
        on(&self.full_charge, day).flatten()
    }

    /// The owner on a day.
    pub fn owner_on(&self, day: Day) -> Option<Id> {
        on(&self.owner, day)
    }
}

fn on<T: Copy>(series: &[(Day, T)], day: Day) -> Option<T> {
    let after = series.partition_point(|(from, _)| *from <= day);
    after.checked_sub(1).map(|at| series[at].1)
}

/// What `assess` reads of an appliance beside its history.
pub struct Assessed {
    /// Its facts, completed by those of its site.
    pub facts: Facts,
    /// The settings of its site.
    pub settings: SiteSettings,
    /// The day asked: it decides which site's facts complete its own.
    pub on: Day,
}

/// What an organisation has adopted: rule sets, methods of its sites, settings.
#[derive(Clone, Debug, Default)]
pub struct Adopted {
    /// Rule sets by first day, oldest entry first.
    pub rule_sets: Vec<AdoptedSet>,
    /// Methods of sites: site (none: all), first day, word.
    pub methods: Vec<(Option<Id>, Day, String)>,
    /// What the newest engine entry says.
    pub engine: String,
    /// Settings: name, first day, value.
    pub settings: Vec<(String, Day, String)>,
}

/// One adopted rule set.
#[derive(Clone, Debug)]
pub struct AdoptedSet {
    /// The entry that adopted it.
    pub seq: u64,
    /// Its id.
    pub id: String,
    /// In force from this day.
    pub since: Day,
    /// SHA-256 (base64) of its canonical JSON, an attachment; empty: it ends.
    pub sha256: String,
}

impl Adopted {
    /// A setting in force on a day.
    pub fn setting(&self, name: &str, day: Day) -> Option<&str> {
        let set = self
            .settings
            .iter()
            .filter(|(known, from, _)| known == name && *from <= day);
        set.max_by_key(|(_, from, _)| *from)
            .map(|(_, _, value)| value.as_str())
    }
}

impl Book {
    /// A book that begins here.
    pub fn new(org: i64, log: String) -> Book {
        Book {
            org,
            log,
            next_seq: 0,
            booked_at: 0,
            judged_by: 0,
            engine: reports::ENGINE,
            frontier: Frontier::new(),
            tiles: Vec::new(),
            subjects: ByNumber::default(),
            by_uuid: ByNumber::default(),
            by_tag: HashMap::new(),
            alike: HashMap::new(),
            numbers: HashMap::new(),
            adopted: None,
            judge: None,
            assessed: ByNumber::default(),
            engine_said: None,
            histories: ByNumber::default(),
            pending: Pending::default(),
        }
    }

    /// Forgets clean things when there are too many; called only when nothing is pending.
    pub fn slim(&mut self) {
        if self.subjects.len() > MOST_SUBJECTS {
            self.subjects.clear();
            self.by_uuid.clear();
            self.by_tag.clear();
            self.alike.clear();
        }
        if self.histories.len() > MOST_HISTORIES {
            self.histories.clear();
        }
        if self.assessed.len() > MOST_HISTORIES {
            self.assessed.clear();
        }
    }

    /// Forgets what was adopted: rule sets, methods and settings are read anew.
    pub(super) fn adopt_anew(&mut self) {
        self.adopted = None;
        self.judge = None;
        self.assessed.clear();
    }

    /// Forgets what `assess` read of a thing whose facts change; those of a site are its appliances'.
    pub(super) fn facts_change(&mut self, place: PlaceNumber) {
        match place.sort() {
            Sort::Site => self.assessed.clear(),
            _ => drop(self.assessed.remove(&place)),
        }
    }

    /// Adds a leaf hash to the tree and to the unfinished tiles; full tiles become pending.
    pub(super) fn grow(&mut self, hash: Hash) {
        self.frontier.push(hash);
        let mut hash = hash;
        let mut level = 0;
        loop {
            if self.tiles.len() <= level {
                self.tiles.push(Vec::new());
            }
            self.tiles[level].push(hash);
            let size = self.frontier.size();
            let index = (size - 1) >> (8 * (level + 1));
            let full = self.tiles[level].len() == crate::ledger::tiles::FULL;
            if full || level > 0 {
                let bytes = crate::ledger::tiles::tile_bytes(&self.tiles[level]);
                self.pending.tile(level as i64, index as i64, bytes);
            }
            if !full {
                return;
            }
            hash = crate::ledger::tree::root_of(&self.tiles[level]);
            self.tiles[level].clear();
            level += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::tree::{leaf_hash, root_of};

    /// Tile (1, 0) holds the roots of tiles (0, 0) and (0, 1) (C2SP tlog-tiles).
    #[test]
    fn full_tiles_become_pending_with_their_roots_above_them() {
        let mut book = Book::new(1, "tarebook/test".to_string());
        let hashes: Vec<Hash> = (0..600_u32).map(|n| leaf_hash(&n.to_be_bytes())).collect();
        for hash in &hashes {
            book.grow(*hash);
        }
        assert_eq!(book.frontier.root(), root_of(&hashes));
        let tile = |level, index| book.pending.tile_at(level, index).unwrap().to_vec();
        assert_eq!(tile(0, 1), hashes[256..512].concat());
        let roots = [root_of(&hashes[..256]), root_of(&hashes[256..512])];
        assert_eq!(tile(1, 0), roots.concat());
        assert_eq!(book.tiles[0].len(), 600 - 512);
    }
}
