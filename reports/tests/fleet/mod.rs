//! A small invented fleet and the limits of a house rule, for the tests of sheets.
#![allow(dead_code)] // Each test file uses its own part of it.

use crate::history::{History, day, pounds, pounds_and_ounces};
use reports::appliance::{FactValue, Facts};
use reports::day::Day;
use reports::event::{Event, Kind, Reason};
use reports::leak_rate::{Method, Rate, Reading};
use reports::mass::Mass;
use reports::sheet::additions::Additions;
use reports::sheet::appliance_year::ApplianceYear;
use reports::sheet::{ApplianceInput, ApplianceLimits, Limit, Limits, Options, Summary};

pub const NAMES: [&str; 7] = [
    "R-22", "R-404A", "R-410A", "R-448A", "R-454B", "mixture", "unknown",
];

pub fn designation(code: u16) -> &'static str {
    NAMES[usize::from(code)]
}

fn code(name: &str) -> u16 {
    NAMES.iter().position(|known| *known == name).unwrap() as u16
}

/// One appliance with all that belongs to it.
pub struct Appliance {
    pub tag: &'static str,
    pub site: &'static str,
    pub facts: Facts,
    pub history: History,
    pub methods: Vec<(Day, Method)>,
}

impl Appliance {
    pub fn new(tag: &'static str, site: &'static str, words: &[(&str, &str)]) -> Appliance {
        let mut facts = Facts::default();
        for (name, word) in words {
            facts.set(name, Facts::ALWAYS, FactValue::Word(word.to_string()));
        }
        Appliance {
            tag,
            site,
            facts,
            history: History::default(),
            methods: Vec::new(),
        }
    }

    pub fn holds(mut self, full_charge: Mass, installed: Option<&str>) -> Appliance {
        self.facts
            .set("full_charge", Facts::ALWAYS, FactValue::Mass(full_charge));
        if let Some(installed) = installed {
            let installed = FactValue::Day(day(installed));
            self.facts.set("installed", Facts::ALWAYS, installed);
        }
        self
    }

    pub fn event(&mut self, on: &str, kind: Kind, refrigerant: &str, mass: Mass) -> &mut Event {
        let event = self.history.push(kind, on, mass);
        event.refrigerant = code(refrigerant);
        event
    }
}

/// The fleet of `data/halfmoon_year.py`, written down a second time.
pub fn halfmoon() -> Vec<Appliance> {
    use Kind::{Charge, Loss, Opening, OutsideCharge, Recover, Redesignate, Retrofit};
    let shop = [("category", "commercial_refrigeration")];
    let cooling = [("category", "comfort_cooling")];

    let mut cooler = Appliance::new("=COOLER, old", "QK", &shop).holds(pounds("50"), None);
    cooler.event("2024-06-01", Opening, "R-22", pounds("40"));
    cooler
        .event("2026-02-28", Redesignate, "R-22", pounds("40"))
        .outflow = true;
    cooler.event("2026-02-28", Redesignate, "mixture", pounds("40"));
    cooler.event("2026-03-01", Charge, "mixture", pounds("10.01"));
    cooler.event("2026-12-31", Loss, "mixture", pounds("3"));

    let mut rack =
        Appliance::new("HG-RACK-A", "HG-ALDER", &shop).holds(pounds("210"), Some("2024-03-12"));
    rack.event("2025-01-02", Opening, "R-448A", pounds("200"));
    rack.event("2025-06-01", Charge, "R-448A", pounds("5"));
    rack.event("2026-04-09", Charge, "R-448A", pounds_and_ounces(9, 4));
    rack.event("2026-07-14", Charge, "R-448A", pounds_and_ounces(14, 8));
    rack.history.follow_up_test("2026-08-01", "yes");
    rack.event("2026-08-01", Charge, "R-448A", pounds_and_ounces(0, 1));
    rack.event("2026-08-20", OutsideCharge, "R-448A", pounds("6"));
    rack.event("2027-01-01", Charge, "R-448A", pounds("99"));

    let mut rooftop =
        Appliance::new("HG-RTU-07", "HG-ALDER", &cooling).holds(pounds("22"), Some("2024-01-01"));
    rooftop.event("2025-12-31", Charge, "R-410A", pounds_and_ounces(0, 8));
    rooftop.event("2026-01-31", Charge, "R-410A", pounds_and_ounces(0, 8));
    let out = pounds_and_ounces(20, 10);
    rooftop.event("2026-06-20", Recover, "R-410A", out).visit = Some(1);
    rooftop
        .event("2026-06-20", Charge, "R-410A", pounds("22"))
        .visit = Some(1);
    rooftop.event("2026-06-21", Recover, "R-410A", pounds("2"));
    rooftop.event("2026-06-21", Charge, "R-410A", pounds("2"));

    let spare = Appliance::new("HG-SPARE", "", &[("refrigerant", "R-454B")]);

    let mut unknown = Appliance::new("PINE-AHU-2", "PINE", &cooling);
    unknown.event("2026-05-05", Charge, "R-454B", pounds("2"));

    let mut walk_in = Appliance::new("QK-WIC-1", "QK", &shop)
        .holds(pounds_and_ounces(11, 14), Some("2020-05-01"));
    walk_in.event("2024-02-01", Opening, "R-404A", pounds_and_ounces(11, 14));
    walk_in.event("2026-03-01", Recover, "R-404A", pounds("11"));
    walk_in.history.push(Retrofit, "2026-03-01", Mass::ZERO);
    let charge = walk_in.event("2026-03-01", Charge, "R-448A", pounds("12"));
    charge.reason = Some(Reason::AfterRetrofit);
    walk_in.event("2026-09-01", Charge, "R-448A", pounds_and_ounces(1, 2));

    vec![cooler, rack, rooftop, spare, unknown, walk_in]
}

