//! A local layer that lowers a leak rate adds exceedances and what is owed for them, and takes
//! none away: over random histories of charges, by both methods.
//!
//! Source of the expectation: a rate over 20 % (40 CFR 82.157(c)(2)(i)) is over every lower
//! number, and the time to repair (82.157(d)) does not name the rate.

use proptest::prelude::*;
use reports::appliance::{FactValue, Facts};
use reports::day::{Day, Zone};
use reports::event::{Event, Kind};
use reports::leak_rate::Method;
use reports::mass::Mass;
use reports::rules::file::Overlay;
use reports::rules::review::SiteSettings;
use reports::rules::{Judge, RuleSet, Tables, shipped};
use reports::standing::assess;
use serde_json::Value;
use std::collections::BTreeSet;
use std::sync::LazyLock;

static FEDERAL: LazyLock<RuleSet> = LazyLock::new(|| shipped().remove(0));

fn day(text: &str) -> Day {
    Day::parse(text).unwrap()
}

/// The federal set with another rate for shops from 2020 on, in hundredths of a percent.
fn tightened(hundredths: i64) -> RuleSet {
    let layer = format!(
        "id = \"county\"\noverlays = \"us-federal-ods\"\nlayer = \"local\"\ntitle = \"County \
         (invented)\"\nreason = \"ordinance (invented)\"\n[values.trigger]\nrows = [{{ from = \
         \"2020-01-01\", for = [\"commercial\"], is = \"{}.{:02}\", clause = \"ordinance\" }}]\n",
        hundredths / 100,
        hundredths % 100
    );
    let layer = Overlay::from_toml("county.toml", &layer).unwrap();
    FEDERAL
        .clone()
        .with_layer(layer, &Tables::shipped())
        .unwrap()
}

fn rack() -> Facts {
    let mut facts = Facts::default();
    for (name, word) in [
        ("region", "US-CO-101"),
        ("refrigerant", "R-22"),
        ("category", "commercial_refrigeration"),
    ] {
        facts.set(name, Facts::ALWAYS, FactValue::Word(word.to_string()));
    }
    let full = Mass::from_steps(Mass::POUND * 100);
    facts.set("full_charge", Facts::ALWAYS, FactValue::Mass(full));
    facts.set(
        "installed",
        Facts::ALWAYS,
        FactValue::Day(day("2015-05-01")),
    );
    facts
}

/// What was passed, and what is owed: name, first day, date.
type Said = BTreeSet<(String, String, String)>;

/// Each exceedance with its day, each duty with its start and date.
fn owed(set: &RuleSet, events: &[Event], method: Method) -> Said {
    let tables = Tables::shipped();
    let judge = Judge::new(std::slice::from_ref(set), &tables).unwrap();
    let settings = SiteSettings {
        methods: vec![(Facts::ALWAYS, method)],
        netting: None,
        zone: Zone::named("America/Denver").unwrap(),
    };
    let (facts, on) = (rack(), day("2026-07-01"));
    let shown = assess(&judge, &facts, events, &settings, on, None);
    let shown: Value = serde_json::to_value(shown).unwrap();
    let mut owed = BTreeSet::new();
    for passed in shown["exceedances"].as_array().unwrap() {
        let passed = |member: &str| passed[member].as_str().unwrap().to_string();
        owed.insert((
            format!("passed {}", passed("limit")),
            passed("on"),
            passed("on"),
        ));
    }
    for duty in shown["duties"].as_array().unwrap() {
        let said = |member: &str| duty[member].as_str().unwrap_or_default().to_string();
        let (name, state) = (said("duty"), said("state"));
        let is_owed = ["open", "overdue"].contains(&state.as_str());
        let name = if is_owed {
            format!("owed {name}")
        } else {
            format!("{state} {name}")
        };
        owed.insert((name, said("since"), said("due")));
    }
    owed
}

/// Charges so many days apart, of so many hundredths of a pound.
fn history(charges: &[(i32, i64)]) -> Vec<Event> {
    let mut on = day("2019-06-01");
    let charge = |(at, (days, hundredths)): (usize, &(i32, i64))| {
        on = on.plus(*days);
        let number = at as u64 + 1;
        Event {
            entry: number,
            chain: u128::from(number),
            ..Event::new(
                Kind::Charge,
                on,
                Mass::from_steps(Mass::POUND / 100 * hundredths),
            )
        }
    };
    charges.iter().enumerate().map(charge).collect()
}

#[test]
fn a_charge_between_the_two_rates_is_owed_only_under_the_layer() {
    // 17 lb of 100 lb, more than 365 days after the charge before: 17 % a year (82.152).
    let events = history(&[(0, 100), (366 + 366, 1700)]);
    let before = owed(&FEDERAL, &events, Method::Annualising);
    let after = owed(&tightened(800), &events, Method::Annualising);
    assert_eq!(before, BTreeSet::new());
    assert!(
        after.iter().any(|(said, ..)| said == "owed repair"),
        "{after:?}"
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..Default::default() })]

    #[test]
    fn tightening_a_threshold_takes_nothing_away(
        charges in proptest::collection::vec((0..400_i32, 1..4000_i64), 1..12),
        hundredths in 1..2000_i64,
        rolling in any::<bool>(),
    ) {
        let method = if rolling { Method::Rolling } else { Method::Annualising };
        let events = history(&charges);
        let before = owed(&FEDERAL, &events, method);
        let after = owed(&tightened(hundredths), &events, method);
        for (name, since, due) in before.iter().filter(|(name, ..)| !name.starts_with("ended")) {
            // A cadence that begins earlier is the same cadence: nothing may be owed later, and
            // nothing that is owed may be over.
            let kept = |(other, from, by): &(String, String, String)| {
                other == name && from <= since && by <= due
            };
            prop_assert!(after.iter().any(kept), "{name} {since} {due}: {after:?}");
            let exact = after.contains(&(name.clone(), since.clone(), due.clone()));
            prop_assert!(exact || name.ends_with("leak_inspection") || name.ends_with("plan"));
        }
    }
}
