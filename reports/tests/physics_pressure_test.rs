//! Pressure tests with nitrogen: rows worked out elsewhere, the questions about the sensors, and what
//! is refused.
//!
//! `data/physics/pressure-test.csv` was worked out by a program of its own: the ideal law, and constant
//! density with the nitrogen of CoolProp 8.0.0.

#![allow(clippy::float_arithmetic)] // Expected values of physics are floats.

use proptest::prelude::*;
use reports::number::Decimal;
use reports::physics::{
    GaugeKind, LocalAir, PRESSURE_TEST_CAUTION, Pressure, PressureCriterion, PressureResult,
    PressureTest, PressureVerdict, Problem, ProblemCode, SensorAnswers, Temperature, TestReading,
    check_design_pressure, judge_pressure_test,
};
use serde::Deserialize;
use std::collections::HashMap;

fn pressure(number: &str) -> Pressure {
    Pressure::read("pressure", number, "psig").expect("a pressure")
}

fn fahrenheit(number: &str) -> Temperature {
    Temperature::read("temperature", number, "[degF]").expect("a temperature")
}

fn minutes(count: i64) -> Decimal {
    Decimal::from(count)
}

/// From `psig at °F` to `psig at °F`, half a psi and one degree, an hour by the shop's criterion.
fn test(start: (&str, &str), end: (&str, &str)) -> PressureTest {
    let reading = |(psig, degrees)| TestReading {
        pressure: pressure(psig),
        temperature: fahrenheit(degrees),
    };
    PressureTest {
        start: reading(start),
        end: reading(end),
        gauge: GaugeKind::Vented,
        air: LocalAir::SEA_LEVEL,
        pressure_accuracy: pressure("0.5"),
        temperature_accuracy: fahrenheit("1"),
        resolution: None,
        minutes: minutes(60),
        design_pressure: pressure("700"),
        criterion: PressureCriterion {
            text: "no loss beyond uncertainty after 60 minutes".to_owned(),
            source: "the shop".to_owned(),
            minutes: minutes(60),
            acceptance: None,
        },
        sensors: SensorAnswers::default(),
    }
}

fn all_yes() -> SensorAnswers {
    SensorAnswers {
        in_shade: Some(true),
        on_tested_part: Some(true),
        same_place: Some(true),
        settled_after_filling: Some(true),
    }
}

fn judged(test: &PressureTest) -> PressureResult {
    judge_pressure_test(test).expect("a result")
}

fn refused(test: &PressureTest) -> Problem {
    judge_pressure_test(test).unwrap_err()
}

#[derive(Deserialize)]
struct Row {
    case: String,
    kind: String,
    inputs: String,
    output: String,
    expected: String,
    tolerance_abs: String,
}

#[test]
fn every_row_that_was_worked_out_elsewhere() {
    let bytes = include_bytes!("data/physics/pressure-test.csv");
    let mut seen = 0;
    for row in csv::Reader::from_reader(&bytes[..]).deserialize() {
        let row: Row = row.expect("a row");
        if !row.kind.starts_with("n2_") {
            continue;
        }
        let pairs = row
            .inputs
            .split(';')
            .filter_map(|pair| pair.split_once('='));
        let inputs: HashMap<&str, &str> = pairs.collect();
        let of = |name: &str, other| *inputs.get(name).unwrap_or(&other);
        let end = of("p2_psig", of("p1_psig", ""));
        let mut test = test((of("p1_psig", ""), of("t1_f", "")), (end, of("t2_f", "")));
        test.pressure_accuracy = pressure(of("u_p_psi", "0.5"));
        test.temperature_accuracy = fahrenheit(of("u_t_f", "1"));
        let air = Pressure::read("barometer", of("atm_kpa", ""), "kPa").expect("a pressure");
        test.air = LocalAir::from_barometer(air).expect("air");
        let result = judged(&test);
        let came = match row.output.as_str() {
            "expected_ideal" => result.expected_ideal,
            "expected_real" => result.expected,
            "loss" => result.loss,
            "U_k2" => result.smallest_detectable_loss,
            "verdict" => {
                let came = serde_json::to_value(result.by_numbers).expect("JSON");
                assert_eq!(came, row.expected, "{}", row.case);
                seen += 1;
                continue;
            }
            other => panic!("{}: no such output: {other}", row.case),
        };
        let (expected, tolerance) = (
            row.expected.parse::<f64>(),
            row.tolerance_abs.parse::<f64>(),
        );
        let off = (came - expected.expect("a number")).abs();
        assert!(
            off <= tolerance.expect("a number"),
            "{} {}: {came}",
            row.case,
            row.output
        );
        seen += 1;
    }
    assert_eq!(seen, 95);
}

