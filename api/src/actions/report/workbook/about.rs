//! The sheet that says what the others are: whose report, of which days, judged by what, made from
//! which book, and what each column means.

use super::super::ReportTold;
use super::cells::{Looks, laid_out};
use crate::store::open::Organisation;
use reports::sheet::metadata::{method_word, netting_word, unit_text};
use reports::sheet::{Cells, Column};
use rust_xlsxwriter::{Workbook, Worksheet, XlsxError};

/// Its name.
const NAME: &str = "Read me";

/// What each column of the evidence says, in the order of the header.
const EVIDENCE: [(&str, &str); 5] = [
    (
        "row",
        "The row of the report: 1 is the first after the header.",
    ),
    (
        "appliance",
        "Tag of the appliance in that row; empty where the row is about none.",
    ),
    (
        "figure",
        "The column of the report that the entry gave something to.",
    ),
    ("entry", "Number of the entry in the book."),
    (
        "contribution",
        "What it gave; the contributions of a figure add up to it. The unit is that of the figure.",
    ),
];

/// Writes it.
pub(super) fn write(
    book: &mut Workbook,
    told: &ReportTold,
    of: &Organisation,
    looks: &Looks,
) -> Result<(), XlsxError> {
    let sheet = book.add_worksheet_with_constant_memory()?;
    let title = format!("{} {}", told.name.about().title, told.options.year);
    laid_out(sheet, NAME, &title)?;
    for (column, width) in [(0, 30_u16), (1, 34), (2, 34), (3, 90)] {
        sheet.set_column_width(column, width)?;
    }
    let mut page = Page {
        sheet,
        looks,
        row: 0,
    };
    page.heading(&[&title, "", "", ""])?;
    for (name, text) in facts(told, of) {
        page.fact(name, &text)?;
    }
    page.row += 1;
    page.heading(&["Column of the table", "Called", "Unit", "What it says"])?;
    for column in told.name.header(told.options.unit) {
        let unit = unit_of(&column);
        page.line(&[&column.name, column.title, &unit, column.description])?;
    }
    page.row += 1;
    page.heading(&["Column of the evidence", "", "", "What it says"])?;
    for (name, says) in EVIDENCE {
        page.line(&[name, "", "", says])?;
    }
    Ok(())
}

/// What is said of the whole.
fn facts(told: &ReportTold, of: &Organisation) -> Vec<(&'static str, String)> {
    let (about, options) = (told.name.about(), &told.options);
    let period = format!("{} to {}", options.first_day(), options.last_day());
    let by_the_sets = || "as the rule sets and sites say".to_string();
    let head = match told.as_of {
        Some(seq) => format!("entry no. {seq}, root {}", told.root),
        None => "the book has no entry yet".to_string(),
    };
    let mut facts = vec![
        ("Organisation", of.name.clone()),
        ("Report", format!("{} ({})", about.title, about.word)),
        ("A row", about.row.to_string()),
        ("Period, both days in it", period),
        ("Masses in", unit_text(options.unit).to_string()),
        (
            "Method",
            options
                .method
                .map_or_else(by_the_sets, |one| method_word(one).to_string()),
        ),
        (
            "Taken off an addition",
            options
                .netting
                .map_or_else(by_the_sets, |one| netting_word(one).to_string()),
        ),
    ];
    if let Some(basis) = options.basis {
        facts.push(("GWP basis asked for", basis.word().to_string()));
    }
    if told.sets.is_empty() {
        facts.push((
            "Judged by",
            "no rule set is adopted: nothing is judged".to_string(),
        ));
    }
    let sets = told.sets.iter();
    facts.extend(sets.map(|(id, version)| ("Judged by", format!("{id} ({version})"))));
    facts.extend(
        told.left_off
            .iter()
            .map(|why| ("Judged nothing", why.clone())),
    );
    facts.extend([
        ("Head of the book", head),
        ("Rows", told.summary.rows.to_string()),
        ("Could not be judged", told.summary.cannot_judge.to_string()),
        ("Unconfirmed values used", told.summary.unconfirmed.to_string()),
        ("Engine", reports::ENGINE.to_string()),
        (
            "Numbers",
            "A workbook keeps 15 digits of a number. The CSV of the same report has them all and is \
             the exact one; where the two differ it is right."
                .to_string(),
        ),
        (
            "What is not known",
            "An empty cell is not known or does not apply. It is never 0.".to_string(),
        ),
        (
            "Caution",
            "Rule sets are working aids, not legal advice. Numbers of this report never replace a \
             gauge, a scale, a label, local codes or a licensed technician."
                .to_string(),
        ),
    ]);
    facts
}

/// The unit of a column in words.
fn unit_of(column: &Column) -> String {
    match column.cells {
        Cells::Mass(unit) => unit_text(unit).to_string(),
        Cells::Percent => "percent, four decimals, cut and not rounded".to_string(),
        Cells::Tonnes => "tonnes of CO2 equivalent".to_string(),
        Cells::Count => "a whole number".to_string(),
        Cells::Number => "a decimal number".to_string(),
        Cells::Day => "a day".to_string(),
        Cells::Month => "a month, YYYY-MM".to_string(),
        Cells::YesNo => "yes or no".to_string(),
        Cells::Text => "text".to_string(),
    }
}

/// The sheet as it is written from top to bottom.
struct Page<'p> {
    sheet: &'p mut Worksheet,
    looks: &'p Looks,
    row: u32,
}

impl Page<'_> {
    fn heading(&mut self, cells: &[&str; 4]) -> Result<(), XlsxError> {
        for (column, text) in (0..).zip(cells) {
            (self.sheet).write_string_with_format(self.row, column, *text, &self.looks.heading)?;
        }
        self.row += 1;
        Ok(())
    }

    fn fact(&mut self, name: &str, text: &str) -> Result<(), XlsxError> {
        let look = &self.looks.bold;
        (self.sheet).write_string_with_format(self.row, 0, name, look)?;
        // Not wrapped: it runs on over the empty cells beside it.
        (self.sheet).write_string_with_format(self.row, 1, text, &self.looks.text)?;
        self.row += 1;
        Ok(())
    }

    fn line(&mut self, cells: &[&str; 4]) -> Result<(), XlsxError> {
        for (column, text) in (0..).zip(cells) {
            let look = &self.looks.wrapped;
            (self.sheet).write_string_with_format(self.row, column, *text, look)?;
        }
        self.row += 1;
        Ok(())
    }
}
