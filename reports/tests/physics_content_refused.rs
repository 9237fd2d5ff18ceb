//! Readings that a content check refuses: each missing thing is named, each impossible one explained.

use reports::mass::{Mass, Reading, Unit as MassUnit, read};
use reports::number::Decimal;
use reports::physics::{
    CONTENT_CAUTION, ContentReading, ContentResult, ContentTables, ContentVerdict, GaugeAccuracy,
    GaugeKind, Pressure, Problem, ProblemCode, Temperature, WaterCapacity, content_check,
};

fn pressure(number: &str, unit: &str) -> Pressure {
    Pressure::read("pressure", number, unit).expect("a pressure")
}

fn temperature(number: &str, unit: &str) -> Temperature {
    Temperature::read("temperature", number, unit).expect("a temperature")
}

fn pounds(text: &str) -> Mass {
    match read(text, MassUnit::from_word("lb")) {
        Reading::Mass(mass) => mass,
        other => panic!("{text}: {other:?}"),
    }
}

/// R-410A at 45 °F, everything said: it is judged.
fn good() -> ContentReading {
    ContentReading {
        pressure: Some(pressure("130.6", "psig")),
        gauge: Some(GaugeKind::Vented),
        accuracy: Some(GaugeAccuracy {
            percent: Decimal::from(1),
            full_scale: Some(pressure("800", "psig")),
            of_reading: false,
        }),
        wall_temperature: Some(temperature("45", "[degF]")),
        temperature_accuracy: None,
        altitude: None,
        barometer: Some(pressure("101.3", "kPa")),
        rested: Some(true),
        gross: Some(pounds("26")),
        tare: Some(pounds("17")),
        water_capacity: Some(WaterCapacity::read("wc", "26.2", "[lb_av]").expect("read")),
    }
}

fn check(reading: &ContentReading) -> ContentResult {
    content_check(ContentTables::in_force(), reading)
}

/// The one problem of a reading that was changed in one place.
fn refused(change: impl Fn(&mut ContentReading)) -> Problem {
    let mut reading = good();
    change(&mut reading);
    let result = check(&reading);
    assert_eq!(result.verdict, ContentVerdict::Refused);
    assert_eq!(result.refused.len(), 1, "{:?}", result.refused);
    assert_eq!(result.caution, CONTENT_CAUTION);
    assert!(result.possibly_flammable && result.possibly_toxic);
    result.refused[0].clone()
}

#[test]
fn the_good_reading_is_judged() {
    assert_eq!(check(&good()).verdict, ContentVerdict::Ambiguous);
}

#[test]
fn each_missing_thing_is_named() {
    let missing = |change: fn(&mut ContentReading)| {
        let problem = refused(change);
        assert_eq!(
            (problem.code, problem.came.as_str()),
            (ProblemCode::Missing, "nothing")
        );
        problem.field
    };
    assert_eq!(missing(|reading| reading.pressure = None), "pressure");
    assert_eq!(missing(|reading| reading.gauge = None), "gauge");
    assert_eq!(missing(|reading| reading.accuracy = None), "accuracy");
    assert_eq!(
        missing(|reading| reading.wall_temperature = None),
        "wall_temperature"
    );
    assert_eq!(missing(|reading| reading.barometer = None), "altitude");
    assert_eq!(missing(|reading| reading.tare = None), "tare");
    assert_eq!(
        missing(|reading| reading.water_capacity = None),
        "water_capacity"
    );
    let no_scale = refused(|reading| {
        reading.accuracy = reading.accuracy.map(|it| GaugeAccuracy {
            full_scale: None,
            ..it
        });
    });
    assert_eq!(no_scale.field, "accuracy.full_scale");
    assert!(no_scale.to_do.contains("dial"), "{no_scale}");
    let unrested = refused(|reading| reading.rested = None);
    assert_eq!(
        (unrested.code, unrested.came.as_str()),
        (ProblemCode::Missing, "no answer")
    );
    // All of them at once are all named, the pressure once.
    let all = check(&ContentReading::default()).refused;
    let fields: Vec<&str> = all.iter().map(|problem| problem.field.as_str()).collect();
    assert_eq!(fields, ["pressure", "wall_temperature", "rested"]);
}

#[test]
fn what_is_not_needed_is_not_asked_for() {
    let mut absolute = good();
    absolute.pressure = Some(pressure("145.3", "[psi]"));
    (absolute.gauge, absolute.barometer) = (None, None);
    assert_eq!(check(&absolute).verdict, ContentVerdict::Ambiguous);
    let mut sealed = good();
    (sealed.gauge, sealed.barometer) = (Some(GaugeKind::Sealed), None);
    assert_eq!(check(&sealed).verdict, ContentVerdict::Ambiguous);
    let mut unweighed = good();
    (unweighed.gross, unweighed.tare, unweighed.water_capacity) = (None, None, None);
    assert_eq!(check(&unweighed).verdict, ContentVerdict::Ambiguous);
}

