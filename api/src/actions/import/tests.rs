//! Import files as they come: good ones, and every kind of dirt.
//!
//! The files are invented after job.md-like work of a contractor; what is expected of each stands
//! beside it and follows from RFC 4180, from the column list in the help of `tarebook import` or
//! from arithmetic written out.

mod bad_cells;
mod dirt;
mod registers;

use super::seen::Seen;
use super::*;
use crate::ledger::entry::EntryKind;
use std::path::PathBuf;

const HEADER: &str = "movement_id,occurred_at,kind,from,to,refrigerant,mass_lb,technician";
const GOOD: &str = "m-1,2025-07-14,charge,SUP-88231,HG-RACK-A,R-448A,14.5,ines";

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Folder {
        Folder(tempfile::tempdir().unwrap())
    }

    fn file(&self, bytes: &[u8]) -> PathBuf {
        let path = self.0.path().join("movements.csv");
        std::fs::write(&path, bytes).unwrap();
        path
    }
}

/// Reads a movements file; what is wrong with it, and how many rows were good.
fn movements(bytes: &[u8]) -> (Problems, u64, Option<FileFacts>) {
    let folder = Folder::new();
    let (mut problems, mut good) = (Problems::default(), 0);
    let facts = read_movements(
        &folder.file(bytes),
        Pass::Check(&mut Seen::default()),
        &mut problems,
        |_, _, _| {
            good += 1;
            Flow::Go
        },
    );
    (problems, good, facts)
}

fn rows(header: &str, rows: &[&str]) -> (Problems, u64, Option<FileFacts>) {
    movements(format!("{header}\n{}\n", rows.join("\n")).as_bytes())
}

#[test]
fn a_good_file_is_read_whole() {
    let folder = Folder::new();
    let text = "seq,movement_id,occurred_at,kind,from,to,refrigerant,mass,technician,visit,reason,\
                outside\r\n\
                1,019B76DA-A800-7000-8000-000000000001,2020-01-01T00:00:00Z,opening,,HG-RACK-A,\
                R-448A,210 lb,osric,,,\r\n\
                2,m-2,2025-07-14T11:52,charge,SUP-88231,HG-RACK-A,R-448A,\"14 lb, 8 oz\",ines,v-1,\
                leak_top_up,no\r\n\
                5,m-3,2025-07-15,charge,,HG-RACK-A,R-448A,1 lb,someone,,,yes\r\n\
                6,m-4,2025-07-15,loss,TR-0417,,R-410A,2 oz,dov,,,\r\n";
    let (mut problems, mut seen) = (Problems::default(), Vec::new());
    let path = folder.file(text.as_bytes());
    let facts = read_movements(
        &path,
        Pass::Check(&mut Seen::default()),
        &mut problems,
        |row, _, _| {
            let id = match row.id {
                MovementId::Uuid(id) => id.to_string(),
                MovementId::Text(text) => text.to_string(),
            };
            seen.push((row.row, id, row.kind, row.mass.mass.to_string(), row.seq));
            match row.row {
                2 => assert_eq!(row.occurred, Occurred::Instant(1_577_836_800)),
                3 => assert_eq!((row.visit, row.reason), (Some("v-1"), Some("leak_top_up"))),
                4 => assert_eq!((row.from, row.to, row.reason), ("", "HG-RACK-A", None)),
                _ => assert_eq!((row.from, row.to), ("TR-0417", "")),
            }
            Flow::Go
        },
    );
    assert_eq!(problems.to_string(), "");
    let facts = facts.unwrap();
    assert_eq!(
        (facts.rows, facts.bytes, facts.name.as_str()),
        (4, text.len() as u64, "movements.csv")
    );
    let first = "019b76da-a800-7000-8000-000000000001".to_string();
    // 210 lb x 453.59237 g; 14.5 lb x 453.59237 g; 2 x 28.349523125 g (NIST SP 811 appendix B).
    assert_eq!(
        seen,
        [
            (2, first, EntryKind::Opening, "95254.3977".into(), Some(1)),
            (
                3,
                "m-2".into(),
                EntryKind::Charge,
                "6577.089365".into(),
                Some(2)
            ),
            (
                4,
                "m-3".into(),
                EntryKind::OutsideCharge,
                "453.59237".into(),
                Some(5)
            ),
            (
                5,
                "m-4".into(),
                EntryKind::Loss,
                "56.69904625".into(),
                Some(6)
            ),
        ]
    );
}

