//! Saturation: points from outside the program, what is refused, and what holds everywhere.
//!
//! `data/physics/saturation-points.csv` was computed with CoolProp 8.0.0 by a program of its own,
//! before this one was written; `tests/independent/physics.sh` compares with CoolProp itself, between the
//! points as well. Other values name their source beside them.

#![allow(clippy::float_arithmetic)] // Expected values of physics are floats.

use proptest::prelude::*;
use reports::number::Decimal;
use reports::physics::{
    FLUIDS_BYTES, GaugeKind, LocalAir, ManufacturerTable, Point, Pressure, Problem, ProblemCode,
    SATURATION_BYTES, SATURATION_CAUTION, SaturationAnswer, SaturationTable, Temperature,
    saturation, saturation_temperature,
};
use reports::refrigerant;
use serde::Deserialize;

fn table() -> &'static SaturationTable {
    SaturationTable::shipped()
}

fn ask(refrigerant: &str, number: &str, unit: &str) -> Result<SaturationAnswer, Problem> {
    let temperature = Temperature::read("temperature", number, unit).expect("a temperature");
    saturation(table(), refrigerant, temperature)
}

#[derive(Deserialize)]
struct Row {
    refrigerant: String,
    cel: String,
    bubble_kpa: Option<f64>,
    dew_kpa: Option<f64>,
    liquid_kg_m3: Option<f64>,
    vapour_kg_m3: Option<f64>,
    why_empty: String,
}

#[test]
fn every_point_that_was_computed_elsewhere() {
    let bytes = include_bytes!("data/physics/saturation-points.csv");
    let (mut points, mut refused) = (0, 0);
    for row in csv::Reader::from_reader(&bytes[..]).deserialize() {
        let row: Row = row.expect("a row");
        let answer = ask(&row.refrigerant, &row.cel, "Cel");
        let Some(bubble) = row.bubble_kpa else {
            let code = answer.expect_err(&row.why_empty).code;
            let wanted = match row.why_empty.starts_with("above critical") {
                true => ProblemCode::AboveCritical,
                false => ProblemCode::OutsideTable,
            };
            assert_eq!(code, wanted, "{} at {}", row.refrigerant, row.cel);
            refused += 1;
            continue;
        };
        let it = answer.expect("an answer").saturated;
        let place = format!("{} at {}", row.refrigerant, row.cel);
        // Its printed digits: three decimals of a kilopascal and of a density, four of a vapour.
        near(&place, it.bubble_kpa, Some(bubble), 0.000_51);
        near(&place, it.dew_kpa, row.dew_kpa, 0.000_51);
        near(
            &place,
            it.liquid_density_kg_m3.expect("a density"),
            row.liquid_kg_m3,
            0.001_1,
        );
        near(
            &place,
            it.vapour_density_kg_m3.expect("a density"),
            row.vapour_kg_m3,
            0.000_06,
        );
        points += 1;
    }
    assert_eq!((points, refused), (1_214, 40));
}

fn near(place: &str, came: f64, expected: Option<f64>, tolerance: f64) {
    let expected = expected.expect("a number");
    assert!(
        (came - expected).abs() <= tolerance,
        "{place}: {came}, not {expected}"
    );
}

/// Common practice, no source: a gauge at sea level shows 130.6 psig over R-410A at 45 °F; the table
/// of R-22 shows 132.2 psig at 75 °F and 76.1 at 45 °F (printed to 0.1 psi).
#[test]
fn what_the_trade_reads_off_its_charts() {
    for (refrigerant, fahrenheit, psig) in [
        ("R-410A", "45", 130.6),
        ("R-22", "75", 132.2),
        ("R-22", "45", 76.1),
    ] {
        let bubble = ask(refrigerant, fahrenheit, "[degF]")
            .expect("an answer")
            .saturated
            .bubble_kpa;
        let shown = bubble / 6.894_757_293 - 14.695_949;
        assert!(
            (shown - psig).abs() <= 0.1,
            "{refrigerant} at {fahrenheit}: {shown} psig"
        );
    }
}

