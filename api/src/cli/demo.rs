//! `tarebook demo`: an invented organisation with a year of work.

use super::failure::{Exit, Failure};
use super::open;
use super::{Context, examples};
use crate::actions::report::{self, ReportAsked, ReportName};
use crate::config::Place;
use crate::demo::{self, StoryError, Told};
use crate::ledger::checkpoint::SigningKey;
use crate::ledger::id::Id;
use crate::store::{Address, Db, Purpose, migrations};
use clap::Args;
use reports::sheet::Options;
use std::path::{Path, PathBuf};

/// Book a year of work of an invented organisation
///
/// Opens a book for Tamarack Ridge Mechanical, an invented firm, and books a year of believable
/// work (November 2025 to November 2026) through the same door that people use: charges and
/// recoveries by scale readings, purchases, shipments, corrections, late entries, mixed cylinders.
/// Without --data or --database-url the book lies in a temporary folder and vanishes afterwards.
///
/// Standard output carries the yearly CSV of 2026 and nothing else. Standard error says what was
/// booked, which appliances are over a limit, by which clause, and how to check the book.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook demo --report\n  \
       tarebook demo --report --data demo-book > year.csv"
))]
pub struct Demo {
    /// Print the yearly CSV of the invented year on standard output
    #[arg(long)]
    report: bool,

    /// Keep the temporary folder
    ///
    /// Only without --data and --database-url, whose book stays in any case.
    #[arg(long)]
    keep: bool,
}

impl Demo {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        if !self.report {
            return Err(Failure::usage(
                "expected --report, came none. Serving the demo to phones and browsers comes \
                 later; `tarebook demo --report` books the invented year and prints its CSV.",
            ));
        }
        let given = ["data", "database_url"].map(|key| context.config.get(key));
        if given.iter().any(Option::is_some) {
            let place = context.config.place()?;
            let keys = open::keys_folder(context)?;
            return self.tell(context, &open::address(context)?, &keys, &place.shown());
        }
        let folder =
            Temporary(std::env::temp_dir().join(format!("tarebook-demo-{}", Id::random())));
        let shown = Place::Folder(folder.0.clone()).shown();
        let address = Address::Folder(folder.0.clone());
        let ended = self.tell(context, &address, &folder.0.join("keys"), &shown);
        if self.keep {
            std::mem::forget(folder);
        } else {
            context.terminal.say(
                "The temporary book is removed again; --data DIR or --keep keeps it for a look.",
            );
        }
        ended
    }

    fn tell(
        &self,
        context: &Context,
        address: &Address,
        keys: &Path,
        shown: &str,
    ) -> Result<Exit, Failure> {
        let mut db = Db::open(address, Purpose::Write, true)?;
        migrations::migrate(&mut db)?;
        let log = format!("tarebook/{}", Id::random());
        let new_key =
            || SigningKey::generate(&log).map_err(|error| Failure::failed(error.to_string()));
        let (signing, recovery) = (new_key()?, new_key()?);
        open::write_key(&open::signing_key_file(keys, &log), &signing)?;
        open::write_key(&open::recovery_key_file(keys, &log), &recovery)?;
        context
            .terminal
            .say(format!("The book lies at {shown}. Booking the year ..."));
        let told = demo::tell(&mut db, &log, &signing, &recovery.verification_key())?;
        said(context, &told);
        over(context, &mut db, &told)?;
        let asked = ReportAsked {
            name: ReportName::ApplianceYear,
            options: Options::of_year(demo::YEAR),
            rules: None,
            as_of: None,
        };
        let sheet = report::report(&mut db, &told.of, asked, std::io::stdout().lock(), None)?;
        let rows = sheet.summary.rows;
        context.terminal.say(format!(
            "Standard output: appliance-year {}, {rows} rows.",
            demo::YEAR
        ));
        how_to_check(context, address, shown);
        Ok(Exit::Good)
    }
}

/// A folder that goes when the command ends.
struct Temporary(PathBuf);

impl Drop for Temporary {
    fn drop(&mut self) {
        // What cannot be removed is left to whoever clears the folder of temporary files.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

impl From<StoryError> for Failure {
    fn from(error: StoryError) -> Failure {
        match error {
            StoryError::Failed(error) => Failure::from(error),
            other => Failure::failed(other.to_string()),
        }
    }
}

fn said(context: &Context, told: &Told) {
    let terminal = &context.terminal;
    let kind = |request: &serde_json::Value| request["kind"].as_str().unwrap_or("").to_string();
    let mut counts = std::collections::BTreeMap::new();
    for request in &told.requests {
        *counts.entry(kind(request)).or_insert(0_u32) += 1;
    }
    let listed: Vec<String> = counts
        .iter()
        .map(|(kind, n)| format!("{n} {kind}"))
        .collect();
    terminal.say(format!(
        "{}: {} requests booked ({}).",
        told.of.name,
        told.requests.len(),
        listed.join(", ")
    ));
    let codes: Vec<&str> = told.findings.iter().map(String::as_str).collect();
    terminal.say(format!("Findings it left: {}.", codes.join(", ")));
}

fn over(context: &Context, db: &mut Db, told: &Told) -> Result<(), Failure> {
    let terminal = &context.terminal;
    terminal.say(format!("Over a limit in {}:", demo::YEAR));
    for flagged in demo::flagged(db, &told.of, demo::YEAR)? {
        terminal.say(format!("  {} ({})", flagged.appliance, flagged.site));
        for line in &flagged.over {
            terminal.say(format!("    {line}"));
        }
        if let Some((means, due)) = &flagged.first_due {
            terminal.say(format!("    first due {due}: {means}"));
        }
    }
    Ok(())
}

fn how_to_check(context: &Context, address: &Address, shown: &str) {
    let option = match address {
        Address::Folder(_) => format!("--data {shown}"),
        Address::Postgres(_) => "--database-url ...".to_string(),
    };
    context.terminal.say(format!(
        "To check it: tarebook verify {option} --organisation \"{}\"",
        demo::ORGANISATION
    ));
}