#[test]
fn a_header_that_is_wrong_ends_the_reading_with_names() {
    for (header, words) in [
        (HEADER.replace(",technician", ""), "a column 'technician'"),
        (
            HEADER.replace("technician", "tecnician"),
            "Did you mean 'technician'?",
        ),
        (format!("{HEADER},colour"), "came 'colour'"),
        (format!("{HEADER},mass_kg"), "'mass_lb' holds it already"),
        (format!("{HEADER},kind"), "'kind' holds it already"),
        (HEADER.replace("mass_lb", "mass_stone"), "mass_stone"),
    ] {
        let (problems, good, facts) = rows(&header, &[GOOD]);
        let text = problems.to_string();
        assert!(text.contains(words), "{header}\n{text}");
        assert!(text.contains("row 1"), "{text}");
        assert_eq!((good, facts), (0, None), "{header}");
    }
}

#[test]
fn invalid_utf_8_is_named_and_the_rest_is_still_checked() {
    // A good letter beyond ASCII beside them says that the file is UTF-8, damaged.
    let letters = GOOD.replace("ines", "in\u{e9}s");
    let mut bytes = format!("{HEADER}\n{letters}\n").into_bytes();
    bytes.extend(b"m-2,2025-07-14,charge,SUP-\xff,A,R-22,1,ines\n");
    bytes.extend(b"m-3,2025-07-14,charge,C,A,R-22,x,ines\n");
    let (problems, good, _) = movements(&bytes);
    let text = problems.to_string();
    assert!(
        text.contains("row 3, column from: expected UTF-8"),
        "{text}"
    );
    assert!(text.contains("row 4, column mass_lb"), "{text}");
    assert_eq!((problems.count(), good), (2, 1));
    // Two halves of one character in neighbouring cells are no character.
    let mut split = format!("{HEADER}\n{letters}\n").into_bytes();
    split.extend(b"m-2,2025-07-14,charge,C\xc3,\xa9A,R-22,1,ines\n");
    assert!(
        movements(&split)
            .0
            .to_string()
            .contains("column from: expected UTF-8")
    );
}

#[test]
fn a_byte_order_mark_and_both_line_ends_are_no_dirt() {
    for text in [
        format!("\u{feff}{HEADER}\r\n{GOOD}\r\n"),
        format!("\u{feff}\"movement_id\"{}\n{GOOD}", &HEADER[11..]),
        format!("{HEADER}\n\n{GOOD}\n\n"),
    ] {
        let (problems, good, facts) = movements(text.as_bytes());
        assert_eq!((problems.to_string(), good), (String::new(), 1), "{text}");
        assert_eq!(facts.unwrap().rows, 1);
    }
}

#[test]
fn files_that_were_cut_short_are_named() {
    let (problems, good, facts) =
        movements(format!("{HEADER}\n{GOOD}\nm-2,2025-07-14,charge,\"SUP").as_bytes());
    let text = problems.to_string();
    assert!(
        text.contains("row 3: expected CSV in UTF-8, came a quote"),
        "{text}"
    );
    assert_eq!((good, facts), (1, None));
    let (problems, _, _) = movements(format!("{HEADER}\n{GOOD}\nm-2,2025-07-14,cha").as_bytes());
    let text = problems.to_string();
    assert!(
        text.contains("row 3: expected 8 cells, as in the header, came 3"),
        "{text}"
    );
    assert!(text.contains("cut short"), "{text}");
    for (bytes, words) in [
        (&b""[..], "an empty file"),
        (b"\xff\xfe\x3e\xd8", "UTF-16 with half a character"),
        (b"PK\x03\x04", "the sheet as CSV"),
    ] {
        let (problems, _, facts) = movements(bytes);
        assert!(!problems.is_empty() && facts.is_none());
        assert!(problems.to_string().contains(words), "{problems}");
    }
    let folder = Folder::new();
    let mut problems = Problems::default();
    let missing = folder.0.path().join("no-such.csv");
    assert_eq!(
        read_movements(
            &missing,
            Pass::Check(&mut Seen::default()),
            &mut problems,
            |_, _, _| Flow::Go
        ),
        None
    );
    assert!(
        problems
            .to_string()
            .contains("no-such.csv: expected a file that can be read")
    );
}

