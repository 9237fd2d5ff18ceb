//! Vacuum rise tests: rows worked out elsewhere, criteria exactly, shapes, and what is refused.

#![allow(clippy::float_arithmetic)] // Expected values of physics are floats.

use reports::number::Decimal;
use reports::physics::{
    Pressure, Problem, ProblemCode, Quantity, VACUUM_CAUTION, VacuumCriteria, VacuumReading,
    VacuumResult, VacuumShape, VacuumTest, VacuumVerdict, judge_vacuum_test,
};
use serde::Deserialize;
use std::collections::HashMap;

fn reading(minute: &str, number: &str, unit: &str) -> VacuumReading {
    VacuumReading {
        minute: Decimal::parse(minute).expect("a decimal"),
        pressure: Pressure::read("pressure", number, unit).expect("a pressure"),
    }
}

fn microns(readings: &[(&str, &str)], criterion: &str) -> VacuumTest {
    let readings = readings
        .iter()
        .map(|(minute, number)| reading(minute, number, "micron"));
    VacuumTest {
        readings: readings.collect(),
        volume: Some(Quantity::read("volume", "10", "L").expect("a volume")),
        criterion: VacuumCriteria::shipped()
            .named(criterion)
            .expect("a criterion")
            .clone(),
    }
}

fn judged(test: &VacuumTest) -> VacuumResult {
    judge_vacuum_test(test).expect("a result")
}