/// A second sensor in the sun reads 85 °F while the gas is still at 70: row P036 of the table.
#[test]
fn a_sunny_test_is_not_decided_until_it_is_answered_and_then_passes() {
    let mut sunny = test(("150", "70"), ("150", "85"));
    let result = judged(&sunny);
    assert_eq!(result.verdict, PressureVerdict::NotDecided);
    assert_eq!(result.by_numbers, PressureVerdict::LossBeyondUncertainty);
    let asked: Vec<&str> = result.open.iter().map(|open| open.field.as_str()).collect();
    assert_eq!(
        asked,
        [
            "sensors.in_shade",
            "sensors.on_tested_part",
            "sensors.same_place",
            "sensors.settled_after_filling",
        ]
    );
    assert!(
        result
            .open
            .iter()
            .all(|open| open.code == ProblemCode::Missing)
    );
    // It was in the sun: that is said, and stays open.
    sunny.sensors = SensorAnswers {
        in_shade: Some(false),
        ..all_yes()
    };
    let result = judged(&sunny);
    assert_eq!(result.verdict, PressureVerdict::NotDecided);
    assert!(
        result.open[0].to_do.contains("Shade the sensor"),
        "{:?}",
        result.open
    );
    assert_eq!(result.open.len(), 1);
    // Read again in the shade, it is 70 °F as before, and nothing was lost.
    let mut shaded = test(("150", "70"), ("150", "70"));
    shaded.sensors = all_yes();
    let result = judged(&shaded);
    assert_eq!(result.verdict, PressureVerdict::NoLossBeyondUncertainty);
    assert!(result.open.is_empty() && result.loss.abs() < 1e-9);
    assert!((result.smallest_detectable_loss - 0.96).abs() < 0.01);
    assert_eq!(result.caution, PRESSURE_TEST_CAUTION);
}

#[test]
fn a_loss_stands_once_the_questions_are_answered() {
    let mut lost = test(("150", "70"), ("144", "60"));
    lost.sensors = all_yes();
    assert_eq!(
        judged(&lost).verdict,
        PressureVerdict::LossBeyondUncertainty
    );
    // However short it was.
    lost.minutes = minutes(5);
    assert_eq!(
        judged(&lost).verdict,
        PressureVerdict::LossBeyondUncertainty
    );
}

#[test]
fn temperatures_from_two_places_decide_nothing() {
    let mut test = test(("150", "70"), ("146.9", "60"));
    assert_eq!(
        judged(&test).verdict,
        PressureVerdict::NoLossBeyondUncertainty
    );
    test.sensors.same_place = Some(false);
    let result = judged(&test);
    assert_eq!(result.verdict, PressureVerdict::NotDecided);
    assert_eq!(result.open[0].code, ProblemCode::Contradiction);
    assert!(result.open[0].expected.contains("same place"));
}

#[test]
fn a_test_shorter_than_its_criterion_is_not_decided() {
    let mut short = test(("150", "70"), ("146.9", "60"));
    short.minutes = minutes(20);
    let result = judged(&short);
    assert_eq!(result.verdict, PressureVerdict::NotDecided);
    assert_eq!(result.open[0].code, ProblemCode::TooShort);
    assert!(result.open[0].expected.starts_with("60") && result.open[0].came.starts_with("20"));
}

