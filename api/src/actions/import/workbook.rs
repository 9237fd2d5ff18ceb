//! Workbooks as import files: XLSX (ISO/IEC 29500) and ODS (ISO/IEC 26300).
//!
//! A workbook is unpacked as it is read and never stands in memory as a whole; how large it may be
//! says `caps.rs`. Each cell becomes the text that a CSV would hold, so that the rows go on as those
//! of a CSV do: a number with the 15 digits that a spreadsheet keeps, a day as `2026-07-14`, a day
//! with a time as `2026-07-14T11:52`. Of a formula the value counts that was kept with it. What has no
//! such text (a formula without a value, an error, a length of time, merged cells) is refused.

mod caps;
mod ods;
mod values;
mod xlsx;

use super::problems::quoted;
use super::table::Flow;
use caps::Kind;
pub use caps::LARGEST;
use std::borrow::Cow;
use values::Value;

/// What is wrong with a workbook, so that nothing more can be read of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wrong {
    /// Row, if it is about one; the first is 1.
    pub row: Option<u64>,
    /// What was expected.
    pub expected: String,
    /// What came.
    pub came: String,
    /// What to do.
    pub remedy: String,
}

impl Wrong {
    fn new(
        expected: impl Into<String>,
        came: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Wrong {
        let (expected, came, remedy) = (expected.into(), came.into(), remedy.into());
        Wrong {
            row: None,
            expected,
            came,
            remedy,
        }
    }

    /// A file that is damaged, for this reason.
    fn damaged(why: &dyn std::fmt::Display) -> Wrong {
        let came = format!("one that cannot be read ({why})");
        Wrong::new(
            "a workbook",
            came,
            "Save it again as XLSX or ODS, or the sheet as CSV UTF-8.",
        )
    }

    /// Merged cells; `place`: where, in the words of spreadsheets.
    fn merged(row: u64, place: &str) -> Wrong {
        let remedy = "Unmerge them and fill each cell.";
        Wrong {
            row: Some(row),
            ..Wrong::new("single cells", format!("merged cells ({place})"), remedy)
        }
    }
}

/// Takes the cells of a sheet that are not empty, row by row and from left to right.
pub trait Take {
    /// The cell in this row (the first is 1) and column (the first is 0).
    fn cell(&mut self, row: u64, column: usize, value: Value<'_>) -> Result<Flow, Wrong>;
}

pub use values::Value as CellValue;

/// A workbook whose sheets are known.
pub enum Workbook<'b> {
    /// Office Open XML.
    Xlsx(Box<xlsx::Book<'b>>),
    /// OpenDocument.
    Ods(ods::Book<'b>),
}

impl<'b> Workbook<'b> {
    /// Looks at the bytes of a file.
    pub fn open(bytes: &'b [u8]) -> Result<Workbook<'b>, Wrong> {
        match caps::looked_through(bytes)? {
            Kind::Xlsx => xlsx::Book::open(bytes).map(Box::new).map(Workbook::Xlsx),
            Kind::Ods => ods::Book::open(bytes).map(Workbook::Ods),
        }
    }

    /// The names of its sheets, in their order.
    pub fn sheets(&self) -> &[String] {
        match self {
            Workbook::Xlsx(book) => &book.sheets,
            Workbook::Ods(book) => &book.sheets,
        }
    }

    /// The sheet to read: the only one, or the one that was named.
    pub fn sheet(&self, named: Option<&str>) -> Result<String, Wrong> {
        let sheets = self.sheets();
        let list = || {
            let names: Vec<String> = sheets.iter().map(|name| quoted(name)).collect();
            names.join(", ")
        };
        match (named, sheets) {
            (None, [only]) => Ok(only.clone()),
            (None, []) => Err(Wrong::new("a sheet", "a workbook without one", "")),
            (None, several) => Err(Wrong::new(
                "the name of a sheet",
                format!("a workbook with {}: {}", several.len(), list()),
                "Name the one to import with --sheet.",
            )),
            (Some(named), sheets) if sheets.iter().any(|name| name == named) => {
                Ok(named.to_string())
            }
            (Some(named), _) => Err(Wrong::new(
                format!("one of the sheets {}", list()),
                quoted(named),
                "Write its name as it stands on the tab.",
            )),
        }
    }

    /// Hands over the cells of a sheet.
    pub fn walk(&mut self, sheet: &str, take: &mut dyn Take) -> Result<(), Wrong> {
        match self {
            Workbook::Xlsx(book) => book.walk(sheet, take),
            Workbook::Ods(book) => book.walk(sheet, take),
        }
    }
}

/// A text as a cell holds it; nothing where it is empty.
fn text(text: Cow<'_, str>) -> Option<Value<'_>> {
    (!text.is_empty()).then_some(Value::Text(text))
}

#[cfg(test)]
mod tests;
