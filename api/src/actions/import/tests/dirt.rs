//! Files as offices have them: letters of another encoding, blanks, totals under the table.
//!
//! The same two rows in every form give the same: what is expected of each form follows from the
//! tables of Unicode (CP1252.TXT; UTF-16 by the standard library of this language).

use super::*;

const ROWS: &str = "m-1,2025-07-14,charge,SUP-88231,HG-RACK-A,R-448A,14.5,in\u{e9}s\n\
                    m-2,2025-07-15,charge,SUP-88231,HG-RACK-A,R-448A,2,dov\n";

fn utf_16(text: &str) -> Vec<u8> {
    let marked = format!("\u{feff}{text}");
    marked.encode_utf16().flat_map(u16::to_le_bytes).collect()
}

/// Technicians and masses of a file that must be good.
fn read(bytes: &[u8]) -> (Vec<(String, String)>, FileFacts) {
    let folder = Folder::new();
    let (mut problems, mut seen) = (Problems::default(), Vec::new());
    let path = folder.file(bytes);
    let pass = Pass::Check(&mut Seen::default());
    let facts = read_movements(&path, pass, &mut problems, |row, _, _| {
        seen.push((row.technician.to_string(), row.mass.mass.to_string()));
        Flow::Go
    });
    assert_eq!(problems.to_string(), "");
    (seen, facts.expect("a whole file"))
}

#[test]
fn the_same_rows_in_every_encoding_are_the_same() {
    let text = format!("{HEADER}\n{ROWS}");
    let (expected, facts) = read(text.as_bytes());
    // 14.5 lb and 2 lb x 453.59237 g (NIST SP 811 appendix B).
    let row = |who: &str, grams: &str| (who.to_string(), grams.to_string());
    assert_eq!(
        expected,
        [row("in\u{e9}s", "6577.089365"), row("dov", "907.18474")]
    );
    assert_eq!(facts.guessed, None);
    let semicolons = text.replace(',', ";");
    assert_eq!(read(semicolons.as_bytes()).0, expected);
    let tabs = utf_16(&text.replace(',', "\t").replace('\n', "\r\n"));
    assert_eq!(read(&utf_16(&text)).0, expected);
    assert_eq!(read(&tabs).0, expected, "as spreadsheets save Unicode text");
    let old: Vec<u8> = text
        .chars()
        .map(|letter| u8::try_from(u32::from(letter)).expect("a letter of Western Europe"))
        .collect();
    let (seen, facts) = read(&old);
    assert_eq!(seen, expected);
    assert_eq!((facts.bytes, facts.rows), (old.len() as u64, 2));
    let guessed = facts.guessed.expect("it says that it guessed");
    assert!(guessed.contains("in\u{e9}s"), "{guessed}");
}

#[test]
fn blanks_around_cells_are_no_part_of_them() {
    let header = HEADER.replace(',', " , ");
    let padded = ROWS.replace(',', "  , \u{a0}").replace("dov", "dov \t");
    let (seen, _) = read(format!("{header}\n{padded}").as_bytes());
    let who: Vec<&str> = seen.iter().map(|(who, _)| who.as_str()).collect();
    assert_eq!(who, ["in\u{e9}s", "dov"]);
}

#[test]
fn a_row_of_totals_is_one_problem_and_no_row() {
    for total in [
        "Total,,,,,,16.5,",
        ",,,,,TOTAL:,16.5,",
        "Grand total,,,,,,16.5,",
    ] {
        let (problems, good, _) = movements(format!("{HEADER}\n{ROWS}{total}\n").as_bytes());
        let text = problems.to_string();
        assert_eq!((problems.count(), good), (1, 2), "{total}: {text}");
        let said = "movements.csv, row 4: expected a row of the table, came a row of totals";
        assert!(text.starts_with(said), "{total}: {text}");
    }
    // A unit may be called so.
    let (problems, good, _) = rows(HEADER, &[&GOOD.replace("HG-RACK-A", "Total")]);
    assert_eq!((problems.count(), good), (0, 1), "{problems}");
}

#[test]
fn pounds_and_ounces_as_people_write_them_are_read() {
    // 5 lb 8 oz = 88 oz x 28.349523125 g (NIST SP 811 appendix B).
    let header = HEADER.replace("mass_lb", "mass");
    for mass in ["5#8oz", "5 lb 8 oz", "5lb8oz", "88 oz"] {
        let text = format!("{header}\n{}\n", GOOD.replace("14.5", mass));
        assert_eq!(read(text.as_bytes()).0[0].1, "2494.758035", "{mass}");
    }
}

#[test]
fn a_decimal_comma_between_semicolons_is_refused_and_no_thousands() {
    // `14,500` is fourteen and a half in one country and fourteen thousand five hundred in another.
    let header = HEADER.replace(',', ";");
    for mass in ["14,5", "14,500"] {
        let row = GOOD.replace(',', ";").replace("14.5", mass);
        let (problems, good, _) = rows(&header, &[&row]);
        let told = problems.to_string();
        assert!(
            told.contains("row 2, column mass_lb: expected a plain decimal of lb"),
            "{told}"
        );
        assert!(
            told.contains(&format!("came '{mass}'. Write a decimal point")),
            "{told}"
        );
        assert_eq!(good, 0);
    }
    // A header with commas keeps them, whatever stands in its cells.
    let (problems, good, _) = rows(HEADER, &[&GOOD.replace("ines", "ines; dov")]);
    assert_eq!((problems.count(), good), (0, 1), "{problems}");
    let (problems, good, _) = rows(&header, &[GOOD]);
    assert!(
        problems
            .to_string()
            .contains("expected 8 cells, as in the header, came 1")
    );
    assert_eq!(good, 0);
}
