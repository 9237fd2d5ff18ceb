//! `tarebook rules diff`: what differs between two versions of a rule set.

use super::named;
use crate::cli::examples;
use crate::cli::failure::{Exit, Failure};
use clap::Args;
use reports::rules::differences;
use std::io::Write;

/// Show what differs between two rule sets
///
/// Numbers are compared as they act: a line for each band and each day from which the two say
/// different things, with the clauses, and whether the number became stricter or looser. Everything
/// else is compared member by member. Two sets that judge alike give no line. The exit code is 0
/// either way.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules diff us-federal-hfc my-own-copy.toml\n  \
       tarebook rules diff county-2025.toml county-2026.toml"
))]
pub struct Diff {
    /// The older: a rule file (TOML), or the id of a set that comes with the program
    #[arg(value_name = "OLD")]
    old: String,

    /// The newer, likewise
    #[arg(value_name = "NEW")]
    new: String,
}

impl Diff {
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let lines = differences(&named::file(&self.old)?, &named::file(&self.new)?);
        let mut out = std::io::stdout().lock();
        for line in lines {
            writeln!(out, "{line}")?;
        }
        Ok(Exit::Good)
    }
}
