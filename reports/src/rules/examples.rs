//! Running what a set must answer: its own examples, and files of situations.
//!
//! Every expectation is compared exactly; nothing is skipped.

use super::compare::{Comparer, Seen};
use super::duties::KnownThen;
use super::file::RuleSet;
use super::history::{events_of, facts_of, taken_back};
use super::judge::Judge;
use super::organisation::{FleetSums, OfOrganisation};
use super::problem::Problem;
use super::review::SiteSettings;
use super::situation::{Situation, SituationAppliance, SituationFile};
use super::tables::Tables;
use super::text::TextOr;
use super::words::{MethodWord, NettingWord};
use crate::day::{Day, Zone};
use crate::leak_rate::{Method, Netting};
use serde_json::Value;
use std::fmt;

/// What came of comparing expectations.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Outcome {
    /// How many expectations were compared.
    pub compared: usize,
    /// Expectations that did not come out.
    pub differences: Vec<Difference>,
}

/// An expectation that did not come out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// Which situation, set and appliance.
    pub case: String,
    /// Which expectation.
    pub what: String,
    /// What was expected.
    pub expected: String,
    /// What came out.
    pub found: String,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Difference {
            case,
            what,
            expected,
            found,
        } = self;
        write!(
            f,
            "differs: {case}: {what}: expected {expected}, found {found}"
        )
    }
}

impl Outcome {
    pub(super) fn differs(
        &mut self,
        case: &str,
        what: &str,
        expected: impl fmt::Display,
        found: impl fmt::Display,
    ) {
        self.differences.push(Difference {
            case: case.to_string(),
            what: what.to_string(),
            expected: expected.to_string(),
            found: found.to_string(),
        });
    }
}

/// Runs the `[[examples]]` of a set.
pub fn run_examples(set: &RuleSet, tables: &Tables) -> Outcome {
    let mut outcome = Outcome::default();
    for (at, example) in set.examples.iter().enumerate() {
        let case = format!("{} example {} ({})", set.id, at + 1, example.about);
        let layered = match with_overlays(set, example, tables) {
            Ok(layered) => layered,
            Err(problems) => {
                outcome.differs(
                    &case,
                    "overlays",
                    "a layer that can be laid",
                    said(&problems),
                );
                continue;
            }
        };
        run_set(
            &case,
            &layered,
            example,
            &example.expect,
            tables,
            &mut outcome,
        );
    }
    outcome
}

/// Runs a file of situations against sets found by their id.
pub fn run_situations(
    file: &str,
    text: &str,
    sets: &[RuleSet],
    tables: &Tables,
) -> Result<Outcome, Vec<Problem>> {
    let read = SituationFile::from_json(file, text)?;
    let mut outcome = Outcome::default();
    for (at, situation) in read.situations.iter().enumerate() {
        let id = situation
            .id
            .clone()
            .unwrap_or_else(|| format!("situation {}", at + 1));
        run_situation(&id, situation, sets, tables, &mut outcome);
    }
    Ok(outcome)
}

fn run_situation(
    id: &str,
    situation: &Situation,
    sets: &[RuleSet],
    tables: &Tables,
    outcome: &mut Outcome,
) {
    let expected_error = situation.expect.get("error").and_then(Value::as_str);
    let mut problems = Vec::new();
    for name in situation.sets.iter().flatten() {
        let Some(set) = sets.iter().find(|set| set.id == *name) else {
            outcome.differs(id, "sets", format!("a set '{name}'"), "no such set");
            continue;
        };
        let layered = match with_overlays(set, situation, tables) {
            Ok(layered) => layered,
            Err(found) => {
                problems.extend(found);
                continue;
            }
        };
        if expected_error.is_some() {
            continue;
        }
        match situation.expect.get(name) {
            Some(expect) => {
                let case = format!("{id}: {name}");
                run_set(&case, &layered, situation, expect, tables, outcome);
            }
            None => outcome.differs(id, "expect", format!("an outcome for '{name}'"), "none"),
        }
    }
    match (expected_error, said(&problems)) {
        (None, none) if none.is_empty() => {}
        (None, text) => outcome.differs(id, "overlays", "a layer that can be laid", text),
        (Some(words), text) if text.contains(words) => outcome.compared += 1,
        (Some(words), text) => outcome.differs(id, "error", format!("'{words}'"), text),
    }
}

/// The set with the layers of a situation laid over it; problems when they may not be.
fn with_overlays(
    set: &RuleSet,
    situation: &Situation,
    tables: &Tables,
) -> Result<RuleSet, Vec<Problem>> {
    let mut layered = set.clone();
    for overlay in situation
        .overlays
        .iter()
        .filter(|overlay| overlay.overlays == set.id)
    {
        layered = layered.with_layer(overlay.clone(), tables)?;
    }
    Ok(layered)
}

fn said(problems: &[Problem]) -> String {
    problems
        .iter()
        .map(Problem::to_string)
        .collect::<Vec<_>>()
        .join("\n")
}