/// House rules (invented): shops over 20 %, comfort cooling over 10 %.
pub struct HouseRules {
    pub readings: Vec<Option<Reading>>,
    /// For each set, whether it holds from this day on.
    pub from: Vec<Day>,
}

impl HouseRules {
    pub fn one() -> HouseRules {
        HouseRules {
            readings: vec![Some(Reading::default())],
            from: vec![Facts::ALWAYS],
        }
    }
}

pub struct HouseRulesOf<'a>(&'a HouseRules, &'a Facts);

impl Limits for HouseRules {
    type Appliance<'a> = HouseRulesOf<'a>;

    fn readings(&self) -> &[Option<Reading>] {
        &self.readings
    }

    fn appliance<'a>(&'a self, facts: &'a Facts) -> HouseRulesOf<'a> {
        HouseRulesOf(self, facts)
    }
}

impl ApplianceLimits for HouseRulesOf<'_> {
    fn limit(&mut self, set: usize, day: Day) -> Limit {
        if day < self.0.from[set] {
            return Limit::NotCovered;
        }
        let percent = match self.1.word("category", day) {
            Some("commercial_refrigeration") => 20,
            Some("comfort_cooling") => 10,
            _ => return Limit::CannotJudge,
        };
        Limit::Applies {
            threshold: Rate::new(percent, 1),
            at_least: false,
            unconfirmed: set > 0,
        }
    }
}

/// The files a report leaves, and what the caller says beside them.
pub struct Written {
    pub csv: String,
    pub evidence: String,
    pub summary: Summary,
}

pub fn appliance_year(fleet: &[Appliance], rules: &impl Limits, options: Options) -> Written {
    let (mut csv, mut evidence) = (Vec::new(), Vec::new());
    let mut report =
        ApplianceYear::new(&mut csv, Some(&mut evidence), options, rules, &NAMES).unwrap();
    each(fleet, |input| report.push(input).unwrap());
    let summary = report.finish().unwrap();
    written(csv, evidence, summary)
}

pub fn additions(fleet: &[Appliance], rules: &impl Limits, options: Options) -> Written {
    let (mut csv, mut evidence) = (Vec::new(), Vec::new());
    let mut report = Additions::new(&mut csv, Some(&mut evidence), options, rules).unwrap();
    each(fleet, |input| report.push(input).unwrap());
    let summary = report.finish().unwrap();
    written(csv, evidence, summary)
}

fn each(fleet: &[Appliance], mut push: impl FnMut(&ApplianceInput<'_>)) {
    for appliance in fleet {
        push(&ApplianceInput {
            tag: appliance.tag,
            site_tag: appliance.site,
            facts: &appliance.facts,
            events: &appliance.history.sorted(),
            methods: &appliance.methods,
        });
    }
}

fn written(csv: Vec<u8>, evidence: Vec<u8>, summary: Summary) -> Written {
    Written {
        csv: String::from_utf8(csv).unwrap(),
        evidence: String::from_utf8(evidence).unwrap(),
        summary,
    }
}
