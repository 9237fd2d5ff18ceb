//! One CSV file, row by row.
//!
//! The reader keeps one record and gives each row to its caller as cells of text: trimmed, with
//! the guard against spreadsheet formulas taken off, and known to be UTF-8. A row that is no row
//! of this table, or has a bad cell, becomes a problem and the reading goes on to the next one.
//! Cells end with commas, or with tabs where the header has no comma: spreadsheets write UTF-16 so.

use super::columns::{Column, Header, Place, find};
use super::encoding::{self, Decoded, Encoding, Halved};
use super::problems::{Bad, Problem, Problems, quoted};
use super::watched::{Endless, Watched};
use csv::{ErrorKind, StringRecord};
use reports::sheet::csv_text::strip_guard;
use std::fs::File;
use std::path::Path;

/// Whether to go on reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Flow {
    /// On to the next row.
    Go,
    /// No further.
    Stop,
}

/// What a file was, once it has been read to its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileFacts {
    /// Name without folder.
    pub name: String,
    /// SHA-256 of its bytes.
    pub sha256: [u8; 32],
    /// Its size.
    pub bytes: u64,
    /// Rows after the header.
    pub rows: u64,
    /// The first cell with a letter beyond ASCII, of a file whose encoding had to be guessed.
    pub guessed: Option<String>,
}

/// One row of the file, as cells.
pub struct Cells<'a> {
    /// Row as a spreadsheet counts it (the header is row 1).
    pub row: u64,
    line: Option<u64>,
    file: &'a str,
    record: &'a StringRecord,
    header: &'a Header,
}

impl<'a> Cells<'a> {
    /// The text of a cell; a column the file does not have holds nothing.
    pub fn text(&self, column: usize) -> &'a str {
        let place = self.header.places[column].as_ref();
        place.map_or("", |place| {
            strip_guard(self.record.get(place.at).unwrap_or("").trim()).trim()
        })
    }

    /// Where a column stands in this file, if it has it.
    pub fn place(&self, column: usize) -> Option<&'a Place> {
        self.header.places[column].as_ref()
    }

    /// Reads a cell; what is wrong with it is noted and `None` comes back.
    pub fn read<T>(
        &self,
        column: usize,
        problems: &mut Problems,
        read: impl FnOnce(&'a str) -> Result<T, Bad>,
    ) -> Option<T> {
        let text = self.text(column);
        match read(text) {
            Ok(value) => Some(value),
            Err(bad) => {
                self.note(column, text, bad, problems);
                None
            }
        }
    }

    /// Notes what is wrong with a cell.
    pub fn note(&self, column: usize, came: &str, bad: Bad, problems: &mut Problems) {
        problems.add(self.problem(column, came, bad));
    }

    /// What is wrong with a cell, with its place.
    pub fn problem(&self, column: usize, came: &str, bad: Bad) -> Problem {
        let name = self.header.places[column]
            .as_ref()
            .map(|place| place.name.clone());
        Problem {
            file: self.file.to_string(),
            row: Some(self.row),
            line: self.line,
            column: name,
            expected: bad.expected.into_owned(),
            came: quoted(came),
            remedy: bad.remedy.into_owned(),
        }
    }
}

