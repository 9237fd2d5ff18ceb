//! `tarebook demo`: an invented organisation with a year of work.

use super::failure::{Exit, Failure};
use super::open;
use super::{Context, examples};
use crate::actions::report::{self, ReportAsked, ReportName};
use crate::demo::{self, StoryError, Told};
use crate::ledger::checkpoint::SigningKey;
use crate::ledger::id::Id;
use crate::store::open::organisations;
use crate::store::{Address, Db, Purpose, migrations};
use clap::Args;
use reports::sheet::Options;
use std::path::Path;

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
            let (address, keys) = (open::address(context)?, open::keys_folder(context)?);
            let ended = tell(context, &address, &keys)?;
            how_to_check(context, &address, &address.shown());
            return Ok(ended);
        }
        let folder = tempfile::Builder::new()
            .prefix("tarebook-demo-")
            .tempdir()
            .map_err(|error| {
                Failure::failed(format!("expected a temporary folder, came: {error}."))
            })?;
        let address = Address::Folder(folder.path().to_path_buf());
        let ended = tell(context, &address, &folder.path().join("keys"))?;
        if self.keep {
            let _ = folder.keep();
            how_to_check(context, &address, &address.shown());
        } else {
            context
                .terminal
                .say("The temporary book is removed again. To check it, book one that stays:");
            context
                .terminal
                .say("  tarebook demo --report --data demo-book > year.csv");
            how_to_check(context, &Address::Folder("demo-book".into()), "demo-book");
        }
        Ok(ended)
    }
}

/// Books the year and writes its report.
fn tell(context: &Context, address: &Address, keys: &Path) -> Result<Exit, Failure> {
    let shown = address.shown();
    let mut db = Db::open(address, Purpose::Write, true)?.as_operator()?;
    // Tables that are there already may belong to another role than this one.
    if !db.is_postgres() || migrations::check(&mut db).is_err() {
        migrations::migrate(&mut db)?;
    }
    let kept = organisations(&mut db)?;
    if kept.iter().any(|of| of.name == demo::ORGANISATION) {
        return Err(Failure::failed(format!(
            "expected an empty place for the demo, came a book of {} at {shown}. Nothing was \
                 changed; name another folder or database.",
            demo::ORGANISATION
        )));
    }
    let log = format!("tarebook/{}", Id::random());
    let new_key = || SigningKey::generate(&log).map_err(|error| Failure::failed(error.to_string()));
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
    Ok(Exit::Good)
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

/// Who checks believes nobody: the commands, for a book that stays.
fn how_to_check(context: &Context, address: &Address, shown: &str) {
    let option = match address {
        Address::Folder(_) => format!("--data {shown}"),
        Address::Postgres(_) => "--database-url URL".to_string(),
    };
    context.terminal.say(format!(
        "To check it: tarebook verify {option} --organisation \"{}\"",
        demo::ORGANISATION
    ));
}
