//! A report as files: the table, its evidence and, for programs, its description, side by side.
//!
//! Nothing that is there is written over, and a report that fails leaves nothing behind: a file of
//! a year may be the one that was handed in.

use super::super::failure::Failure;
use crate::actions::report::{self, ReportAsked, ReportTold};
use crate::http::query::encoded;
use crate::store::Db;
use crate::store::open::Organisation;
use std::fs::File;
use std::io::{BufWriter, ErrorKind, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Files that vanish again unless all of them were written.
#[derive(Default)]
struct Made {
    files: Vec<PathBuf>,
}

impl Made {
    fn create(&mut self, file: PathBuf) -> Result<BufWriter<File>, Failure> {
        let shown = file.display();
        let made = File::create_new(&file).map_err(|error| match error.kind() {
            ErrorKind::AlreadyExists => Failure::failed(format!(
                "expected {shown} not to be there yet, came a file. Nothing was written; name \
                 another file, or move that one away."
            )),
            _ => Failure::failed(format!("expected to write {shown}, came: {error}.")),
        })?;
        self.files.push(file);
        Ok(BufWriter::new(made))
    }
}

impl Drop for Made {
    fn drop(&mut self) {
        for file in &self.files {
            // What cannot be removed is only in the way.
            let _ = std::fs::remove_file(file);
        }
    }
}

/// Writes the report and what stands beside it.
pub(super) fn write(
    db: &mut Db,
    of: &Organisation,
    asked: ReportAsked,
    file: &Path,
) -> Result<ReportTold, Failure> {
    let mut made = Made::default();
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    let out = made.create(file.to_path_buf())?;
    let mut evidence = made.create(file.with_extension("evidence.csv"))?;
    // CSV on the Web (W3C), section 5.3: a description is looked for under this name.
    let mut description = match asked.options.dialect.is_for_spreadsheets() {
        true => None,
        false => Some(made.create(file.with_file_name(format!("{name}-metadata.json")))?),
    };
    let told = report::report(db, of, asked, out, Some(&mut evidence))?;
    let failed = |error: std::io::Error| {
        Failure::failed(format!(
            "expected to write {}, came: {error}.",
            file.display()
        ))
    };
    if let Some(description) = &mut description {
        let text = told.description(&encoded(&name));
        description.write_all(text.as_bytes()).map_err(failed)?;
        description.flush().map_err(failed)?;
    }
    evidence.flush().map_err(failed)?;
    made.files.clear();
    Ok(told)
}

/// Writes the report as a workbook: one file, nothing beside it.
pub(super) fn write_workbook(
    db: &mut Db,
    of: &Organisation,
    asked: ReportAsked,
    file: &Path,
) -> Result<ReportTold, Failure> {
    let mut made = Made::default();
    let mut out = made.create(file.to_path_buf())?;
    let told = report::workbook(db, of, asked, &mut out)?;
    made.files.clear();
    Ok(told)
}

/// Writes the workbook to standard output, where a program takes it.
pub(super) fn print_workbook(
    db: &mut Db,
    of: &Organisation,
    asked: ReportAsked,
) -> Result<ReportTold, Failure> {
    let mut out = std::io::stdout().lock();
    if out.is_terminal() {
        return Err(Failure::usage(
            "expected a file for the workbook, came a terminal. Add --out FILE.xlsx.",
        ));
    }
    Ok(report::workbook(db, of, asked, &mut out)?)
}
