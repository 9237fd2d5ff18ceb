//! Units: every row of a table of conversions worked out from the definitions (NIST Special
//! Publication 811, ISO 2533), what is refused, and that ways there and back agree.
//!
//! The rows were made by a program of its own in exact decimals; each names its source. Masses have
//! their rows in `data/mass-units.csv`.

#![allow(clippy::float_arithmetic)] // Expected values of physics are floats.

use proptest::prelude::*;
use reports::number::{Decimal, Fraction};
use reports::physics::{
    Against, DensityUnit, GaugeKind, LengthUnit, LocalAir, Pressure, PressureUnit, ProblemCode,
    Quantity, Temperature, TemperatureUnit, Unit, VolumeUnit, WaterCapacity, degree_size_kelvin,
};
use serde::Deserialize;

#[derive(Deserialize)]
struct Row {
    case: String,
    kind: String,
    input: String,
    input_unit: String,
    expected: String,
    expected_unit: String,
    tolerance_abs: String,
}

#[test]
fn every_row_of_the_table_of_units() {
    let bytes = include_bytes!("data/physics/units.csv");
    let mut seen = 0;
    for row in csv::Reader::from_reader(&bytes[..]).deserialize() {
        let row: Row = row.expect("a row");
        match row.kind.as_str() {
            "pressure-gauge-to-abs" => close(&row, gauge(&row)),
            "pressure" | "vacuum" => close(&row, pressure(&row)),
            "temperature" => close(&row, temperature(&row)),
            "temperature-difference" => close(&row, fahrenheit_interval(&row)),
            "altitude" => close(&row, altitude(&row).kpa),
            "volume" => close(&row, volume(&row)),
            "density" => close(&row, density(&row)),
            other => panic!("{}: no such kind of row: {other}", row.case),
        }
        seen += 1;
    }
    assert_eq!(seen, 67);
}

fn close(row: &Row, came: f64) {
    let expected: f64 = row.expected.parse().expect("a number");
    // A float cannot meet a tolerance of nothing; fourteen digits are as good as exact here.
    let tolerance: f64 = row.tolerance_abs.parse().expect("a tolerance");
    let tolerance = tolerance.max(expected.abs() * 1e-14);
    let difference = (came - expected).abs();
    assert!(
        difference <= tolerance,
        "{}: {came}, not {expected}",
        row.case
    );
}

fn read_pressure(number: &str, unit: &str) -> Pressure {
    Pressure::read("pressure", number, unit).expect("a pressure")
}

fn gauge(row: &Row) -> f64 {
    let air = match row.input_unit.as_str() {
        "psig at 101.325 kPa" => LocalAir::from_barometer(read_pressure("101.325", "kPa")),
        _ => LocalAir::at_altitude(Quantity::read("altitude", "1609.34", "m").expect("metres")),
    };
    let reading = read_pressure(&row.input, "psig");
    let air = air.expect("air");
    reading
        .absolute_kpa("pressure", GaugeKind::Vented, air)
        .expect("a pressure")
}

fn pressure(row: &Row) -> f64 {
    let unit = row.input_unit.split(' ').next().expect("a word");
    let kpa = read_pressure(&row.input, unit)
        .absolute_kpa("pressure", GaugeKind::Vented, LocalAir::SEA_LEVEL)
        .expect("a pressure");
    let wanted = PressureUnit::from_code(&row.expected_unit).expect("a unit of pressure");
    wanted.from_absolute_kpa(kpa, GaugeKind::Vented, LocalAir::SEA_LEVEL)
}

fn temperature(row: &Row) -> f64 {
    let typed = Temperature::read("temperature", &row.input, &row.input_unit).expect("read");
    let wanted = TemperatureUnit::from_code(&row.expected_unit).expect("a unit");
    wanted.from_kelvin(typed.kelvin("temperature").expect("above absolute zero"))
}

fn fahrenheit_interval(row: &Row) -> f64 {
    let typed = Temperature::read("accuracy", &row.input, "[degF]").expect("read");
    typed.interval_kelvin()
}

fn altitude(row: &Row) -> LocalAir {
    let unit = row.input_unit.split(' ').next().expect("a word");
    let typed = Quantity::<LengthUnit>::read("altitude", &row.input, unit).expect("read");
    LocalAir::at_altitude(typed).expect("inhabited")
}

fn volume(row: &Row) -> f64 {
    let unit = match row.input_unit.as_str() {
        "US gal" => VolumeUnit::Gallon,
        _ => VolumeUnit::CubicFoot,
    };
    unit.litres().numerator() as f64 / unit.litres().denominator() as f64
}

fn density(_: &Row) -> f64 {
    let factor = DensityUnit::PoundPerCubicFoot.kilogram_per_cubic_metre();
    factor.numerator() as f64 / factor.denominator() as f64
}