#[test]
fn more_pressure_in_colder_gas_is_no_pass() {
    // Row P037: by 4 psi, which makes the test invalid by itself.
    let result = judged(&test(("150", "70"), ("151", "60")));
    assert_eq!(
        result.verdict,
        PressureVerdict::GainBeyondUncertaintyTestInvalid
    );
    // By less than the uncertainty of coarse instruments: asked about.
    let mut coarse = test(("150", "70"), ("151", "68"));
    coarse.pressure_accuracy = pressure("0.9");
    coarse.temperature_accuracy = fahrenheit("1.9");
    let result = judged(&coarse);
    assert_eq!(result.by_numbers, PressureVerdict::NoLossBeyondUncertainty);
    assert_eq!(result.verdict, PressureVerdict::NotDecided);
    assert_eq!(result.open[0].code, ProblemCode::Contradiction);
    assert!(
        result.open[0].came.contains("151 psig at 68 [degF]"),
        "{:?}",
        result.open
    );
}

#[test]
fn an_acceptable_loss_needs_instruments_that_see_it() {
    let mut fine = test(("150", "70"), ("146.9", "60"));
    fine.criterion.acceptance = Some(pressure("1"));
    fine.resolution = Some(pressure("0.25"));
    assert_eq!(
        judged(&fine).verdict,
        PressureVerdict::NoLossBeyondUncertainty
    );
    let mut coarse_gauge = fine.clone();
    coarse_gauge.resolution = Some(pressure("0.5"));
    assert_eq!(judged(&coarse_gauge).open[0].field, "resolution");
    coarse_gauge.resolution = None;
    assert_eq!(judged(&coarse_gauge).open[0].came, "nothing");
    // 1 % of 500 psi and 2 °F: U is 8.7 psi, blind to a loss of 1 psi.
    let mut blind = fine;
    (blind.pressure_accuracy, blind.temperature_accuracy) = (pressure("5"), fahrenheit("2"));
    let result = judged(&blind);
    assert_eq!(
        (result.verdict, result.open[0].field.as_str()),
        (PressureVerdict::NotDecided, "pressure_accuracy")
    );
}

#[test]
fn never_above_the_nameplate_to_the_last_digit() {
    let design = Pressure::read("design_pressure", "3.1", "MPa{gauge}").expect("a pressure");
    let tested = |number, unit| {
        let test = Pressure::read("pressure", number, unit).expect("a pressure");
        check_design_pressure(test, design).map_err(|problem| problem.code)
    };
    assert_eq!(tested("3100", "kPa{gauge}"), Ok(()));
    assert_eq!(
        tested("3100.0000000001", "kPa{gauge}"),
        Err(ProblemCode::AboveDesignPressure)
    );
    // 3.1 MPa is 449.617 psi: 3 100 000 / 6 894.757293.
    assert_eq!(tested("449.61", "psig"), Ok(()));
    assert_eq!(
        tested("449.62", "psig"),
        Err(ProblemCode::AboveDesignPressure)
    );
    assert_eq!(tested("31", "bar"), Err(ProblemCode::Contradiction));
    let mut test = test(("450", "70"), ("450", "70"));
    test.design_pressure = design;
    // What has happened is judged all the same, and said.
    let result = judged(&test);
    assert_eq!(result.by_numbers, PressureVerdict::NoLossBeyondUncertainty);
    let problem = result.above_design_pressure.expect("a problem");
    assert_eq!(problem.code, ProblemCode::AboveDesignPressure);
    assert!(
        problem.expected.contains("3.1 MPa{gauge}") && problem.came == "450 psig",
        "{problem}"
    );
    test.design_pressure = pressure("450");
    assert_eq!(judged(&test).above_design_pressure, None);
    test.design_pressure = Pressure::read("design_pressure", "31", "bar").expect("a pressure");
    assert_eq!(refused(&test).code, ProblemCode::Contradiction);
}

