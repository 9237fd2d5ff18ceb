//! Scales as people rely on them: the step each shows, what it showed for known weights, when it is
//! to be checked again, and how far what was weighed on it can be trusted.
//!
//! A check is a dated fact of the scale. What follows from it stands beside a mass or a rate and never
//! softens a limit.

use super::Page;
use super::things::{self, Sort, ThingShown};
use crate::actions::refusal::ActionError;
use crate::store::dossier::mass_of;
use crate::store::open::Organisation;
use crate::store::{Db, StoreError, listing};
use reports::day::Day;
use reports::mass::Mass;
use reports::physics::{ScaleFacts, WeightCheck};
use reports::standing::MassShown;
use serde::Serialize;
use serde_json::Value;
use std::collections::HashMap;

/// Days until a known weight is put on again (common practice, no source: once a month).
pub const CHECKED_EVERY: i32 = 31;

/// Days over which checks say how far a scale is off (common practice, no source: a year).
const REMEMBERED: i32 = 365;

/// A scale as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScaleShown {
    /// What is registered of it.
    #[serde(flatten)]
    pub thing: ThingShown,
    /// The smallest step it shows.
    pub resolution: Option<MassShown>,
    /// What it showed for known weights, the newest first.
    pub checks: Vec<WeightShown>,
    /// The day of the newest check.
    pub checked_on: Option<String>,
    /// When it is to be checked again; absent: it never was, so at once.
    pub check_due: Option<String>,
}

/// A known weight on a scale.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeightShown {
    /// The day.
    pub day: String,
    /// The entry that says it.
    pub entry: u64,
    /// What the weight is.
    pub nominal: MassShown,
    /// What the scale showed.
    pub shown: MassShown,
    /// What it showed too much; below zero: too little.
    pub off: MassShown,
    /// Did it show the weight to within its step?
    pub within_step: Option<bool>,
}

/// What is known of a scale on the day of a weighing.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Known {
    resolution: Option<Mass>,
    checks: Vec<(Day, WeightCheck)>,
}

impl Known {
    /// The scale with its checks of the year before a day; `None`: its step is not known.
    pub fn on(&self, day: Day) -> Option<ScaleFacts> {
        let counts = |checked: Day| (0..=REMEMBERED).contains(&day.days_since(checked));
        let checks = self.checks.iter().filter(|(on, _)| counts(*on));
        Some(ScaleFacts {
            resolution: self.resolution?,
            checks: checks.map(|(_, check)| *check).collect(),
        })
    }
}

/// Scales that were looked up already, by id.
#[derive(Default)]
pub struct Scales(HashMap<String, Known>);

impl Scales {
    /// What is known of a scale.
    pub fn known(
        &mut self,
        db: &mut Db,
        of: &Organisation,
        id: &str,
    ) -> Result<&Known, StoreError> {
        if !self.0.contains_key(id) {
            let row = listing::thing(db, of.org, Sort::Scale, id)?;
            let known = row.map_or_else(Known::default, |row| {
                let checks = row.dossier.in_force(u64::MAX);
                let checks = checks.filter(|known| known.0 == "check_weight");
                let read = |known: &crate::store::dossier::Known| {
                    let check = WeightCheck {
                        nominal: mass_of(known.2.get("nominal")?)?,
                        shown: mass_of(known.2.get("shown")?)?,
                    };
                    Some((Day::from_count(known.1), check))
                };
                Known {
                    resolution: row.dossier.newest("resolution").and_then(mass_of),
                    checks: checks.filter_map(read).collect(),
                }
            });
            self.0.insert(id.to_string(), known);
        }
        Ok(&self.0[id])
    }
}

fn mass(is: &Value) -> Option<Mass> {
    mass_of(is)
}

impl ScaleShown {
    /// What follows from the facts of a scale.
    pub fn of(thing: ThingShown) -> ScaleShown {
        let newest = |name: &str| Some(&thing.facts.get(name)?.last()?.is);
        let step = newest("resolution").and_then(mass);
        let said = thing.facts.get("check_weight");
        let mut checks: Vec<WeightShown> = said
            .into_iter()
            .flatten()
            .filter_map(|fact| {
                let nominal = mass(fact.is.get("nominal")?)?;
                let shown = mass(fact.is.get("shown")?)?;
                let off = i128::from(shown.steps()) - i128::from(nominal.steps());
                Some(WeightShown {
                    day: fact.from.clone(),
                    entry: fact.entry,
                    nominal: MassShown::of(i128::from(nominal.steps())),
                    shown: MassShown::of(i128::from(shown.steps())),
                    off: MassShown::of(off),
                    within_step: step.map(|step| off.abs() <= i128::from(step.steps())),
                })
            })
            .collect();
        checks.reverse();
        let checked_on = checks.first().map(|check| check.day.clone());
        let due = checked_on.as_deref().and_then(Day::parse);
        ScaleShown {
            resolution: step.map(|step| MassShown::of(i128::from(step.steps()))),
            check_due: due.map(|day| day.plus(CHECKED_EVERY).to_string()),
            checked_on,
            checks,
            thing,
        }
    }
}

/// At most `most` scales whose tags come after `after`.
pub fn page(
    db: &mut Db,
    of: &Organisation,
    after: &str,
    most: usize,
) -> Result<Page<ScaleShown>, ActionError> {
    let page = things::page(db, of, Sort::Scale, after, most)?;
    Ok(Page {
        items: page.items.into_iter().map(ScaleShown::of).collect(),
        next: page.next,
    })
}

/// The scale with this id or tag.
pub fn one(db: &mut Db, of: &Organisation, name: &str) -> Result<ScaleShown, ActionError> {
    things::one(db, of, Sort::Scale, name).map(ScaleShown::of)
}
