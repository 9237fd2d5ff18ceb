//! Reports of duties and sums over a few appliances written in lines, judged by named rule files.
#![allow(dead_code)] // Each test file uses its own part of it.

use crate::sets::files;
use reports::appliance::{FactValue, Facts};
use reports::day::{Day, Zone};
use reports::event::{Event, Kind, Reason};
use reports::leak_rate::Method;
use reports::mass::{Mass, Unit};
use reports::number::Decimal;
use reports::refrigerant::Table;
use reports::rules::review::SiteSettings;
use reports::rules::{Judge, RuleFile, RuleSet, Tables};
use reports::sheet::disposals::Disposals;
use reports::sheet::follow_ups::FollowUps;
use reports::sheet::inspections_due::InspectionsDue;
use reports::sheet::releases::Releases;
use reports::sheet::yearly_co2e::YearlyCo2e;
use reports::sheet::yearly_loss::YearlyLoss;
use reports::sheet::{
    ApplianceInput, Assessed, Designations, Elsewhere, Options, Report, Sheet, Summary,
};
use std::collections::BTreeMap;
use std::io::Write;

pub fn day(text: &str) -> Day {
    Day::parse(text).unwrap_or_else(|| panic!("{text} is no date"))
}

/// A decimal of a unit in steps, by whole numbers alone; NIST SP 811: 1 lb is 453.59237 g.
pub fn mass(text: &str, unit: &str) -> Mass {
    let steps: i128 = match unit {
        "lb" => 45_359_237_000_000,
        "oz" => 2_834_952_312_500,
        "kg" => 100_000_000_000_000,
        other => panic!("{other} is no unit of these tests"),
    };
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let scale = 10_i128.pow(part.len() as u32);
    let number: i128 = format!("{whole}{part}").parse().unwrap();
    assert_eq!(
        number * steps % scale,
        0,
        "{text} {unit} is finer than a step"
    );
    Mass::from_steps(i64::try_from(number * steps / scale).unwrap())
}

/// One appliance with its history; entries are numbered over the whole fleet.
pub struct Machine {
    pub tag: &'static str,
    pub site: &'static str,
    pub facts: Facts,
    pub events: Vec<Event>,
    pub zone: &'static str,
}

impl Machine {
    pub fn new(tag: &'static str, site: &'static str, words: &[(&str, &str)]) -> Machine {
        let mut facts = Facts::default();
        for (name, word) in words {
            let value = match (*name, word.split_once(' ')) {
                ("full_charge", Some((number, unit))) => FactValue::Mass(mass(number, unit)),
                ("installed", _) => FactValue::Day(day(word)),
                ("motor_kw", _) => FactValue::Number(Decimal::parse(word).unwrap()),
                _ => FactValue::Word(word.to_string()),
            };
            facts.set(name, Facts::ALWAYS, value);
        }
        Machine {
            tag,
            site,
            facts,
            events: Vec::new(),
            zone: "America/Denver",
        }
    }

    /// An event; `words` may hold `reason`, which is none of the service record's.
    pub fn event(
        mut self,
        entry: u64,
        on: &str,
        kind: Kind,
        amount: &str,
        words: &[(&str, &str)],
    ) -> Machine {
        let amount = match amount.split_once(' ') {
            Some((number, unit)) => mass(number, unit),
            None => Mass::ZERO,
        };
        let (on, time) = on.split_once('T').unwrap_or((on, ""));
        let mut event = Event::new(kind, day(on), amount);
        event.entry = entry;
        event.chain = u128::from(entry);
        event.second = time.split_once(':').map(|(hour, minute)| {
            hour.parse::<u32>().unwrap() * 3600 + minute.parse::<u32>().unwrap() * 60
        });
        let name = self
            .facts
            .word("refrigerant", event.day)
            .unwrap_or("unknown");
        event.refrigerant = Table::shipped().code(name).unwrap();
        event.reason =
            words
                .iter()
                .find(|(name, _)| *name == "reason")
                .map(|(_, word)| match *word {
                    "disposal" => Reason::Disposal,
                    "installation" => Reason::Installation,
                    "repair" => Reason::Repair,
                    "retrofit" => Reason::Retrofit,
                    "after_retrofit" => Reason::AfterRetrofit,
                    other => panic!("{other} is no reason of these tests"),
                });
        let rest = words.iter().filter(|(name, _)| *name != "reason");
        let rest: BTreeMap<String, String> = rest
            .map(|(name, word)| (name.to_string(), word.to_string()))
            .collect();
        event.words = (!rest.is_empty()).then(|| Box::new(rest));
        self.events.push(event);
        self
    }

