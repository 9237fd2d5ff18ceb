//! What a reading can mean: families of refrigerants, distances in units of the error, liquid that is
//! not proven, and what is refused.
//!
//! Distances were worked out beside the comparison of refrigerants at 20 °C with an exact model
//! (m = 0), a temperature error of 1 K and 1 % of full scale of an 800 or a 250 psi gauge.

#![allow(clippy::float_arithmetic)] // Expected values of physics are floats.

use proptest::prelude::*;
use reports::mass::{Mass, Reading, Unit as MassUnit, read};
use reports::number::Decimal;
use reports::physics::{
    CONTENT_CAUTION, Content, ContentReading, ContentResult, ContentTables, ContentVerdict,
    FLUIDS_BYTES, GaugeAccuracy, GaugeKind, Pressure, PressureUnit, Quantity, SATURATION_BYTES,
    SaturationTable, Temperature, WaterCapacity, Why, content_check,
};
use std::sync::LazyLock;

fn pressure(number: &str, unit: &str) -> Pressure {
    Pressure::read("pressure", number, unit).expect("a pressure")
}

fn temperature(number: &str, unit: &str) -> Temperature {
    Temperature::read("temperature", number, unit).expect("a temperature")
}

fn mass(text: &str) -> Mass {
    match read(text, MassUnit::from_word("kg")) {
        Reading::Mass(mass) => mass,
        other => panic!("{text}: {other:?}"),
    }
}

/// A rested cylinder at sea level, 1 % of 800 psi, nothing weighed.
fn reading(psig: &str, degrees: &str, unit: &str) -> ContentReading {
    ContentReading {
        pressure: Some(pressure(psig, "psig")),
        gauge: Some(GaugeKind::Vented),
        accuracy: Some(GaugeAccuracy {
            percent: Decimal::from(1),
            full_scale: Some(pressure("800", "psig")),
            of_reading: false,
        }),
        wall_temperature: Some(temperature(degrees, unit)),
        temperature_accuracy: Some(temperature("1", "K")),
        barometer: Some(pressure("101.325", "kPa")),
        rested: Some(true),
        ..ContentReading::default()
    }
}

/// The same with 26.2 lb of water (11.9 l) and a net mass that proves liquid for all but the gases.
fn weighed(mut reading: ContentReading, net_kg: &str) -> ContentReading {
    reading.water_capacity = Some(WaterCapacity::read("wc", "26.2", "[lb_av]").expect("read"));
    reading.tare = Some(mass("7.7"));
    reading.gross = mass("7.7").checked_add(mass(net_kg));
    reading
}

fn check(reading: &ContentReading) -> ContentResult {
    content_check(ContentTables::in_force(), reading)
}

fn one_percent_of_reading() -> GaugeAccuracy {
    GaugeAccuracy {
        percent: Decimal::from(1),
        full_scale: None,
        of_reading: true,
    }
}

fn compatible(result: &ContentResult) -> Vec<&str> {
    result
        .compatible
        .iter()
        .map(|one| one.refrigerant.as_str())
        .collect()
}

fn not_excluded(result: &ContentResult) -> Vec<&str> {
    result
        .not_excluded
        .iter()
        .map(|one| one.refrigerant.as_str())
        .collect()
}

/// The shipped tables with a model that is beyond doubt.
fn exact_model() -> ContentTables<'static> {
    static EXACT: LazyLock<SaturationTable> = LazyLock::new(|| {
        let text = std::str::from_utf8(FLUIDS_BYTES).expect("UTF-8");
        let lines: Vec<String> = text.lines().map(without_doubt).collect();
        SaturationTable::read(SATURATION_BYTES, lines.join("\n").as_bytes()).expect("a table")
    });
    ContentTables {
        saturation: &EXACT,
        ..ContentTables::in_force()
    }
}

fn without_doubt(line: &str) -> String {
    let mut cells: Vec<&str> = line.splitn(6, ',').collect();
    if cells.len() == 6 && !line.starts_with("refrigerant") && !line.starts_with('#') {
        cells[4] = "0";
    }
    cells.join(",")
}

