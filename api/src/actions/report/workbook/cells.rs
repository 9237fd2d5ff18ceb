//! Cells of the CSV for programs as typed cells of a sheet.

use csv::StringRecord;
use reports::day::Day;
use reports::sheet::Cells;
use reports::sheet::csv_text::strip_guard;
use rust_xlsxwriter::{
    Color, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet, XlsxError,
};
use std::io::{self, Read};

/// The narrowest and the widest a column is made, in characters.
const WIDTHS: (usize, usize) = (9, 60);

/// Decimals for which a look is kept: the most that a cell of a report has are those of
/// [`Cells::Tonnes`].
const DECIMALS: usize = 22;

/// How cells look.
pub(super) struct Looks {
    pub(super) heading: Format,
    pub(super) text: Format,
    /// A text that would be taken for a formula if somebody typed it again.
    quoted: Format,
    pub(super) wrapped: Format,
    pub(super) bold: Format,
    day: Format,
    /// By the number of decimals.
    numbers: Vec<Format>,
}

impl Looks {
    pub(super) fn new() -> Looks {
        let text = Format::new().set_num_format("@");
        let number = |decimals: usize| {
            let format = match decimals {
                0 => "0".to_string(),
                some => format!("0.{}", "0".repeat(some)),
            };
            Format::new().set_num_format(format)
        };
        let bold = Format::new().set_bold();
        Looks {
            heading: bold
                .clone()
                .set_num_format("@")
                .set_border_bottom(FormatBorder::Thin)
                .set_background_color(Color::RGB(0x00EE_EEEE)),
            quoted: text.clone().set_quote_prefix(),
            wrapped: text.clone().set_text_wrap().set_align(FormatAlign::Top),
            text,
            bold: bold.set_align(FormatAlign::Top),
            day: Format::new().set_num_format("yyyy-mm-dd"),
            numbers: (0..=DECIMALS).map(number).collect(),
        }
    }
}

/// The sheets of a workbook in the making.
pub(super) struct Sheets<'b> {
    pub(super) book: &'b mut Workbook,
    pub(super) looks: &'b Looks,
    /// Most rows of a sheet.
    pub(super) rows: u32,
    /// What stands below each printed page.
    pub(super) footer: String,
}

impl Sheets<'_> {
    /// Fills a sheet with the rows of a file; where it is full, another goes on under the same header.
    pub(super) fn fill<R: Read>(
        &mut self,
        name: &str,
        kinds: &[Cells],
        mut rows: csv::Reader<R>,
    ) -> Result<(), XlsxError> {
        let mut header = StringRecord::new();
        read(&mut rows, &mut header)?;
        let mut record = StringRecord::new();
        let mut more = read(&mut rows, &mut record)?;
        for number in 1.. {
            let name = match number {
                1 => name.to_string(),
                number => format!("{name} {number}"),
            };
            let looks = self.looks;
            let sheet = self.book.add_worksheet_with_constant_memory()?;
            laid_out(sheet, &name, &self.footer)?;
            let mut widths = Vec::new();
            for (column, text) in (0..).zip(&header) {
                widths.push(text.chars().count());
                sheet.write_string_with_format(0, column, text, &looks.heading)?;
            }
            let mut row = 1;
            while more && row < self.rows {
                for ((column, text), kind) in (0..).zip(&record).zip(kinds) {
                    let width = &mut widths[usize::from(column)];
                    *width = text.chars().count().max(*width);
                    write(sheet, (row, column), *kind, text, looks)?;
                }
                row += 1;
                more = read(&mut rows, &mut record)?;
            }
            for (column, width) in (0..).zip(widths) {
                // Two characters of air; a width is a fraction of characters only in the file.
                let width = u16::try_from(width.clamp(WIDTHS.0, WIDTHS.1) + 2).unwrap_or(u16::MAX);
                sheet.set_column_width(column, width)?;
            }
            if !more {
                break;
            }
        }
        Ok(())
    }
}

/// Name, frozen header, and how the sheet is printed.
pub(super) fn laid_out(sheet: &mut Worksheet, name: &str, footer: &str) -> Result<(), XlsxError> {
    // An ampersand begins a command there.
    let footer = footer.replace('&', "&&");
    sheet
        .set_name(name)?
        .set_freeze_panes(1, 0)?
        .set_repeat_rows(0, 0)?
        .set_landscape()
        .set_print_fit_to_pages(1, 0)
        .set_footer(format!("&L{footer}, {name}&R&P / &N"));
    Ok(())
}

fn read<R: Read>(rows: &mut csv::Reader<R>, record: &mut StringRecord) -> Result<bool, XlsxError> {
    rows.read_record(record)
        .map_err(|error| XlsxError::IoError(io::Error::other(error)))
}

/// Writes a cell. What is not of its column's type stays the text that the file has.
fn write(
    sheet: &mut Worksheet,
    (row, column): (u32, u16),
    kind: Cells,
    text: &str,
    looks: &Looks,
) -> Result<(), XlsxError> {
    if text.is_empty() {
        return Ok(());
    }
    match kind {
        Cells::Mass(_) | Cells::Percent | Cells::Count | Cells::Number | Cells::Tonnes => {
            let decimals = text
                .split_once('.')
                .map_or(0, |(_, decimals)| decimals.len());
            if let (Ok(number), Some(look)) = (text.parse::<f64>(), looks.numbers.get(decimals)) {
                sheet.write_number_with_format(row, column, number, look)?;
                return Ok(());
            }
        }
        Cells::Day => {
            if let Some(day) = day(text) {
                sheet.write_datetime_with_format(row, column, &day, &looks.day)?;
                return Ok(());
            }
        }
        Cells::Text | Cells::YesNo | Cells::Month => {}
    }
    let bare = strip_guard(text);
    let look = if bare == text {
        &looks.text
    } else {
        &looks.quoted
    };
    sheet.write_string_with_format(row, column, bare, look)?;
    Ok(())
}

/// A day that a spreadsheet has, too. Before 1 March 1900 programs count the days differently (one
/// of them knows a 29 February of that year), so that such a day stays a text.
fn day(text: &str) -> Option<ExcelDateTime> {
    let day = Day::parse(text).filter(|day| Some(*day) >= Day::from_ymd(1900, 3, 1))?;
    let (year, month, of_month) = day.ymd();
    let year = u16::try_from(year).ok()?;
    let (month, of_month) = (u8::try_from(month).ok()?, u8::try_from(of_month).ok()?);
    ExcelDateTime::from_ymd(year, month, of_month).ok()
}
