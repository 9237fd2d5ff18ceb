//! Every kind of bad cell in a movements file, named with row and column.

use super::*;

/// One bad cell a row: the row, its column, and words that its problem must hold.
const BAD_ROWS: &[(&str, &str, &str)] = &[
    (
        "m-1,2025-07-14,charge,C,A,R-22,\"1,250\",ines",
        "mass_lb",
        "thousands",
    ),
    (
        "m-1,2025-07-14,charge,C,A,R-22,-3,ines",
        "mass_lb",
        "from and to",
    ),
    (
        "m-1,2025-07-14,charge,C,A,R-22,0,ines",
        "mass_lb",
        "above 0",
    ),
    (
        "m-1,2025-07-14,charge,C,A,R-22,NaN,ines",
        "mass_lb",
        "digits",
    ),
    (
        "m-1,2025-07-14,charge,C,A,R-22,1e30,ines",
        "mass_lb",
        "digits",
    ),
    (
        "m-1,2025-07-14,charge,C,A,R-22,1000000000000000000000000000000,ines",
        "mass_lb",
        "92 t",
    ),
    (
        "m-1,2025-07-14,charge,C,A,R-22,250000,ines",
        "mass_lb",
        "92 t",
    ),
    (
        "m-1,2025-07-14,charge,C,A,R-22,0.000000001,ines",
        "mass_lb",
        "exactly",
    ),
    (
        "m-1,2025-07-14,charge,C,A,R-22,,ines",
        "mass_lb",
        "came nothing",
    ),
    (
        "m-1,2025-07-14,charge,C,A,R-22,7 lb,ines",
        "mass_lb",
        "without one",
    ),
    (
        "m-1,07/08/2025,charge,C,A,R-22,1,ines",
        "occurred_at",
        "It could be 2025-07-08 (month first) or 2025-08-07 (day first)",
    ),
    (
        "m-1,14.7.2025 11:52,charge,C,A,R-22,1,ines",
        "occurred_at",
        "Write 2025-07-14, the year first",
    ),
    (
        "m-1,31/31/2025,charge,C,A,R-22,1,ines",
        "occurred_at",
        "2026-07-14T11:52",
    ),
    (
        "m-1,2025-02-29,charge,C,A,R-22,1,ines",
        "occurred_at",
        "an instant",
    ),
    (
        "m-1,2025-07-14,chrage,C,A,R-22,1,ines",
        "kind",
        "Did you mean 'charge'?",
    ),
    (
        "m-1,2025-07-14,charge,,A,R-22,1,ines",
        "from",
        "may not be empty",
    ),
    (
        "m-1,2025-07-14,charge,C,,R-22,1,ines",
        "to",
        "may not be empty",
    ),
    (
        "m-1,2025-07-14,opening,C,A,R-22,1,ines",
        "from",
        "from nowhere",
    ),
    (
        "m-1,2025-07-14,transfer,C,C,R-22,1,ines",
        "to",
        "another cylinder",
    ),
    ("m-1,2025-07-14,loss,C,A,R-22,1,ines", "to", "atmosphere"),
    ("m-1,2025-07-14,charge,C,A,,1,ines", "refrigerant", "R-410A"),
    (
        "m-1,2025-07-14,charge,C,A,R-22,1,",
        "technician",
        "came nothing",
    ),
    (
        ",2025-07-14,charge,C,A,R-22,1,ines",
        "movement_id",
        "came nothing",
    ),
    (
        "m-1,2025-07-14,charge,C,A,R-22,1,\"in\nes\"",
        "technician",
        "one line",
    ),
    (
        "m-1,2025-07-14,charge,C\u{1b}[2J,A,R-22,1,ines",
        "from",
        "'C\\u{1b}[2J'",
    ),
];

#[test]
fn every_bad_cell_is_named_with_row_and_column() {
    for (row, column, words) in BAD_ROWS {
        let (problems, good, _) = rows(HEADER, &[row]);
        let text = problems.to_string();
        assert_eq!((problems.count(), good), (1, 0), "{row}\n{text}");
        let place = format!("movements.csv, row 2, column {column}: expected ");
        assert!(text.starts_with(&place), "{row}\n{text}");
        assert!(text.contains(words), "{row}\n{text}");
        assert!(
            text.lines().count() == 1 && !text.contains('\u{1b}'),
            "one line each: {text:?}"
        );
    }
}

#[test]
fn texts_of_masses_are_judged_as_in_the_field() {
    let header = HEADER.replace("mass_lb", "mass");
    for (mass, words) in [
        ("7 lb 16 oz", "below 16"),
        ("\"1,250\"", "1.25 or 1250"),
        ("7", "unit"),
        // Five pounds and eight ounces, or a quarter of a unit that nobody named?
        ("11.6", "unit"),
        ("7 stone", "not a mass"),
        ("1/8 oz", "exactly"),
        ("0 lb", "above 0"),
        ("-3 lb", "mass"),
        ("\u{667} lb", "mass"),
    ] {
        let (problems, good, _) = rows(
            &header,
            &[&format!("m-1,2025-07-14,charge,C,A,R-22,{mass},ines")],
        );
        let text = problems.to_string();
        assert_eq!((problems.count(), good), (1, 0), "{mass}: {text}");
        assert!(
            text.contains("row 2, column mass:") && text.contains(words),
            "{mass}: {text}"
        );
    }
}

#[test]
fn further_columns_are_judged_too() {
    let header = format!("{HEADER},seq,visit,reason,outside");
    for (rest, column) in [
        ("x,,,", "seq"),
        ("-1,,,", "seq"),
        ("1,,because,", "reason"),
        ("1,,repair,", "reason"),
        ("1,,,maybe", "outside"),
        ("1,,,yes", "from"),
    ] {
        let (problems, _, _) = rows(&header, &[&format!("{GOOD},{rest}")]);
        let text = problems.to_string();
        assert!(
            text.contains(&format!("row 2, column {column}:")),
            "{rest}: {text}"
        );
    }
    let recover = "m-1,2025-07-14,recover,HG-RACK-A,TR-0417,R-448A,1,ines,1,,repair,";
    assert!(rows(&header, &[recover]).0.is_empty());
    let bought = "m-1,2025-07-14,purchase,V,C,R-448A,1,ines,1,,,yes";
    assert!(
        rows(&header, &[bought])
            .0
            .to_string()
            .contains("Only a charge")
    );
    let descending = [format!("{GOOD},7,,,"), GOOD.replace("m-1", "m-2") + ",7,,,"];
    let (problems, _, _) = rows(&header, &[&descending[0], &descending[1]]);
    assert!(
        problems
            .to_string()
            .contains("row 3, column seq: expected a number above 7")
    );
}
