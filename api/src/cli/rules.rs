//! `tarebook rules`: checks rule files and evaluates situations, without any book.

use super::failure::{Exit, Failure};
use super::{Context, examples};
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// Check rule files and try situations
///
/// A rule set is a TOML file with the dated numbers of one regulation, their clauses, and examples
/// that must come out as written. None of these commands needs a book.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules check county.toml\n  \
       tarebook rules try situations.json"
))]
pub struct Rules {
    #[command(subcommand)]
    deed: Deed,
}

#[derive(Debug, Subcommand)]
enum Deed {
    Check(Check),
    Test(Test),
    Schema(Schema),
    Try(Try),
}

/// Check rule files: words, dates, gaps and overlaps
///
/// Each finding names the file, the place in it and what is allowed there. An overlay is laid over
/// its base, which is a shipped set or another file on the same line.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules check us-federal-hfc.toml\n  \
       tarebook rules check base.toml county-overlay.toml"
))]
struct Check {
    /// Rule files (TOML); none: the sets that come with the program
    #[arg(value_name = "FILE.toml")]
    files: Vec<PathBuf>,
}

/// Run the examples that stand in rule files
///
/// Exit code 1 when one comes out otherwise than written. Expectations that this version does not
/// evaluate yet are counted and named, never passed over silently.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules test\n  \
       tarebook rules test county.toml"
))]
struct Test {
    /// Rule files (TOML); none: the sets that come with the program
    #[arg(value_name = "FILE.toml")]
    files: Vec<PathBuf>,
}

/// Print the JSON Schema of a rule set
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules schema\n  \
       tarebook rules schema > rule-set.schema.json"
))]
struct Schema {}

/// Evaluate situations and compare them with what they expect
///
/// A situation is one appliance with its facts and events, the sets to judge it by and a day. Exit
/// code 1 when an outcome differs from its expectation.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules try situations.json\n  \
       tarebook rules try --quiet situations.json"
))]
struct Try {
    /// File of situations (JSON)
    #[arg(value_name = "SITUATIONS.json")]
    file: PathBuf,
}

impl Rules {
    pub(super) fn run(self, _context: &Context) -> Result<Exit, Failure> {
        Err(Failure::new(
            Exit::NotReady,
            format!("this build cannot judge yet: {:?}", self.deed),
        ))
    }
}
