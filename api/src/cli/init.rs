//! `tarebook init`: opens the book of an organisation.

use super::failure::{Exit, Failure};
use super::open;
use super::{Context, examples, new_password};
use crate::actions::begin::{Beginning, begin};
use crate::ledger::checkpoint::SigningKey;
use crate::ledger::id::Id;
use crate::store::writer::Clock;
use crate::store::{Db, Purpose, migrations};
use clap::Args;
use std::path::PathBuf;

/// Open the book of an organisation
///
/// Creates the database where there is none, writes the signing key into the keys folder and books
/// the first entries. A recovery key is written once, to the file the command names: move it to a
/// safe elsewhere, because it is what can vouch for the book after the signing key was lost.
///
/// No rule set is adopted and the command says so: which law applies is a person's decision.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook init --data book --organisation \"Tamarack Ridge Mechanical\" --zone America/Denver \
       --administrator juno@tamarack.example --password-file first-password\n  \
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

    /// E-mail address of the first administrator
    ///
    /// The administrator signs in with it and invites the others. Kept beside the book; only its
    /// commitment stands in it.
    #[arg(long, value_name = "EMAIL")]
    administrator: Option<String>,

    /// File whose first line is the administrator's password (at least 15 characters)
    ///
    /// Default: it is asked for on the terminal. A password never stands on a command line.
    #[arg(long, value_name = "FILE", requires = "administrator")]
    password_file: Option<PathBuf>,
}

impl Init {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let name = context.organisation(&self.organisation).ok_or_else(|| {
            Failure::usage(
                "expected the name of the organisation that keeps the book, came none. Give \
                 --organisation NAME or set TAREBOOK_ORGANISATION.",
            )
        })?;
        let mut db = Db::open(&open::address(context)?, Purpose::Write, true)?.as_operator()?;
        migrations::migrate(&mut db)?;
        let log = format!("tarebook/{}", Id::random());
        let new_key =
            || SigningKey::generate(&log).map_err(|error| Failure::failed(error.to_string()));
        let (signing, recovery) = (new_key()?, new_key()?);
        let administrator = self.administrator(name)?;
        let what = Beginning {
            organisation: name,
            zone: &self.zone,
            log: &log,
            signing: &signing.verification_key(),
            recovery: &recovery.verification_key(),
            administrator: administrator
                .as_ref()
                .map(|(email, hash)| (&email[..], &hash[..])),
        };
        // The keys come first: a book whose key was never written could not be signed.
        let folder = open::keys_folder(context)?;
        let (key_file, recovery_file) = (
            open::signing_key_file(&folder, &log),
            open::recovery_key_file(&folder, &log),
        );
        open::write_key(&key_file, &signing)?;
        open::write_key(&recovery_file, &recovery)?;
        let of = begin(&mut db, Clock::real(), &what).inspect_err(|_| {
            // Nothing was begun, so nothing is left of it.
            let _ = std::fs::remove_file(&key_file);
            let _ = std::fs::remove_file(&recovery_file);
        })?;
        crate::store::log::sign(&mut db, of.org, &signing, &of.log)?;
        let terminal = &context.terminal;
        terminal.say(format!("The book of {} is open: {}.", of.name, of.log));
        terminal.say(format!("Verification key: {}", signing.verification_key()));
        terminal.say(format!(
            "Recovery key: {}. Move it to a safe place elsewhere; it vouches for the book after \
             the signing key was lost.",
            recovery_file.display()
        ));
        terminal.say(
            "No rule set is adopted: nothing is judged until a compliance manager adopts one.",
        );
        Ok(Exit::Good)
    }

    /// E-mail and password hash of the first administrator.
    fn administrator(&self, organisation: &str) -> Result<Option<(String, String)>, Failure> {
        let Some(email) = &self.administrator else {
            return Ok(None);
        };
        if !email.contains('@') || email.contains(char::is_whitespace) {
            return Err(Failure::usage(format!(
                "--administrator: expected an e-mail address, came '{email}'."
            )));
        }
        let (file, about) = (self.password_file.as_deref(), [organisation, email]);
        let hash = new_password::hash(file, email, &about)?;
        Ok(Some((email.clone(), hash)))
    }
}
