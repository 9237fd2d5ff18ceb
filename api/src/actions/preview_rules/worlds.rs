//! The rules as they are, as they would be, and as if they had been for a year: three judges.

use super::seen::Seen;
use super::{Asked, LOOK_BACK};
use crate::actions::candidate::Candidate;
use crate::actions::refusal::{ActionError, Refusal};
use crate::actions::rules_in_force::{Attachments, InForce, file_of};
use crate::actions::standings::{Standings, settings};
use crate::store::book::Adopted;
use crate::store::scan::Scanned;
use reports::day::Day;
use reports::rules::review::Kept;
use reports::rules::{Judge, OwnedJudge, Problem, RuleFile};
use reports::standing::{Standing, assess, method_word};
use std::collections::BTreeSet;

/// Rules with what was adopted beside them (methods, netting, zone).
pub(super) struct World {
    adopted: Adopted,
    /// Only the sets that the change touches: enough to see whether anything changes.
    touched: OwnedJudge,
    /// All sets, to tell what does.
    all: OwnedJudge,
}

impl World {
    /// `kept`: additions that were read of the same appliance on the same day.
    pub fn seen<'w>(&'w self, scanned: &'w Scanned<'_>, at: &At, kept: &mut Vec<Kept>) -> Seen<'w> {
        let settings = settings(&self.adopted, scanned.site, scanned.zone, at.today);
        Seen::of(self.touched.judge(), scanned, &settings, at.on, kept)
    }

    pub fn standing(&self, scanned: &Scanned<'_>, at: &At) -> Standing {
        let settings = settings(&self.adopted, scanned.site, scanned.zone, at.today);
        let judge: &Judge<'_> = self.all.judge();
        let (facts, events) = (scanned.facts, scanned.events);
        assess(judge, facts, events, &settings, at.on, None)
    }
}

/// The days of a comparison.
pub(super) struct At {
    /// Today, for what is set for the organisation.
    pub today: Day,
    /// The day that is judged on.
    pub on: Day,
}

/// The rules as they are, as they would be, and as if they had been for a year.
pub(super) struct Worlds {
    pub now: World,
    pub then: World,
    pub as_if: Option<World>,
}

impl Worlds {
    pub fn of(
        standings: &Standings,
        asked: &Asked,
        bytes: Attachments<'_>,
    ) -> Result<Worlds, ActionError> {
        let (adopted, today) = (standings.adopted(), standings.today());
        let next = standings.as_of() + 1;
        let candidate = (asked.rules.clone()).map(|file| Candidate::new(file, asked.since, next));
        if let Some(candidate) = &candidate {
            let problems = candidate.unsound(adopted, today, bytes)?;
            if !problems.is_empty() {
                return Err(refused(&problems));
            }
        }
        let touched = touched(candidate.as_ref(), adopted, bytes)?;
        let mut world = |candidate: Option<&Candidate>, adopted: &Adopted| {
            let mut in_force = || match candidate {
                Some(candidate) => candidate.in_force(adopted, bytes),
                None => InForce::of_adopted(adopted, bytes),
            };
            let all = ready(in_force()?)?;
            let touched = match (&touched, asked.method) {
                (Some(touched), None) => ready(in_force()?.only(touched))?,
                _ => ready(in_force()?)?,
            };
            let adopted = adopted.clone();
            Ok::<World, ActionError>(World {
                adopted,
                touched,
                all,
            })
        };
        let now = world(None, adopted)?;
        let then = world(
            candidate.as_ref(),
            &with_method(adopted, asked, asked.since),
        )?;
        let as_if = match asked.since > today {
            false => None,
            true => {
                let start = today.plus(-LOOK_BACK);
                let back = candidate.map(|own| {
                    let file = own.file.as_if_from(start, asked.since);
                    Candidate::new(file, start, next)
                });
                let mut earlier = with_method(adopted, asked, start);
                if let Some(back) = &back {
                    let between = start..=asked.since;
                    let own = &back.entry.id;
                    let sets = &mut earlier.rule_sets;
                    sets.retain(|set| set.id != *own || !between.contains(&set.since));
                }
                Some(world(back.as_ref(), &earlier)?)
            }
        };
        Ok(Worlds { now, then, as_if })
    }
}

/// What was adopted, and a method of all sites from a day on. A method of a site gives way: the
/// question is what the method would do to the fleet.
fn with_method(adopted: &Adopted, asked: &Asked, from: Day) -> Adopted {
    let mut with = adopted.clone();
    if let Some(method) = asked.method {
        let sites: BTreeSet<_> = with.methods.iter().map(|one| one.0).collect();
        with.methods.retain(|(_, since, _)| *since < from);
        let word = method_word(method).to_string();
        for site in sites.into_iter().chain([None]) {
            with.methods.push((site, from, word.clone()));
        }
    }
    with
}

/// Ids of the sets that a candidate bears on; `None`: no file is asked about.
fn touched(
    candidate: Option<&Candidate>,
    adopted: &Adopted,
    bytes: Attachments<'_>,
) -> Result<Option<BTreeSet<String>>, ActionError> {
    let Some(candidate) = candidate else {
        return Ok(None);
    };
    let base = |file: &RuleFile| match file {
        RuleFile::Set(set) => set.id.clone(),
        RuleFile::Overlay(layer) => layer.overlays.clone(),
    };
    let mut ids = BTreeSet::from([base(&candidate.file)]);
    // An earlier version of a layer may lie over another set, and ends there.
    let id = &candidate.entry.id;
    for one in adopted.rule_sets.iter().filter(|one| one.id == *id) {
        if !one.sha256.is_empty() {
            ids.insert(base(&file_of(bytes, one.seq, &one.sha256)?));
        }
    }
    Ok(Some(ids))
}

fn ready(in_force: InForce) -> Result<OwnedJudge, ActionError> {
    let told = |problems: Vec<Problem>| {
        let lines: Vec<String> = problems.iter().map(ToString::to_string).collect();
        refused(&lines)
    };
    in_force.judge().map_err(told)
}

fn refused(problems: &[String]) -> ActionError {
    let (pointer, detail) = ("/rules".to_string(), problems.join("\n"));
    Refusal::InvalidValue { pointer, detail }.into()
}
