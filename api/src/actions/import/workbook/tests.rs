//! Values and names; whole files are made by other software in `tests/independent`.

use super::super::table::cell_name;
use super::values::{iso_moment, moment, number};
use super::*;
use zip::write::{SimpleFileOptions, ZipWriter};

#[test]
fn numbers_are_those_that_were_typed() {
    // IEEE 754: 0.1 + 0.2 is 0.30000000000000004 as a double, and Excel keeps that of such a formula.
    for (double, text) in [
        (0.1, "0.1"),
        (0.300_000_000_000_000_04, "0.3"),
        (24.999_999_999_999_996, "25"),
        (16.812346, "16.812346"),
        (123_456_789_012_345.0, "123456789012345"),
        (0.000_001, "0.000001"),
        (1e-9, "0.000000001"),
        (-4.5, "-4.5"),
        (0.0, "0"),
    ] {
        assert_eq!(number(double), text);
    }
}

#[test]
fn days_and_times_are_written_as_in_a_csv() {
    assert_eq!(moment((2025, 7, 14), (0, 0, 0)), "2025-07-14");
    assert_eq!(moment((2025, 7, 14), (11, 52, 0)), "2025-07-14T11:52");
    assert_eq!(moment((2025, 7, 14), (11, 52, 7)), "2025-07-14T11:52:07");
    // ISO 8601 as OpenDocument keeps it.
    for (kept, text) in [
        ("2025-07-14", "2025-07-14"),
        ("2025-07-14T00:00:00", "2025-07-14"),
        ("2025-07-14T11:52:00", "2025-07-14T11:52"),
        ("2025-07-14T11:52:07.25", "2025-07-14T11:52:07"),
        ("2025-07-14T11:52:00Z", "2025-07-14T11:52:00Z"),
        ("2025-07-14T11:52", "2025-07-14T11:52"),
    ] {
        assert_eq!(iso_moment(kept), text);
    }
}

#[test]
fn cells_have_the_names_of_spreadsheets() {
    // ISO/IEC 29500-1, 18.18.62: letters count like numbers without a zero; XFD is column 16 384.
    for (at, name) in [
        (0, "A7"),
        (3, "D7"),
        (25, "Z7"),
        (26, "AA7"),
        (701, "ZZ7"),
        (702, "AAA7"),
    ] {
        assert_eq!(cell_name(at, 7), name);
    }
    assert_eq!(cell_name(16_383, 1), "XFD1");
}

/// A packed file with these parts.
fn packed(parts: &[(&str, &str)]) -> Vec<u8> {
    let mut file = ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, text) in parts {
        file.start_file(*name, SimpleFileOptions::default())
            .unwrap();
        std::io::Write::write_all(&mut file, text.as_bytes()).unwrap();
    }
    file.finish().unwrap().into_inner()
}

struct Nothing;

impl Take for Nothing {
    fn cell(&mut self, _: u64, _: usize, _: Value<'_>) -> Result<Flow, Wrong> {
        Ok(Flow::Go)
    }
}

#[test]
fn xml_that_breaks_off_is_named_and_never_read_as_whole() {
    let (mimetype, head) = (
        ("mimetype", "application/vnd.oasis.opendocument.spreadsheet"),
        "<d><table:table table:name=\"c\">",
    );
    let row = "<table:table-row><table:table-cell office:value-type=\"string\">";
    for (tail, words) in [
        (String::new(), "within a sheet"),
        ("<table:table-row>".to_string(), "within a row"),
        (format!("{row}<text:p>x"), "within a cell"),
        (
            format!("{row}<text:p>&strange;</text:p></table:table-cell>"),
            "&strange;",
        ),
        (
            "<table:table-row table:number-rows-repeated=\"many\"/></table:table>".to_string(),
            "number-rows-repeated=many",
        ),
    ] {
        let content = format!("{head}{tail}");
        let bytes = packed(&[mimetype, ("content.xml", &content)]);
        // The end is missing already where the names of the sheets are read.
        let read = Workbook::open(&bytes).and_then(|mut book| book.walk("c", &mut Nothing));
        assert!(read.is_err(), "{content}");
        let walked = ods::Book {
            bytes: &bytes,
            sheets: vec!["c".to_string()],
        }
        .walk("c", &mut Nothing);
        let wrong = walked.unwrap_err();
        assert!(wrong.came.contains(words), "{}: {words}", wrong.came);
    }
}