/// How far the pressure over liquid of `other` at 20 °C is from that of `content`.
fn distance(content: &str, other: &str, full_scale: &str) -> f64 {
    let tables = exact_model();
    let bubble = tables
        .saturation
        .fluid(other)
        .expect("a fluid")
        .at_kelvin(293.15);
    let psig = (bubble.expect("inside").bubble_kpa - 101.325) / PressureUnit::PSI.kilopascal();
    let mut reading = reading(&format!("{psig:.6}"), "20", "Cel");
    let accuracy = reading.accuracy.as_mut().expect("an accuracy");
    accuracy.full_scale = Some(pressure(full_scale, "psig"));
    let result = content_check(tables, &reading);
    let mut all = result.compatible.iter().chain(&result.not_excluded);
    let found = all.find(|one| one.refrigerant == content);
    found.map_or(f64::INFINITY, |one| one.difference_in_errors)
}

#[test]
fn distances_within_the_families() {
    for (content, other, eight_hundred, two_fifty) in [
        ("R-410A", "R-32", 0.3, 0.5),
        ("R-22", "R-290", 0.9, 1.7),
        ("R-22", "R-717", 0.6, 1.2),
        ("R-134a", "R-1234yf", 0.3, 0.6),
        ("R-134a", "R-12", 0.1, 0.2),
        ("R-404A", "R-507A", 0.3, 0.5),
    ] {
        let coarse = distance(content, other, "800");
        assert!(
            (coarse - eight_hundred).abs() <= 0.06,
            "{content}/{other}: {coarse}"
        );
        let fine = distance(content, other, "250");
        assert!(
            (fine - two_fifty).abs() <= 0.06,
            "{content}/{other}: {fine}"
        );
    }
    for (content, other) in [
        ("R-22", "R-410A"),
        ("R-134a", "R-22"),
        ("R-404A", "R-410A"),
        ("R-600a", "R-134a"),
    ] {
        assert_eq!(
            distance(content, other, "800"),
            f64::INFINITY,
            "{content}/{other}"
        );
    }
}

/// The main confusions of the same comparison, over R-410A and over R-134a at 20 °C.
#[test]
fn nothing_common_is_unique() {
    let tables = exact_model();
    let over = |psig| {
        let result = content_check(tables, &weighed(reading(psig, "20", "Cel"), "4"));
        let mut names: Vec<String> = compatible(&result).into_iter().map(str::to_owned).collect();
        names.sort();
        names
    };
    assert_eq!(
        over("195.3"),
        ["R-32", "R-410A", "R-452B", "R-454B", "R-466A"]
    );
    let of_134a = over("68.2");
    for name in ["R-1234yf", "R-12", "R-513A", "R-152a", "R-450A", "R-134a"] {
        assert!(of_134a.contains(&name.to_owned()), "{name}: {of_134a:?}");
    }
}

/// Common practice, no source: 130.6 psig is R-410A at 45 °F, and R-22 at 75 °F shows 132.2.
#[test]
fn one_reading_fits_r410a_when_it_is_cold_and_r22_when_it_is_warm() {
    let cold = check(&weighed(reading("131", "45", "[degF]"), "4"));
    assert_eq!(cold.verdict, ContentVerdict::Ambiguous);
    assert!(compatible(&cold).contains(&"R-410A") && !compatible(&cold).contains(&"R-22"));
    // Flammable members of the family of a refrigerant that is not.
    assert!(compatible(&cold).contains(&"R-454B") && cold.possibly_flammable);
    let warm = check(&weighed(reading("131", "75", "[degF]"), "4"));
    assert_eq!(warm.verdict, ContentVerdict::Ambiguous);
    assert!(compatible(&warm).contains(&"R-22") && !compatible(&warm).contains(&"R-410A"));
    // Ammonia and propane are in that family.
    let ammonia = warm
        .compatible
        .iter()
        .find(|one| one.refrigerant == "R-717")
        .expect("R-717");
    assert_eq!(
        (ammonia.safety_group, ammonia.toxic, ammonia.flammable),
        (Some("B2L"), Some(true), Some(true))
    );
    assert!(warm.possibly_toxic);
    for result in [&cold, &warm] {
        assert_eq!(result.caution, CONTENT_CAUTION);
        assert!(result.refused.is_empty() && result.doubts.is_empty());
        let sorted = |list: &[reports::physics::Candidate]| {
            list.windows(2)
                .all(|two| two[0].difference_in_errors <= two[1].difference_in_errors)
        };
        assert!(sorted(&result.compatible) && sorted(&result.not_excluded));
        assert!(
            result
                .compatible
                .iter()
                .all(|one| one.difference_in_errors <= 1.0)
        );
        assert!(
            result
                .not_excluded
                .iter()
                .all(|one| one.difference_in_errors > 1.0)
        );
    }
}

