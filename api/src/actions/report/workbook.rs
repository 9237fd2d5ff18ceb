//! A report as a workbook (XLSX, ISO/IEC 29500): the table, its evidence, and a sheet that says what
//! they are.
//!
//! The cells are those of the CSV for programs, each with its type; so the table is written first, as
//! that file, and read again. Rows go to the disk as they come and never stand in memory. No clock
//! has a part in the bytes: the same book gives the same workbook.

mod about;
mod cells;

use super::{ReportAsked, ReportTold, report};
use crate::actions::refusal::ActionError;
use crate::store::StoreError;
use crate::store::db::Db;
use crate::store::open::Organisation;
use cells::{Looks, Sheets};
use reports::sheet::{Cells, Dialect, evidence};
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, XlsxError};
use std::fs::File;
use std::io::{self, BufReader, BufWriter, Seek, Write};

/// Most rows of a sheet, its header among them (Excel's own limit; other programs read no more).
const ROWS: u32 = 1_048_576;

/// The day a workbook gives as that of its making, the first of the calendar of ZIP files: a true
/// one would be other bytes each time.
const MADE: (u16, u8, u8) = (1980, 1, 1);

/// Writes a report as a workbook.
pub fn workbook(
    db: &mut Db,
    of: &Organisation,
    mut asked: ReportAsked,
    out: &mut dyn Write,
) -> Result<ReportTold, ActionError> {
    asked.options.dialect = Dialect::Programs;
    let (mut table, mut proof) = (tempfile::tempfile()?, tempfile::tempfile()?);
    let mut table_out = BufWriter::new(&mut table);
    let mut proof_out = BufWriter::new(&mut proof);
    let told = report(db, of, asked, &mut table_out, Some(&mut proof_out))?;
    table_out.flush()?;
    proof_out.flush()?;
    drop((table_out, proof_out));
    // The library asks for an output that other threads may have, which none of ours is.
    let mut whole = tempfile::tempfile()?;
    made(&told, of, table, proof, ROWS)
        .and_then(|mut book| book.save_to_writer(BufWriter::new(&mut whole)))
        .map_err(failed)?;
    whole.rewind()?;
    io::copy(&mut whole, out)?;
    out.flush()?;
    Ok(told)
}

/// A cause of the library in the words of ours.
fn failed(error: XlsxError) -> ActionError {
    ActionError::Failed(StoreError::Output(format!("as a workbook: {error}")))
}

/// The workbook of a table and its evidence, `rows` at most on a sheet.
fn made(
    told: &ReportTold,
    of: &Organisation,
    table: File,
    proof: File,
    rows: u32,
) -> Result<Workbook, XlsxError> {
    let about = told.name.about();
    let mut book = Workbook::new();
    let (year, month, day) = MADE;
    book.set_properties(
        &DocProperties::new()
            .set_title(format!("{} {}", about.title, told.options.year))
            .set_company(&of.name)
            .set_creation_datetime(&ExcelDateTime::from_ymd(year, month, day)?),
    );
    let looks = Looks::new();
    let kinds: Vec<Cells> = told
        .name
        .header(told.options.unit)
        .iter()
        .map(|c| c.cells)
        .collect();
    let mut sheets = Sheets {
        book: &mut book,
        looks: &looks,
        rows,
        footer: format!("{} {}", about.title, told.options.year),
    };
    sheets.fill(about.word, &kinds, csv_of(table)?)?;
    sheets.fill("evidence", &EVIDENCE, csv_of(proof)?)?;
    about::write(&mut book, told, of, &looks)?;
    Ok(book)
}

/// What the columns of the evidence are, in the order of [`evidence::HEADER`].
const EVIDENCE: [Cells; evidence::HEADER.len()] = [
    Cells::Count,
    Cells::Text,
    Cells::Text,
    Cells::Count,
    Cells::Number,
];

fn csv_of(mut file: File) -> Result<csv::Reader<BufReader<File>>, XlsxError> {
    file.rewind().map_err(XlsxError::IoError)?;
    let mut reader = csv::ReaderBuilder::new();
    Ok(reader.has_headers(false).from_reader(BufReader::new(file)))
}

#[cfg(test)]
mod tests;