/// The factor of the pound per square inch worked by hand from its definition:
/// 0.45359237 × 9.80665 / 0.0254² = 44482216152605 / 6451600000 pascal.
#[test]
fn a_psi_is_exact() {
    let by_hand = Fraction::new(
        45_359_237 * 980_665 * 100_000_000,
        64_516 * 10_000_000_000_000,
    );
    assert_eq!(PressureUnit::PSI.pascal(), by_hand);
}

/// 27.737 cubic inches of 16.387064 cm³ a pound: 26.2 lb are 11.908633... litres.
#[test]
fn a_water_capacity_is_exact() {
    let read = |number, unit| WaterCapacity::read("water_capacity", number, unit).expect("read");
    let litres = read("26.2", "[lb_av]").litres().expect("positive");
    assert_eq!(litres.cut(12), "11.908633447201");
    assert_eq!(
        read("26.2", "[lb_av]").water_grams(),
        Some(Fraction::new(11_884_120_094, 1_000_000))
    );
    let of_litres = read("12", "L").water_grams().expect("positive");
    let of_pounds = of_litres.numerator() as f64 / of_litres.denominator() as f64 / 453.592_37;
    assert!(
        (of_pounds - 12.0 / 0.454_527_994_168).abs() < 1e-9,
        "{of_pounds}"
    );
    // A kilogram of water at 27.737 in³ a pound: 0.454527994168 / 0.45359237 litres.
    let of_kilogram = read("1", "kg").litres().expect("positive");
    assert_eq!(of_kilogram.cut(9), "1.002062698");
    assert_eq!(read("0", "L").litres(), None);
    assert_eq!(read("-5", "kg").litres(), None);
}

#[test]
fn codes_come_back_and_no_two_are_alike() {
    for unit in PressureUnit::all() {
        assert_eq!(
            PressureUnit::from_code(unit.code()),
            Some(unit),
            "{}",
            unit.code()
        );
    }
    for unit in TemperatureUnit::all() {
        assert_eq!(TemperatureUnit::from_code(unit.code()), Some(unit));
    }
    let mut codes: Vec<_> = PressureUnit::all().into_iter().map(Unit::code).collect();
    codes.sort_unstable();
    codes.dedup();
    assert_eq!(codes.len(), PressureUnit::all().len());
    assert_eq!(PressureUnit::PSIG.against, Against::Air);
    assert_eq!(PressureUnit::from_code("[psi]"), Some(PressureUnit::PSI));
    assert_eq!(PressureUnit::from_code("psia"), Some(PressureUnit::PSI));
    assert_eq!(
        PressureUnit::from_code("[psi]{gauge}"),
        Some(PressureUnit::PSIG)
    );
    assert_eq!(PressureUnit::from_code(""), None);
}

