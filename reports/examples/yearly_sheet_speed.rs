//! Measures both yearly reports over an invented fleet in memory.
//!
//! `cargo run --release -p reports --example yearly_sheet_speed [APPLIANCES] [EVENTS_EACH]`
//!
//! The shape is that of the load tests: 25 000 appliances with 40 movements each over five years,
//! mostly charges, some recoveries, one limit for each category, one reading. Times are wall-clock
//! of this one thread, the best of five.

use reports::appliance::{FactValue, Facts};
use reports::day::Day;
use reports::event::{Event, Kind};
use reports::leak_rate::{Rate, Reader, Reading};
use reports::mass::{Mass, Unit};
use reports::sheet::additions::Additions;
use reports::sheet::appliance_year::ApplianceYear;
use reports::sheet::{ApplianceInput, ApplianceLimits, Limit, Limits, Options};
use std::io::Write;
use std::time::{Duration, Instant};

struct Appliance {
    tag: String,
    facts: Facts,
    events: Vec<Event>,
}

fn main() {
    let mut numbers = std::env::args().skip(1).map(|text| text.parse().unwrap());
    let (appliances, each) = (
        numbers.next().unwrap_or(25_000),
        numbers.next().unwrap_or(40),
    );
    let fleet = fleet(appliances, each);
    let events: usize = fleet.iter().map(|appliance| appliance.events.len()).sum();
    println!("{} appliances, {events} events", fleet.len());
    for (name, work) in [
        ("additions alone", read_all as fn(&[Appliance]) -> usize),
        ("report appliance-year", write_year),
        ("report additions", write_additions),
    ] {
        let timed = |_| {
            let start = Instant::now();
            let size = work(&fleet);
            (start.elapsed(), size)
        };
        let best = (0..5).map(timed).min();
        let (time, size) = best.unwrap_or((Duration::ZERO, 0));
        println!("{name}: {} ms ({size})", time.as_millis());
    }
}

fn read_all(fleet: &[Appliance]) -> usize {
    let (mut reader, reading) = (Reader::default(), Reading::default());
    let read = |one: &Appliance| reader.read(&one.events, &one.facts, &reading).len();
    fleet.iter().map(read).sum()
}

fn write_year(fleet: &[Appliance]) -> usize {
    let mut out = Counted(0);
    let names = ["R-22"];
    let limits = Flat([Some(Reading::default())]);
    let mut report = ApplianceYear::new(&mut out, None, options(), &limits, &names).unwrap();
    fleet
        .iter()
        .for_each(|one| report.push(&input(one)).unwrap());
    report.finish().unwrap();
    out.0
}

fn write_additions(fleet: &[Appliance]) -> usize {
    let mut out = Counted(0);
    let limits = Flat([Some(Reading::default())]);
    let mut report = Additions::new(&mut out, None, options(), &limits).unwrap();
    fleet
        .iter()
        .for_each(|one| report.push(&input(one)).unwrap());
    report.finish().unwrap();
    out.0
}

fn options() -> Options {
    Options {
        unit: Unit::Microgram,
        ..Options::of_year(2023)
    }
}

fn input(one: &Appliance) -> ApplianceInput<'_> {
    ApplianceInput {
        tag: &one.tag,
        site_tag: "S000001",
        facts: &one.facts,
        events: &one.events,
        methods: &[],
    }
}

/// Numbers that look random and are always the same (a linear congruence, Knuth's multiplier).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, bound: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % bound
    }
}

fn fleet(appliances: u64, each: u64) -> Vec<Appliance> {
    let mut numbers = Numbers(7);
    let begin = Day::from_ymd(2020, 1, 1).unwrap();
    let appliance = |number: u64| {
        let full_charge = (5 + numbers.below(2000) as i64) * Mass::POUND;
        let category = ["comfort_cooling", "commercial_refrigeration"][(number % 2) as usize];
        let mut facts = Facts::default();
        facts.set(
            "full_charge",
            begin,
            FactValue::Mass(Mass::from_steps(full_charge)),
        );
        facts.set("installed", begin, FactValue::Day(begin));
        facts.set("category", begin, FactValue::Word(category.to_string()));
        let mut events = vec![Event::new(
            Kind::Opening,
            begin,
            Mass::from_steps(full_charge),
        )];
        for place in 1..each {
            let day = begin.plus(1 + numbers.below(1826) as i32);
            let kind = if numbers.below(8) == 0 {
                Kind::Recover
            } else {
                Kind::Charge
            };
            let mass = (1 + numbers.below(500) as i64) * Mass::OUNCE / 10;
            let mut event = Event::new(kind, day, Mass::from_steps(mass));
            (event.entry, event.chain) = (place, u128::from(place));
            event.second = Some(numbers.below(86_400) as u32);
            events.push(event);
        }
        Event::sort(&mut events);
        Appliance {
            tag: format!("A{number:07}"),
            facts,
            events,
        }
    };
    (1..=appliances).map(appliance).collect()
}

/// One limit per category, as cheap as a limit can be.
struct Flat([Option<Reading>; 1]);
struct FlatOf(i128);

impl Limits for Flat {
    type Appliance<'a> = FlatOf;

    fn readings(&self) -> &[Option<Reading>] {
        &self.0
    }

    fn appliance<'a>(&'a self, facts: &'a Facts) -> FlatOf {
        let last = Options::of_year(2023).last_day();
        FlatOf(if facts.word("category", last) == Some("comfort_cooling") {
            10
        } else {
            20
        })
    }
}

impl ApplianceLimits for FlatOf {
    fn limit(&mut self, _: usize, _: Day) -> Limit {
        let threshold = Rate::new(self.0, 1);
        Limit::Applies {
            threshold,
            at_least: false,
            unconfirmed: false,
        }
    }
}

/// Counts bytes and drops them.
struct Counted(usize);

impl Write for Counted {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0 += bytes.len();
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}