/// Evaluates one set over every appliance of a situation and compares.
fn run_set(
    case: &str,
    set: &RuleSet,
    situation: &Situation,
    expect: &Value,
    tables: &Tables,
    outcome: &mut Outcome,
) {
    let settings = match settings_of(situation) {
        Ok(settings) => settings,
        Err(wrong) => return outcome.differs(case, "situation", "readable settings", wrong),
    };
    let appliances = appliances_of(situation);
    let Some(expected) = expect.as_object() else {
        return outcome.differs(case, "expect", "an outcome", expect);
    };
    let names = appliances.iter().map(|one| one.appliance.as_str());
    let names: Vec<&str> = names.chain(["organisation"]).collect();
    let apart = !expected.is_empty() && expected.keys().all(|key| names.contains(&key.as_str()));
    let sets = [set.clone()];
    let judge = match Judge::new(&sets, tables) {
        Ok(judge) => judge,
        Err(problems) => return outcome.differs(case, "set", "a set", said(&problems)),
    };
    if let Some(expect) = expected.get("organisation").filter(|_| apart) {
        let case = format!("{case}: organisation");
        match of_organisation(&judge, &appliances, &settings, situation.on.0) {
            Ok(seen) => Comparer {
                case: &case,
                set,
                seen: &seen,
                outcome,
            }
            .all(expect),
            Err(wrong) => outcome.differs(&case, "situation", "readable facts and events", wrong),
        }
    }
    for one in &appliances {
        let (case, expect) = if apart {
            let Some(expect) = expected.get(&one.appliance) else {
                continue;
            };
            (format!("{case}: {}", one.appliance), expect)
        } else {
            (case.to_string(), expect)
        };
        match seen(&judge, one, &settings, situation.on.0) {
            Ok(seen) => Comparer {
                case: &case,
                set,
                seen: &seen,
                outcome,
            }
            .all(expect),
            Err(wrong) => outcome.differs(&case, "situation", "readable facts and events", wrong),
        }
        if !apart {
            break;
        }
    }
}

fn seen(
    judge: &Judge,
    one: &SituationAppliance,
    settings: &SiteSettings,
    on: Day,
) -> Result<Seen, String> {
    let facts = facts_of(&one.facts)?;
    let events = events_of(&one.events, &settings.zone, on)?;
    let prepared = judge.appliance(&facts);
    let then = |day| events_of(&one.events, &settings.zone, day).unwrap_or_default();
    let taken_back = taken_back(&one.events, &settings.zone, on);
    let known = KnownThen {
        then: &then,
        taken_back: &taken_back,
    };
    let review = prepared.review(0, &events, &facts, settings, on, Some(known));
    let gaps = prepared.gaps(0, &events);
    Ok(Seen::new(&prepared, &review, gaps, on))
}

fn of_organisation(
    judge: &Judge,
    appliances: &[SituationAppliance],
    settings: &SiteSettings,
    on: Day,
) -> Result<Seen, String> {
    let Some(mut sums) = FleetSums::new(judge, 0, on) else {
        return Ok(Seen::of_organisation(&OfOrganisation::default()));
    };
    for one in appliances {
        let facts = facts_of(&one.facts)?;
        let events = events_of(&one.events, &settings.zone, on)?;
        let site = one.site.as_deref().unwrap_or("");
        sums.add(site, &facts, &judge.appliance(&facts), &events);
    }
    let kept = sums.prepared(judge);
    let of = sums.judged(judge, &kept, &settings.zone);
    Ok(Seen::of_organisation(&of))
}

fn appliances_of(situation: &Situation) -> Vec<SituationAppliance> {
    if !situation.appliances.is_empty() {
        return situation.appliances.clone();
    }
    vec![SituationAppliance {
        appliance: "A".to_string(),
        site: None,
        facts: situation.facts.clone(),
        events: situation.events.clone(),
    }]
}

fn settings_of(situation: &Situation) -> Result<SiteSettings, String> {
    let method = |word| match word {
        MethodWord::Annualising => Method::Annualising,
        MethodWord::Rolling => Method::Rolling,
    };
    let methods = match &situation.method {
        None => Vec::new(),
        Some(TextOr::Text(text)) => {
            let word = MethodWord::named(text).ok_or_else(|| format!("no method '{text}'"))?;
            vec![(crate::appliance::Facts::ALWAYS, method(word))]
        }
        Some(TextOr::List(rows)) => {
            let mut rows: Vec<_> = rows
                .iter()
                .map(|row| (row.from.0, method(row.is)))
                .collect();
            rows.sort_by_key(|(from, _)| *from);
            rows
        }
    };
    let zone = situation.zone.as_deref().unwrap_or("UTC");
    let zone = Zone::named(zone).ok_or_else(|| format!("no time zone '{zone}'"))?;
    let netting = situation.netting.map(|word| match word {
        NettingWord::Visit => Netting::Visit,
        NettingWord::Gross => Netting::Gross,
        NettingWord::Returned => Netting::Returned,
    });
    Ok(SiteSettings {
        methods,
        netting,
        zone,
    })
}
