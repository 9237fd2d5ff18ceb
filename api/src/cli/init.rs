//! `tarebook init`: opens the book of an organisation.

use super::failure::{Exit, Failure};
use super::{Context, examples};
use clap::Args;

/// Open the book of an organisation
///
/// Creates the database where there is none, writes the signing key into the keys folder and books
/// the first entries. A recovery key is written once, to the file the command names: move it to a
/// safe elsewhere, because it is what can vouch for the book after the signing key was lost.
///
/// No rule set is adopted and the command says so: which law applies is a person's decision.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook init --data book --organisation \"Tamarack Ridge Mechanical\" --zone America/Denver\n  \
       TAREBOOK_DATABASE_URL_FILE=/run/secrets/url tarebook init --organisation \"Halfmoon Grocers\""
))]
pub struct Init {
    /// Name of the organisation, as it stands on its papers
    ///
    /// Default: the setting `organisation`. The name is kept beside the book and only its
    /// commitment in it.
    #[arg(long, value_name = "NAME")]
    organisation: Option<String>,

    /// Time zone of the organisation (IANA name)
    ///
    /// Holds for sites that have none of their own. It can be changed later by an entry.
    #[arg(long, value_name = "ZONE", default_value = "UTC")]
    zone: String,
}

impl Init {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let _ = (context.organisation(&self.organisation)?, self.zone);
        Err(Failure::new(
            Exit::NotReady,
            "this build cannot open a book yet.",
        ))
    }
}