/// The all-vapour limits of an 11.9 l cylinder at 20 °C: 0.68 kg of R-410A, 0.33 kg of R-134a.
#[test]
fn without_liquid_the_pressure_says_nothing() {
    let at = |psig, net| check(&weighed(reading(psig, "20", "Cel"), net));
    assert_eq!(at("195.3", "0.90").verdict, ContentVerdict::Ambiguous);
    let vapour = at("195.3", "0.60");
    assert_eq!(vapour.verdict, ContentVerdict::Refused);
    assert!(
        vapour.refused[0].expected.contains("prove liquid"),
        "{:?}",
        vapour.refused
    );
    // Half a kilogram at 140 psig may be vapour of R-410A: it is not excluded, and nothing listed near
    // the reading may be refused for it.
    let thin = at("68.2", "0.50");
    let r410a = thin
        .not_excluded
        .iter()
        .find(|one| one.refrigerant == "R-410A")
        .expect("R-410A");
    assert_eq!(r410a.why, Why::LiquidNotProven);
    assert!(r410a.difference_kpa < 0.0);
    let thick = at("68.2", "4");
    assert!(!not_excluded(&thick).contains(&"R-410A"));
}

#[test]
fn unknown_weight_excludes_nothing_with_a_higher_pressure() {
    let result = check(&reading("68.2", "20", "Cel"));
    assert_eq!(result.verdict, ContentVerdict::Ambiguous);
    for name in ["R-410A", "R-22", "R-404A"] {
        assert!(not_excluded(&result).contains(&name), "{name}");
    }
    assert!(!not_excluded(&result).contains(&"R-123"));
    // 14 psi below the air: below every refrigerant, which weight alone could explain.
    let mut fine = reading("-14", "20", "Cel");
    fine.accuracy = Some(one_percent_of_reading());
    let vacuum = check(&fine);
    assert_eq!(vacuum.verdict, ContentVerdict::Refused);
    assert!(
        vacuum.refused[0].expected.contains("weight"),
        "{:?}",
        vacuum.refused
    );
}

#[test]
fn too_much_mass_is_refused_and_a_gas_above_its_critical_point_is_not_judged() {
    // 11.9 l hold 9.5 kg by the lowest rule for R-410A.
    let full = check(&weighed(reading("195.3", "20", "Cel"), "11.5"));
    assert_eq!(full.verdict, ContentVerdict::Refused);
    assert!(
        full.refused[0].came.contains("R-410A"),
        "{:?}",
        full.refused
    );
    assert!(full.compatible.iter().all(|one| one.over_fill_limit));
    let warm = check(&weighed(reading("302.9", "35", "Cel"), "4"));
    let gases: Vec<&str> = warm
        .not_judged
        .iter()
        .map(|other| other.refrigerant.as_str())
        .collect();
    assert_eq!(gases, ["R-13", "R-23", "R-744", "R-170"]);
    assert!(warm.not_judged[0].why.contains("critical"));
}

/// 9 kg in 11.9 l are 756 kg/m³. The liquid of R-152a is 912 at 20 °C and that of R-1270 514: the first
/// would leave room, so much of the second does not go in at all.
#[test]
fn a_cylinder_full_of_liquid_can_have_any_pressure() {
    let result = check(&weighed(reading("300", "20", "Cel"), "9"));
    assert!(
        !not_excluded(&result).contains(&"R-152a") && !not_excluded(&result).contains(&"R-1270")
    );
    // 11.3 kg are 949 kg/m³, between the 912 of R-152a and a tenth more.
    let fuller = check(&weighed(reading("300", "20", "Cel"), "11.3"));
    let r152a = fuller
        .not_excluded
        .iter()
        .find(|one| one.refrigerant == "R-152a")
        .expect("R-152a");
    assert_eq!(r152a.why, Why::LiquidFull);
}

