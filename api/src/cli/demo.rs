//! `tarebook demo`: an invented organisation with a year of work.

use super::failure::{Exit, Failure};
use super::{Context, examples};
use clap::Args;

/// Book a year of work of an invented organisation
///
/// Opens a book for Tamarack Ridge Mechanical, an invented firm, and books a year of believable
/// work through the same doors that people use. Without --data or --database-url the book lies in
/// a temporary folder and vanishes afterwards.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook demo --report\n  \
       tarebook demo --report --data demo-book > year.csv"
))]
pub struct Demo {
    /// Print the yearly CSV of the invented year on standard output
    #[arg(long, required = true)]
    report: bool,
}

impl Demo {
    pub(super) fn run(self, _context: &Context) -> Result<Exit, Failure> {
        Err(Failure::new(
            Exit::NotReady,
            format!("this build has no demo yet: {self:?}"),
        ))
    }
}
