//! One file, row by row: a CSV (`text.rs`) or a sheet of a workbook (`sheet.rs`).
//!
//! The reader keeps one record and gives each row to its caller as cells of text: trimmed, with
//! the guard against spreadsheet formulas taken off, and known to be UTF-8. A row that is no row
//! of this table, or has a bad cell, becomes a problem and the reading goes on to the next one.

#[cfg(feature = "xlsx")]
mod sheet;
mod text;

use super::columns::{Column, Header, Place, find};
use super::encoding::{self, Encoding};
use super::file::ImportFile;
use super::problems::{Bad, Problem, Problems, quoted};
use csv::StringRecord;
use reports::sheet::csv_text::strip_guard;

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
    /// Name without folder; of several sheets of a workbook with that of the sheet.
    pub name: String,
    /// SHA-256 of its bytes.
    pub sha256: [u8; 32],
    /// What tells it from every other file: its hash, and of several sheets of a workbook which.
    pub key: [u8; 32],
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
    /// Whether it is a row of a sheet, whose cells have names such as D7.
    is_sheet: bool,
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
        let place = self.header.places[column].as_ref();
        let name = place.map(|place| self.name_of(place));
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
    /// The name of a column as a message has it: in a sheet with the name of the cell.
    fn name_of(&self, place: &Place) -> String {
        match self.is_sheet {
            true => format!("{} ({})", place.name, cell_name(place.at, self.row)),
            false => place.name.clone(),
        }
    }
}

/// The name of a cell as spreadsheets have it: `D7` is the fourth of row 7.
pub(super) fn cell_name(at: usize, row: u64) -> String {
    let (mut letters, mut rest) = (Vec::new(), at + 1);
    while rest > 0 {
        letters.push(char::from(b'A' + ((rest - 1) % 26) as u8));
        rest = (rest - 1) / 26;
    }
    let letters: String = letters.iter().rev().collect();
    format!("{letters}{row}")
}

/// Reads a file of a table from its first row to its last. `None` comes back when the file could
/// not be read to its end, or the caller stopped.
pub fn read<'f>(
    file: impl Into<ImportFile<'f>>,
    columns: &[Column],
    problems: &mut Problems,
    each: impl FnMut(&Cells<'_>, &mut Problems) -> Flow,
) -> Option<FileFacts> {
    let file: ImportFile<'f> = file.into();
    let path = file.path;
    let name = path.file_name().unwrap_or(path.as_os_str());
    let name = name.to_string_lossy().into_owned();
    let (opened, written, separator) = match encoding::open(path) {
        Ok(opened) => opened,
        Err(error) => {
            let (expected, remedy) = ("a file that can be read", "Name a file that can be read.");
            problems.add(whole(&name, expected, &error.to_string(), remedy));
            return None;
        }
    };
    if written == Encoding::Workbook {
        return read_sheet(opened, file, name, columns, problems, each);
    }
    if let Some(sheet) = file.sheet {
        let (came, remedy) = (
            format!("a text file beside the sheet '{sheet}'"),
            "Leave the name of the sheet out.",
        );
        problems.add(whole(&name, "a workbook", &came, remedy));
        return None;
    }
    let way = (opened, written, separator);
    text::read(way, name, columns, problems, each)
}

#[cfg(feature = "xlsx")]
use sheet::read as read_sheet;

#[cfg(not(feature = "xlsx"))]
fn read_sheet(
    _: std::fs::File,
    _: ImportFile<'_>,
    name: String,
    _: &[Column],
    problems: &mut Problems,
    _: impl FnMut(&Cells<'_>, &mut Problems) -> Flow,
) -> Option<FileFacts> {
    let remedy = "Save the sheet as CSV UTF-8 and import that file.";
    let expected = "a CSV file: this program was built without workbooks";
    problems.add(whole(&name, expected, "a workbook", remedy));
    None
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

fn header_of(
    file: &str,
    columns: &[Column],
    names: &[&str],
    problems: &mut Problems,
) -> Option<Header> {
    let errors = match find(columns, names) {
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
            "A text with a comma, or what else ends the cells, must stand in quotes."
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
                return wrong(Some(cells.name_of(place)), expected, quoted(text), remedy);
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
