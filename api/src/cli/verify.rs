//! `tarebook verify`: proves that a book's history was not changed.

use super::failure::{Exit, Failure};
use super::open;
use super::{Context, examples};
use crate::ledger::bundle::Bundle;
use crate::ledger::checkpoint::{Note, VerificationKey};
use crate::ledger::source::SourceError;
use crate::ledger::verify::{Options, verify};
use crate::store::Purpose;
use crate::store::source::StoredBook;
use clap::Args;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Prove that the history of a book was not changed
///
/// Recomputes every leaf, the tree over them and every signed checkpoint, compares the columns of
/// the database with the leaves, and checks sums, corrections and ids. With --bundle it reads an
/// exported file and needs neither database nor keys. Each --checkpoint is an older signed
/// checkpoint, kept by someone else: the book must still extend it. Without --key the keys in the
/// book's first entry are believed; with it, only a book that began with one of those.
///
/// Ends with exit code 3 when anything does not fit, and names the entries.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook verify --data book --organisation \"Halfmoon Grocers\" --checkpoint june.txt\n  \
       tarebook verify --bundle halfmoon.tar --checkpoint june.txt --checkpoint printed-slip.txt"
))]
pub struct Verify {
    /// Organisation whose book it is (default: the setting `organisation`)
    #[arg(long, value_name = "NAME", conflicts_with = "bundle")]
    organisation: Option<String>,

    /// Exported bundle to check instead of a database
    #[arg(long, value_name = "FILE", conflicts_with_all = ["data", "database_url"])]
    bundle: Option<PathBuf>,

    /// Older signed checkpoint that the book must extend (may be repeated)
    #[arg(long, value_name = "FILE")]
    checkpoint: Vec<PathBuf>,

    /// Verification key known from elsewhere; the book must have begun with it (may be repeated)
    #[arg(long, value_name = "KEY", value_parser = key)]
    key: Vec<VerificationKey>,
}

fn key(text: &str) -> Result<VerificationKey, String> {
    VerificationKey::parse(text.trim()).map_err(|error| error.to_string())
}

impl Verify {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let trusted = self
            .checkpoint
            .iter()
            .map(|file| note(file))
            .collect::<Result<Vec<_>, _>>()?;
        let options = Options {
            keys: self.key,
            ..Options::default()
        };
        let failed = |error: SourceError| Failure::failed(error.to_string());
        let report = match &self.bundle {
            Some(file) => {
                // A file that is there and is no whole bundle proves nothing: that is a break.
                let unfit = |error: SourceError| {
                    let exit = match error.downcast_ref::<std::io::Error>() {
                        Some(error) if error.kind() == ErrorKind::NotFound => Exit::Failed,
                        _ => Exit::Break,
                    };
                    Failure::new(exit, format!("{}: {error}", file.display()))
                };
                let mut bundle = Bundle::open(file).map_err(unfit)?;
                verify(&mut bundle, &trusted, &options).map_err(unfit)?
            }
            None => {
                let (mut db, of) = open::book(context, &self.organisation, Purpose::Read)?;
                let mut stored = StoredBook::open(&mut db, of.org)?;
                verify(&mut stored, &trusted, &options).map_err(failed)?
            }
        };
        print!("{report}");
        Ok(if report.holds() {
            Exit::Good
        } else {
            Exit::Break
        })
    }
}

fn note(file: &Path) -> Result<Note, Failure> {
    let text = std::fs::read_to_string(file)
        .map_err(|error| Failure::failed(format!("{}: {error}", file.display())))?;
    Note::parse(&text).map_err(|error| Failure::failed(format!("{}: {error}", file.display())))
}
