//! Cells of Office Open XML, as the library `calamine` streams them.

use super::values::{Value, iso_moment, moment, number};
use super::{Take, Wrong, text};
use crate::actions::import::table::{Flow, cell_name};
use calamine::{DataRef, ExcelDateTime, Reader, SheetType, Xlsx, XlsxError};
use std::borrow::Cow;
use std::io::Cursor;

/// A day after the last one that a sheet has, 9999-12-31, by the earlier of the two epochs.
const TOO_LATE: f64 = 2_957_004.0;

/// A workbook.
pub struct Book<'b> {
    inner: Xlsx<Cursor<&'b [u8]>>,
    /// The names of its sheets with cells.
    pub sheets: Vec<String>,
}

fn wrong(error: XlsxError) -> Wrong {
    Wrong::damaged(&error)
}

impl<'b> Book<'b> {
    pub fn open(bytes: &'b [u8]) -> Result<Book<'b>, Wrong> {
        let inner = Xlsx::new(Cursor::new(bytes)).map_err(wrong)?;
        let sheets = inner.sheets_metadata().iter();
        let sheets = sheets.filter(|sheet| sheet.typ == SheetType::WorkSheet);
        let sheets = sheets.map(|sheet| sheet.name.clone()).collect();
        Ok(Book { inner, sheets })
    }

    pub fn walk(&mut self, sheet: &str, take: &mut dyn Take) -> Result<(), Wrong> {
        // A merged title is as little a table as merged cells further down.
        let merged = self.inner.merge_cells_by_sheet_name(sheet).map_err(wrong)?;
        if let Some(region) = merged.first() {
            let name = |(row, column): (u32, u32)| cell_name(column as usize, u64::from(row) + 1);
            let place = format!("{} to {}", name(region.start), name(region.end));
            return Err(Wrong::merged(u64::from(region.start.0) + 1, &place));
        }
        let mut cells = self.inner.worksheet_cells_reader(sheet).map_err(wrong)?;
        while let Some(cell) = cells.next_cell_with_formula_metadata().map_err(wrong)? {
            let value = match value(&cell.value) {
                None if cell.formula.is_some() => Value::without_value(),
                None => continue,
                Some(value) => value,
            };
            let (row, column) = cell.pos;
            if take.cell(u64::from(row) + 1, column as usize, value)? == Flow::Stop {
                break;
            }
        }
        Ok(())
    }
}

/// What stands in a cell; `None`: nothing. A formula whose value is an empty text has one.
fn value<'c>(data: &'c DataRef<'_>) -> Option<Value<'c>> {
    match data {
        DataRef::Empty => None,
        DataRef::Int(number) => Some(Value::Text(number.to_string().into())),
        DataRef::Float(float) => Some(Value::Text(number(*float).into())),
        DataRef::String(string) => text(Cow::Borrowed(string)).or(Some(Value::Text("".into()))),
        DataRef::SharedString(string) => text(Cow::Borrowed(string)),
        DataRef::Bool(truth) => Some(Value::truth(*truth)),
        DataRef::DateTime(day) => Some(day_of(day)),
        DataRef::DateTimeIso(written) => Some(Value::Text(iso_moment(written).into())),
        DataRef::DurationIso(_) => Some(Value::length_of_time()),
        DataRef::Error(error) => Some(Value::error(&error.to_string())),
    }
}

fn day_of(day: &ExcelDateTime) -> Value<'static> {
    let count = day.as_f64();
    if day.is_duration() || !(1.0..TOO_LATE).contains(&count) {
        return Value::length_of_time();
    }
    let (year, month, of_month, hour, minute, second, _) = day.to_ymd_hms_milli();
    Value::Text(moment((year, month, of_month), (hour, minute, second)).into())
}
