//! `tarebook access-records`: removes the records of who asked what after their time.

use super::failure::{Exit, Failure};
use super::{Context, examples, open};
use crate::auth::access::{self, LEAST_DAYS};
use crate::service;
use crate::store::Purpose;
use clap::{Args, Subcommand};
use reports::plural;

/// Look after the record of who signed in, read names or took reports away
///
/// The setting access_records_days says for how many days a record is kept (400 unless it is set);
/// `serve` removes older ones once a day. What is booked stays for ever.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook access-records clean --data book\n  \
       TAREBOOK_ACCESS_RECORDS_DAYS=800 tarebook access-records clean --data book"
))]
pub struct AccessRecords {
    /// Organisation whose records they are (default: the setting `organisation`, else the only one)
    #[arg(long, global = true, value_name = "NAME")]
    organisation: Option<String>,

    #[command(subcommand)]
    deed: Deed,
}

#[derive(Debug, Subcommand)]
enum Deed {
    Clean(Clean),
}

/// Remove records after their time
///
/// How many were removed is recorded itself. Nothing younger than 30 days is removed, whatever is
/// asked for: the database refuses it.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook access-records clean --data book\n  \
       tarebook access-records clean --days 800 --organisation \"Halfmoon Grocers\" --data book"
))]
struct Clean {
    /// Days for which a record is kept (default: the setting access_records_days, else 400)
    #[arg(long, value_name = "N",
          value_parser = clap::value_parser!(u32).range(i64::from(LEAST_DAYS)..=36_500))]
    days: Option<u32>,
}

impl AccessRecords {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let Deed::Clean(Clean { days }) = self.deed;
        let days = match days {
            Some(days) => days,
            None => service::access_days(&context.config)?,
        };
        let (mut db, of) = open::book(context, &self.organisation, Purpose::Write)?;
        let removed = access::clean(&mut db, &of, days, crate::clock::now())?;
        context.terminal.say(format!(
            "{}: {} older than {days} days removed.",
            of.name,
            plural::counted(removed, "records")
        ));
        Ok(Exit::Good)
    }
}
