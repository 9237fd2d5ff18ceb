//! Fill limits: rows worked out elsewhere, the law's own numbers, and which rule decides.
//!
//! `data/physics/cylinder-fill.csv` was worked out by a program of its own with densities of CoolProp
//! 8.0.0; each row names the source of its rule. The worked example of Guideline K (R-22, 1 000 lb of
//! water) is among them with the specific gravity it was published with.

#![allow(clippy::float_arithmetic)] // The rows have tolerances in percent.

use crate::filling::request;
use proptest::prelude::*;
use reports::mass::{Mass, Reading, Unit as MassUnit, read};
use reports::number::Decimal;
use reports::physics::{
    AddedDensities, Content, FILL_CAUTION, FILL_LISTED_BYTES, FillDensities, FillLimit,
    FillRequest, FillRules, Problem, fill_limit, room,
};
use serde::Deserialize;

fn named(text: &str) -> Content {
    Content::Named(text.to_owned())
}

fn limit_of(request: &FillRequest) -> Result<FillLimit, Problem> {
    fill_limit(FillRules::shipped(), FillDensities::shipped(), request)
}

fn pounds(mass: Mass) -> f64 {
    mass.steps() as f64 / Mass::POUND as f64
}

fn weighed(text: &str, unit: &str) -> Mass {
    match read(text, MassUnit::from_word(unit)) {
        Reading::Mass(mass) => mass,
        other => panic!("{text} {unit}: {other:?}"),
    }
}

#[derive(Deserialize)]
struct Row {
    case: String,
    rule_id: String,
    refrigerant: String,
    water_capacity: String,
    wc_unit: String,
    factor: f64,
    max_net_kg: f64,
    tare: String,
    tare_unit: String,
    max_gross: Option<f64>,
    gross_unit: String,
    tolerance_pct: f64,
}

#[test]
fn every_row_that_was_worked_out_elsewhere() {
    let bytes = include_bytes!("data/physics/cylinder-fill.csv");
    let mut seen = 0;
    for row in csv::Reader::from_reader(&bytes[..]).deserialize() {
        let row: Row = row.expect("a row");
        let (limit, found) = worked(&row);
        let kilograms = found.steps() as f64 / Mass::GRAM as f64 / 1_000.0;
        let off = (kilograms / row.max_net_kg - 1.0).abs() * 100.0;
        // Four decimals of a kilogram are printed; our densities are cut by at most 0.01 kg/m³.
        let digits = 0.005 / row.max_net_kg;
        assert!(
            off <= row.tolerance_pct.min(0.01) + digits,
            "{}: {kilograms} kg",
            row.case
        );
        if let Some(gross) = row.max_gross {
            let alone = FillLimit {
                limit: found,
                ..limit
            };
            let tare = weighed(&row.tare, &row.tare_unit);
            let room = room(&alone, Some(tare), tare).expect("room");
            let shown: f64 = room.max_gross.g.parse().expect("grams");
            let unit = if row.gross_unit == "lb" {
                453.592_37
            } else {
                1_000.0
            };
            assert!(
                (shown / unit / gross - 1.0).abs() < 1e-4,
                "{}: {shown} g",
                row.case
            );
        }
        seen += 1;
    }
    assert_eq!(seen, 146);
}

/// The limit of one rule, from a request that makes every rule show itself.
fn worked(row: &Row) -> (FillLimit, Mass) {
    let unit = if row.wc_unit == "l" { "L" } else { "[lb_av]" };
    let content = match row.refrigerant.as_str() {
        "(any)" => Content::Unknown,
        name => named(name),
    };
    let mut request = request(content, &row.water_capacity, unit);
    request.shop_rules = true;
    // R-744 is no liquid at 60 °C: it needs a marking, here one that is never the lowest.
    request.marking = Some(weighed("1000", "kg"));
    let mut densities = FillDensities::shipped().clone();
    let mut rule_id = row.rule_id.as_str();
    if rule_id == "GK_SG" {
        // Specific gravity 1.197 of water at 27.737 in³ a pound: 1.197 × 453.59237 g / 454.527994 cm³.
        let density = |text| Decimal::parse(text);
        let kg_m3 = [
            density("1194.5360"),
            density("1082"),
            density("1060"),
            density("1057"),
            density("1030"),
        ];
        let (refrigerant, source) = ("R-22".to_owned(), "Guideline K, example".to_owned());
        let added = AddedDensities {
            refrigerant,
            source,
            kg_m3,
        };
        densities = densities.with(&added).expect("densities");
        rule_id = "GK80_25C";
    }
    let limit = fill_limit(FillRules::shipped(), &densities, &request).expect("a limit");
    let found = limit.rules.iter().filter(|rule| rule.rule_id == rule_id);
    let found = found
        .map(|rule| rule.limit)
        .min()
        .expect("the rule applies");
    assert!(row.factor > 0.0);
    (limit, found)
}

