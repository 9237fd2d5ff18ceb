//! `tarebook migrate`: brings a database to the tables this program needs.

use super::failure::{Exit, Failure};
use super::open;
use super::{Context, examples};
use crate::store::{Db, Purpose, migrations};
use clap::Args;

/// Bring a database to the tables this program needs
///
/// On PostgreSQL give the URL of the owner of the tables; other commands then work with the URL of
/// a role that may only add. A book in a folder is migrated by every command that opens it, so
/// there this command only says what it found. Entries are never touched.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook migrate --database-url postgres://tarebook_owner@db/tarebook\n  \
       tarebook migrate --data book"
))]
pub struct Migrate {}

impl Migrate {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let mut db = Db::open(&open::address(context)?, Purpose::Write, false)?.as_operator()?;
        let steps = migrations::migrate(&mut db)?;
        context.terminal.say(match steps {
            0 => "The tables are this program's already; nothing was changed.".to_string(),
            1 => "1 step was taken; the tables are this program's now.".to_string(),
            n => format!("{n} steps were taken; the tables are this program's now."),
        });
        Ok(Exit::Good)
    }
}
