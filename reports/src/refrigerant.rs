//! Refrigerants: designation, class, blends, GWP by dated basis, and the dated lists of the law.
//!
//! The tables are data with a source beside every value, compiled in, and passed as arguments: a
//! book records the bytes it was kept with ([`TABLE_BYTES`], [`LISTS_BYTES`]), and anyone can work
//! out the same from them later. What no source says is absent, never zero. A designation that was
//! used is never renamed and its code never given to another; the table may only grow.

mod basis;
mod lists;
mod names;
mod row;
mod table;

pub use basis::{Basis, Gwp};
pub use lists::Lists;
pub use row::{Part, Refrigerant, Safety, SafetyGroup};
pub use table::{MIXTURE, Table, TableProblem, UNKNOWN};

/// The shipped refrigerant table, as CSV.
pub static TABLE_BYTES: &[u8] = include_bytes!("../data/refrigerants.csv");

/// The shipped lists of substances, as CSV.
pub static LISTS_BYTES: &[u8] = include_bytes!("../data/substance-lists.csv");
