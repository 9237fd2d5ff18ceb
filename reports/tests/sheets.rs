//! The yearly reports of an invented fleet against figures worked out elsewhere: the golden files
//! come from `data/halfmoon_year.py`, a second computation that shares no code with the program.

use crate::fleet;
use crate::history;

use crate::fleet::{Appliance, HouseRules, additions, appliance_year, halfmoon};
use crate::history::{day, pounds};
use proptest::prelude::*;
use reports::event::Kind;
use reports::leak_rate::{Method, Netting, Reading};
use reports::mass::{Mass, Unit};
use reports::sheet::metadata::{self, Provenance};
use reports::sheet::{NoLimits, Options};
use std::collections::BTreeMap;

const YEAR: &str = include_str!("data/halfmoon_appliance_year.csv");
const ADDITIONS: &str = include_str!("data/halfmoon_additions.csv");

#[test]
fn the_year_of_the_fleet_equals_the_second_computation() {
    let written = appliance_year(&halfmoon(), &HouseRules::one(), Options::of_year(2026));
    assert_eq!(written.csv, YEAR);
    assert_eq!((written.summary.rows, written.summary.cannot_judge), (8, 1));
}

#[test]
fn the_additions_of_the_fleet_equal_the_second_computation() {
    let written = additions(&halfmoon(), &HouseRules::one(), Options::of_year(2026));
    assert_eq!(written.csv, ADDITIONS);
    assert_eq!((written.summary.rows, written.summary.cannot_judge), (9, 1));
}

#[test]
fn without_rule_sets_nothing_is_over_anything() {
    let written = additions(&halfmoon(), &NoLimits, Options::of_year(2026));
    assert!(!written.csv.contains("yes"));
    let year = appliance_year(&halfmoon(), &NoLimits, Options::of_year(2026));
    assert!(
        year.csv.lines().skip(1).all(|row| row.ends_with(",0,0,")),
        "{}",
        year.csv
    );
}

#[test]
fn opening_and_charged_less_recovered_is_closing_in_every_row() {
    let options = Options {
        unit: Unit::Microgram,
        ..Options::of_year(2026)
    };
    let written = appliance_year(&halfmoon(), &HouseRules::one(), options);
    for row in written.csv.lines().skip(1) {
        let cells: Vec<&str> = row.rsplit(',').collect();
        let mass = |from_end: usize| tenths_of_nanograms(cells[from_end]);
        // Columns from the end: opening 13, charged 12, recovered 11, closing 10.
        assert_eq!(mass(13) + mass(12) - mass(11), mass(10), "{row}");
    }
}

/// The contributions of each figure, in whole steps: (row, figure) to sum.
fn sums(evidence: &str) -> BTreeMap<(usize, String), i128> {
    let mut reader = csv::Reader::from_reader(evidence.as_bytes());
    let mut sums = BTreeMap::new();
    for record in reader.records().map(Result::unwrap) {
        let key = (record[0].parse().unwrap(), record[2].to_string());
        *sums.entry(key).or_insert(0) += tenths_of_nanograms(&record[4]);
    }
    sums
}

/// A number of micrograms, or a count, in hundred-thousandths.
fn tenths_of_nanograms(cell: &str) -> i128 {
    let (whole, part) = cell.split_once('.').unwrap_or((cell, ""));
    format!("{whole}{part:0<5}").parse().unwrap()
}

