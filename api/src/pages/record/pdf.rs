//! The owner's record as a PDF: the same fields as the page, on Letter or A4.
//!
//! The letters are those of the fonts that every reader of PDF has (Helvetica, ISO 32000 annex D:
//! WinAnsi), so that no font is shipped. A letter that they lack is drawn as its number, such as
//! [U+4E2D], and the file carries the whole text as it is, `record.txt` in UTF-8. Nothing in the
//! file depends on the hour: the same record gives the same bytes.

mod letters;
mod sheet;

use super::{RecordPage, SIGN};
use sheet::{Sheet, Style};

/// Size of the paper in points, and what it is called.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 8.5 x 11 in.
    Letter,
    /// 210 x 297 mm.
    A4,
}

impl Paper {
    /// The paper of a word; Letter where none was said.
    pub fn named(word: Option<&str>) -> Paper {
        match word {
            Some("a4") => Paper::A4,
            _ => Paper::Letter,
        }
    }

    /// Width and height in points.
    fn points(self) -> (i16, i16) {
        match self {
            Paper::Letter => (612, 792),
            Paper::A4 => (595, 842),
        }
    }
}

/// Where values stand beside their names.
const VALUES: i16 = 90;
/// Columns of the masses: what, cylinder, pounds and ounces, pounds, kilograms.
const COLUMNS: [i16; 5] = [44, 230, 330, 420, 475];

/// The bytes of a record.
pub fn bytes(record: &RecordPage, paper: Paper) -> Vec<u8> {
    let mut sheet = Sheet::new(paper.points());
    let head = format!("{}, {}", record.tag, record.day);
    sheet.line(Style::Small, "Service record for the owner");
    sheet.line(Style::Title, &head);
    let of = format!("{}, contractor, for {}", record.contractor, record.owner);
    sheet.line(Style::Text, &of);
    sheet.rule();
    for (name, value) in record.of.iter().chain(&record.done) {
        sheet.pair(name, value, VALUES);
    }
    sheet.rule();
    moved(&mut sheet, record);
    steps(&mut sheet, record);
    rate(&mut sheet, record);
    sheet.line(Style::Heading, "What you owe next");
    if record.owed.is_empty() {
        let nothing = "By the book nothing is owed now because of a limit.";
        sheet.line(Style::Text, nothing);
    }
    for duty in &record.owed {
        sheet.line(Style::Text, &format!("{}: {}", duty.means, duty.state));
    }
    if record.more != 0 {
        let more = format!("And {} more in the book.", record.more);
        sheet.line(Style::Text, &more);
    }
    sheet.signed(&SIGN);
    sheet.rule();
    let proof = format!(
        "Verification code {}, from the prints of these entries: {}. {} {} Keep this sheet: with \
         it you can see whether the book was changed later.",
        record.code, record.prints, record.seal, record.corrected
    );
    sheet.beside_square(&record.square, &proof);
    sheet.finish(&head)
}

fn moved(sheet: &mut Sheet, record: &RecordPage) {
    if record.moved.is_empty() {
        sheet.line(Style::Text, "No refrigerant was added or removed.");
        return;
    }
    sheet.line(Style::Heading, "Refrigerant added and removed");
    let heads = ["What", "Cylinder", "lb, oz", "lb", "kg"];
    sheet.row(Style::Small, "Entry", &COLUMNS, &heads, false);
    for row in record.moved.iter().chain(&record.net) {
        let cells = [
            row.what.as_str(),
            row.cylinder.as_str(),
            row.lb_oz.as_str(),
            row.lb.as_str(),
            row.kg.as_str(),
        ];
        sheet.row(Style::Text, &row.entry, &COLUMNS, &cells, row.struck);
    }
}

fn steps(sheet: &mut Sheet, record: &RecordPage) {
    if record.steps.is_empty() {
        let none = "Parts worked on, inspections and tests: none are booked for this visit.";
        sheet.line(Style::Text, none);
        return;
    }
    sheet.line(Style::Heading, "Parts, work, inspections and tests");
    let heads = "Part or place, Work. When, and what it says";
    sheet.row(Style::Small, "Entry", &COLUMNS[..1], &[heads], false);
    for row in &record.steps {
        let head = format!("{}, {}", row.part, row.work);
        sheet.row(Style::Bold, &row.entry, &COLUMNS[..1], &[&head], row.struck);
        sheet.row(Style::Text, "", &COLUMNS[..1], &[&row.says], row.struck);
    }
}

fn rate(sheet: &mut Sheet, record: &RecordPage) {
    let Some(standing) = &record.standing else {
        let none = "Leak rate: nothing was added, so this visit gives none.";
        sheet.line(Style::Text, none);
        return;
    };
    sheet.line(Style::Heading, "Leak rate");
    let said = format!("{} {}", standing.word, standing.sentence);
    sheet.line(Style::Bold, &said);
    if let Some(worked) = &record.worked {
        let days = worked.days.as_ref();
        let years = days.map_or(String::new(), |days| format!(" × 365 days / {days}"));
        let line = format!(
            "{} / {}{years} = {}",
            worked.added, worked.full_charge, worked.result
        );
        sheet.line(Style::Text, &line);
    }
    sheet.line(Style::Small, &record.method);
}
