//! The one place that writes CSV.
//!
//! RFC 4180: CRLF, a header row, quotes only where a cell needs them; UTF-8 without a byte-order
//! mark. Text and numbers never mix: a text cell goes through the formula guard, so that a
//! spreadsheet cannot execute it (OWASP, CSV injection), and a number cell is written by number
//! formatters alone. The guard is one apostrophe, and [`strip_guard`] takes exactly that one off
//! again when our own file is imported. What a file for spreadsheets has besides says [`Dialect`].

use super::dialect::{Dialect, is_taken_for_a_value};
use crate::day::Day;
use crate::leak_rate::Rate;
use crate::mass::{Unit, push_in_unit};
use std::fmt::Write as _;
use std::io::{self, Write};

/// Bytes collected before they are handed on.
const FULL: usize = 1 << 16;

/// Writes one CSV file, cell after cell, through one reused buffer.
#[derive(Debug)]
pub struct CsvText<W: Write> {
    out: W,
    buffer: String,
    row_started: bool,
    dialect: Dialect,
    separator: char,
}

impl<W: Write> CsvText<W> {
    /// A file that begins with this header.
    pub fn new<'a>(
        out: W,
        dialect: Dialect,
        header: impl IntoIterator<Item = &'a str>,
    ) -> io::Result<CsvText<W>> {
        let mut csv = CsvText {
            out,
            buffer: String::with_capacity(FULL + 1024),
            row_started: false,
            dialect,
            separator: dialect.separator(),
        };
        if dialect.is_for_spreadsheets() {
            csv.buffer.push('\u{feff}');
        }
        header.into_iter().for_each(|name| csv.text(name));
        csv.end_row()?;
        Ok(csv)
    }

    /// A text cell, guarded and quoted as it needs.
    pub fn text(&mut self, text: &str) {
        let looks = || self.dialect.is_for_spreadsheets() && is_taken_for_a_value(text);
        self.guarded(text, is_dangerous(text) || looks());
    }

    fn guarded(&mut self, text: &str, guard: bool) {
        self.separate();
        let guard = if guard { "'" } else { "" };
        // A spreadsheet may split at the sign of its country, whatever was chosen.
        let other = self.dialect.is_for_spreadsheets() && text.contains([',', ';', '\t']);
        if !other && !text.contains([self.separator, '"', '\r', '\n']) {
            self.buffer.push_str(guard);
            self.buffer.push_str(text);
            return;
        }
        self.buffer.push('"');
        self.buffer.push_str(guard);
        for (place, part) in text.split('"').enumerate() {
            if place > 0 {
                self.buffer.push_str("\"\"");
            }
            self.buffer.push_str(part);
        }
        self.buffer.push('"');
    }

    /// A figure as a person reads it, such as `26.3 %`: guarded against formulas alone, so that a
    /// spreadsheet may make a number of it.
    pub fn shown(&mut self, text: &str) {
        self.guarded(text, is_dangerous(text));
    }

    /// A mass in a unit: exact in metric units, trailing zeros trimmed.
    pub fn mass(&mut self, steps: i128, unit: Unit) {
        let from = self.separate();
        push_in_unit(&mut self.buffer, steps, unit);
        self.sign_decimals(from);
    }

    /// A percent with four decimals, cut toward zero: what is printed never exceeds what is.
    pub fn percent(&mut self, rate: Rate) {
        let from = self.separate();
        let parts = rate.ten_thousandths();
        // Writing to a String cannot fail.
        let _ = write!(self.buffer, "{}.{:04}", parts / 10_000, parts % 10_000);
        self.sign_decimals(from);
    }

    /// A whole number.
    pub fn count(&mut self, count: i64) {
        self.separate();
        let _ = write!(self.buffer, "{count}");
    }

    /// A date, `YYYY-MM-DD`.
    pub fn day(&mut self, day: Day) {
        self.separate();
        let _ = write!(self.buffer, "{day}");
    }

    /// A decimal number that a number formatter wrote; text goes through [`CsvText::text`].
    pub fn number(&mut self, number: &str) {
        debug_assert!(
            number
                .bytes()
                .all(|byte| byte.is_ascii_digit() || b"-.".contains(&byte))
        );
        let from = self.separate();
        self.buffer.push_str(number);
        self.sign_decimals(from);
    }

    /// A date, month or moment as this program writes them; a spreadsheet may take it for one.
    pub(super) fn when(&mut self, when: &str) {
        debug_assert!(
            when.bytes()
                .all(|byte| byte.is_ascii_digit() || b"-:.+TZ".contains(&byte)),
            "{when}"
        );
        self.separate();
        self.buffer.push_str(when);
    }

    /// A cell for what is not known or does not apply.
    pub fn empty(&mut self) {
        self.separate();
    }

    /// Ends the row, and hands the buffer on when it is full.
    pub fn end_row(&mut self) -> io::Result<()> {
        self.buffer.push_str("\r\n");
        self.row_started = false;
        if self.buffer.len() < FULL {
            return Ok(());
        }
        self.hand_on()
    }

    /// Hands on what was written so far, so that a reader sees the first rows early.
    pub fn flush(&mut self) -> io::Result<()> {
        self.hand_on()?;
        self.out.flush()
    }

    fn hand_on(&mut self) -> io::Result<()> {
        self.out.write_all(self.buffer.as_bytes())?;
        self.buffer.clear();
        Ok(())
    }

    /// Begins a cell, and says where it stands.
    fn separate(&mut self) -> usize {
        if self.row_started {
            self.buffer.push(self.separator);
        }
        self.row_started = true;
        self.buffer.len()
    }

    /// Gives the number that was written from here on the decimal sign of the file.
    fn sign_decimals(&mut self, from: usize) {
        if !self.dialect.has_decimal_commas() {
            return;
        }
        if let Some(point) = self.buffer[from..].find('.') {
            self.buffer.replace_range(from + point..=from + point, ",");
        }
    }
}