/// E20: every figure of the report that is a mass or a count equals the sum of its evidence.
fn proves(csv: &str, evidence: &str) {
    let sums = sums(evidence);
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().unwrap().clone();
    let proven = [
        "opening_ug",
        "charged_ug",
        "recovered_ug",
        "closing_ug",
        "charges",
        "additions",
        "added_ug",
        "rolling_ug",
        "rolling_over",
        "annualised_over",
    ];
    let mut used = 0;
    for (row, record) in reader.records().map(Result::unwrap).enumerate() {
        for (name, cell) in header.iter().zip(&record) {
            let cell = if ["yes", "no", ""].contains(&cell) {
                continue;
            } else {
                cell
            };
            if proven.contains(&name) {
                let sum = sums.get(&(row + 1, name.to_string())).copied().unwrap_or(0);
                assert_eq!(
                    sum,
                    tenths_of_nanograms(cell),
                    "row {row}: {record:?} {name}"
                );
                used += 1;
            }
        }
    }
    assert!(used > 0, "nothing was compared");
}

/// E20: sums of the evidence are the figures.
#[test]
fn the_evidence_adds_up_to_every_figure() {
    let options = Options {
        unit: Unit::Microgram,
        ..Options::of_year(2026)
    };
    let written = appliance_year(&halfmoon(), &HouseRules::one(), options);
    proves(&written.csv, &written.evidence);
    // Rates have their mass for a figure: 23.75 lb of 210 lb, and 6 lb of 210 lb in 19 days.
    let sums = sums(&written.evidence);
    let mass = |figure: &str| sums[&(3, figure.to_string())];
    assert_eq!(
        mass("worst_rolling_ug"),
        i128::from(pounds("23.75").steps())
    );
    assert_eq!(mass("worst_annualised_ug"), i128::from(pounds("6").steps()));
    let written = additions(&halfmoon(), &HouseRules::one(), options);
    proves(&written.csv, &written.evidence);
}

fn rows(csv: &str) -> Vec<&str> {
    csv.lines().skip(1).collect()
}

/// A visit of 2026-12-30 (25 lb of 100 lb), 2027-01-02 (5 lb more) and a recovery of 20 lb.
fn visit_over_new_year() -> Vec<Appliance> {
    let category = [("category", "commercial_refrigeration")];
    let mut rack = Appliance::new("RACK", "S", &category).holds(pounds("100"), None);
    rack.event("2025-11-30", Kind::Charge, "R-448A", pounds("1"));
    for (on, kind, lb) in [
        ("2026-12-30", Kind::Charge, "25"),
        ("2027-01-02", Kind::Charge, "5"),
        ("2027-01-03", Kind::Recover, "20"),
        ("2027-01-03", Kind::Charge, "1"),
    ] {
        rack.event(on, kind, "R-448A", pounds(lb)).visit = Some(1);
    }
    vec![rack]
}

#[test]
fn a_visit_of_several_steps_is_one_row_dated_by_its_first_step_over_the_limit() {
    let fleet = visit_over_new_year();
    // Steps of the year asked are added; the rates are those of the last step.
    let year = additions(&fleet, &HouseRules::one(), Options::of_year(2026));
    assert_eq!(
        rows(&year.csv),
        ["RACK,2026-12-30,25,365,25,25.0000,25.0000,yes,yes"]
    );
    let year = additions(&fleet, &HouseRules::one(), Options::of_year(2027));
    // 30 lb on 2 January were over; 11 lb stand in the end, 14 lb less than in the year before.
    assert_eq!(
        rows(&year.csv),
        ["RACK,2027-01-02,-14,365,11,11.0000,11.0000,yes,yes"]
    );
    let options = Options {
        unit: Unit::Microgram,
        ..Options::of_year(2027)
    };
    let year = additions(&fleet, &HouseRules::one(), options);
    proves(&year.csv, &year.evidence);
}

#[test]
fn the_cut_hides_what_came_later() {
    let options = Options {
        cut: Some(day("2026-07-31")),
        ..Options::of_year(2026)
    };
    let written = additions(&halfmoon(), &HouseRules::one(), options);
    let before: Vec<&str> = rows(ADDITIONS)
        .into_iter()
        .filter(|row| !row.contains(",2026-08") && !row.contains(",2026-09"))
        .collect();
    assert_eq!(rows(&written.csv), before);
}

