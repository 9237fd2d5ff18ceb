//! No accepted fill is full of liquid below 60 °C: a sweep over every refrigerant, size and degree.
//!
//! The limits are exact; what the liquid is at a temperature comes from the curves, which are compared
//! with CoolProp apart from this. The sweep has to find what a single formula would allow.

#![allow(clippy::float_arithmetic)] // The curves are floats.

use crate::filling::request;
use reports::mass::Mass;
use reports::physics::{
    Applies, Content, FILL_LISTED_BYTES, FillDensities, FillRules, FillTemperature, ProblemCode,
    SaturationTable, fill_limit,
};

const SIZES: [(&str, &str); 4] = [
    ("12", "L"),
    ("26.2", "[lb_av]"),
    ("47.7", "[lb_av]"),
    ("1000", "[lb_av]"),
];

fn named(text: &str) -> Content {
    Content::Named(text.to_owned())
}

/// What the liquid of a full cylinder is at every degree below 60 °C. Refrigerants that are no liquid
/// there have no limit without a marking, and are not in the sweep.
fn liquid_full_below_60(rules: &FillRules, shop_rules: bool) -> Vec<String> {
    let mut faults = Vec::new();
    for fluid in SaturationTable::shipped().fluids() {
        for (number, unit) in SIZES {
            let mut request = request(named(&fluid.designation), number, unit);
            request.shop_rules = shop_rules;
            let limit = match fill_limit(rules, FillDensities::shipped(), &request) {
                Ok(limit) => limit.limit,
                Err(problem) => {
                    assert_eq!(problem.code, ProblemCode::DensityMissing);
                    continue;
                }
            };
            let litres = request.water_capacity.litres().expect("litres");
            let litres = litres.numerator() as f64 / litres.denominator() as f64;
            let filled = limit.steps() as f64 / Mass::GRAM as f64 / litres;
            let degrees = (-40..60).map(f64::from).chain([59.9, 59.99]);
            let full = degrees
                .filter(|celsius| fluid.covers(celsius + 273.15))
                .find(|celsius| {
                    let it = fluid.at_kelvin(celsius + 273.15).expect("inside");
                    filled >= it.liquid_density_kg_m3.expect("a density")
                });
            faults.extend(full.map(|celsius| format!("{} full at {celsius}", fluid.designation)));
        }
    }
    faults
}

#[test]
fn no_accepted_fill_is_full_of_liquid_below_60_degrees() {
    for shop in [false, true] {
        assert_eq!(
            liquid_full_below_60(FillRules::shipped(), shop),
            Vec::<String>::new()
        );
    }
}

/// Each formula alone is not safe, as was found when the rules were compared: 80 % of the volume at
/// 25 °C leaves R-125 full at 54.5 °C; 80 % of the water overfills propane and R-143a.
#[test]
fn the_sweep_finds_what_one_rule_alone_would_allow() {
    let header = "rule_id,kind,factor,at,applies,strict,read_at_source,text,source\n";
    let alone = |row: &str| {
        let text = format!("{header}{row},always,no,yes,a rule,a source\n");
        let rules = FillRules::read(text.as_bytes(), FILL_LISTED_BYTES).expect("rules");
        assert_eq!(rules.terms()[0].applies, Applies::Always);
        liquid_full_below_60(&rules, false)
    };
    let by_volume = alone("GK80_25C,density,0.80,25");
    assert!(
        by_volume.contains(&"R-125 full at 55".to_owned()),
        "{by_volume:?}"
    );
    let by_water = alone("WATER80,water,0.80,");
    for name in ["R-290", "R-143a", "R-717"] {
        assert!(
            by_water.iter().any(|fault| fault.starts_with(name)),
            "{name}: {by_water:?}"
        );
    }
}

#[test]
fn densities_are_those_of_the_curves() {
    for fluid in SaturationTable::shipped().fluids() {
        for (at, celsius) in
            FillTemperature::ALL
                .into_iter()
                .zip([25.0, 50.0, 130.0 / 1.8 - 32.0 / 1.8, 55.0, 60.0])
        {
            let exact = FillDensities::shipped().of(&fluid.designation, at);
            let curve = fluid
                .at_kelvin(celsius + 273.15)
                .ok()
                .and_then(|it| it.liquid_density_kg_m3);
            let exact: Option<f64> = exact.map(|it| it.to_string().parse().expect("a number"));
            match (exact, curve) {
                (Some(exact), Some(curve)) => {
                    assert!(
                        (exact / curve - 1.0).abs() < 0.001,
                        "{} {celsius}",
                        fluid.designation
                    );
                }
                (exact, curve) => assert_eq!(exact, curve, "{} {celsius}", fluid.designation),
            }
        }
    }
}
