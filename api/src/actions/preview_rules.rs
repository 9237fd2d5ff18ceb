//! What a rule file, or another method, would change on the fleet, before anybody adopts it.
//!
//! Every appliance is judged twice over the same history: by what is adopted, and as if the file
//! were adopted from a day on. Both are judged on today, or on the first day of the change where
//! that is still to come. Such a change says nothing of a history that ends today; so a third look
//! tells who would have crossed, had it begun a year ago. Nothing is booked, and a file that could
//! not be adopted is refused with the same words as by the door.

mod changed;
mod seen;
mod summary;
mod worlds;

pub use changed::{Changed, Crossing, DutyChange};

use super::candidate::Candidate;
use super::refusal::ActionError;
use super::show;
use super::standings::{Standings, settings};
use crate::ledger::tree::Hash;
use crate::store::open::Organisation;
use crate::store::scan::{Scanned, attachment, fleet};
use crate::store::{Db, StoreError};
use reports::day::Day;
use reports::leak_rate::Method;
use reports::rules::region::{SHAPE, holds};
use reports::rules::{Overlay, RuleFile};
use reports::standing::method_word;
use std::collections::BTreeSet;
use worlds::{At, World, Worlds};

/// How far back a change that is still to come is laid: additions of this many days are looked at.
const LOOK_BACK: i32 = 365;

/// What would be otherwise.
#[derive(Clone, Debug)]
pub struct Asked {
    /// A set or a layer that would be adopted.
    pub rules: Option<RuleFile>,
    /// The leak-rate method that all sites would go by.
    pub method: Option<Method>,
    /// The first day of it.
    pub since: Day,
    /// Now, in microseconds since 1970.
    pub now: i64,
    /// At most so many appliances are told in full; all are counted.
    pub most: u64,
}

/// What would change.
#[derive(Clone, Debug, PartialEq)]
pub struct Preview {
    /// The set, the layer or the method.
    pub what: String,
    /// The first day of it.
    pub since: Day,
    /// Today at the organisation.
    pub today: Day,
    /// The last entry that was read.
    pub as_of: u64,
    /// How many appliances were judged.
    pub appliances: u64,
    /// How much would change.
    pub counts: Counts,
    /// Appliances of which anything changes, in the order of tags.
    pub changed: Vec<Changed>,
    /// Who would have crossed, where the change is still to come.
    pub as_if: Option<AsIf>,
    /// That the rules are for a region in which the book has nothing.
    pub nowhere: Option<String>,
}

/// Who would have crossed a limit that is still to come, had it begun earlier.
#[derive(Clone, Debug, PartialEq)]
pub struct AsIf {
    /// From this day.
    pub from: Day,
    /// How many appliances would have passed a limit, or would not.
    pub appliances: u64,
    /// Which, in the order of tags.
    pub crossing: Vec<Crossing>,
}

/// How much would change.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Appliances of which anything changes.
    pub appliances: u64,
    /// Limits that would be passed and are not now.
    pub passed: u64,
    /// Limits that are passed now and would not be.
    pub no_longer: u64,
    /// Duties that would appear.
    pub appear: u64,
    /// Duties that would move: another date, or another state.
    pub moved: u64,
    /// Duties that would vanish.
    pub vanish: u64,
}

/// What is told of an appliance, as soon as it was judged.
#[derive(Clone, Debug, PartialEq)]
pub enum Told {
    /// Something changes.
    Changed(Changed),
    /// It would have crossed a limit that is still to come.
    Crossing(Crossing),
}

/// Judges the fleet with and without a change, and keeps what is told.
pub fn preview(db: &mut Db, of: &Organisation, asked: Asked) -> Result<Preview, ActionError> {
    let (mut changed, mut crossing) = (Vec::new(), Vec::new());
    let mut preview = preview_each(db, of, asked, |told| match told {
        Told::Changed(one) => changed.push(one),
        Told::Crossing(one) => crossing.push(one),
    })?;
    preview.changed = changed;
    if let Some(as_if) = &mut preview.as_if {
        as_if.crossing = crossing;
    }
    Ok(preview)
}

/// The same, but everything is told as it comes and nothing is kept: a fleet may be large.
pub fn preview_each(
    db: &mut Db,
    of: &Organisation,
    asked: Asked,
    mut told: impl FnMut(Told),
) -> Result<Preview, ActionError> {
    show::reading(db, of, |db| {
        let standings = Standings::open(db, of, asked.now)?;
        compared(db, of, &standings, &asked, &mut told)
    })
}

/// Everything that stands against adopting a file from a day on; nothing: it may be adopted.
pub fn unsound(
    db: &mut Db,
    of: &Organisation,
    file: RuleFile,
    since: Day,
    now: i64,
) -> Result<Vec<String>, ActionError> {
    show::reading(db, of, |db| {
        let standings = Standings::open(db, of, now)?;
        let candidate = Candidate::new(file, since, standings.as_of() + 1);
        let (adopted, today) = (standings.adopted(), standings.today());
        let mut bytes = |hash: &Hash| attachment(db, of.org, hash);
        Ok(candidate.unsound(adopted, today, &mut bytes)?)
    })
}

/// Today at an organisation; inside a read transaction.
pub fn today(db: &mut Db, of: &Organisation, now: i64) -> Result<Day, StoreError> {
    Ok(Standings::open(db, of, now)?.today())
}

