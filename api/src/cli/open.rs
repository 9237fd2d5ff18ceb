//! Opening a book for a command: the database, the organisation, the signing key.

use super::Context;
use super::failure::{Exit, Failure};
use crate::actions::{ActionError, Refusal};
use crate::config::Place;
use crate::ledger::checkpoint::SigningKey;
pub use crate::service::keys::{recovery_key_file, signing_key_file};
use crate::store::filesystem::private_folder;
use crate::store::open::{Organisation, organisation, organisations};
use crate::store::{Address, Db, Purpose, StoreError, log, migrations};
use std::fs::OpenOptions;
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Failure {
        if matches!(&error, StoreError::Output(why) if why.contains("Broken pipe")) {
            // Whoever read the output has seen enough; that is no failure of ours.
            return Failure::new(Exit::Good, "");
        }
        let exit = match &error {
            StoreError::NoBook(_) | StoreError::WrongVersion(_) | StoreError::Busy => {
                Exit::NotReady
            }
            StoreError::Address(_) | StoreError::NoOrganisation(_) => Exit::Usage,
            _ => Exit::Failed,
        };
        Failure::new(exit, error.to_string())
    }
}

impl From<ActionError> for Failure {
    fn from(error: ActionError) -> Failure {
        match error {
            ActionError::Failed(error) => Failure::from(error),
            ActionError::Refused(refusal @ Refusal::InvalidValue { .. }) => {
                Failure::failed(refusal.to_string())
            }
            ActionError::Refused(refusal) => Failure::failed(refusal.to_string()),
        }
    }
}

/// The database the settings name.
pub fn address(context: &Context) -> Result<Address, Failure> {
    match context.config.place()? {
        Place::Folder(folder) => Ok(Address::Folder(folder)),
        Place::Url(url) => Ok(Address::from_url(&url)?),
    }
}

/// Opens a database whose tables are ready, as the operator. SQLite is migrated on the way; PostgreSQL is only
/// checked, because the role of this address may not be the owner of the tables.
pub fn database(context: &Context, purpose: Purpose) -> Result<Db, Failure> {
    let mut db = Db::open(&address(context)?, purpose, false)?.as_operator()?;
    if db.is_postgres() {
        migrations::check(&mut db)?;
    } else {
        migrations::migrate(&mut db)?;
    }
    Ok(db)
}

/// Opens the database and the organisation the command means: the one that was said, else the only
/// one there is.
pub fn book(
    context: &Context,
    name: &Option<String>,
    purpose: Purpose,
) -> Result<(Db, Organisation), Failure> {
    let mut db = database(context, purpose)?;
    let of = match context.organisation(name) {
        Some(name) => organisation(&mut db, name)?,
        None => only_one(&mut db)?,
    };
    db.keep_to(of.org)?;
    Ok((db, of))
}

fn only_one(db: &mut Db) -> Result<Organisation, Failure> {
    let mut all = organisations(db)?;
    if let (Some(one), true) = (all.pop(), all.is_empty()) {
        return Ok(one);
    }
    Err(Failure::usage(
        "expected to be told which organisation's book is meant, came none, and this database does \
         not hold exactly one. Give --organisation NAME or set TAREBOOK_ORGANISATION.",
    ))
}

/// The folder of the signing keys.
pub fn keys_folder(context: &Context) -> Result<PathBuf, Failure> {
    Ok(context.config.keys(&context.config.place()?)?)
}

/// Writes a key into a new file that only its owner may read.
pub fn write_key(file: &Path, key: &SigningKey) -> Result<(), Failure> {
    let failed = |error: std::io::Error| {
        Failure::failed(format!(
            "the key file {} cannot be written: {error}",
            file.display()
        ))
    };
    if let Some(folder) = file.parent() {
        private_folder(folder).map_err(failed)?;
    }
    let mut out = OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(file)
        .map_err(failed)?;
    writeln!(out, "{}", key.private_text()).map_err(failed)?;
    out.sync_all().map_err(failed)
}

/// Signs the book as it stands now and returns the checkpoint. Without its key the book still
/// works, but what is new in it is not signed; the command says so.
pub fn sign(context: &Context, db: &mut Db, of: &Organisation) -> Result<Option<String>, Failure> {
    let file = signing_key_file(&keys_folder(context)?, &of.log);
    let line = match std::fs::read_to_string(&file) {
        Ok(line) => line,
        Err(error) => {
            context.terminal.say(format!(
                "Not signed: the signing key {} cannot be read ({error}). Name its folder with \
                 --keys and run `tarebook export` or any command that writes.",
                file.display()
            ));
            return Ok(None);
        }
    };
    let key = SigningKey::parse(&line)
        .map_err(|error| Failure::failed(format!("{}: {error}", file.display())))?;
    Ok(Some(log::sign(db, of.org, &key, &of.log)?))
}