#[test]
fn the_method_of_the_site_dates_the_first_addition_over() {
    let mut fleet = halfmoon();
    fleet[2].methods = vec![(day("2026-02-01"), Method::Rolling)];
    let first_over = |options: Options| {
        let written = appliance_year(&fleet, &HouseRules::one(), options);
        written
            .csv
            .lines()
            .nth(4)
            .unwrap()
            .rsplit(',')
            .next()
            .unwrap()
            .to_string()
    };
    // No method is known until 1 February: 31 January is over by one. By rolling alone, 20 June is.
    assert_eq!(first_over(Options::of_year(2026)), "2026-01-31");
    let rolling = Options {
        method: Some(Method::Rolling),
        ..Options::of_year(2026)
    };
    assert_eq!(first_over(rolling), "2026-06-20");
}

#[test]
fn netting_can_be_replaced_for_all_sets() {
    let options = Options {
        netting: Some(Netting::Gross),
        ..Options::of_year(2026)
    };
    let written = additions(&halfmoon(), &HouseRules::one(), options);
    let rooftop: Vec<&str> = rows(&written.csv)
        .into_iter()
        .filter(|row| row.starts_with("HG-RTU-07"))
        .collect();
    // 22 lb gross of 22 lb, 140 days after 31 January; then 2 lb after one day.
    assert_eq!(
        rooftop[1],
        "HG-RTU-07,2026-06-20,22,140,23,104.5454,260.7142,yes,yes"
    );
    assert_eq!(
        rooftop[2],
        "HG-RTU-07,2026-06-21,2,1,25,113.6363,3318.1818,yes,yes"
    );
}

#[test]
fn a_second_set_that_reads_additions_differently_hides_nothing() {
    // The first set nets visits, the second counts gross from July on (invented).
    let gross = Reading {
        netting: Netting::Gross,
        ..Reading::default()
    };
    let rules = HouseRules {
        readings: vec![Some(Reading::default()), Some(gross)],
        from: vec![day("2026-01-01"), day("2026-06-21")],
    };
    let written = additions(&halfmoon(), &rules, Options::of_year(2026));
    let rooftop: Vec<&str> = rows(&written.csv)
        .into_iter()
        .filter(|row| row.starts_with("HG-RTU-07"))
        .collect();
    // What was put back on 21 June is no addition of the leading set, but over for the other.
    assert_eq!(
        rooftop[1],
        "HG-RTU-07,2026-06-20,1.375,140,2.375,10.7954,16.2946,yes,yes"
    );
    assert_eq!(
        rooftop[2],
        "HG-RTU-07,2026-06-21,2,1,25,113.6363,3318.1818,yes,yes"
    );
    assert!(written.summary.unconfirmed > 0);
}

#[test]
fn a_retired_appliance_leaves_the_report_after_its_last_year() {
    let mut fleet = halfmoon();
    fleet[5]
        .history
        .push(Kind::Retire, "2026-11-01", Mass::ZERO);
    let has = |year: i16| {
        appliance_year(&fleet, &HouseRules::one(), Options::of_year(year))
            .csv
            .contains("QK-WIC-1")
    };
    assert!(has(2025) && has(2026) && !has(2027));
}

#[test]
fn appliances_out_of_order_are_refused() {
    let mut fleet = halfmoon();
    fleet.swap(0, 1);
    let mut out = Vec::new();
    let mut report = reports::sheet::additions::Additions::new(
        &mut out,
        None,
        Options::of_year(2026),
        &NoLimits,
    )
    .unwrap();
    let mut push = |appliance: &Appliance| {
        report.push(&reports::sheet::ApplianceInput {
            tag: appliance.tag,
            site_tag: "",
            facts: &appliance.facts,
            events: &[],
            methods: &[],
        })
    };
    push(&fleet[0]).unwrap();
    let told = push(&fleet[1]).unwrap_err().to_string();
    assert!(told.contains("order of their tags"), "{told}");
}

