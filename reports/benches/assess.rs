//! How long it takes to judge one appliance by all ten shipped rule sets at once.
//!
//! `cargo bench -p reports --bench assess`. Wanted on one core: below 100 µs for the newest
//! standing, which is what a posting works out and what a list of a fleet reads.

use criterion::{Criterion, criterion_group, criterion_main};
use reports::appliance::{FactValue, Facts};
use reports::day::{Day, Zone};
use reports::event::{Event, Kind, Reason};
use reports::mass::Mass;
use reports::rules::review::SiteSettings;
use reports::rules::{Judge, Tables, shipped};
use reports::standing::{assess, assess_newest};
use std::hint::black_box;

fn day(text: &str) -> Day {
    Day::parse(text).expect("a day")
}

/// A rack of 210 lb, invented.
fn rack(refrigerant: &str, region: &str) -> Facts {
    let mut facts = Facts::default();
    let word = |word: &str| FactValue::Word(word.to_string());
    facts.set("refrigerant", Facts::ALWAYS, word(refrigerant));
    facts.set("category", Facts::ALWAYS, word("commercial_refrigeration"));
    facts.set("region", Facts::ALWAYS, word(region));
    let full = FactValue::Mass(Mass::from_steps(210 * Mass::POUND));
    facts.set("full_charge", Facts::ALWAYS, full);
    facts
}

/// Five years with a charge every so many days, and each time the repair two days later.
fn history(every: i32) -> Vec<Event> {
    let mut events = Vec::new();
    let (mut on, mut entry) = (day("2021-12-01"), 10);
    while on < day("2026-11-26") {
        let mut charge = Event::new(Kind::Charge, on, Mass::from_steps(7 * Mass::POUND));
        (charge.entry, charge.reason) = (entry, Some(Reason::LeakTopUp));
        events.push(charge);
        let mut repair = Event::new(Kind::Repair, on.plus(2), Mass::ZERO);
        repair.entry = entry + 1;
        events.push(repair);
        (on, entry) = (on.plus(every), entry + 2);
    }
    events
}

fn standings(bench: &mut Criterion) {
    let (sets, tables) = (shipped(), Tables::shipped());
    assert_eq!(sets.len(), 10);
    let judge = Judge::new(&sets, &tables).expect("sound sets");
    let settings = SiteSettings {
        methods: Vec::new(),
        netting: None,
        zone: Zone::named("America/Denver").expect("a zone"),
    };
    let today = day("2026-11-26");
    for (name, refrigerant, region, every) in [
        (
            "two charges a year, HFC in Colorado",
            "R-448A",
            "US-CO",
            180,
        ),
        (
            "eight charges a year, HFC in California",
            "R-448A",
            "US-CA",
            45,
        ),
        (
            "eight charges a year, HCFC in California",
            "R-22",
            "US-CA",
            45,
        ),
        (
            "eight charges a year, HFC in Germany",
            "R-448A",
            "EU-DE",
            45,
        ),
    ] {
        let (facts, events) = (rack(refrigerant, region), history(every));
        bench.bench_function(&format!("newest standing/{name}"), |bencher| {
            bencher.iter(|| {
                let (facts, events) = (black_box(&facts), black_box(&events));
                assess_newest(&judge, facts, events, &settings, today, None, &[])
            });
        });
        bench.bench_function(&format!("whole standing/{name}"), |bencher| {
            bencher.iter(|| {
                let (facts, events) = (black_box(&facts), black_box(&events));
                assess(&judge, facts, events, &settings, today, None)
            });
        });
    }
}

criterion_group!(benches, standings);
criterion_main!(benches);
