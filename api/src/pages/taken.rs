//! Lists taken away: the rows that a page shows, in its order and words, as a file for a spreadsheet.
//!
//! Whoever may see a list may take it; that it was taken stands in the access records. The file has
//! the figures as the page writes them, with their units: who wants exact numbers takes a report.

use super::appliances::AppliancesPage;
use super::cage::CagePage;
use super::duties::DutiesPage;
use super::findings::FindingsPage;
use super::way::Visit;
use crate::actions::permit::Deed;
use crate::http::Problem;
use actix_web::HttpResponse;
use reports::sheet::csv_text::CsvText;
use reports::sheet::{Decimal, Dialect, Separator};

/// A list: what it is called, its columns, its rows.
pub struct Taken {
    name: &'static str,
    columns: &'static [(&'static str, Cells)],
    rows: Vec<Vec<String>>,
}

/// What stands in a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Cells {
    /// Tags, names and sentences: a spreadsheet may not make a number of them.
    Texts,
    /// Figures and days as the page writes them: a spreadsheet may.
    Figures,
    /// Decimal numbers as the reports write them, the unit in the heading; empty: there is none.
    Numbers,
}

use Cells::{Figures, Numbers, Texts};

/// Whether the list is to be taken away instead of shown.
pub fn is_asked(visit: &Visit) -> Result<bool, Problem> {
    Ok(visit.asked.query.word("as", &["page", "file"])? == "file")
}

/// The address of the same view as a file; empty where there is nothing to take.
pub fn address(visit: &Visit, has_rows: bool) -> String {
    match has_rows {
        true => format!(
            "{}?{}",
            visit.asked.path(),
            visit.asked.query.with("as", "file")
        ),
        false => String::new(),
    }
}

/// Answers with the file, and leaves a record of it.
pub async fn answer(visit: &Visit, deed: Deed, taken: Taken) -> Result<HttpResponse, Problem> {
    let Taken { name, .. } = taken;
    visit.asked.record(deed, "list", name.to_string()).await?;
    let mut answer = HttpResponse::Ok();
    answer.content_type("text/csv; charset=utf-8; header=present");
    let disposition = format!("attachment; filename=\"{name}.csv\"");
    answer.insert_header(("Content-Disposition", disposition));
    Ok(answer.body(taken.text()))
}

impl Taken {
    /// The file.
    fn text(&self) -> Vec<u8> {
        let mut out = Vec::new();
        let dialect = Dialect::Spreadsheet(Separator::Comma, Decimal::Point);
        // Writing into memory does not fail.
        let _ = self.write(&mut out, dialect);
        out
    }

    fn write(&self, out: &mut Vec<u8>, dialect: Dialect) -> std::io::Result<()> {
        let mut csv = CsvText::new(out, dialect, self.columns.iter().map(|(title, _)| *title))?;
        for row in &self.rows {
            for (cell, (_, cells)) in row.iter().zip(self.columns) {
                match cells {
                    Texts => csv.text(cell),
                    Figures => csv.shown(cell),
                    Numbers if cell.is_empty() => csv.empty(),
                    Numbers => csv.number(cell),
                }
            }
            csv.end_row()?;
        }
        csv.flush()
    }
}

impl From<&AppliancesPage> for Taken {
    fn from(page: &AppliancesPage) -> Taken {
        let row = |row: &super::appliances::ApplianceRow| {
            [
                &row.tag,
                &row.site,
                &row.refrigerant,
                &row.class,
                &row.full_charge,
                &row.rate,
                &row.limit,
                &row.standing,
            ]
            .map(String::clone)
            .to_vec()
        };
        Taken {
            name: "appliances",
            columns: &[
                ("Appliance", Texts),
                ("Site", Texts),
                ("Refrigerant", Texts),
                ("Class", Texts),
                ("Full charge", Figures),
                ("Rate a year", Figures),
                ("Limit", Figures),
                ("Standing", Texts),
            ],
            rows: page.rows.iter().map(row).collect(),
        }
    }
}

impl From<&CagePage> for Taken {
    fn from(page: &CagePage) -> Taken {
        let row = |row: &super::cage::CylinderRow| {
            [
                &row.tag,
                &row.closed,
                &row.content,
                &row.class,
                &row.net[0],
                &row.net[1],
                &row.room_lb,
                &row.room,
                &row.rule,
            ]
            .map(String::clone)
            .to_vec()
        };
        Taken {
            name: "cylinders",
            columns: &[
                ("Cylinder", Texts),
                ("Closed", Texts),
                ("Content", Texts),
                ("Class", Texts),
                ("net_lb", Numbers),
                ("net_kg", Numbers),
                ("room_lb", Numbers),
                ("Room", Texts),
                ("Limit by", Texts),
            ],
            rows: page.rows.iter().map(row).collect(),
        }
    }
}

impl From<&DutiesPage> for Taken {
    fn from(page: &DutiesPage) -> Taken {
        let mut rows = Vec::new();
        for group in &page.groups {
            for row in &group.rows {
                let clause = match row.unconfirmed {
                    true => format!("{}, unconfirmed", row.clause),
                    false => row.clause.clone(),
                };
                let texts = [&group.title, &row.iso, &row.tag, &row.site];
                let mut cells = texts.map(String::clone).to_vec();
                cells.extend([row.line.means.clone(), row.line.state.clone(), clause]);
                cells.extend([&row.set, &row.who, &row.line.why].map(String::clone));
                rows.push(cells);
            }
        }
        Taken {
            name: "duties",
            columns: &[
                ("When", Texts),
                ("Day", Figures),
                ("Appliance", Texts),
                ("Site", Texts),
                ("What is owed", Texts),
                ("State", Texts),
                ("Rule", Texts),
                ("Rule set", Texts),
                ("Who", Texts),
                ("Why", Texts),
            ],
            rows,
        }
    }
}

impl From<&FindingsPage> for Taken {
    fn from(page: &FindingsPage) -> Taken {
        let row = |row: &super::findings::FindingRow| {
            let state = match (row.settled, row.high) {
                (Some(_), _) => "settled",
                (None, true) => "open, high",
                (None, false) => "open",
            };
            vec![
                row.entry.to_string(),
                state.to_string(),
                row.text.clone(),
                row.did.clone(),
                row.site.clone(),
                row.since.clone(),
            ]
        };
        Taken {
            name: "findings",
            columns: &[
                ("Entry", Figures),
                ("State", Texts),
                ("Finding", Texts),
                ("Left by", Texts),
                ("Site", Texts),
                ("Since", Figures),
            ],
            rows: page.rows.iter().map(row).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_is_read_back_as_it_was_shown() {
        let taken = Taken {
            name: "appliances",
            columns: &[("Appliance", Texts), ("Rate a year", Figures)],
            rows: vec![
                vec!["00123".into(), "26.3 %".into()],
                vec!["=1+1, \"a\"".into(), "no rate".into()],
                vec!["Caf\u{e9}".into(), "-1 %".into()],
            ],
        };
        let bytes = taken.text();
        let text = bytes
            .strip_prefix(b"\xef\xbb\xbf")
            .expect("a byte-order mark");
        let mut reader = csv::Reader::from_reader(text);
        let rows: Vec<Vec<String>> = (reader.records())
            .map(|row| row.unwrap().iter().map(str::to_string).collect())
            .collect();
        let expected = [
            ["'00123", "26.3 %"],
            ["'=1+1, \"a\"", "no rate"],
            ["Caf\u{e9}", "'-1 %"],
        ];
        assert_eq!(rows, expected);
    }
}