proptest! {
    /// Whatever happened: evidence adds up, years add up, and both reports agree.
    #[test]
    fn reports_agree_with_each_other(
        draws in proptest::collection::vec((0..1000_i32, 0..4_u8, 1..60_i64, 0..9_u8, 0..2_u16), 0..50),
    ) {
        let category = [("category", "comfort_cooling")];
        let mut one = Appliance::new("A", "S", &category).holds(pounds("22"), Some("2025-01-01"));
        for (offset, what, ounces, visit, refrigerant) in draws {
            let on = day("2025-01-01").plus(offset).to_string();
            let kind = [Kind::Charge, Kind::Recover, Kind::Charge, Kind::Loss][usize::from(what)];
            let name = fleet::designation(refrigerant);
            let mass = history::pounds_and_ounces(0, ounces);
            one.event(&on, kind, name, mass).visit = (visit < 5).then_some(u128::from(visit));
        }
        let fleet = vec![one];
        for year in 2025..2028 {
            let options = Options { unit: Unit::Microgram, ..Options::of_year(year) };
            let year = appliance_year(&fleet, &HouseRules::one(), options);
            let all = additions(&fleet, &HouseRules::one(), options);
            proves_if_any(&year.csv, &year.evidence);
            proves_if_any(&all.csv, &all.evidence);
            let count = column(&year.csv, "additions").iter().sum::<i128>() / 100_000;
            prop_assert_eq!(count, rows(&all.csv).len() as i128);
            let (ours, theirs) = (column(&year.csv, "added_ug"), column(&all.csv, "added_ug"));
            prop_assert_eq!(ours.iter().sum::<i128>(), theirs.iter().sum::<i128>());
        }
    }
}

#[test]
fn the_description_names_every_column_of_the_header() {
    let options = Options {
        unit: Unit::Kilogram,
        ..Options::of_year(2026)
    };
    let columns = reports::sheet::appliance_year::header(options.unit);
    let sets = [("house-rules".to_string(), "3".to_string())];
    let provenance = Provenance {
        as_of: Some(4700),
        root_hash: "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=",
        rule_sets: &sets,
        unconfirmed: 2,
    };
    let key = ["appliance", "refrigerant"];
    let text = metadata::document("2026.csv", &columns, &key, &options, &provenance);
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    let schema = &document["tableSchema"];
    let names: Vec<&str> = schema["columns"]
        .as_array()
        .unwrap()
        .iter()
        .map(|column| column["name"].as_str().unwrap())
        .collect();
    let written = appliance_year(&halfmoon(), &HouseRules::one(), options);
    assert_eq!(names.join(","), written.csv.lines().next().unwrap());
    assert_eq!(document["@context"][0], "http://www.w3.org/ns/csvw");
    assert_eq!(document["url"], "2026.csv");
    assert_eq!(schema["primaryKey"], serde_json::json!(key));
    assert_eq!(schema["columns"][4]["name"], "full_charge_kg");
    assert_eq!(schema["columns"][4]["schema:unitCode"], "kg");
    assert_eq!(schema["columns"][13]["datatype"]["base"], "date");
    let note = &document["notes"][0];
    assert_eq!(note["rule_sets"][0]["version"], "3");
    assert_eq!(
        (&note["as_of"], &note["year"]),
        (&4700.into(), &2026.into())
    );
    assert_eq!(note["judged_on"], "2026-12-31");
}

fn proves_if_any(csv: &str, evidence: &str) {
    if csv.lines().count() > 1 {
        proves(csv, evidence);
    }
}

fn column(csv: &str, name: &str) -> Vec<i128> {
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let place = reader
        .headers()
        .unwrap()
        .iter()
        .position(|column| column == name)
        .unwrap();
    reader
        .records()
        .map(|record| tenths_of_nanograms(&record.unwrap()[place]))
        .collect()
}