#[test]
fn impossible_readings_are_explained() {
    let below = refused(|reading| reading.pressure = Some(pressure("-15", "psig")));
    assert_eq!(below.code, ProblemCode::BelowVacuum);
    let hot = refused(|reading| reading.wall_temperature = Some(temperature("75", "Cel")));
    assert_eq!(hot.code, ProblemCode::OutsideTable);
    assert!(hot.to_do.contains("[degF]"), "{hot}");
    let moving = refused(|reading| reading.rested = Some(false));
    assert_eq!(
        (moving.code, moving.field.as_str()),
        (ProblemCode::Contradiction, "rested")
    );
    let light = refused(|reading| reading.gross = Some(pounds("16")));
    assert_eq!(
        (light.code, light.field.as_str()),
        (ProblemCode::Contradiction, "gross")
    );
    let altitude = refused(|reading| reading.barometer = Some(pressure("29.92", "kPa")));
    assert!(altitude.to_do.contains("[in_i'Hg]"), "{altitude}");
    let no_water = refused(|reading| {
        reading.water_capacity = Some(WaterCapacity::read("wc", "0", "L").expect("read"));
    });
    assert_eq!(no_water.field, "water_capacity");
}

#[test]
fn a_gauge_must_be_able_to_show_what_it_shows() {
    let accuracy = |percent: &str, full_scale: Option<Pressure>| {
        Some(GaugeAccuracy {
            percent: Decimal::parse(percent).expect("a decimal"),
            full_scale,
            of_reading: false,
        })
    };
    let small = refused(|reading| {
        reading.accuracy = accuracy("1", Some(pressure("30", "psig")));
    });
    assert_eq!(
        (small.code, small.field.as_str()),
        (ProblemCode::Contradiction, "accuracy.full_scale")
    );
    assert!(small.to_do.contains("bar"), "{small}");
    let exact = refused(|reading| reading.accuracy = accuracy("0", Some(pressure("800", "psig"))));
    assert_eq!(exact.field, "accuracy");
    let coarse =
        refused(|reading| reading.accuracy = accuracy("11", Some(pressure("800", "psig"))));
    assert_eq!(coarse.came, "11 percent");
    // 5 psi on a gauge that may be off by 8.
    let nothing = refused(|reading| reading.pressure = Some(pressure("5", "psig")));
    assert_eq!(nothing.field, "pressure");
    assert!(nothing.expected.contains("55.2 kPa"), "{nothing}");
}

#[test]
fn a_temperature_must_be_known_well_enough() {
    // 30.6 kPa/K of R-410A at 7 °C (3 % a kelvin): 4 K are more than a tenth of the pressure.
    let coarse = refused(|reading| reading.temperature_accuracy = Some(temperature("4", "K")));
    assert_eq!(coarse.field, "temperature_accuracy");
    assert!(coarse.expected.contains("10 %"), "{coarse}");
    let exact = refused(|reading| reading.temperature_accuracy = Some(temperature("0", "K")));
    assert!(exact.to_do.contains("1 K"), "{exact}");
    // Where nobody said, 1 K is taken.
    let mut said = good();
    said.temperature_accuracy = Some(temperature("1.8", "[degF]"));
    let names = |result: &ContentResult| {
        let names = result.compatible.iter().map(|one| one.refrigerant.clone());
        names.collect::<Vec<String>>()
    };
    assert_eq!(names(&check(&good())), names(&check(&said)));
}

#[test]
fn the_answer_is_an_observation_that_can_be_stored() {
    let json = serde_json::to_value(check(&good())).expect("JSON");
    assert_eq!(json["verdict"], "ambiguous");
    assert_eq!(json["caution"], CONTENT_CAUTION);
    let first = &json["compatible"][0];
    for member in [
        "bubble_kpa",
        "dew_kpa",
        "difference_kpa",
        "difference_psi",
        "difference_in_errors",
    ] {
        assert!(first[member].as_f64().is_some(), "{member}");
    }
    assert_eq!(first["why"], "pressure");
    let refused = serde_json::to_value(check(&ContentReading::default())).expect("JSON");
    assert_eq!(refused["verdict"], "refused");
    assert_eq!(refused["refused"][0]["field"], "pressure");
    assert!(refused["refused"][0]["to_do"].is_string());
}
