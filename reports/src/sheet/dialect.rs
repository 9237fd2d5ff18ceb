//! For whom a CSV file is written.
//!
//! Programs get one form that never changes. A spreadsheet opens a file by the habits of its
//! country and guesses: without a byte-order mark it takes UTF-8 for another encoding, `00123`
//! becomes 123 and `MAR-1` a day of March. So its file has the mark, the separator and the decimal
//! sign that are asked for, and an apostrophe before each text that could be taken for a number or
//! a day. It is for reading: what is imported again is the form for programs.

/// How a file is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Dialect {
    /// RFC 4180: commas, decimal points, UTF-8 without a mark.
    #[default]
    Programs,
    /// UTF-8 with a byte-order mark, separator and decimal sign by choice.
    Spreadsheet(Separator, Decimal),
}

/// What stands between two cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Separator {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
}

/// The sign between whole and parts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decimal {
    /// `.`
    Point,
    /// `,`
    Comma,
}

impl Dialect {
    /// The file for a spreadsheet; cells end with commas, beside decimal commas with semicolons,
    /// unless it is said otherwise. `None`: a comma cannot both end a cell and begin decimals.
    pub fn spreadsheet(separator: Option<Separator>, decimal: Decimal) -> Option<Dialect> {
        let separator = match (separator, decimal) {
            (Some(Separator::Comma), Decimal::Comma) => return None,
            (Some(separator), _) => separator,
            (None, Decimal::Point) => Separator::Comma,
            (None, Decimal::Comma) => Separator::Semicolon,
        };
        Some(Dialect::Spreadsheet(separator, decimal))
    }

    /// Whether it is written for spreadsheets.
    pub fn is_for_spreadsheets(self) -> bool {
        self != Dialect::Programs
    }

    pub(super) fn separator(self) -> char {
        match self {
            Dialect::Spreadsheet(Separator::Semicolon, _) => ';',
            _ => ',',
        }
    }

    pub(super) fn has_decimal_commas(self) -> bool {
        matches!(self, Dialect::Spreadsheet(_, Decimal::Comma))
    }
}

/// Letters that may stand in a number or a day: exponent, halves of the day, English months.
const WORDS: [&str; 27] = [
    "e",
    "am",
    "pm",
    "jan",
    "january",
    "feb",
    "february",
    "mar",
    "march",
    "apr",
    "april",
    "may",
    "jun",
    "june",
    "jul",
    "july",
    "aug",
    "august",
    "sep",
    "sept",
    "september",
    "oct",
    "october",
    "nov",
    "november",
    "dec",
    "december",
];

/// Whether a spreadsheet might take a text for a number, a day, a time or a truth value.
///
/// Better once too often: an apostrophe too many is seen, a tag that has become a day is lost.
/// Months in other languages than English are not known here.
pub(super) fn is_taken_for_a_value(text: &str) -> bool {
    let text = text.trim();
    if text.eq_ignore_ascii_case("true") || text.eq_ignore_ascii_case("false") {
        return true;
    }
    if !text.bytes().any(|byte| byte.is_ascii_digit()) {
        return false;
    }
    let sign = |c: char| c.is_ascii_digit() || " \u{a0}\u{202f}.,:/-+%()$€£¥'".contains(c);
    if !text.chars().all(|c| c.is_ascii_alphabetic() || sign(c)) {
        return false;
    }
    let mut words = text.split(|c: char| !c.is_ascii_alphabetic());
    // An exponent stands between digits: E5 is a name.
    let is_exponent = !text.starts_with(['e', 'E']);
    words.all(|word| {
        let is_one = |known: &&str| word.eq_ignore_ascii_case(known);
        word.is_empty()
            || WORDS
                .iter()
                .any(|known| is_one(known) && (*known != "e" || is_exponent))
    })
}

#[cfg(test)]
mod tests {
    use super::super::csv_text::CsvText;
    use super::*;
    use crate::day::Day;
    use crate::leak_rate::Rate;
    use crate::mass::Unit;

    fn written(dialect: Dialect, cells: impl FnOnce(&mut CsvText<&mut Vec<u8>>)) -> String {
        let mut out = Vec::new();
        let mut csv = CsvText::new(&mut out, dialect, ["tag", "lost_kg"]).unwrap();
        cells(&mut csv);
        csv.end_row().unwrap();
        csv.flush().unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn e19_separator_and_decimal_sign_are_those_asked_for() {
        let cells = |csv: &mut CsvText<&mut Vec<u8>>| {
            csv.text("Alder, roof");
            csv.text("north; south");
            csv.mass(329_000_000_000_000, Unit::Kilogram);
            csv.mass(-329_000_000_000_000, Unit::Kilogram);
            csv.percent(Rate::new(365, 18));
            csv.number("1.5");
            csv.count(-3);
            csv.day(Day::from_ymd(2026, 7, 14).unwrap());
            csv.when("2026-07");
            csv.text("yes");
        };
        let semicolons = Dialect::spreadsheet(None, Decimal::Comma).unwrap();
        assert_eq!(
            written(semicolons, cells),
            "\u{feff}tag;lost_kg\r\n\"Alder, roof\";\"north; south\";3,29;-3,29;20,2777;1,5;-3;\
             2026-07-14;2026-07;yes\r\n"
        );
        let commas = Dialect::spreadsheet(None, Decimal::Point).unwrap();
        assert_eq!(
            written(commas, cells),
            "\u{feff}tag,lost_kg\r\n\"Alder, roof\",\"north; south\",3.29,-3.29,20.2777,1.5,-3,\
             2026-07-14,2026-07,yes\r\n"
        );
        let both = Dialect::spreadsheet(Some(Separator::Comma), Decimal::Comma);
        assert_eq!(both, None);
        let semicolons = Dialect::spreadsheet(Some(Separator::Semicolon), Decimal::Point).unwrap();
        let file = written(semicolons, |csv| {
            csv.mass(329_000_000_000_000, Unit::Kilogram)
        });
        assert_eq!(file, "\u{feff}tag;lost_kg\r\n3.29\r\n");
    }

    #[test]
    fn s7_names_that_look_like_values_keep_their_spelling_in_a_spreadsheet() {
        // What spreadsheets turn into numbers and days: common practice, no one source; "MAR-1"
        // and "1E5" are the examples that gene names and plate numbers made known.
        for name in [
            "00123",
            "1E5",
            "7-14",
            "3/4",
            "MAR-1",
            "1 Sept",
            "12:30 pm",
            "12,5",
            "5%",
            "$7",
            "(3)",
            "TRUE",
            "false",
            "2026-07-14",
            "0.1",
        ] {
            assert!(is_taken_for_a_value(name), "{name}");
        }
        for name in [
            "HG-RACK-A",
            "R-410A",
            "E5",
            "",
            "may",
            "40 CFR 82.157(d)",
            "SUP-88231",
            "n/a",
            "7 lb",
            "١٢",
            "no. 7",
            "us-federal-hfc",
        ] {
            assert!(!is_taken_for_a_value(name), "{name}");
        }
        let dialect = Dialect::spreadsheet(None, Decimal::Point).unwrap();
        let file = written(dialect, |csv| {
            csv.text("00123");
            csv.text("=1+1");
        });
        assert!(file.ends_with("\r\n'00123,'=1+1\r\n"), "{file}");
        // Split at the sign of a country, no piece of a name begins a cell of its own.
        let file = written(dialect, |csv| csv.text("x;=HYPERLINK(A1);y"));
        assert!(file.ends_with("\r\n\"x;=HYPERLINK(A1);y\"\r\n"), "{file}");
    }
}