    pub fn charge(self, entry: u64, on: &str, amount: &str) -> Machine {
        self.event(entry, on, Kind::Charge, amount, &[])
    }

    pub fn dated(mut self, name: &str, from: &str, word: &str) -> Machine {
        self.facts
            .set(name, day(from), FactValue::Word(word.to_string()));
        self
    }
}

/// The rule sets with these ids.
pub fn rules(ids: &[&str]) -> Vec<RuleSet> {
    let mut sets = Vec::new();
    for (name, text) in files() {
        if let Ok(RuleFile::Set(set)) = RuleFile::from_toml(&name, &text)
            && ids.contains(&set.id.as_str())
        {
            sets.push(*set);
        }
    }
    assert_eq!(sets.len(), ids.len(), "every set is there");
    sets
}

struct Names;

impl Designations for Names {
    fn designation(&self, code: u16) -> &str {
        Table::shipped().designation(code).unwrap()
    }
}

/// What a report leaves.
pub struct Written {
    pub csv: String,
    pub evidence: String,
    pub summary: Summary,
}

/// Makes a report twice, and finds the same bytes and evidence that adds up.
pub fn made(
    report: Report,
    sets: &[&str],
    fleet: &[Machine],
    elsewhere: &[Elsewhere],
    options: Options,
) -> Written {
    let written = once(report, sets, fleet, elsewhere, options);
    let again = once(report, sets, fleet, elsewhere, options);
    assert_eq!(written.csv, again.csv);
    assert_eq!(written.evidence, again.evidence);
    proves(&written.csv, &written.evidence);
    // In micrograms nothing is rounded: there every sum must be the figure itself.
    let unit = Unit::Microgram;
    let exact = once(report, sets, fleet, elsewhere, Options { unit, ..options });
    proves(&exact.csv, &exact.evidence);
    written
}

fn once(
    report: Report,
    sets: &[&str],
    fleet: &[Machine],
    elsewhere: &[Elsewhere],
    options: Options,
) -> Written {
    let (sets, tables) = (rules(sets), Tables::shipped());
    let judge = Judge::new(&sets, &tables).unwrap();
    let (mut csv, mut evidence) = (Vec::new(), Vec::new());
    let (out, proof): (&mut dyn Write, &mut dyn Write) = (&mut csv, &mut evidence);
    let proof = Some(proof);
    let mut sheet: Box<dyn Sheet + '_> = match report {
        Report::FollowUps => Box::new(FollowUps::new(out, proof, options).unwrap()),
        Report::InspectionsDue => Box::new(InspectionsDue::new(out, proof, options).unwrap()),
        Report::YearlyLoss => Box::new(YearlyLoss::new(out, proof, options).unwrap()),
        Report::DisposalsByMonth => {
            let company = "Tamarack Ridge Mechanical";
            Box::new(Disposals::new(out, proof, options, company, &Names, elsewhere).unwrap())
        }
        Report::Releases => {
            Box::new(Releases::new(out, proof, options, &Names, elsewhere).unwrap())
        }
        Report::YearlyCo2e => {
            Box::new(YearlyCo2e::new(out, proof, options, &Names, &judge).unwrap())
        }
        Report::ApplianceYear | Report::Additions | Report::MassBalance => {
            panic!("they have tests of their own")
        }
    };
    for unit in fleet {
        let mut events = unit.events.clone();
        Event::sort(&mut events);
        let prepared = judge.appliance(&unit.facts);
        let settings = SiteSettings {
            methods: vec![(Facts::ALWAYS, Method::Annualising)],
            netting: None,
            zone: Zone::named(unit.zone).unwrap(),
        };
        let input = ApplianceInput {
            tag: unit.tag,
            site_tag: unit.site,
            facts: &unit.facts,
            events: &events,
            methods: &[],
        };
        let of = Assessed {
            prepared: &prepared,
            settings: &settings,
            known_then: None,
        };
        sheet.push(&input, &of).unwrap();
    }
    let summary = sheet.finish().unwrap();
    Written {
        csv: String::from_utf8(csv).unwrap(),
        evidence: String::from_utf8(evidence).unwrap(),
        summary,
    }
}

