//! The first reading of an import: every row is checked against the registers, nothing is booked.

use super::appliances::{ApplianceRow, read_appliances};
use super::cylinders::{CylinderRow, read_cylinders};
use super::file::ImportFile;
use super::movements::{MovementColumn, Pass, read_movements};
use super::problems::{Bad, Problem, Problems, quoted};
use super::seen::Seen;
use super::table::{Cells, FileFacts, Flow};
use super::things::Things;
use super::{Importing, Table};
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::columns::Sort;
use crate::store::imports::{self, ImportState};
use std::collections::HashMap;

/// What the first reading found.
pub struct Checked {
    /// The file; `None` when it could not be read to its end.
    pub facts: Option<FileFacts>,
    /// What is wrong with it.
    pub problems: Problems,
    /// How far an earlier run came.
    pub state: Option<ImportState>,
}

impl Importing<'_> {
    /// Reads the file and compares every row with the registers and with itself.
    pub(super) fn check(
        &mut self,
        table: Table,
        file: ImportFile<'_>,
        things: &Things,
        progress: &mut dyn FnMut(u64),
    ) -> Result<Checked, StoreError> {
        let mut check = Check {
            things,
            progress,
            problems: Problems::default(),
            taken: Vec::new(),
        };
        let (facts, seen) = match table {
            Table::Appliances => (check.appliances(file), Seen::default()),
            Table::Cylinders => (check.cylinders(file), Seen::default()),
            Table::Movements => check.movements(file),
        };
        let Check {
            mut problems,
            taken,
            ..
        } = check;
        let Some(facts) = facts else {
            return Ok(Checked {
                facts: None,
                problems,
                state: None,
            });
        };
        let state = imports::state(self.db, self.of.org, table.word(), &facts.key)?;
        // What an earlier run of this very file has booked is no obstacle to going on with it.
        let done = state.map_or(0, |state| state.done);
        for (row, problem) in taken {
            if row > done {
                problems.add(problem);
            }
        }
        if table == Table::Movements && state.is_none_or(|state| !state.is_finished()) {
            self.known_ids(&facts, &seen, done, &mut problems)?;
        }
        Ok(Checked {
            facts: Some(facts),
            problems,
            state,
        })
    }

    /// Identifiers of the file that entries of the book carry already.
    fn known_ids(
        &mut self,
        facts: &FileFacts,
        seen: &Seen,
        done: u64,
        problems: &mut Problems,
    ) -> Result<(), StoreError> {
        let mut known: Vec<(u64, u64, String)> = Vec::new();
        let org = self.of.org;
        imports::entry_ids(self.db, org, |id: Id, seq| {
            let row = seen.row_of_bits(id.bits()).filter(|row| *row > done);
            known.extend(row.map(|row| (row, seq, id.to_string())));
        })?;
        imports::movement_ids(self.db, org, |id, seq| {
            let row = seen.row_of_text(id).filter(|row| *row > done);
            known.extend(row.map(|row| (row, seq, id.to_string())));
        })?;
        known.sort_unstable();
        for (row, seq, id) in known {
            problems.add(Problem {
                file: facts.name.clone(),
                row: Some(row),
                line: None,
                column: Some("movement_id".to_string()),
                expected: "an identifier that is not in the book".to_string(),
                came: quoted(&id),
                remedy: format!("Entry no. {seq} carries it. Take out what is booked already."),
            });
        }
        Ok(())
    }
}

struct Check<'a> {
    things: &'a Things,
    progress: &'a mut dyn FnMut(u64),
    problems: Problems,
    /// Tags that the book has already, by row: only a problem in rows not booked yet.
    taken: Vec<(u64, Problem)>,
}

impl Check<'_> {
    fn appliances(&mut self, file: ImportFile<'_>) -> Option<FileFacts> {
        let mut zones = HashMap::new();
        let Check {
            things,
            progress,
            problems,
            taken,
        } = self;
        read_appliances(file, problems, |row, cells, problems| {
            step(row.row, progress);
            site_zone(row, cells, things, &mut zones, problems);
            new_tag(Sort::Appliance, row.tag, cells, things, taken);
            Flow::Go
        })
    }

    fn cylinders(&mut self, file: ImportFile<'_>) -> Option<FileFacts> {
        let Check {
            things,
            progress,
            problems,
            taken,
        } = self;
        read_cylinders(file, problems, |row: &CylinderRow<'_>, cells, _| {
            step(row.row, progress);
            new_tag(Sort::Cylinder, row.tag, cells, things, taken);
            Flow::Go
        })
    }

    fn movements(&mut self, file: ImportFile<'_>) -> (Option<FileFacts>, Seen) {
        let Check {
            things,
            progress,
            problems,
            ..
        } = self;
        let mut seen = Seen::default();
        let facts = read_movements(
            file,
            Pass::Check(&mut seen),
            problems,
            |row, cells, problems| {
                step(row.row, progress);
                if let Err((column, bad)) = things.ends(row) {
                    let column: MovementColumn = column;
                    cells.note(column.index(), cells.text(column.index()), bad, problems);
                }
                Flow::Go
            },
        );
        (facts, seen)
    }
}

fn step(row: u64, progress: &mut dyn FnMut(u64)) {
    if row.is_multiple_of(2048) {
        progress(row);
    }
}

/// A site has one zone, and all rows and the book must agree about it.
fn site_zone(
    row: &ApplianceRow<'_>,
    cells: &Cells<'_>,
    things: &Things,
    zones: &mut HashMap<String, &'static str>,
    problems: &mut Problems,
) {
    let Some(zone) = row.zone else { return };
    let booked = things.site_zone(row.site);
    let other = match zones.get(row.site) {
        Some(other) => Some(*other),
        None => {
            zones.insert(row.site.to_string(), zone);
            booked
        }
    };
    if let Some(other) = other.filter(|other| *other != zone) {
        let remedy = format!(
            "Site '{}' is in {other} by an earlier row or by the book.",
            row.site
        );
        let bad = Bad::new(format!("the zone of the site, {other}"), remedy);
        cells.note(super::appliances::ZONE, zone, bad, problems);
    }
}

/// Notes a tag that a thing of the book carries already.
fn new_tag(
    sort: Sort,
    tag: &str,
    cells: &Cells<'_>,
    things: &Things,
    taken: &mut Vec<(u64, Problem)>,
) {
    if !things.has(sort, tag) {
        return;
    }
    let expected = format!("a tag that no {} of the book carries", sort.word());
    let remedy = "It is registered already. Take the row out, or change it in the book.";
    taken.push((cells.row, cells.problem(0, tag, Bad::new(expected, remedy))));
}
