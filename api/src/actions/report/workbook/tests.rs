//! What of a workbook is told by its own parts; the cells are read back by other software in
//! `tests/independent`.

use super::*;
use crate::store::open::Organisation;
use reports::sheet::{Options, Report, Summary};
use std::io::Read;

fn told(name: Report) -> ReportTold {
    ReportTold {
        summary: Summary::default(),
        as_of: Some(41),
        root: "root".to_string(),
        sets: vec![("us-federal-hfc".to_string(), "2026-01-01".to_string())],
        left_off: Vec::new(),
        name,
        options: Options::of_year(2026),
    }
}

fn file(text: &str) -> File {
    let mut file = tempfile::tempfile().unwrap();
    file.write_all(text.as_bytes()).unwrap();
    file
}

/// The parts of a workbook of additions with these rows of evidence, three rows at most on a sheet.
fn parts(evidence: &str) -> impl Fn(&str) -> Option<String> {
    let of = Organisation {
        org: 1,
        name: "Halfmoon & Sons".to_string(),
        log: "tarebook/1".to_string(),
    };
    let proof = format!("{}\r\n{evidence}", evidence::HEADER.join(","));
    let table = file("appliance\r\n'=HG-1\r\n");
    let mut book = made(&told(Report::Additions), &of, table, file(&proof), 3).unwrap();
    let bytes = book.save_to_buffer().unwrap();
    move |name| {
        let mut archive = zip::ZipArchive::new(io::Cursor::new(&bytes)).unwrap();
        let mut part = archive.by_name(name).ok()?;
        let mut text = String::new();
        part.read_to_string(&mut text).unwrap();
        Some(text)
    }
}

#[test]
fn what_a_sheet_cannot_hold_goes_on_in_another() {
    let part = parts("1,A,f,7,1.5\r\n1,A,f,8,2\r\n1,A,f,9,0.25\r\n2,B,f,10,1\r\n2,B,f,11,1\r\n");
    let book = part("xl/workbook.xml").unwrap();
    for name in [
        "additions",
        "evidence",
        "evidence 2",
        "evidence 3",
        "Read me",
    ] {
        assert!(book.contains(&format!("name=\"{name}\"")), "{book}");
    }
    // Five lines, two a sheet below its header (ISO/IEC 29500: c/v holds the value).
    for (sheet, rows) in [(2, vec!["7", "8"]), (3, vec!["9", "10"]), (4, vec!["11"])] {
        let text = part(&format!("xl/worksheets/sheet{sheet}.xml")).unwrap();
        assert!(
            text.contains(">row</t>") && text.contains(">contribution</t>"),
            "{text}"
        );
        assert_eq!(text.matches("<row ").count(), rows.len() + 1, "{text}");
        for entry in rows {
            assert!(text.contains(&format!("<v>{entry}</v>")), "{entry}: {text}");
        }
    }
    assert_eq!(part("xl/worksheets/sheet6.xml"), None);
}

#[test]
fn full_sheets_leave_no_empty_one_behind() {
    let part = parts("1,A,f,7,1.5\r\n1,A,f,8,2\r\n");
    let book = part("xl/workbook.xml").unwrap();
    assert!(
        book.contains("\"evidence\"") && !book.contains("evidence 2"),
        "{book}"
    );
}

#[test]
fn a_sign_of_the_printers_language_in_a_name_is_a_sign() {
    // ISO/IEC 29500-1, 18.3.1.39: an ampersand is written twice.
    let part = parts("");
    let core = part("docProps/app.xml").unwrap();
    assert!(core.contains("Halfmoon &amp; Sons"), "{core}");
    let sheet = part("xl/worksheets/sheet1.xml").unwrap();
    assert!(sheet.contains("&amp;P / &amp;N"), "{sheet}");
    assert!(
        sheet.contains("<t>=HG-1</t>") && !sheet.contains("<f"),
        "{sheet}"
    );
}