/// A decimal in units of 10^-21.
fn exact(cell: &str) -> i128 {
    let (whole, part) = cell.split_once('.').unwrap_or((cell, ""));
    format!("{whole}{part:0<21}")
        .parse()
        .unwrap_or_else(|_| panic!("{cell} is no number"))
}

/// Every column that the evidence speaks of equals the sum of its contributions, in every row; in
/// pounds to the fourteen decimals printed, of each entry.
pub fn proves(csv: &str, evidence: &str) {
    let mut sums: BTreeMap<(usize, String), (i128, i128)> = BTreeMap::new();
    for record in csv::Reader::from_reader(evidence.as_bytes()).records() {
        let record = record.unwrap();
        let key = (record[0].parse().unwrap(), record[2].to_string());
        let (sum, lines) = sums.entry(key).or_default();
        *sum += exact(&record[4]);
        *lines += 1;
    }
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().unwrap().clone();
    let mut used = 0;
    for (row, record) in reader.records().map(Result::unwrap).enumerate() {
        for (name, cell) in header.iter().zip(&record) {
            let Some((sum, lines)) = sums.remove(&(row + 1, name.to_string())) else {
                continue;
            };
            let off = (sum - exact(cell)).abs();
            let rounding = if name.ends_with("_lb") {
                lines * 10_000_000
            } else {
                0
            };
            assert!(
                off <= rounding,
                "row {}: {name} is {cell}, off by {off}",
                row + 1
            );
            used += 1;
        }
    }
    assert!(sums.is_empty(), "evidence of no figure: {sums:?}");
    assert!(
        used > 0 || evidence.lines().count() == 1,
        "nothing was compared"
    );
}

/// The rows as maps from column to cell.
pub fn rows(csv: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().unwrap().clone();
    let row = |record: csv::StringRecord| {
        let cells = header.iter().zip(&record);
        cells
            .map(|(name, cell)| (name.to_string(), cell.to_string()))
            .collect()
    };
    reader
        .records()
        .map(|record| row(record.unwrap()))
        .collect()
}

/// The cells of some columns of a row.
pub fn cells<'r>(row: &'r BTreeMap<String, String>, names: &[&str]) -> Vec<&'r str> {
    let cell = |name: &&str| {
        let found = row.get(*name);
        found
            .unwrap_or_else(|| panic!("there is no column {name}"))
            .as_str()
    };
    names.iter().map(cell).collect()
}

/// The year up to a day of it, in pounds.
pub fn until(last: &str) -> Options {
    let last = day(last);
    let year = i16::try_from(last.ymd().0).unwrap();
    Options {
        cut: Some(last),
        ..Options::of_year(year)
    }
}

/// A rack of 100 lb: 20.01 lb on 2024-05-31, 365 days after the last, are 20.01 % a year.
pub fn rack(tag: &'static str) -> Machine {
    let facts = [
        ("region", "US-CO-101"),
        ("category", "commercial_refrigeration"),
        ("refrigerant", "R-22"),
        ("full_charge", "100 lb"),
        ("installed", "2015-05-01"),
    ];
    Machine::new(tag, "HG-ALDER", &facts)
        .charge(12, "2023-06-01", "1 lb")
        .charge(41, "2024-05-31", "20.01 lb")
}
