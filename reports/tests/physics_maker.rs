//! Tables of manufacturers as files: their own units, and every fault that a hand makes named by its line.

#![allow(clippy::float_arithmetic)] // Expected values of physics are floats.

use reports::physics::{ManufacturerTable, SaturationTable, Temperature, saturation};

fn table() -> &'static SaturationTable {
    SaturationTable::shipped()
}

/// Invented numbers of the right size, in the units that sheets are printed in.
const SHEET: &str = "\
# refrigerant: R438A
# source: Halfmoon Gases, sheet 438, 2024
# doubt_percent: 1
# temperature: [degF]
# pressure: psig
# density: kg/m3
temperature,bubble,dew,liquid,vapour
32,55.0,45.0,1230,18.0
50,81.0,69.0,1190,25.0
68,113.0,99.0,1150,34.0
";

/// 55 psig are (55 + 14.69595) x 6.894757 = 480.54 kPa; 32 degF are 0 degC.
#[test]
fn a_manufacturers_file_is_read_in_its_own_units() {
    let made = ManufacturerTable::read(SHEET).expect("a table");
    assert_eq!(made.refrigerant, "R-438A");
    let first = made.points[0];
    assert!((first.kelvin - 273.15).abs() < 1e-9 && (first.bubble_kpa - 480.54).abs() < 0.01);
    let added = table().with(&made).expect("a table");
    let at = Temperature::read("temperature", "50", "[degF]").expect("a temperature");
    let answer = saturation(&added, "R-438A", at).expect("an answer");
    assert_eq!(answer.source, "Halfmoon Gases, sheet 438, 2024");
    assert!(answer.caution.contains("manufacturer"));
    assert_eq!(answer.saturated.liquid_density_kg_m3, Some(1190.0));
}

/// Each fault that a hand makes is named with its line.
#[test]
fn a_mistyped_file_is_refused_with_its_line() {
    for (from, to, says) in [
        ("81.0,69.0", "51.0,45.5", "above that of the row before"),
        ("81.0,69.0", "18.0,17.0", "above that of the row before"),
        ("81.0,69.0", "81.0,91.0", "dew pressure not above"),
        ("81.0", "8l.0", "in line 9"),
        ("50,81", "50;81", "5 numbers"),
        ("50,81", "23,81", "a temperature above"),
        ("50,81", "500,81", "-100 to 150"),
        ("1190,25.0", "119,25.0", "line"),
        ("1190,25.0", "1290,25.0", "lighter"),
        ("1190,25.0", "24,25.0", "denser"),
        ("[degF]", "Cel", "the unit of temperature or pressure"),
        ("[degF]", "kelvins", "line 4"),
        (
            "# source: Halfmoon Gases, sheet 438, 2024\n",
            "",
            "who published",
        ),
        ("R438A", "R-438Z", "R-438Z"),
        ("doubt_percent: 1", "doubt_percent: ?", "doubt_percent"),
        ("doubt_percent: 1", "doubt_percent: 90", "0 to 50"),
        ("# pressure: psig\n", "", "# pressure:"),
        ("temperature,bubble", "temp,bubble", "the names"),
        // 1 230 pounds a cubic foot are 19 703 kg/m3.
        (
            "density: kg/m3",
            "density: [lb_av]/[cft_i]",
            "is the unit right?",
        ),
    ] {
        let text = SHEET.replacen(from, to, 1);
        assert_ne!(text, SHEET, "{from}");
        let refused = ManufacturerTable::read(&text).map(|_| ());
        let refused = refused.expect_err(&format!("{from} -> {to}")).to_string();
        assert!(refused.contains(says), "{from} -> {to}: {refused}");
    }
}

/// Every shipped refrigerant passes the checks of a manufacturer's file, so they refuse no true sheet.
#[test]
fn the_shipped_tables_would_pass_as_files() {
    for fluid in table().fluids() {
        let (low, high) = fluid.range_kelvin();
        let mut text = format!(
            "# refrigerant: {}\n# source: CoolProp 8.0.0\n# doubt_percent: 1\n\
             # temperature: Cel\n# pressure: kPa\n# density: kg/m3\n\
             temperature,bubble,dew,liquid,vapour\n",
            fluid.designation
        );
        let mut kelvin = low;
        while kelvin <= high {
            let at = fluid.at_kelvin(kelvin).expect("a point");
            text += &format!(
                "{:.2},{:.4},{:.4},{:.3},{:.4}\n",
                kelvin - 273.15,
                at.bubble_kpa,
                at.dew_kpa,
                at.liquid_density_kg_m3.expect("a density"),
                at.vapour_density_kg_m3.expect("a density")
            );
            kelvin += 5.0;
        }
        if let Err(problem) = ManufacturerTable::read(&text) {
            panic!("{}: {problem}", fluid.designation);
        }
    }
}

/// Figures in kPa under a heading in bar are a hundredfold, and the curve keeps its shape. What ships with a
/// table is compared with it (R-410A rests at 1 447.6 kPa at 20 degC: CoolProp 8.0.0), in each line; what
/// does not, with where refrigerants lie.
#[test]
fn a_unit_that_is_wrong_in_every_line_is_seen() {
    let ours = table().fluid("R-410A").expect("shipped");
    let sheet = |name: &str, unit: &str, factor: f64, spoilt: usize| {
        let mut text = format!(
            "# refrigerant: {name}\n# source: Halfmoon Gases\n# doubt_percent: 1\n\
             # temperature: Cel\n# pressure: {unit}\ntemperature,bubble,dew\n"
        );
        for (row, cel) in [0.0, 10.0, 20.0, 30.0].into_iter().enumerate() {
            let at = ours.at_kelvin(cel + 273.15).expect("a point");
            let factor = if row == spoilt { 1.0 } else { factor };
            text += &format!(
                "{cel},{:.3},{:.3}\n",
                at.bubble_kpa * factor,
                at.dew_kpa * factor
            );
        }
        ManufacturerTable::read(&text)
    };
    let none = usize::MAX;
    // Sheets and equations differ by a little; a twentieth is too much.
    for factor in [0.96, 1.0, 1.04] {
        assert!(sheet("R-410A", "kPa", factor, none).is_ok(), "{factor}");
    }
    for (name, unit, factor) in [
        ("R-410A", "bar", 1.0),
        ("R-410A", "kPa", 0.01),
        ("R-410A", "kPa", 1.06),
        ("R-410A", "kPa", 1.0 / 6.894_757),
        ("R-438A", "bar", 1.0),
        ("R-438A", "kPa", 0.001),
    ] {
        let refused = sheet(name, unit, factor, none).map(|_| ());
        let refused = refused
            .expect_err(&format!("{name} {unit} {factor}"))
            .to_string();
        assert!(refused.contains("is the unit right?"), "{refused}");
        assert!(refused.contains("in line 7"), "{refused}");
    }
    let refused = sheet("R-410A", "kPa", 1.055, 0)
        .map(|_| ())
        .unwrap_err()
        .to_string();
    assert!(
        refused.contains("in line 8"),
        "the first line agrees: {refused}"
    );
}