#[test]
fn what_is_refused_says_what_to_do() {
    let celsius_typed_as_kelvin = Temperature::read("temperature", "21", "K").expect("read");
    let mut wrong = test(("150", "70"), ("150", "70"));
    wrong.end.temperature = celsius_typed_as_kelvin;
    let problem = refused(&wrong);
    assert_eq!(
        (problem.code, problem.field.as_str()),
        (ProblemCode::OutOfRange, "end.temperature")
    );
    assert!(problem.to_do.contains("Cel"), "{problem}");
    assert_eq!(
        refused(&test(("-20", "70"), ("-20", "70"))).code,
        ProblemCode::BelowVacuum
    );
    assert_eq!(
        refused(&test(("650", "70"), ("650", "70"))).code,
        ProblemCode::OutOfRange
    );
    let mut exact = test(("150", "70"), ("150", "70"));
    exact.pressure_accuracy = pressure("0");
    assert_eq!(refused(&exact).field, "pressure_accuracy");
    let mut exact = test(("150", "70"), ("150", "70"));
    exact.temperature_accuracy = fahrenheit("-1");
    assert_eq!(refused(&exact).field, "temperature_accuracy");
    let mut no_time = test(("150", "70"), ("150", "70"));
    no_time.minutes = minutes(0);
    assert_eq!(refused(&no_time).field, "minutes");
}

#[test]
fn the_result_is_stored_with_its_criterion() {
    let json = serde_json::to_value(judged(&test(("150", "70"), ("146.9", "60")))).expect("JSON");
    assert_eq!(json["verdict"], "no_loss_beyond_uncertainty");
    assert_eq!(json["criterion"]["source"], "the shop");
    assert_eq!(json["criterion"]["minutes"], "60");
    assert_eq!(
        (json["unit"].as_str(), json["minutes"].as_str()),
        (Some("psig"), Some("60"))
    );
    assert!(json["smallest_detectable_loss"].as_f64().is_some());
}

fn number(value: f64) -> Decimal {
    Decimal::parse(&format!("{value:.6}")).expect("a decimal")
}

proptest! {
    /// Written in other units, the same test shows the same.
    #[test]
    fn units_do_not_change_the_result(psig in 50.0..550.0_f64, start in 20.0..120.0_f64, end in 20.0..120.0_f64, drop in -3.0..8.0_f64) {
        let mut american = test(("0", "0"), ("0", "0"));
        american.start.pressure.value = number(psig);
        american.start.temperature.value = number(start);
        american.end.pressure.value = number(psig - drop);
        american.end.temperature.value = number(end);
        let mut metric = american.clone();
        for reading in [&mut metric.start, &mut metric.end] {
            let kpa = reading.pressure.size_kpa();
            reading.pressure = Pressure::read("pressure", &number(kpa).to_string(), "kPag").expect("read");
            let celsius = reading.temperature.kelvin("temperature").expect("warm") - 273.15;
            reading.temperature = Temperature::read("temperature", &number(celsius).to_string(), "Cel").expect("read");
        }
        let (one, other) = (judged(&american), judged(&metric));
        prop_assert!((one.loss_kpa - other.loss_kpa).abs() < 1e-4);
        prop_assert!((one.uncertainty_kpa - other.uncertainty_kpa).abs() < 1e-4);
    }

    /// Warmer gas has more pressure, and what was expected there leads back to the start.
    #[test]
    fn there_and_back_is_where_it_began(psig in 50.0..550.0_f64, start in 20.0..110.0_f64, more in 0.1..20.0_f64) {
        let mut warmed = test(("0", "0"), ("0", "0"));
        warmed.start.pressure.value = number(psig);
        warmed.start.temperature.value = number(start);
        warmed.end.temperature.value = number(start + more);
        let expected = judged(&warmed).expected;
        prop_assert!(expected > psig);
        let mut back = warmed.clone();
        back.start.pressure.value = number(expected);
        (back.start.temperature, back.end.temperature) = (warmed.end.temperature, warmed.start.temperature);
        prop_assert!((judged(&back).expected - psig).abs() < 1e-5);
    }
}
