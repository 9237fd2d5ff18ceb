//! `tarebook rebuild --check`: works every cached figure out anew and compares.

use super::failure::{Exit, Failure};
use super::open;
use super::{Context, examples};
use crate::actions::standings::Standings;
use crate::store::Purpose;
use crate::store::open::{organisation, organisations};
use crate::store::rebuild::rebuild;
use clap::Args;
use reports::plural;
use reports::refrigerant::Table;

/// Work everything cached out anew from the entries and compare
///
/// Balances, counts, registers, corrections, links, adoptions, standings and tiles are caches:
/// the entries alone decide. This command recomputes them and names every one that differs. Findings
/// and quarantine come from judgements when an entry was booked and are kept; those are named that no
/// entry supports, and those that are missing though an entry tells of them. Whether a question left a
/// finding, its grade, and the access records stand in no entry: changes there cannot be known.
/// With --check it changes nothing and ends with exit code 3 when anything differs; without it the
/// caches are written anew.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rebuild --check --data book\n  \
       tarebook rebuild --check --organisation \"Halfmoon Grocers\" --database-url postgres://tarebook@db/tarebook"
))]
pub struct Rebuild {
    /// Compare and change nothing
    #[arg(long)]
    check: bool,

    /// Only this organisation (default: all organisations in the database)
    #[arg(long, value_name = "NAME")]
    organisation: Option<String>,
}

impl Rebuild {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let mut db = open::database(context, Purpose::Write)?;
        let of = match self.organisation.as_deref() {
            Some(name) => vec![organisation(&mut db, name)?],
            None => organisations(&mut db)?,
        };
        let mut differences = 0;
        for of in &of {
            db.keep_to(of.org)?;
            let mut rebuilt = rebuild(&mut db, of, Table::shipped(), self.check)?;
            if self.check {
                let now = crate::clock::now();
                rebuilt
                    .differences
                    .extend(Standings::open(&mut db, of, now)?.check(&mut db)?);
            } else {
                // They are worked out anew by whoever asks next.
                crate::store::standings::forget(&mut db, of.org)?;
            }
            for line in &rebuilt.differences {
                println!("{}: {line}", of.name);
            }
            differences += rebuilt.differences.len();
            let what = if self.check { "checked" } else { "rebuilt" };
            context.terminal.say(format!(
                "{}: {}, every cached figure {what}, {} differ.",
                of.name,
                plural::counted(rebuilt.entries, "entries"),
                rebuilt.differences.len()
            ));
        }
        Ok(if self.check && differences > 0 {
            Exit::Break
        } else {
            Exit::Good
        })
    }
}
