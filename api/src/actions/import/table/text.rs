//! A CSV file as rows.
//!
//! Cells end with commas; where the header has no comma, with tabs (spreadsheets write UTF-16 so) or
//! with semicolons (so where numbers are written `7,25`).

use super::super::columns::{Column, Header};
use super::super::encoding::{Decoded, Encoding, Halved};
use super::super::problems::{Problem, Problems, quoted};
use super::super::watched::{Endless, Watched};
use super::{Cells, FileFacts, Flow, header_of, is_whole, whole};
use csv::{ErrorKind, StringRecord};
use std::fs::File;

/// Reads a CSV file from its first row to its last.
pub(super) fn read(
    (file, written, separator): (File, Encoding, u8),
    name: String,
    columns: &[Column],
    problems: &mut Problems,
    mut each: impl FnMut(&Cells<'_>, &mut Problems) -> Flow,
) -> Option<FileFacts> {
    let watched = Watched::new(Decoded::new(file, written), separator);
    let (mut reader, header) = open(watched, separator, &name, columns, problems)?;
    let mut record = StringRecord::new();
    // Where lines end with two characters, the reader takes the second one with the row behind it.
    let behind = u64::from(reader.position().line() == 1);
    let mut guessed = None;
    let mut row = 1;
    loop {
        row += 1;
        match reader.read_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            Err(error) => {
                if broken(&name, row, &error, Some(&header), problems) == Flow::Stop {
                    return None;
                }
                continue;
            }
        }
        if written == Encoding::Windows1252 && guessed.is_none() {
            guessed = (record.iter().find(|cell| !cell.is_ascii())).map(|cell| quoted(cell.trim()));
        }
        let line = line_of(&record, reader.position().line()).map(|line| line + behind);
        let line = line.filter(|line| *line != row);
        let cells = Cells {
            row,
            line,
            is_sheet: false,
            file: &name,
            record: &record,
            header: &header,
        };
        if is_whole(&cells, problems) && each(&cells, problems) == Flow::Stop {
            return None;
        }
    }
    match reader.into_inner().finish().map(Decoded::finish) {
        Ok(passed) => Some(FileFacts {
            name,
            sha256: passed.sha256,
            key: passed.sha256,
            bytes: passed.bytes,
            rows: row - 2,
            guessed,
        }),
        Err(error) => {
            problems.add(whole(
                &name,
                "to read the file to its end",
                &error.to_string(),
                "",
            ));
            None
        }
    }
}

/// A file on its way: its letters, its quotes, its rows.
type Rows = csv::Reader<Watched<Decoded<File>>>;

/// Reads the header.
fn open(
    watched: Watched<Decoded<File>>,
    separator: u8,
    name: &str,
    columns: &[Column],
    problems: &mut Problems,
) -> Option<(Rows, Header)> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .buffer_capacity(64 * 1024)
        .from_reader(watched);
    let mut record = StringRecord::new();
    match reader.read_record(&mut record) {
        Ok(true) => {
            let names: Vec<&str> = record.iter().collect();
            let header = header_of(name, columns, &names, problems)?;
            Some((reader, header))
        }
        Ok(false) => {
            problems.add(whole(
                name,
                "a header row",
                "an empty file",
                "Export the file again.",
            ));
            None
        }
        Err(error) => {
            broken(name, 1, &error, None, problems);
            None
        }
    }
}

/// The line of the text on which a record begins. The reader steps over empty lines while it reads
/// the record behind them, so these are told from line breaks inside cells.
fn line_of(record: &StringRecord, end: u64) -> Option<u64> {
    let from = record.position()?.line();
    let spanned = end.saturating_sub(from);
    if spanned <= 1 {
        return Some(from);
    }
    let inside = record
        .as_slice()
        .bytes()
        .filter(|byte| *byte == b'\n')
        .count() as u64;
    Some(from + spanned.saturating_sub(1 + inside))
}

/// Notes why a row could not be read, and says whether the next one can be.
fn broken(
    file: &str,
    row: u64,
    error: &csv::Error,
    header: Option<&Header>,
    problems: &mut Problems,
) -> Flow {
    let mut add = |column: Option<String>, expected: &str, came: String, remedy: &str| {
        let (file, expected, remedy) = (file.into(), expected.into(), remedy.into());
        problems.add(Problem {
            file,
            row: Some(row),
            line: None,
            column,
            expected,
            came,
            remedy,
        });
    };
    match error.kind() {
        ErrorKind::Utf8 { err, .. } => {
            let places = header.map(|header| header.places.iter().flatten());
            let column = places
                .into_iter()
                .flatten()
                .find(|place| place.at == err.field());
            let column = column.map_or(format!("no. {}", err.field() + 1), |p| p.name.clone());
            let came = format!("a byte that is not, after {} good ones", err.valid_up_to());
            add(Some(column), "UTF-8", came, "Save the file as CSV UTF-8.");
            if header.is_some() {
                Flow::Go
            } else {
                Flow::Stop
            }
        }
        ErrorKind::Io(error) => {
            let endless = error
                .get_ref()
                .and_then(|inner| inner.downcast_ref::<Endless>());
            let halved = error.get_ref().is_some_and(|inner| inner.is::<Halved>());
            let remedy = match endless {
                Some(Endless::Quote) => "The file was cut short, or a quote stands too much.",
                Some(Endless::Row) => "Is this a CSV file?",
                None if halved => "Save the file as CSV UTF-8.",
                None => "Copy the file to a sound disk.",
            };
            add(None, "CSV in UTF-8", error.to_string(), remedy);
            Flow::Stop
        }
        _ => {
            add(None, "CSV", error.to_string(), "Export the file again.");
            Flow::Stop
        }
    }
}