/// Reads a file of a table from its first row to its last. `None` comes back when the file could
/// not be read to its end, or the caller stopped.
pub fn read(
    path: &Path,
    columns: &[Column],
    problems: &mut Problems,
    mut each: impl FnMut(&Cells<'_>, &mut Problems) -> Flow,
) -> Option<FileFacts> {
    let name = path
        .file_name()
        .unwrap_or(path.as_os_str())
        .to_string_lossy()
        .into_owned();
    let (mut reader, header, written) = open(path, &name, columns, problems)?;
    let mut record = StringRecord::new();
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
        let line = line_of(&record, reader.position().line()).filter(|line| *line != row);
        let cells = Cells {
            row,
            line,
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

/// Opens a file and reads its header.
fn open(
    path: &Path,
    name: &str,
    columns: &[Column],
    problems: &mut Problems,
) -> Option<(Rows, Header, Encoding)> {
    let (file, written, separator) = match encoding::open(path) {
        Ok(opened) => opened,
        Err(error) => {
            let (expected, remedy) = ("a file that can be read", "Name a file that can be read.");
            problems.add(whole(name, expected, &error.to_string(), remedy));
            return None;
        }
    };
    if written == Encoding::Workbook {
        let remedy = "Save the sheet as CSV UTF-8 and import that file.";
        problems.add(whole(name, "a CSV file", "a workbook", remedy));
        return None;
    }
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .buffer_capacity(64 * 1024)
        .from_reader(Watched::new(Decoded::new(file, written), separator));
    let mut record = StringRecord::new();
    match reader.read_record(&mut record) {
        Ok(true) => {
            let header = header_of(name, columns, &record, problems)?;
            Some((reader, header, written))
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

/// A problem of the file as a whole.
fn whole(file: &str, expected: &str, came: &str, remedy: &str) -> Problem {
    Problem {
        file: file.to_string(),
        row: None,
        line: None,
        column: None,
        expected: expected.to_string(),
        came: came.to_string(),
        remedy: remedy.to_string(),
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

fn header_of(
    file: &str,
    columns: &[Column],
    record: &StringRecord,
    problems: &mut Problems,
) -> Option<Header> {
    let names: Vec<&str> = record.iter().collect();
    let errors = match find(columns, &names) {
        Ok(header) => return Some(header),
        Err(errors) => errors,
    };
    for (column, bad) in errors {
        problems.add(Problem {
            file: file.to_string(),
            row: Some(1),
            line: None,
            came: match &column {
                Some(name) => quoted(name),
                None => "none".to_string(),
            },
            column,
            expected: bad.expected.into_owned(),
            remedy: bad.remedy.into_owned(),
        });
    }
    None
}

/// A row must have as many cells as the header, and nothing that cannot be seen.
fn is_whole(cells: &Cells<'_>, problems: &mut Problems) -> bool {
    let (width, came) = (cells.header.width, cells.record.len());
    let mut wrong = |column: Option<String>, expected: String, came: String, remedy: &str| {
        problems.add(Problem {
            file: cells.file.to_string(),
            row: Some(cells.row),
            line: cells.line,
            column,
            expected,
            came,
            remedy: remedy.to_string(),
        });
        false
    };
    if came != width {
        let remedy = if came < width {
            "If it is the last row the file was cut short: export it again."
        } else {
            "A text with a comma in it must stand in quotes."
        };
        let expected = format!("{width} cells, as in the header");
        return wrong(None, expected, format!("{came}"), remedy);
    }
    if let Some(total) = totals(cells.record) {
        let remedy = "Take the row out; totals are worked out from the rows.";
        let expected = "a row of the table".to_string();
        return wrong(
            None,
            expected,
            format!("a row of totals ({})", quoted(total)),
            remedy,
        );
    }
    let is_odd = |byte: &u8| *byte < b' ' || *byte == 0x7f;
    if cells.record.as_slice().as_bytes().iter().any(is_odd) {
        for place in cells.header.places.iter().flatten() {
            // A guarded cell may begin with such a character behind its apostrophe.
            let text = strip_guard(cells.record.get(place.at).unwrap_or("").trim()).trim();
            if text.chars().any(char::is_control) {
                let remedy = "Take out line breaks, tabs and other characters that are no text.";
                let expected = "text on one line".to_string();
                return wrong(Some(place.name.clone()), expected, quoted(text), remedy);
            }
        }
    }
    true
}

/// The word of a row of totals, as people put it under a table: such a word, and most cells empty.
fn totals(record: &StringRecord) -> Option<&str> {
    const WORDS: [&str; 6] = [
        "total",
        "totals",
        "sum",
        "subtotal",
        "sub-total",
        "grand total",
    ];
    let filled = record.iter().filter(|cell| !cell.trim().is_empty());
    if 2 * filled.clone().count() > record.len() {
        return None;
    }
    let first = filled.map(str::trim).next()?;
    let word = first.trim_end_matches(':').trim();
    let is_one = WORDS.iter().any(|known| word.eq_ignore_ascii_case(known));
    is_one.then_some(first)
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