/// Takes off the apostrophe that the guard of a text cell put on, and no other.
pub fn strip_guard(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(bare) if is_dangerous(bare) => bare,
        _ => text,
    }
}

/// Whether a spreadsheet might execute a text. Apostrophes before such a text count as well:
/// otherwise a tag that is really spelt `'=A` would come back from our own file as `=A`.
fn is_dangerous(text: &str) -> bool {
    let starts = [
        '=', '+', '-', '@', '\t', '\r', '\n', '\0', '＝', '＋', '－', '＠', '﹦', '﹢', '﹣', '﹫',
        '−',
    ];
    text.trim_start_matches('\'').starts_with(starts)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn written(cells: impl FnOnce(&mut CsvText<&mut Vec<u8>>)) -> String {
        let mut out = Vec::new();
        let mut csv = CsvText::new(&mut out, Dialect::Programs, ["a", "b"]).unwrap();
        cells(&mut csv);
        csv.end_row().unwrap();
        csv.flush().unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn cells_are_quoted_only_where_they_need_it() {
        let file = written(|csv| {
            csv.text("Alder Street, roof");
            csv.text("12\" pipe");
            csv.text("two\r\nlines");
            csv.text("plain text");
            csv.empty();
        });
        let row = "\"Alder Street, roof\",\"12\"\" pipe\",\"two\r\nlines\",plain text,\r\n";
        assert_eq!(file, format!("a,b\r\n{row}"));
    }

    #[test]
    fn s7_a_spreadsheet_cannot_execute_a_text_cell() {
        // The characters are those of the OWASP page on CSV injection, with the full-width and
        // small look-alikes of Unicode and the minus sign; numbers are never guarded.
        for start in ["=", "+", "-", "@", "\t", "\0", "＝", "＋", "－", "＠", "−"] {
            let file = written(|csv| csv.text(&format!("{start}1+1")));
            assert_eq!(file, format!("a,b\r\n'{start}1+1\r\n"));
        }
        for start in ["\r", "\n"] {
            let file = written(|csv| csv.text(&format!("{start}=1")));
            assert_eq!(file, format!("a,b\r\n\"'{start}=1\"\r\n"));
        }
        assert_eq!(
            written(|csv| csv.mass(-100_000_000_000, Unit::Gram)),
            "a,b\r\n-1\r\n"
        );
    }

    #[test]
    fn identifiers_that_look_like_numbers_stay_as_they_are() {
        let file = written(|csv| {
            csv.text("00123");
            csv.text("1E5");
        });
        assert_eq!(file, "a,b\r\n00123,1E5\r\n");
    }

    #[test]
    fn percents_have_four_decimals_cut_toward_zero() {
        let file = written(|csv| {
            csv.percent(Rate::new(365, 18));
            csv.percent(Rate::new(20, 1));
            csv.percent(Rate::new(1, 30_000));
        });
        assert_eq!(file, "a,b\r\n20.2777,20.0000,0.0000\r\n");
    }

    proptest! {
        /// The csv crate reads what we wrote, and the import gets back what was typed.
        #[test]
        fn s7_an_export_comes_back_as_it_was(cells in proptest::collection::vec("['=+@a,\" \r\n\t\\-]{0,6}", 2)) {
            let mut out = Vec::new();
            let mut csv = CsvText::new(&mut out, Dialect::Programs, ["a", "b"]).unwrap();
            cells.iter().for_each(|cell| csv.text(cell));
            csv.end_row().unwrap();
            csv.flush().unwrap();
            let mut reader = csv::ReaderBuilder::new().terminator(csv::Terminator::CRLF).from_reader(&out[..]);
            let record = reader.records().next().unwrap().unwrap();
            for (read, cell) in record.iter().zip(&cells) {
                prop_assert!(!read.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']));
                prop_assert_eq!(strip_guard(read), cell);
            }
        }
    }
}
