//! How far masses and leak rates can be trusted: rows worked out elsewhere, and examples by hand.

#![allow(clippy::float_arithmetic)] // Uncertainties are floats.

use proptest::prelude::*;
use reports::mass::{Mass, Reading, Unit, read};
use reports::physics::{
    ProblemCode, ScaleFacts, Trust, WeighedPart, Weighing, WeightCheck, mass_uncertainty,
    range_doubt, rate_uncertainty,
};
use serde::Deserialize;
use std::collections::HashMap;

fn mass(text: &str, unit: &str) -> Mass {
    match read(text, Unit::from_word(unit)) {
        Reading::Mass(mass) => mass,
        other => panic!("{text} {unit}: {other:?}"),
    }
}

fn scale(text: &str, unit: &str) -> ScaleFacts {
    ScaleFacts {
        resolution: mass(text, unit),
        checks: Vec::new(),
    }
}

#[derive(Deserialize)]
struct Row {
    case: String,
    kind: String,
    inputs: String,
    output: String,
    expected: f64,
    tolerance_abs: f64,
}

#[test]
fn every_row_that_was_worked_out_elsewhere() {
    let bytes = include_bytes!("data/physics/pressure-test.csv");
    let mut seen = 0;
    let mut reader = csv::Reader::from_reader(&bytes[..]);
    let headers = reader.headers().expect("headers").clone();
    for record in reader.records() {
        let record = record.expect("a row");
        if &record[1] != "leak_rate" {
            continue;
        }
        let row: Row = record.deserialize(Some(&headers)).expect("a row");
        let pairs = row
            .inputs
            .split(';')
            .filter_map(|pair| pair.split_once('='));
        let inputs: HashMap<&str, &str> = pairs.collect();
        let unit = inputs["unit"];
        let result = rate_uncertainty(
            &scale(inputs["scale_resolution"], unit),
            mass(inputs["added"], unit),
            mass(inputs["full_charge"], unit),
            inputs["days_since_last_addition"].parse().expect("days"),
            inputs["u_rel_full_charge"].parse().expect("a number"),
        );
        let result = result.expect("a result");
        let came = match row.output.as_str() {
            "annualised_rate" => result.rate_percent,
            "u_added_k1" => result.added.standard_g,
            "U_rate_k2" => result.expanded_percent_points,
            "smallest_significant_addition_k2" => result.added.smallest_significant_g,
            other => panic!("{} {}: no such output: {other}", row.case, row.kind),
        };
        let off = (came - row.expected).abs();
        assert!(
            off <= row.tolerance_abs,
            "{} {}: {came}",
            row.case,
            row.output
        );
        seen += 1;
    }
    assert_eq!(seen, 32);
}

/// 7 lb 10 oz are 3 458.64 g. Worked by hand: 100 g in 90 days are 11.73 % a year, and 2 × 2.041 g of
/// 100 g are 0.48 points; a full charge known to 5 % adds 2 × 5 % of 11.73, which is 1.17.
#[test]
fn an_example_by_hand() {
    let full = mass("7 lb 10 oz", "lb");
    let of = |doubt| rate_uncertainty(&scale("5", "g"), mass("100", "g"), full, 90, doubt);
    let exact = of(0.0).expect("a result");
    assert!((exact.rate_percent - 11.73).abs() < 0.005);
    assert!((exact.expanded_percent_points - 0.48).abs() < 0.005);
    assert!(!exact.full_charge_dominates);
    let doubted = of(0.05).expect("a result");
    let both = f64::hypot(0.48, 1.17);
    assert!((doubted.expanded_percent_points - both).abs() < 0.01);
    assert!(doubted.full_charge_dominates);
    // 0.82 r: 4.1 g for steps of 5 g; one reading is √2 better.
    let weighed = |weighing| mass_uncertainty(&scale("5", "g"), weighing, mass("100", "g"));
    let difference = weighed(Weighing::Difference).expect("a result");
    assert!((difference.smallest_significant_g - 4.1).abs() < 0.05);
    let one = weighed(Weighing::OneReading).expect("a result");
    assert!((difference.standard_g / one.standard_g - 2.0_f64.sqrt()).abs() < 1e-12);
}

/// Check weights of 1 000 and 2 000 g shown as 1 003 and 1 992: 0.3 and -0.4 %, root mean square
/// √((9 + 16) / 2) ‰ = 3.536 ‰; of 1 000 g that is 3.536 g beside 2.041 g, together 4.083 g.
#[test]
fn check_weights_count() {
    let mut scale = scale("5", "g");
    let check = |nominal, shown| WeightCheck {
        nominal: mass(nominal, "g"),
        shown: mass(shown, "g"),
    };
    scale.checks = vec![check("1000", "1003"), check("2000", "1992")];
    let it = mass_uncertainty(&scale, Weighing::Difference, mass("1", "kg")).expect("a result");
    assert!((it.check_deviation.expect("checked") - 0.003_535_5).abs() < 1e-7);
    assert!((it.standard_g - 4.083).abs() < 0.001, "{it:?}");
    assert!((it.expanded_g - 2.0 * it.standard_g).abs() < 1e-12);
    assert!((it.smallest_significant_g - 4.082_5).abs() < 0.001);
}