/// Normal boiling points of ASHRAE Standard 34, from memory, printed to 0.1 K; a tenth of a kelvin is
/// half a percent of the pressure.
#[test]
fn normal_boiling_points() {
    let air = LocalAir::SEA_LEVEL;
    let one = Pressure::read("pressure", "101.325", "kPa").expect("a pressure");
    for (refrigerant, celsius) in [
        ("R-134a", -26.1),
        ("R-12", -29.8),
        ("R-717", -33.3),
        ("R-600a", -11.7),
        ("R-152a", -24.0),
        ("R-1234yf", -29.5),
        ("R-123", 27.8),
        ("R-11", 23.7),
    ] {
        let answer = saturation_temperature(table(), refrigerant, one, GaugeKind::Vented, air);
        let boils = answer.expect("an answer").bubble_cel;
        assert!((boils - celsius).abs() < 0.16, "{refrigerant}: {boils}");
    }
}

/// The compositions CoolProp was given are those of the refrigerant table, which has its own source.
#[test]
fn blends_have_the_composition_of_the_refrigerant_table() {
    let mut blends = 0;
    let text = std::str::from_utf8(FLUIDS_BYTES).expect("UTF-8");
    for line in text.lines().filter(|line| line.contains(",blend,")) {
        let cells: Vec<&str> = line.split(',').collect();
        let row = refrigerant::Table::shipped()
            .named(cells[0])
            .expect("a known refrigerant");
        let mut given: Vec<(String, Decimal)> = cells[2].split('/').map(part).collect();
        let parts = row
            .parts
            .iter()
            .map(|part| (part.refrigerant.clone(), part.percent));
        let mut wanted: Vec<(String, Decimal)> = parts.collect();
        given.sort();
        wanted.sort();
        assert_eq!(given, wanted, "{}", cells[0]);
        blends += 1;
    }
    assert_eq!(blends, 26);
}

/// CoolProp's `R152A 26.2` as the table's designation and percent.
fn part(text: &str) -> (String, Decimal) {
    let (name, percent) = text.rsplit_once(' ').expect("a name and percent");
    let asked = match name {
        "n-Butane" => "R-600",
        "IsoButane" => "R-600a",
        "CarbonDioxide" => "R-744",
        other => other,
    };
    let known = refrigerant::Table::shipped()
        .understood(asked)
        .expect("a known part");
    (
        known.designation.clone(),
        Decimal::parse(percent).expect("a decimal"),
    )
}

#[test]
fn every_refrigerant_of_the_table_is_a_known_one_and_all_is_small() {
    for fluid in table().fluids() {
        let known = refrigerant::Table::shipped().named(&fluid.designation);
        assert!(known.is_some(), "{}", fluid.designation);
        assert!(fluid.model_doubt_percent >= 0.5 && !fluid.doubt_source.is_empty());
    }
    assert_eq!(table().fluids().count(), 57);
    let embedded = SATURATION_BYTES.len() + FLUIDS_BYTES.len();
    assert!(embedded < 200_000, "{embedded} bytes");
}

/// The doubts as they were worked out beside the comparison with other sources.
#[test]
fn the_doubt_of_the_model_is_shown() {
    for (refrigerant, percent) in [
        ("R-22", 0.5),
        ("R-410A", 0.5),
        ("R-507A", 0.5),
        ("R-454B", 1.5),
        ("R-448A", 1.5),
        ("R-454C", 3.0),
        ("R-455A", 3.0),
        ("R-502", 3.0),
        ("R-417A", 5.0),
        ("R-422B", 5.0),
    ] {
        let answer = ask(refrigerant, "20", "Cel").expect("an answer");
        assert_eq!(
            answer.saturated.model_doubt_percent, percent,
            "{refrigerant}"
        );
    }
}