fn compared(
    db: &mut Db,
    of: &Organisation,
    standings: &Standings,
    asked: &Asked,
    told: &mut impl FnMut(Told),
) -> Result<Preview, ActionError> {
    let (known, today) = (standings.as_of(), standings.today());
    let mut bytes = |hash: &Hash| attachment(db, of.org, hash);
    let mut worlds = Worlds::of(standings, asked, &mut bytes)?;
    let as_if = worlds.as_if.take();
    let mut preview = Preview {
        what: what(asked),
        since: asked.since,
        today,
        as_of: known,
        appliances: 0,
        counts: Counts::default(),
        changed: Vec::new(),
        as_if: as_if.as_ref().map(|_| AsIf {
            from: today.plus(-LOOK_BACK),
            appliances: 0,
            crossing: Vec::new(),
        }),
        nowhere: None,
    };
    let mut regions = BTreeSet::new();
    fleet(db, of.org, known, today, |scanned| {
        preview.appliances += 1;
        regions.extend(scanned.facts.word("region", today).map(str::to_string));
        let settings = settings(standings.adopted(), scanned.site, scanned.zone, today);
        let here = standings.day_at(&settings);
        let on = here.max(asked.since);
        if let Some(changed) = preview.take(&worlds, scanned, &At { today, on }, asked.most) {
            told(Told::Changed(changed));
        }
        if let Some(as_if) = &as_if {
            let at = At { today, on: here };
            let crossing = preview.take_as_if(&worlds.now, as_if, scanned, &at, asked.most);
            crossing
                .into_iter()
                .for_each(|one| told(Told::Crossing(one)));
        }
        Ok::<(), ActionError>(())
    })?;
    preview.nowhere = asked
        .rules
        .as_ref()
        .and_then(|file| nowhere(file, &regions));
    Ok(preview)
}

/// Says that no appliance stands where the rules are for, and where the appliances are.
fn nowhere(file: &RuleFile, regions: &BTreeSet<String>) -> Option<String> {
    let of_layer = |layer: &Overlay| layer.place.as_ref()?.region.as_ref()?.is.clone();
    let asked: Vec<String> = match file {
        RuleFile::Overlay(layer) => of_layer(layer)?,
        RuleFile::Set(set) => {
            let blocks = set
                .covers
                .iter()
                .map(|block| block.region.as_ref()?.is.clone());
            blocks.collect::<Option<Vec<_>>>()?.concat()
        }
    };
    let reached = regions
        .iter()
        .any(|have| asked.iter().any(|code| holds(code, have)));
    if reached || asked.is_empty() {
        return None;
    }
    let have: Vec<&str> = regions.iter().map(String::as_str).collect();
    let have = match have.is_empty() {
        true => "no site has a region".to_string(),
        false => format!("the regions of its sites are {}", have.join(", ")),
    };
    Some(format!(
        "These rules are for {}, and no appliance of this book stands there: {have}. A region is \
         {SHAPE}.",
        asked.join(", ")
    ))
}

/// What the change is called.
fn what(asked: &Asked) -> String {
    let rules = asked.rules.as_ref().map(|file| match file {
        RuleFile::Set(set) => set.id.clone(),
        RuleFile::Overlay(layer) => layer.id.clone(),
    });
    let method = (asked.method).map(|method| format!("the {} method", method_word(method)));
    match (rules, method) {
        (Some(rules), Some(method)) => format!("{rules} and {method}"),
        (rules, method) => rules.or(method).unwrap_or_else(|| "no change".to_string()),
    }
}

impl Preview {
    /// Counts what changes of an appliance, and tells it while there is room.
    fn take(
        &mut self,
        worlds: &Worlds,
        scanned: &Scanned<'_>,
        at: &At,
        most: u64,
    ) -> Option<Changed> {
        let mut kept = Vec::new();
        let now = worlds.now.seen(scanned, at, &mut kept);
        let then = worlds.then.seen(scanned, at, &mut kept);
        if now == then {
            return None;
        }
        self.counts.add(&now, &then);
        if self.counts.appliances > most {
            return None;
        }
        let (now, then) = (&worlds.now, &worlds.then);
        let standings = (now.standing(scanned, at), then.standing(scanned, at));
        Some(Changed::of(scanned.tag, standings.0, standings.1))
    }

    /// The same of who would have crossed a limit that is still to come.
    fn take_as_if(
        &mut self,
        now: &World,
        as_if: &World,
        scanned: &Scanned<'_>,
        at: &At,
        most: u64,
    ) -> Option<Crossing> {
        let since = self.since;
        let of = self.as_if.as_mut()?;
        let mut kept = Vec::new();
        let before = now.seen(scanned, at, &mut kept);
        let after = as_if.seen(scanned, at, &mut kept);
        if before.passes_as(&after, of.from) {
            return None;
        }
        of.appliances += 1;
        if of.appliances > most {
            return None;
        }
        let standings = (now.standing(scanned, at), as_if.standing(scanned, at));
        let laid_back = (since, of.from);
        Some(Crossing::of(
            scanned.tag,
            laid_back,
            standings.0,
            standings.1,
        ))
    }

    /// How many limits would be passed that are not now.
    pub fn passed(&self) -> u64 {
        self.counts.passed
    }

    /// How many limits that are passed now would not be.
    pub fn no_longer(&self) -> u64 {
        self.counts.no_longer
    }

    /// Is the change still to come?
    pub fn is_to_come(&self) -> bool {
        self.since > self.today
    }

    /// Does it re-work what was judged before today?
    pub fn is_past(&self) -> bool {
        self.since < self.today
    }
}
