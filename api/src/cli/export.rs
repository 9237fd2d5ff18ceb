//! `tarebook export`: the whole book in one file that an outsider can check.

use super::failure::{Exit, Failure};
use super::open;
use super::{Context, examples};
use crate::ledger::bundle::write;
use crate::store::Purpose;
use crate::store::source::StoredBook;
use clap::Args;
use reports::plural;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::PathBuf;

/// Export the whole book as a bundle
///
/// A tar file with the checkpoints, tiles, entries, attachments, verification keys and the texts
/// that belong to the commitments. Software that is not ours can check it: the layout is that of
/// C2SP tlog-tiles. It holds personal data; a checkpoint alone may be handed around freely.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook export --data book --organisation \"Halfmoon Grocers\" --out halfmoon.tar\n  \
       tarebook export --organisation \"Halfmoon Grocers\" --out halfmoon.tar --quiet"
))]
pub struct Export {
    /// Organisation whose book it is (default: the setting `organisation`, else the only one)
    #[arg(long, value_name = "NAME")]
    organisation: Option<String>,

    /// File to write; it must not exist yet
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

impl Export {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let (mut db, of) = open::book(context, &self.organisation, Purpose::Write)?;
        open::sign(context, &mut db, &of)?;
        let failed = |why: String| Failure::failed(format!("{}: {why}", self.out.display()));
        let file = File::create(&self.out).map_err(|error| failed(error.to_string()))?;
        let mut out = BufWriter::new(file);
        let mut stored = StoredBook::open(&mut db, of.org)?;
        let written = write(&mut stored, &mut out).map_err(|error| failed(error.to_string()))?;
        out.flush().map_err(|error| failed(error.to_string()))?;
        context.terminal.say(format!(
            "{}: {} up to the newest checkpoint. README.txt in it says how to check it \
             with other software.",
            self.out.display(),
            plural::counted(written.checkpoint.size, "entries")
        ));
        Ok(Exit::Good)
    }
}
