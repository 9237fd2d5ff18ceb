//! What stands in a cell, as the text of a CSV.

use super::super::problems::{Bad, quoted};
use std::borrow::Cow;

/// The value of a cell that is not empty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Value<'c> {
    /// Its text.
    Text(Cow<'c, str>),
    /// It has none: what came, what was expected and what to do.
    Bad(String, Bad),
}

impl Value<'_> {
    /// A formula with which no value was kept.
    pub(super) fn without_value() -> Value<'static> {
        let remedy = "Open the workbook in a spreadsheet program and save it there, so that the \
                      value is kept; or type the value.";
        Value::Bad(
            "a formula without one".to_string(),
            Bad::new("a value", remedy),
        )
    }

    /// An error such as `#N/A`.
    pub(super) fn error(came: &str) -> Value<'static> {
        let remedy = "Mend the formula, or type the value.";
        Value::Bad(quoted(came), Bad::new("a value", remedy))
    }

    /// A time without a day, or a length of time.
    pub(super) fn length_of_time() -> Value<'static> {
        let remedy = "Write the day with it, like 2026-07-14T11:52.";
        let expected = "a text, a number or a day";
        Value::Bad(
            "a time without a day".to_string(),
            Bad::new(expected, remedy),
        )
    }

    /// A truth value, as spreadsheets show it; a column of yes and no says what to write instead.
    pub(super) fn truth(is_true: bool) -> Value<'static> {
        Value::Text(if is_true { "TRUE" } else { "FALSE" }.into())
    }
}

/// A number as somebody typed it.
///
/// Spreadsheets keep 15 digits (Excel's own limit); a double holds more, and what stands there is
/// noise of an arithmetic: `0.1 + 0.2` is kept as 0.30000000000000004.
pub(super) fn number(number: f64) -> String {
    let rounded = format!("{number:.14e}");
    // A number as Rust writes one is a number that Rust reads.
    let rounded: f64 = rounded.parse().unwrap_or(number);
    format!("{rounded}")
}

/// A day, with its time where it has one.
pub(super) fn moment((year, month, day): (u16, u8, u8), (h, m, s): (u8, u8, u8)) -> String {
    let date = format!("{year:04}-{month:02}-{day:02}");
    match (h, m, s) {
        (0, 0, 0) => date,
        (h, m, 0) => format!("{date}T{h:02}:{m:02}"),
        (h, m, s) => format!("{date}T{h:02}:{m:02}:{s:02}"),
    }
}

/// The same of a moment that is written already, as ISO 8601 has it.
pub(super) fn iso_moment(text: &str) -> String {
    let Some((date, time)) = text.split_once('T') else {
        return text.to_string();
    };
    // Fractions of a second are cut off, as in every import.
    let is_local = time
        .bytes()
        .all(|byte| byte.is_ascii_digit() || b":.,".contains(&byte));
    let whole = time.split(['.', ',']).next().unwrap_or(time);
    match whole {
        _ if !is_local => text.to_string(),
        "00:00" | "00:00:00" => date.to_string(),
        whole => match whole.strip_suffix(":00").filter(|short| short.len() == 5) {
            Some(short) => format!("{date}T{short}"),
            None => format!("{date}T{whole}"),
        },
    }
}
