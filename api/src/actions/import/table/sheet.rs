//! A sheet of a workbook as rows.
//!
//! Its first row is the header. Rows and cells are named as the workbook names them, so the rows of a
//! table stand without a gap; what is empty below the last one counts for nothing.

use super::super::columns::{Column, Header};
use super::super::file::ImportFile;
use super::super::problems::{Bad, Problem, Problems, quoted};
use super::super::workbook::{CellValue, LARGEST, Take, Workbook, Wrong};
use super::{Cells, FileFacts, Flow, cell_name, header_of, is_whole, whole};
use crate::ledger::tree::sha256;
use csv::StringRecord;
use reports::sheet::csv_text::strip_guard;
use std::fs::File;
use std::io::Read;

/// Cells of a header that are read: several times the columns of any table.
const WIDEST: usize = 1_000;

/// Reads a sheet from its first row to its last.
pub(super) fn read(
    opened: File,
    file: ImportFile<'_>,
    mut name: String,
    columns: &[Column],
    problems: &mut Problems,
    each: impl FnMut(&Cells<'_>, &mut Problems) -> Flow,
) -> Option<FileFacts> {
    let note = |name: &str, wrong: Wrong, problems: &mut Problems| {
        let mut problem = whole(name, &wrong.expected, &wrong.came, &wrong.remedy);
        problem.row = wrong.row;
        problems.add(problem);
    };
    let mut bytes = Vec::new();
    if let Err(error) = opened.take(LARGEST + 1).read_to_end(&mut bytes) {
        problems.add(whole(
            &name,
            "to read the file to its end",
            &error.to_string(),
            "",
        ));
        return None;
    }
    if bytes.len() as u64 > LARGEST {
        let expected = format!("a workbook of at most {} MiB", LARGEST >> 20);
        let remedy = "Save the sheet as CSV UTF-8 and import that file; it may be larger.";
        problems.add(whole(&name, &expected, "a larger one", remedy));
        return None;
    }
    let hash = sha256(&bytes);
    let opened =
        Workbook::open(&bytes).and_then(|book| book.sheet(file.sheet).map(|sheet| (book, sheet)));
    let (mut book, sheet) = match opened {
        Ok(opened) => opened,
        Err(wrong) => {
            note(&name, wrong, problems);
            return None;
        }
    };
    let mut key = hash;
    if book.sheets().len() > 1 {
        // Two sheets of one file are two imports.
        key = sha256(&[&hash[..], b"sheet ", sheet.as_bytes()].concat());
        name = format!("{name}, sheet {sheet}");
    }
    let mut rows = Rows::new(&name, columns, problems, each);
    let walked = book.walk(&sheet, &mut rows).and_then(|()| rows.finish());
    let (stopped, last) = (rows.stopped, rows.last);
    if let Err(wrong) = walked {
        note(&name, wrong, problems);
        return None;
    }
    (!stopped).then(|| FileFacts {
        name,
        sha256: hash,
        key,
        bytes: bytes.len() as u64,
        rows: last - 1,
        guessed: None,
    })
}

/// A sheet on its way, cell by cell.
struct Rows<'r, E> {
    name: &'r str,
    columns: &'r [Column],
    problems: &'r mut Problems,
    each: E,
    header: Option<Header>,
    /// The row whose cells come; 0 before the first.
    row: u64,
    cells: Vec<String>,
    /// Cells of it that have no value.
    bad: Vec<(usize, String, Bad)>,
    /// The last row that was not empty.
    last: u64,
    stopped: bool,
}

