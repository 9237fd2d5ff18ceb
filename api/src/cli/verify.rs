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
use std::path::{Path, PathBuf};

/// Prove that the history of a book was not changed
///
/// Recomputes every leaf, the tree over them and every signed checkpoint, compares the columns of
/// the database with the leaves, and checks sums, corrections and ids. With --bundle it reads an
/// exported file and needs neither database nor keys. Each --checkpoint is an older signed
/// checkpoint, kept by someone else: the book must still extend it.
///
/// Without --key the keys that the book's first entry names are believed, which proves that the book
/// agrees with itself. With --key only signatures of these keys count, and the book must have begun
/// with one of them. The recovery key counts only where it is given too.
///
/// Ends with exit code 3 when anything does not fit, and names the entries.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook verify --data book --organisation \"Halfmoon Grocers\" --checkpoint june.txt\n  \
       tarebook verify --bundle halfmoon.tar --key vkeys-from-the-office"
))]
pub struct Verify {
    /// Organisation whose book it is (default: the setting `organisation`, else the only one)
    #[arg(long, value_name = "NAME", conflicts_with = "bundle")]
    organisation: Option<String>,

    /// Exported bundle to check instead of a database
    #[arg(long, value_name = "FILE", conflicts_with_all = ["data", "database_url"])]
    bundle: Option<PathBuf>,

    /// Older signed checkpoint that the book must extend (may be repeated)
    #[arg(long, value_name = "FILE")]
    checkpoint: Vec<PathBuf>,

    /// Believe only this verification key, or those in this file, one a line (may be repeated)
    #[arg(long, value_name = "VKEY|FILE")]
    key: Vec<String>,
}

impl Verify {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let trusted = self
            .checkpoint
            .iter()
            .map(|file| note(file))
            .collect::<Result<Vec<_>, _>>()?;
        let options = Options {
            keys: keys(&self.key)?,
            signed_to_its_end: self.bundle.is_some(),
            ..Options::default()
        };
        let failed = |error: SourceError| Failure::failed(error.to_string());
        let report = match &self.bundle {
            Some(file) => {
                // A file that is there and is no whole bundle proves nothing: that is a break.
                let unfit = |error: SourceError| {
                    let exit = match error.downcast_ref::<std::io::Error>() {
                        Some(error) if error.raw_os_error().is_some() => Exit::Failed,
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

/// The keys that were given: each is one itself, or a file with one a line.
fn keys(given: &[String]) -> Result<Vec<VerificationKey>, Failure> {
    let mut keys = Vec::new();
    for text in given {
        match VerificationKey::parse(text.trim()) {
            Ok(key) => keys.push(key),
            Err(wrong) => {
                let lines = std::fs::read_to_string(text).map_err(|error| {
                    Failure::usage(format!(
                        "expected a verification key or a file of them after --key, came '{text}'. \
                         As a key: {wrong}. As a file: {error}."
                    ))
                })?;
                keys.extend(keys_of(text, &lines)?);
            }
        }
    }
    Ok(keys)
}

fn keys_of(file: &str, lines: &str) -> Result<Vec<VerificationKey>, Failure> {
    let written = lines.lines().map(str::trim).zip(1..);
    let mut keys = Vec::new();
    for (line, number) in written.filter(|(line, _)| !line.is_empty()) {
        let key = VerificationKey::parse(line).map_err(|error| {
            Failure::usage(format!(
                "{file}: line {number}: {error}. Write one key a line."
            ))
        })?;
        keys.push(key);
    }
    match keys.is_empty() {
        true => Err(Failure::usage(format!(
            "expected a verification key on each line of {file}, came an empty file."
        ))),
        false => Ok(keys),
    }
}