/// 49 CFR 173.304a(a)(2), table 1, filling densities in percent of the water capacity, read there.
#[test]
fn filling_densities_of_the_law() {
    let law = [
        ("R-12", 119),
        ("R-13", 100),
        ("R-22", 105),
        ("R-115", 110),
        ("R-142b", 100),
        ("R-717", 54),
        ("R-744", 68),
    ];
    for (refrigerant, percent) in law {
        let mut request = request(named(refrigerant), "100", "[lb_av]");
        request.marking = Some(weighed("1000", "lb"));
        let limit = limit_of(&request).expect("a limit");
        let rule = limit
            .rules
            .iter()
            .find(|rule| rule.rule_id == "CFR_TABLE")
            .expect("listed");
        // 100 lb of water: so many percent are so many pounds, exactly.
        assert_eq!(
            rule.limit,
            Mass::from_steps(percent * Mass::POUND),
            "{refrigerant}"
        );
        assert!(rule.source.contains("173.304a"));
    }
    let rows = std::str::from_utf8(FILL_LISTED_BYTES).expect("UTF-8");
    assert_eq!(
        rows.lines()
            .filter(|line| line.starts_with("CFR_TABLE,"))
            .count(),
        law.len()
    );
}

/// Which rule is the lowest: worked by hand from the densities of cylinder-fill.csv, in kg per litre
/// of volume. 80 % of the water is 0.8 × 0.45359237 / 0.454527994 = 0.79835.
#[test]
fn the_lowest_rule_decides() {
    for (refrigerant, shop, rule, by_hand) in [
        // 0.8 × 1.05862 = 0.8469; min(0.95 × 0.91, 0.81549) = 0.8155: the water is lower.
        ("R-410A", false, "WATER80", 0.79835),
        // 0.8 × 0.87039.
        ("R-410A", true, "VOL80_54C", 0.69631),
        // 0.8 × 0.96101; 0.77331 at 60 °C.
        ("R-32", false, "GK80_25C", 0.76881),
        // 0.8 × 0.98623.
        ("R-454B", false, "GK80_25C", 0.78898),
        ("R-22", false, "WATER80", 0.79835),
        // 0.8 × 0.60296.
        ("R-717", false, "GK80_25C", 0.48237),
    ] {
        let mut request = request(named(refrigerant), "100", "L");
        request.shop_rules = shop;
        let limit = limit_of(&request).expect("a limit");
        assert_eq!(limit.rule_id, rule, "{refrigerant}");
        let per_litre = limit.limit.steps() as f64 / Mass::GRAM as f64 / 100_000.0;
        assert!(
            (per_litre - by_hand).abs() < 0.000_02,
            "{refrigerant}: {per_litre}"
        );
        assert_eq!(limit.caution, FILL_CAUTION);
        assert!(
            limit
                .rules
                .windows(2)
                .all(|pair| pair[0].limit <= pair[1].limit)
        );
    }
    let mut marked = request(named("R-410A"), "26.2", "[lb_av]");
    marked.marking = Some(weighed("20", "lb"));
    let limit = limit_of(&marked).expect("a limit");
    assert_eq!(
        (limit.rule_id.as_str(), limit.limit),
        ("MARKING", weighed("20", "lb"))
    );
}