impl<'r, E: FnMut(&Cells<'_>, &mut Problems) -> Flow> Rows<'r, E> {
    fn new(name: &'r str, columns: &'r [Column], problems: &'r mut Problems, each: E) -> Self {
        Rows {
            name,
            columns,
            problems,
            each,
            header: None,
            row: 0,
            cells: Vec::new(),
            bad: Vec::new(),
            last: 0,
            stopped: false,
        }
    }

    /// Ends the row that came last.
    fn finish_row(&mut self) -> Result<(), Wrong> {
        // Formulas that show nothing are nothing, and the first row of all has not come yet.
        if self.bad.is_empty() && self.cells.iter().all(|cell| cell.trim().is_empty()) {
            self.cells.clear();
            return Ok(());
        }
        let (row, last) = (self.row, std::mem::replace(&mut self.last, self.row));
        let Some(header) = &self.header else {
            return self.begin();
        };
        if row > last + 1 {
            let mut problem = whole(
                self.name,
                "a row of the table",
                "an empty row",
                "Delete it: rows stand without a gap.",
            );
            problem.row = Some(last + 1);
            self.problems.add(problem);
        }
        for (at, came, bad) in self.bad.drain(..) {
            let column = header.places.iter().flatten().find(|place| place.at == at);
            let cell = cell_name(at, row);
            let column = match column {
                Some(place) => format!("{} ({cell})", place.name),
                None => cell,
            };
            self.problems.add(Problem {
                file: self.name.to_string(),
                row: Some(row),
                line: None,
                column: Some(column),
                expected: bad.expected.into_owned(),
                came,
                remedy: bad.remedy.into_owned(),
            });
            self.cells.clear();
        }
        if self.cells.is_empty() {
            return Ok(());
        }
        self.cells.resize(header.width, String::new());
        let record = StringRecord::from(std::mem::take(&mut self.cells));
        let cells = Cells {
            row,
            line: None,
            is_sheet: true,
            file: self.name,
            record: &record,
            header,
        };
        let whole = is_whole(&cells, self.problems);
        self.stopped = whole && (self.each)(&cells, self.problems) == Flow::Stop;
        Ok(())
    }

    /// Takes the first row that is not empty for the header.
    fn begin(&mut self) -> Result<(), Wrong> {
        let names: Vec<&str> = self.cells.iter().map(String::as_str).collect();
        if self.row != 1 || !self.bad.is_empty() {
            return Err(no_header(if self.row == 1 {
                "a formula or an error in it"
            } else {
                "an empty row 1"
            }));
        }
        self.header = header_of(self.name, self.columns, &names, self.problems);
        self.stopped = self.header.is_none();
        self.cells.clear();
        Ok(())
    }

    /// Ends the sheet.
    fn finish(&mut self) -> Result<(), Wrong> {
        if !self.stopped {
            self.finish_row()?;
        }
        match self.last {
            0 => Err(no_header("an empty sheet")),
            _ => Ok(()),
        }
    }
}

fn no_header(came: &str) -> Wrong {
    Wrong {
        row: Some(1),
        expected: "a header in the first row".to_string(),
        came: came.to_string(),
        remedy: "Write the names of the columns there, and the rows below.".to_string(),
    }
}

impl<E: FnMut(&Cells<'_>, &mut Problems) -> Flow> Take for Rows<'_, E> {
    fn cell(&mut self, row: u64, at: usize, value: CellValue<'_>) -> Result<Flow, Wrong> {
        if row != self.row {
            if row < self.row {
                return Err(Wrong {
                    row: Some(row),
                    expected: "rows in their order".to_string(),
                    came: format!("this one after row {}", self.row),
                    remedy: "Save the workbook again.".to_string(),
                });
            }
            self.finish_row()?;
            if self.stopped {
                return Ok(Flow::Stop);
            }
            self.row = row;
            self.cells.clear();
        }
        let width = self.header.as_ref().map_or(WIDEST, |header| header.width);
        match value {
            CellValue::Text(text) if at < width => {
                if self.cells.len() <= at {
                    self.cells.resize(at + 1, String::new());
                }
                self.cells[at] = guarded(&text);
            }
            CellValue::Bad(came, bad) if at < width => self.bad.push((at, came, bad)),
            // One is told; the rest of the row is as wrong.
            _ if self.bad.last().is_some_and(|(other, ..)| *other >= width) => {}
            CellValue::Text(text) if text.is_empty() => {}
            CellValue::Text(text) => {
                let remedy = "Take it out, or name its column in the first row.";
                let bad = Bad::new("cells under the header only", remedy);
                self.bad.push((at, quoted(&text), bad));
            }
            CellValue::Bad(came, bad) => self.bad.push((at, came, bad)),
        }
        Ok(Flow::Go)
    }
}

/// A text of a sheet with the guard that a CSV has, which whoever reads the row takes off again.
fn guarded(text: &str) -> String {
    let guarded = format!("'{text}");
    match strip_guard(&guarded) == text {
        true => guarded,
        false => text.to_string(),
    }
}