#[test]
fn what_fits_nothing_says_so_and_asks_about_the_units() {
    // Air in R-410A: between its family and the gases nothing has 240 psig at 20 °C.
    let air = check(&weighed(reading("240", "20", "Cel"), "4"));
    assert_eq!(air.verdict, ContentVerdict::NoMatch);
    assert!(air.possibly_flammable && air.possibly_toxic);
    // 65 °F, where R-404A has 137 psig, taken for 65 °C, where R-142b has 128 and R-124 148.
    let mut hot = weighed(reading("138", "65", "Cel"), "4");
    hot.accuracy = Some(one_percent_of_reading());
    hot.temperature_accuracy = Some(temperature("0.5", "K"));
    let slip = check(&hot);
    assert_eq!(slip.verdict, ContentVerdict::NoMatch, "{slip:?}");
    assert!(slip.doubts[0].contains("[degF]"), "{:?}", slip.doubts);
    let mut bars = weighed(reading("13.5", "20", "Cel"), "4");
    bars.pressure = Some(pressure("3000", "psig"));
    bars.accuracy = Some(one_percent_of_reading());
    let slip = check(&bars);
    assert_eq!(slip.verdict, ContentVerdict::NoMatch);
    assert!(slip.doubts[0].contains("kPa"), "{:?}", slip.doubts);
}

#[test]
fn the_result_is_what_a_fill_limit_takes() {
    let cold = check(&weighed(reading("131", "45", "[degF]"), "4"));
    let Content::AnyOf(names) = cold.content() else {
        panic!("something is excluded")
    };
    assert!(names.contains(&"R-410A".to_owned()) && !names.contains(&"R-22".to_owned()));
    assert_eq!(
        names.len(),
        cold.compatible.len() + cold.not_excluded.len() + cold.not_judged.len()
    );
    let refused = check(&ContentReading::default());
    assert_eq!(refused.content(), Content::Unknown);
}

/// A gauge at 1 % of the reading separates more; none of it names one.
#[test]
fn a_better_gauge_leaves_fewer() {
    let mut fine = weighed(reading("117.3", "20", "Cel"), "4");
    let coarse = check(&fine).compatible.len();
    fine.accuracy = Some(one_percent_of_reading());
    fine.temperature_accuracy = Some(temperature("0.5", "K"));
    let finer = check(&fine);
    assert!(finer.compatible.len() < coarse, "{coarse}");
    assert_eq!(finer.verdict, ContentVerdict::Ambiguous);
}

proptest! {
    /// Sealed and vented, psi and kilopascal, Celsius and Fahrenheit: the same reading, the same lists.
    #[test]
    fn units_do_not_change_the_lists(psig in 20.0..400.0_f64, celsius in -20.0..60.0_f64) {
        let number = |value: f64| format!("{value:.9}");
        let american = weighed(reading(&number(psig), &number(celsius * 1.8 + 32.0), "[degF]"), "4");
        let mut metric = american.clone();
        metric.gauge = Some(GaugeKind::Sealed);
        metric.pressure = Some(pressure(&number(psig * PressureUnit::PSI.kilopascal()), "kPa{gauge}"));
        metric.wall_temperature = Some(temperature(&number(celsius), "Cel"));
        let (one, other) = (check(&american), check(&metric));
        prop_assert_eq!(one.verdict, other.verdict);
        prop_assert_eq!(compatible(&one), compatible(&other));
        prop_assert_eq!(not_excluded(&one), not_excluded(&other));
    }

    /// Over resting liquid a refrigerant is always compatible with itself, whatever its pressure.
    #[test]
    fn what_is_in_it_is_never_excluded(which in 0..57_usize, celsius in -39.0..64.0_f64) {
        let fluid = SaturationTable::shipped().fluids().nth(which).expect("a fluid");
        let Ok(it) = fluid.at_kelvin(celsius + 273.15) else { return Ok(()) };
        let kpa = format!("{:.9}", it.bubble_kpa);
        let mut reading = reading("1", &format!("{celsius:.9}"), "Cel");
        reading.pressure = Some(pressure(&kpa, "kPa"));
        let result = check(&reading);
        let listed = compatible(&result).contains(&fluid.designation.as_str());
        prop_assert!(listed || result.verdict == ContentVerdict::Refused, "{}", fluid.designation);
    }
}

#[test]
fn altitude_counts() {
    // 101.325 - 83.4276 kPa at 1 609.34 m (ISO 2533).
    let mut high = reading("20", "20", "Cel");
    high.barometer = None;
    high.altitude = Some(Quantity::read("altitude", "1609.34", "m").expect("read"));
    let result = check(&high);
    let at_sea_level = check(&reading("20", "20", "Cel"));
    let kpa = |result: &ContentResult| result.pressure_kpa.expect("a pressure");
    assert!((kpa(&at_sea_level) - kpa(&result) - 17.897).abs() < 0.001);
}