/// Propane has the lowest of all: 0.8 × its density at 25 °C (0.4923 kg/l, NIST, from memory) is less
/// than the 0.42 kg/l of the rule for unknown content.
#[test]
fn unknown_content_takes_the_lowest_limit_of_everything() {
    let limit = limit_of(&request(Content::Unknown, "10", "L")).expect("a limit");
    assert_eq!(limit.rules[0].refrigerant.as_deref(), Some("R-290"));
    let per_litre = limit.limit.steps() as f64 / Mass::GRAM as f64 / 10_000.0;
    assert!((per_litre - 0.8 * 0.4923).abs() < 0.000_5, "{per_litre}");
    assert!(limit.rules.iter().any(|rule| rule.rule_id == "UNKNOWN_042"));
    for name in FillDensities::shipped().refrigerants() {
        if let Ok(one) = limit_of(&request(named(name), "10", "L")) {
            assert!(limit.limit <= one.limit, "{name}");
        }
    }
}

#[test]
fn what_is_not_excluded_counts_and_nothing_else() {
    let any = |names: &[&str]| {
        let names = names.iter().map(|name| (*name).to_owned()).collect();
        limit_of(&request(Content::AnyOf(names), "10", "L")).expect("a limit")
    };
    let one = |name| {
        limit_of(&request(named(name), "10", "L"))
            .expect("a limit")
            .limit
    };
    assert_eq!(any(&["R-410A", "R-32", "R-454B"]).limit, one("R-32"));
    assert_eq!(any(&["R-410A"]).limit, one("R-410A"));
    // A candidate whose density nobody knows: as if nothing were excluded.
    let unknown = limit_of(&request(Content::Unknown, "10", "L"))
        .expect("a limit")
        .limit;
    let with_438a = any(&["R-410A", "R-438A"]);
    assert_eq!(with_438a.limit, unknown);
    assert!(
        with_438a.notes[0].contains("R-438A"),
        "{:?}",
        with_438a.notes
    );
    assert_eq!(any(&[]).limit, unknown);
    // A gas that no such cylinder is filled with is named, and not looked at.
    let with_744 = any(&["R-410A", "R-744"]);
    assert_eq!(with_744.limit, one("R-410A"));
    assert!(with_744.notes[0].contains("R-744"));
}

#[test]
fn the_limit_names_its_rule_and_source_in_json() {
    let limit = limit_of(&request(named("r22"), "26.2", "[lb_av]")).expect("a limit");
    let json = serde_json::to_value(&limit).expect("JSON");
    assert_eq!(json["rule_id"], "WATER80");
    // 0.8 × 26.2 lb = 20.96 lb = 20 lb 15.36 oz = 9507.2960752 g, exactly.
    assert_eq!(json["limit"]["g"], "9507.2960752");
    assert_eq!(json["limit"]["lb_oz"], "20 lb 15.36 oz");
    assert_eq!(
        json["rules"][0]["source"],
        FillRules::shipped().terms()[1].source
    );
    let vented = json["rules"].as_array().expect("rules");
    let by_density = vented
        .iter()
        .find(|rule| rule["rule_id"] == "GK80_25C")
        .expect("the rule");
    assert_eq!(by_density["density_source"], "CoolProp 8.0.0");
}

proptest! {
    /// More water is more room, whatever the unit; and 26.2 lb of water is the same cylinder as
    /// 26.2 × 0.45359237 kg of it.
    #[test]
    fn limits_follow_the_capacity(hundredths in 100..500_000_i64, more in 1..10_000_i64) {
        let at = |hundredths: i64| Decimal::new(i128::from(hundredths), 2).to_string();
        for unit in ["L", "kg", "[lb_av]"] {
            for content in [named("R-410A"), Content::Unknown] {
                let small = limit_of(&request(content.clone(), &at(hundredths), unit)).expect("a limit");
                let large = limit_of(&request(content, &at(hundredths + more), unit)).expect("a limit");
                prop_assert!(small.limit < large.limit);
            }
        }
        let pounds_of_water = limit_of(&request(named("R-32"), &at(hundredths), "[lb_av]")).expect("a limit");
        let grams = i128::from(hundredths) * 45_359_237;
        let kilograms = Decimal::new(grams, 10).to_string();
        let kilograms_of_water = limit_of(&request(named("R-32"), &kilograms, "kg")).expect("a limit");
        prop_assert_eq!(pounds_of_water.limit, kilograms_of_water.limit);
        prop_assert!(pounds(pounds_of_water.limit) > 0.0);
    }
}