#[test]
fn the_guard_against_formulas_is_taken_off_and_nothing_else_is() {
    // Promise S7: the apostrophe that our exports set is stripped, a person's own stays.
    let folder = Folder::new();
    let text = format!(
        "{HEADER}\n\
         '=1+1,2025-07-14,charge,'@SUP,'-RACK,R-22,1,'+ines\n\
         'quoted',2025-07-14,charge,'\u{ff1d}x,A,R-22,1,o'hara\n"
    );
    let mut read = Vec::new();
    let mut problems = Problems::default();
    let path = folder.file(text.as_bytes());
    read_movements(
        &path,
        Pass::Check(&mut Seen::default()),
        &mut problems,
        |row, cells, _| {
            let id = cells.text(MovementColumn::Id.index()).to_string();
            read.push((
                id,
                row.from.to_string(),
                row.to.to_string(),
                row.technician.to_string(),
            ));
            Flow::Go
        },
    );
    assert_eq!(problems.to_string(), "");
    let row = |a: &str, b: &str, c: &str, d: &str| (a.into(), b.into(), c.into(), d.into());
    assert_eq!(read[0], row("=1+1", "@SUP", "-RACK", "+ines"));
    assert_eq!(read[1], row("'quoted'", "\u{ff1d}x", "A", "o'hara"));
}

#[test]
fn repeated_identifiers_are_found_whatever_their_spelling() {
    let uuid = "019b76da-a800-7000-8000-00000000abcd";
    let (a, b) = (
        GOOD.replace("m-1", uuid),
        GOOD.replace("m-1", &uuid.to_uppercase()),
    );
    let (problems, good, _) = rows(HEADER, &[&a, GOOD, &b, GOOD]);
    let text = problems.to_string();
    assert!(
        text.contains("row 4, column movement_id") && text.contains("Row 2 has it"),
        "{text}"
    );
    assert!(
        text.contains("row 5, column movement_id") && text.contains("Row 3 has it"),
        "{text}"
    );
    assert_eq!(good, 2);
}

#[test]
fn twenty_problems_are_told_and_the_rest_counted() {
    let bad = GOOD.replace("14.5", "x");
    let (problems, _, facts) = rows(HEADER, &vec![bad.as_str(); 33]);
    assert_eq!((problems.count(), problems.kept().len()), (33, 20));
    assert!(problems.to_string().ends_with("and 13 more.\n"));
    assert_eq!(facts.unwrap().rows, 33, "the whole file was read");
}

#[test]
fn rows_and_lines_are_told_apart() {
    let quoted = GOOD.replace("ines", "\"in es\"").replace("m-1", "\"m 1\"");
    let text = format!("{HEADER}\n{quoted}\n\n\n{}\n", GOOD.replace("14.5", "x"));
    // RFC 4180 ends lines with two characters; a line is a line.
    for text in [text.replace('\n', "\r\n"), text] {
        let (problems, _, _) = movements(text.as_bytes());
        let told = problems.to_string();
        assert!(told.contains("row 3 (line 5), column mass_lb"), "{told}");
    }
    let (problems, _, _) = rows(
        &format!("{HEADER}\r"),
        &[&format!("{}\r", GOOD.replace("14.5", "x"))],
    );
    let told = problems.to_string();
    assert!(told.contains("row 2, column mass_lb"), "{told}");
}

#[test]
fn the_hash_of_the_file_is_the_one_other_programs_give() {
    // printf 'appliance\n' | sha256sum, as coreutils 9.1 prints it.
    let folder = Folder::new();
    let path = folder.file(format!("{HEADER}\n{GOOD}\n").as_bytes());
    let told = std::process::Command::new("sha256sum").arg(&path).output();
    let told = String::from_utf8(told.expect("sha256sum is part of every Debian").stdout).unwrap();
    let mut problems = Problems::default();
    let facts = read_movements(
        &path,
        Pass::Check(&mut Seen::default()),
        &mut problems,
        |_, _, _| Flow::Go,
    )
    .unwrap();
    let hex: String = facts
        .sha256
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    assert_eq!(told.split(' ').next(), Some(hex.as_str()));
}