#[test]
fn the_answer_has_the_members_that_were_promised() {
    let answer = serde_json::to_value(ask("r410a", "5", "Cel").expect("an answer")).expect("JSON");
    assert_eq!(answer["refrigerant"], "R-410A");
    for member in [
        "bubble_kpa",
        "dew_kpa",
        "liquid_density_kg_m3",
        "vapour_density_kg_m3",
    ] {
        assert!(
            answer[member].as_f64().is_some_and(|number| number > 0.0),
            "{member}"
        );
    }
    assert_eq!(answer["model_doubt_percent"], 0.5);
    assert_eq!(answer["caution"], SATURATION_CAUTION);
}

#[test]
fn what_is_refused_says_what_to_do() {
    let refused = |refrigerant, number, unit| ask(refrigerant, number, unit).unwrap_err();
    let problem = refused("R-410A", "75", "Cel");
    assert_eq!(problem.code, ProblemCode::OutsideTable);
    assert!(problem.to_do.contains("[degF]"), "{problem}");
    assert!(problem.expected.contains("-40.0 to 65.0 Cel"), "{problem}");
    assert_eq!(problem.came, "75 Cel");
    let problem = refused("R-410A", "-41", "Cel");
    assert_eq!(problem.code, ProblemCode::OutsideTable);
    let problem = refused("R-744", "31", "Cel");
    assert_eq!(problem.code, ProblemCode::AboveCritical);
    assert!(problem.expected.contains("30.98 Cel"), "{problem}");
    let problem = refused("R-438A", "20", "Cel");
    assert_eq!(problem.code, ProblemCode::NoTable);
    assert!(problem.to_do.contains("manufacturer"), "{problem}");
    let problem = refused("R-9999", "20", "Cel");
    assert_eq!(problem.code, ProblemCode::UnknownRefrigerant);
    assert!(problem.came.contains("R-9999"), "{problem}");
}

#[test]
fn a_pressure_outside_the_table_names_the_unit_that_fits() {
    let ask = |number, unit| {
        let pressure = Pressure::read("pressure", number, unit).expect("a pressure");
        saturation_temperature(
            table(),
            "R-410A",
            pressure,
            GaugeKind::Vented,
            LocalAir::SEA_LEVEL,
        )
    };
    let problem = ask("130.6", "kPa").unwrap_err();
    assert_eq!(problem.code, ProblemCode::OutsideTable);
    assert!(problem.to_do.contains("psig"), "{problem}");
    assert_eq!(
        ask("-15", "psig").unwrap_err().code,
        ProblemCode::BelowVacuum
    );
    // At 130.6 psig R-410A boils at 45 °F = 7.22 °C (see above).
    let answer = ask("130.6", "psig").expect("an answer");
    assert!((answer.bubble_cel - 7.222).abs() < 0.05, "{answer:?}");
    assert!(answer.dew_cel > answer.bubble_cel);
}

fn published(source: &str) -> ManufacturerTable {
    // Invented numbers of the right size; only their shape matters here.
    let point = |celsius: f64, kpa: f64| Point {
        kelvin: celsius + 273.15,
        bubble_kpa: kpa,
        dew_kpa: kpa * 0.9,
        liquid_kg_m3: None,
        vapour_kg_m3: None,
    };
    ManufacturerTable {
        refrigerant: "R-438A".to_owned(),
        source: source.to_owned(),
        model_doubt_percent: 1.0,
        points: vec![point(0.0, 480.0), point(10.0, 660.0), point(20.0, 880.0)],
    }
}

#[test]
fn a_manufacturers_table_is_added_with_its_source() {
    let added = table()
        .with(&published("Halfmoon Gases, sheet 438, 2024"))
        .expect("a table");
    let at = Temperature::read("temperature", "10", "Cel").expect("a temperature");
    let answer = saturation(&added, "R438A", at).expect("an answer");
    assert_eq!(answer.source, "Halfmoon Gases, sheet 438, 2024");
    assert!((answer.saturated.bubble_kpa - 660.0).abs() < 1e-9);
    assert_eq!(answer.saturated.liquid_density_kg_m3, None);
    assert_eq!(answer.saturated.model_doubt_percent, 1.0);
    // The shipped tables are as they were.
    assert_eq!(
        saturation(table(), "R-438A", at).unwrap_err().code,
        ProblemCode::NoTable
    );
}