fn refused(test: &VacuumTest) -> Problem {
    judge_vacuum_test(test).unwrap_err()
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
        if row.kind != "vacuum_rise" {
            continue;
        }
        let pairs = row
            .inputs
            .split(';')
            .filter_map(|pair| pair.split_once('='));
        let inputs: HashMap<&str, &str> = pairs.collect();
        let criterion = match inputs["criterion"] {
            "end<=500 within 20 min after isolation" => "END_500_20",
            "end<700 within 15 min" => "END_700_15",
            "end<=1500 within 10 min" => "JOINT_1500_10",
            other => panic!("{}: no such criterion: {other}", row.case),
        };
        let readings = [
            ("0", inputs["start_micron"]),
            (inputs["minutes"], inputs["end_micron"]),
        ];
        let result = judged(&microns(&readings, criterion));
        let came = match row.output.as_str() {
            "rise_rate" => result.rise_micron_per_minute,
            "start_pa" => result.start_pa,
            "end_pa" => result.end_pa,
            "leak_rate" => result.leak_pa_m3_per_s.expect("a volume"),
            "verdict" => {
                let came = serde_json::to_value(result.verdict).expect("JSON");
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
    assert_eq!(seen, 30);
}

#[test]
fn criteria_are_met_to_the_last_digit() {
    let end =
        |number, criterion| judged(&microns(&[("0", "400"), ("30", number)], criterion)).verdict;
    assert_eq!(end("500", "END_500_20"), VacuumVerdict::Pass);
    assert_eq!(end("500.0000001", "END_500_20"), VacuumVerdict::Fail);
    assert_eq!(end("699.9999999", "END_700_15"), VacuumVerdict::Pass);
    assert_eq!(end("700", "END_700_15"), VacuumVerdict::Fail);
    // From 40.00 kPa: a rise of exactly 0.17 is not less than 0.17.
    let chiller = |number: &str| {
        let mut test = microns(&[], "CHILLER_24H");
        test.readings = vec![reading("0", "40.00", "kPa"), reading("1440", number, "kPa")];
        judged(&test).verdict
    };
    assert_eq!(chiller("40.16"), VacuumVerdict::Pass);
    assert_eq!(chiller("40.17"), VacuumVerdict::Fail);
}

#[test]
fn a_short_test_decides_only_that_it_failed() {
    let short = judged(&microns(&[("0", "400"), ("10", "450")], "END_500_20"));
    assert_eq!(short.verdict, VacuumVerdict::NotDecided);
    assert_eq!(short.open[0].code, ProblemCode::TooShort);
    assert!(short.open[0].expected.starts_with("20") && short.open[0].came.starts_with("10"));
    let failed = judged(&microns(&[("0", "400"), ("10", "900")], "END_500_20"));
    assert_eq!(failed.verdict, VacuumVerdict::Fail);
}

#[test]
fn a_pressure_that_falls_or_begins_too_high_is_asked_about() {
    let falls = judged(&microns(&[("0", "450"), ("20", "300")], "END_500_20"));
    assert_eq!(falls.verdict, VacuumVerdict::NotDecided);
    assert!(falls.open[0].to_do.contains("valve to the pump"));
    assert_eq!(falls.shape, VacuumShape::TooFewReadings);
    let high = judged(&microns(&[("0", "900"), ("10", "1200")], "JOINT_1500_10"));
    assert_eq!(
        (high.verdict, high.open[0].code),
        (VacuumVerdict::NotDecided, ProblemCode::OutOfRange)
    );
}

/// Moisture: 300, 440, 450 micron. A leak: 300, 400, 500. In between: 300, 420, 470. Common practice.
#[test]
fn the_shape_tells_moisture_from_a_leak() {
    let shape = |middle, end| {
        judged(&microns(
            &[("0", "300"), ("10", middle), ("20", end)],
            "END_500_20",
        ))
        .shape
    };
    assert_eq!(shape("440", "450"), VacuumShape::LevelsOff);
    assert_eq!(shape("400", "500"), VacuumShape::Steady);
    assert_eq!(shape("420", "470"), VacuumShape::Unclear);
    assert_eq!(shape("310", "300"), VacuumShape::NoRise);
    // The middle reading need not be in the middle: 300 at 0, 432 at 6, 446 at 13, 450 at 20.
    let uneven = microns(
        &[("0", "300"), ("6", "432"), ("13", "446"), ("20", "450")],
        "END_500_20",
    );
    assert_eq!(judged(&uneven).shape, VacuumShape::LevelsOff);
}

#[test]
fn what_is_refused_says_what_to_do() {
    let with = |readings: Vec<VacuumReading>| VacuumTest {
        readings,
        ..microns(&[], "END_500_20")
    };
    let one = refused(&with(vec![reading("0", "400", "micron")]));
    assert_eq!(one.code, ProblemCode::Missing);
    let wrong_unit = refused(&with(vec![
        reading("0", "400", "kPa"),
        reading("20", "450", "kPa"),
    ]));
    assert_eq!(wrong_unit.code, ProblemCode::OutOfRange);
    assert!(wrong_unit.to_do.contains("um[Hg]"), "{wrong_unit}");
    let gauge = refused(&with(vec![
        reading("0", "-14", "psig"),
        reading("20", "-14", "psig"),
    ]));
    assert!(gauge.to_do.contains("manifold gauge cannot"), "{gauge}");
    let below = refused(&with(vec![
        reading("0", "-1", "micron"),
        reading("20", "450", "micron"),
    ]));
    assert_eq!(below.code, ProblemCode::OutOfRange);
    let backwards = refused(&microns(&[("20", "400"), ("0", "450")], "END_500_20"));
    assert!(backwards.came.contains("20, 0"), "{backwards}");
    let mut no_volume = microns(&[("0", "400"), ("20", "450")], "END_500_20");
    no_volume.volume = Some(Quantity::read("volume", "0", "L").expect("read"));
    assert_eq!(refused(&no_volume).field, "volume");
    let unknown = VacuumCriteria::shipped().named("MINE").unwrap_err();
    assert!(unknown.expected.contains("END_500_20"), "{unknown}");
    let broken = b"criterion_id,kind\nX,end\n";
    assert_eq!(
        VacuumCriteria::read(broken).map(|_| ()).unwrap_err().code,
        ProblemCode::BadTable
    );
}

#[test]
fn the_result_is_stored_with_its_criterion_and_caution() {
    let json = serde_json::to_value(judged(&microns(
        &[("0", "480"), ("20", "495")],
        "END_500_20",
    )));
    let json = json.expect("JSON");
    assert_eq!(json["criterion"]["limit"]["value"], "500");
    assert_eq!(json["criterion"]["limit"]["unit"], "um[Hg]");
    assert_eq!(
        (json["verdict"].as_str(), json["minutes"].as_str()),
        (Some("pass"), Some("20"))
    );
    assert_eq!(json["caution"], VACUUM_CAUTION);
    assert_eq!(VacuumCriteria::shipped().all().len(), 6);
}