#[test]
fn json_keeps_the_number_as_typed() {
    for text in [
        r#"{"value":"130.6","unit":"psig"}"#,
        r#"{"value":130.6,"unit":"psig"}"#,
    ] {
        let read: Pressure = serde_json::from_str(text).expect("a pressure");
        let written = serde_json::to_string(&read).expect("JSON");
        assert_eq!(written, r#"{"value":"130.6","unit":"psig"}"#);
    }
    let wrong = serde_json::from_str::<Pressure>(r#"{"value":1e99,"unit":"psig"}"#);
    assert!(
        wrong
            .unwrap_err()
            .to_string()
            .contains("decimal number such as 130.6")
    );
    let wrong = serde_json::from_str::<Pressure>(r#"{"value":1,"unit":"lbs"}"#);
    assert!(wrong.unwrap_err().to_string().contains("[psi]"));
}

/// A sealed gauge reads against sea level wherever it stands; at 1 609 m that is 17.9 kPa more.
#[test]
fn vented_and_sealed_gauges_differ_by_the_air() {
    let air = LocalAir {
        kpa: 83.43,
        ..LocalAir::SEA_LEVEL
    };
    let reading = read_pressure("100", "psig");
    let of = |gauge| {
        reading
            .absolute_kpa("pressure", gauge, air)
            .expect("a pressure")
    };
    assert!((of(GaugeKind::Sealed) - of(GaugeKind::Vented) - 17.895).abs() < 1e-9);
    let absolute = read_pressure("100", "[psi]");
    let of = |gauge| {
        absolute
            .absolute_kpa("pressure", gauge, air)
            .expect("a pressure")
    };
    assert_eq!(of(GaugeKind::Sealed), of(GaugeKind::Vented));
}

#[test]
fn impossible_numbers_are_refused_with_a_way_out() {
    let below = read_pressure("-15", "psig");
    let problem = below
        .absolute_kpa("pressure", GaugeKind::Vented, LocalAir::SEA_LEVEL)
        .unwrap_err();
    assert_eq!(problem.code, ProblemCode::BelowVacuum);
    assert_eq!(problem.came, "-15 psig");
    let cold = Temperature::read("temperature", "-300", "Cel").expect("read");
    assert_eq!(
        cold.kelvin("temperature").unwrap_err().code,
        ProblemCode::OutOfRange
    );
    let problem = Pressure::read("pressure", "12", "psi g").unwrap_err();
    assert_eq!(problem.code, ProblemCode::UnknownUnit);
    assert!(problem.to_string().contains("psig"), "{problem}");
    let problem = Pressure::read("pressure", "12,5", "psig").unwrap_err();
    assert_eq!(problem.code, ProblemCode::NotANumber);
    assert!(problem.to_string().contains("\"12,5\""), "{problem}");
}

#[test]
fn an_altitude_in_the_wrong_unit_is_noticed() {
    let read = |number, unit| Quantity::<LengthUnit>::read("altitude", number, unit).expect("read");
    // 5 280 ft typed as metres: higher than anybody lives.
    let problem = LocalAir::at_altitude(read("5280", "m")).unwrap_err();
    assert_eq!(problem.code, ProblemCode::OutOfRange);
    assert!(problem.to_do.contains("[ft_i]"), "{problem}");
    // 1 609 m typed as feet is an altitude, but not the one of this barometer.
    let barometer = read_pressure("83.4", "kPa");
    let problem = LocalAir::from_either(Some(read("1609", "[ft_i]")), Some(barometer)).unwrap_err();
    assert_eq!(problem.code, ProblemCode::Contradiction);
    assert!(problem.to_do.contains("unit of the altitude"), "{problem}");
    let air = LocalAir::from_either(Some(read("1609", "m")), Some(barometer)).expect("fits");
    assert_eq!(air.kpa, 83.4);
}

#[test]
fn a_barometer_in_the_wrong_unit_or_reduced_to_sea_level_is_noticed() {
    let problem = LocalAir::from_barometer(read_pressure("29.92", "kPa")).unwrap_err();
    assert!(problem.to_do.contains("[in_i'Hg]"), "{problem}");
    let altitude = Quantity::<LengthUnit>::read("altitude", "1609", "m").expect("read");
    let reduced = read_pressure("1013", "hPa");
    let problem = LocalAir::from_either(Some(altitude), Some(reduced)).unwrap_err();
    assert_eq!(problem.code, ProblemCode::Contradiction);
    assert_eq!(
        LocalAir::from_either(None, None).unwrap_err().code,
        ProblemCode::Missing
    );
}

proptest! {
    #[test]
    fn pressures_come_back(kpa in 0.0..10_000.0_f64, at in 50.0..110.0_f64, sealed: bool) {
        let air = LocalAir { kpa: at, ..LocalAir::SEA_LEVEL };
        let gauge = if sealed { GaugeKind::Sealed } else { GaugeKind::Vented };
        for unit in PressureUnit::all() {
            let shown = unit.from_absolute_kpa(kpa, gauge, air);
            let typed = Decimal::parse(&format!("{shown:.6}")).expect("a decimal");
            let back = Quantity { value: typed, unit }.absolute_kpa("pressure", gauge, air);
            // Six decimals of the unit, and not below vacuum by rounding.
            if let Ok(back) = back {
                prop_assert!((back - kpa).abs() <= 1e-6 * unit.kilopascal() + 1e-9, "{}", unit.code());
            } else {
                prop_assert!(kpa <= 1e-6 * unit.kilopascal());
            }
        }
    }

    #[test]
    fn temperatures_come_back_and_keep_their_order(low in 0.0..400.0_f64, more in 0.001..50.0_f64) {
        for unit in TemperatureUnit::all() {
            let (a, b) = (unit.from_kelvin(low), unit.from_kelvin(low + more));
            prop_assert!(a < b);
            prop_assert!(((b - a) * degree_size_kelvin(unit) - more).abs() < 1e-9);
            let typed = Decimal::parse(&format!("{a:.9}")).expect("a decimal");
            if let Ok(back) = (Quantity { value: typed, unit }).kelvin("temperature") {
                prop_assert!((back - low).abs() < 1e-8);
            }
        }
    }

    #[test]
    fn the_air_gets_thinner(low in -450.0..5_000.0_f64, more in 1.0..200.0_f64) {
        let at = |metres: f64| {
            let value = Decimal::parse(&format!("{metres:.3}")).expect("a decimal");
            LocalAir::at_altitude(Quantity { value, unit: LengthUnit::Metre }).expect("inhabited").kpa
        };
        prop_assert!(at(low) > at(low + more));
    }
}
