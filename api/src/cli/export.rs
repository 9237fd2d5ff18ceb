//! `tarebook export`: the whole book in one file that an outsider can check.

use super::failure::{Exit, Failure};
use super::{Context, examples};
use clap::Args;
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
    /// Organisation whose book it is (default: the setting `organisation`)
    #[arg(long, value_name = "NAME")]
    organisation: Option<String>,

    /// File to write; it must not exist yet
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

impl Export {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        context.organisation(&self.organisation)?;
        Err(Failure::new(
            Exit::NotReady,
            format!("this build cannot export yet: {self:?}"),
        ))
    }
}
