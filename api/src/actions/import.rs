//! Importing: three tables, each a CSV file or a sheet of a workbook, become entries of the book.
//!
//! A file is read twice (three times with the look at how its letters are written). The first reading checks every row, here against the row alone and in the
//! booking part against the registers, and books nothing. The second books in order. The modules
//! below know files, cells and rows, and nothing of any database; they read in constant memory,
//! except for 21 bytes a row by which a repeated identifier is found.

mod appliances;
mod book_movements;
mod book_registers;
mod cells;
mod check;
mod columns;
mod cylinders;
mod encoding;
mod file;
mod mass_cell;
mod movements;
mod nearest;
mod problems;
mod ready;
mod run;
mod seen;
mod table;
mod things;
mod watched;
mod when;
#[cfg(feature = "xlsx")]
mod workbook;

pub use appliances::{ApplianceRow, FactCell, read_appliances};
pub use cylinders::{CylinderRow, CylinderUse, read_cylinders};
pub use file::ImportFile;
pub use mass_cell::MassCell;
pub use movements::{MovementColumn, MovementId, MovementRow, Pass, read_movements};
pub use problems::{Bad, Problem, Problems};
pub use run::{Importing, Outcome, Stage};
pub use table::{Cells, FileFacts, Flow};
pub use when::{Occurred, Time};

/// Which table a file holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Table {
    /// Appliances and the sites they stand at.
    Appliances,
    /// Cylinders.
    Cylinders,
    /// Movements of refrigerant.
    Movements,
}

impl Table {
    /// The word of a leaf and of the command line.
    pub const fn word(self) -> &'static str {
        match self {
            Table::Appliances => "appliances",
            Table::Cylinders => "cylinders",
            Table::Movements => "movements",
        }
    }
}

#[cfg(test)]
mod tests;