#[test]
fn what_is_refused_says_what_to_do() {
    let good = mass("100", "g");
    let refused = |scale: &ScaleFacts, added, full, days, doubt| {
        let problem = rate_uncertainty(scale, added, full, days, doubt).unwrap_err();
        assert_eq!(problem.code, ProblemCode::OutOfRange);
        problem.field
    };
    let five = scale("5", "g");
    assert_eq!(refused(&five, Mass::ZERO, good, 90, 0.0), "mass");
    assert_eq!(refused(&five, good, Mass::ZERO, 90, 0.0), "full_charge");
    assert_eq!(refused(&five, good, good, 0, 0.0), "days");
    assert_eq!(refused(&five, good, good, 90, -0.1), "full_charge_doubt");
    assert_eq!(
        refused(&five, good, good, 90, f64::NAN),
        "full_charge_doubt"
    );
    let mut none = scale("5", "g");
    none.resolution = Mass::ZERO;
    assert_eq!(refused(&none, good, good, 90, 0.0), "resolution");
    let mut broken = scale("5", "g");
    broken.checks = vec![WeightCheck {
        nominal: Mass::ZERO,
        shown: good,
    }];
    assert_eq!(refused(&broken, good, good, 90, 0.0), "checks");
}

proptest! {
    /// A finer scale, fewer doubts, a longer time: never less certain.
    #[test]
    fn finer_is_never_less_certain(grams in 10..100_000_i64, step in 1..50_i64, days in 1..400_u32, doubt in 0.0..0.5_f64) {
        let of = |grams: i64| Mass::from_steps(grams * Mass::GRAM);
        let points = |step: i64, days: u32, doubt: f64| {
            let scale = ScaleFacts { resolution: of(step), checks: Vec::new() };
            let it = rate_uncertainty(&scale, of(grams), of(200_000), days, doubt);
            it.expect("a result").expanded_percent_points
        };
        let here = points(step, days, doubt);
        prop_assert!(points(step + 1, days, doubt) > here);
        prop_assert!(points(step, days, doubt + 0.01) > here);
        prop_assert!(points(step, days + 1, doubt) <= here);
    }
}

/// Worked by hand: a visit took 20 lb 10 oz out and put 22 lb in on one scale of 0.25 oz steps
/// (7.08738078125 g), unchecked: u² = 2 x 7.08738² / 6 = 16.7437, u = 4.09191, U = 8.2 g of a net of
/// 1 lb 6 oz = 623.69 g; of 16.29 % that is 2 x 16.2935 x 4.09191 / 623.69 = 0.2138 points.
/// With a check weight 0.1 % off, the net counts: (0.001 x 623.69)² = 0.38899 more, U = 8.2784 g.
/// Two scales, both 0.1 % off, do not cancel: 0.001 x 9 355.34 and 0.001 x 9 979.03 grams, so
/// u² = 16.7437 + 87.5224 + 99.5811 = 203.8472, U = 28.555 g.
#[test]
fn weighings_of_one_mass_add_up_as_they_should() {
    let steps = scale("0.25", "oz");
    let nominal = mass("10", "kg");
    let shown = mass("10010", "g");
    let checked = ScaleFacts {
        checks: vec![WeightCheck { nominal, shown }],
        ..steps.clone()
    };
    let visit = |scale, other| {
        let (out, back) = (mass("330", "oz"), mass("22", "lb"));
        let part = |name, mass, came_out| WeighedPart {
            scale,
            name,
            mass,
            came_out,
        };
        Trust::of(&[part("S-2", out, true), part(other, back, false)]).expect("a trust")
    };
    let plain = visit(&steps, "S-2");
    assert_eq!(plain.grams_text(), "8.2");
    assert_eq!(plain.points_text("16.2935", 0.0).expect("points"), "0.21");
    assert_eq!(visit(&checked, "S-2").grams_text(), "8.3");
    assert_eq!(visit(&checked, "S-5").grams_text(), "28.6");
    assert_eq!(Trust::of(&[]).unwrap_err().code, ProblemCode::Missing);
    assert!(plain.points_text("nothing", 0.0).is_err());
    assert!(plain.points_text("16.2935", 1.5).is_err());
}

/// Of 20 to 24 lb the midpoint is 22 lb and half the width 2 lb: 2 / √3 / 22 = 0.052486.
#[test]
fn a_range_says_how_far_its_midpoint_is_known() {
    let doubt = range_doubt(mass("20", "lb"), mass("24", "lb"));
    assert!((doubt - 0.052_486).abs() < 1e-6, "{doubt}");
    assert_eq!(range_doubt(mass("20", "lb"), mass("20", "lb")), 0.0);
    let trust = Trust::of(&[WeighedPart {
        scale: &scale("5", "g"),
        name: "S",
        mass: mass("100", "g"),
        came_out: false,
    }]);
    // The row of 11.73 % with 5 % doubt of the full charge: sqrt(0.48² + 1.17²) = 1.27.
    let points = trust.expect("a trust").points_text("11.7261", 0.05);
    assert_eq!(points.expect("points"), "1.27");
}