#[test]
fn a_broken_manufacturers_table_is_refused() {
    let refused = |table: &ManufacturerTable| self::table().with(table).map(|_| ()).unwrap_err();
    assert_eq!(refused(&published(" ")).code, ProblemCode::Missing);
    let mut falling = published("a sheet");
    falling.points[2].bubble_kpa = 600.0;
    assert_eq!(refused(&falling).code, ProblemCode::BadTable);
    let mut swapped = published("a sheet");
    swapped.points[1].dew_kpa = 700.0;
    assert!(refused(&swapped).expected.contains("dew pressure"));
    let mut short = published("a sheet");
    short.points.truncate(2);
    assert!(refused(&short).expected.contains("three rows"));
    let mut nothing = published("a sheet");
    nothing.points[0].bubble_kpa = f64::NAN;
    assert!(refused(&nothing).expected.contains("above zero"));
    let mut half = published("a sheet");
    half.points[1].liquid_kg_m3 = Some(1100.0);
    assert!(refused(&half).expected.contains("same columns"));
    let broken = SaturationTable::read(b"refrigerant,cel\nR-22,x\n", FLUIDS_BYTES).map(|_| ());
    assert_eq!(broken.unwrap_err().code, ProblemCode::BadTable);
}

/// Between the points the curve is near the one a second program drew through the same points, at
/// four places of each; here only that the dew pressure is not above the bubble pressure.
fn anywhere() -> impl Strategy<Value = (usize, f64)> {
    (0..57_usize, 0.0..1.0_f64)
}

proptest! {
    #[test]
    fn the_inverse_of_the_curve_is_the_temperature((which, share) in anywhere()) {
        let fluid = table().fluids().nth(which).expect("a fluid");
        let (low, high) = fluid.range_kelvin();
        let kelvin = low + share * (high - low);
        let it = fluid.at_kelvin(kelvin).expect("inside");
        let bubble = fluid.bubble_kelvin(it.bubble_kpa);
        let dew = fluid.dew_kelvin(it.dew_kpa);
        if share > 1e-9 && share < 1.0 - 1e-9 {
            prop_assert!((bubble.expect("inside") - kelvin).abs() < 1e-8);
            prop_assert!((dew.expect("inside") - kelvin).abs() < 1e-8);
        }
    }

    #[test]
    fn hotter_is_more_pressure_lighter_liquid_heavier_vapour((which, share) in anywhere(), step in 0.000_1..0.2_f64) {
        let fluid = table().fluids().nth(which).expect("a fluid");
        let (low, high) = fluid.range_kelvin();
        let kelvin = low + share * (1.0 - step) * (high - low);
        let later = (kelvin + step * (high - low)).min(high);
        let (cold, hot) = (fluid.at_kelvin(kelvin).expect("inside"), fluid.at_kelvin(later).expect("inside"));
        prop_assert!(cold.bubble_kpa < hot.bubble_kpa && cold.dew_kpa < hot.dew_kpa);
        prop_assert!(cold.liquid_density_kg_m3 > hot.liquid_density_kg_m3);
        prop_assert!(cold.vapour_density_kg_m3 < hot.vapour_density_kg_m3);
        // Azeotropes have bubble and dew within half a thousandth of each other.
        prop_assert!(cold.dew_kpa <= cold.bubble_kpa * 1.0005);
        prop_assert!(cold.liquid_density_kg_m3 > cold.vapour_density_kg_m3);
    }

    #[test]
    fn the_slope_is_that_of_the_curve((which, share) in anywhere()) {
        let fluid = table().fluids().nth(which).expect("a fluid");
        let (low, high) = fluid.range_kelvin();
        let kelvin = low + 0.01 + share * (high - low - 0.02);
        let at = |kelvin| fluid.at_kelvin(kelvin).expect("inside").bubble_kpa;
        let difference = (at(kelvin + 1e-3) - at(kelvin - 1e-3)) / 2e-3;
        let slope = fluid.bubble_slope(kelvin).expect("inside");
        prop_assert!((slope / difference - 1.0).abs() < 1e-3, "{slope} {difference}");
    }
}
