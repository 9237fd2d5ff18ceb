//! `tarebook demo`: an invented organisation with a year of work.

pub mod year;

use super::failure::{Exit, Failure};
use super::open;
use super::{Context, examples};
use crate::actions::begin::{Beginning, begin};
use crate::actions::report::{ReportAsked, ReportName, report};
use crate::ledger::checkpoint::SigningKey;
use crate::ledger::id::Id;
use crate::store::{Address, Db, Purpose, log, migrations};
use clap::Args;
use reports::sheet::Options;
use std::path::PathBuf;

/// Book a year of work of an invented organisation
///
/// Opens a book for Tamarack Ridge Mechanical, an invented firm, and books a year of believable
/// work through the same doors that people use: limits passed, a correction, late entries, an
/// unknown full charge, a quarantined cylinder and more. Without --data or --database-url the book
/// lies in a temporary folder and vanishes afterwards.
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

/// Where the book of the demo lies.
struct Home {
    address: Address,
    keys: PathBuf,
    /// Vanishes with this value.
    _folder: Option<tempfile::TempDir>,
}

impl Home {
    fn find(context: &Context) -> Result<Home, Failure> {
        if context.config.get("data").is_some() || context.config.get("database_url").is_some() {
            let (address, keys) = (open::address(context)?, open::keys_folder(context)?);
            return Ok(Home {
                address,
                keys,
                _folder: None,
            });
        }
        let folder = tempfile::tempdir().map_err(|error| {
            Failure::failed(format!("expected a temporary folder, came: {error}."))
        })?;
        let address = Address::Folder(folder.path().to_path_buf());
        Ok(Home {
            address,
            keys: folder.path().join("keys"),
            _folder: Some(folder),
        })
    }
}

impl Demo {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let Demo { report: _ } = self;
        let home = Home::find(context)?;
        let mut db = Db::open(&home.address, Purpose::Write, true)?;
        if db.is_postgres() && migrations::check(&mut db).is_ok() {
            // The tables are there already; this role may not be their owner.
        } else {
            migrations::migrate(&mut db)?;
        }
        let book_log = format!("tarebook/{}", Id::random());
        let new_key =
            || SigningKey::generate(&book_log).map_err(|error| Failure::failed(error.to_string()));
        let (signing, recovery) = (new_key()?, new_key()?);
        let what = Beginning {
            organisation: year::ORGANISATION,
            zone: year::ZONE,
            log: &book_log,
            signing: &signing.verification_key(),
            recovery: &recovery.verification_key(),
            administrator: None,
        };
        let of = begin(&mut db, year::CLOCK, &what)?;
        open::write_key(&open::signing_key_file(&home.keys, &book_log), &signing)?;
        open::write_key(&open::recovery_key_file(&home.keys, &book_log), &recovery)?;
        let booked = year::book(&mut db, &of)?;
        log::sign(&mut db, of.org, &signing, &of.log)?;
        let asked = ReportAsked {
            name: ReportName::ApplianceYear,
            options: Options::of_year(year::YEAR),
            rules: None,
            as_of: None,
        };
        let told = report(&mut db, &of, asked, std::io::stdout().lock(), None)?;
        let terminal = &context.terminal;
        terminal.say(format!(
            "{} (invented), {}: {} entries posted, {} findings left. The yearly report has {} rows; \
             {} additions could not be judged because a full charge is unknown.",
            year::ORGANISATION,
            year::YEAR,
            booked.entries,
            booked.findings,
            told.summary.rows,
            told.summary.cannot_judge
        ));
        if home._folder.is_none() {
            terminal.say(format!(
                "The book stays at {}; its keys are in {}.",
                home.address.shown(),
                home.keys.display()
            ));
        }
        Ok(Exit::Good)
    }
}

#[cfg(test)]
mod tests;
