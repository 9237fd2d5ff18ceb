//! `tarebook demo`: an invented organisation with a year of work, printed as CSV or served.

mod serving;
mod sign_ins;

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
use std::net::SocketAddr;
use std::path::PathBuf;
use tempfile::TempDir;

/// Book a year of work of an invented organisation, and serve it
///
/// Opens a book for Tamarack Ridge Mechanical, an invented firm, and books a year of believable
/// work (November 2025 to November 2026) through the same door that people use: charges and
/// recoveries by scale readings, purchases, shipments, corrections, late entries, mixed cylinders.
/// Without --data or --database-url the book lies in a temporary folder and vanishes afterwards.
///
/// Then it serves the book until SIGTERM or SIGINT. Standard output carries one line for each
/// person who may sign in, `role e-mail password` (the passwords are new each time), and at last
/// `listening http://ADDRESS:PORT`. With --report it carries the yearly CSV of 2026 instead, and
/// nothing is served. Standard error says what was booked, which appliances are over a limit, by
/// which clause, and how to check the book.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook demo\n  \
       tarebook demo --report --data demo-book > year.csv"
))]
pub struct Demo {
    /// Print the yearly CSV of the invented year on standard output and serve nothing
    #[arg(long, conflicts_with = "listen")]
    report: bool,

    /// Address and port to listen on (default: the setting `listen`, else 127.0.0.1:8080)
    ///
    /// Port 0 takes a free one.
    #[arg(long, value_name = "ADDR")]
    listen: Option<SocketAddr>,

    /// Keep the temporary folder
    ///
    /// Only without --data and --database-url, whose book stays in any case.
    #[arg(long)]
    keep: bool,
}

/// Where the book of the demo lies.
struct Ground {
    address: Address,
    keys: PathBuf,
    /// A folder that vanishes with the demo.
    passing: Option<TempDir>,
}

impl Demo {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let mut ground = Ground::of(context)?;
        // A wrong setting and a taken address are said before the year is booked.
        let plan = (!self.report)
            .then(|| serving::plan(context, &ground, self.listen))
            .transpose()?;
        let (mut db, told) = tell(context, &ground)?;
        if let Some(folder) = self.keep.then(|| ground.passing.take()).flatten() {
            let _ = folder.keep();
        }
        how_to_check(context, &ground);
        match plan {
            None => write_year(context, &mut db, &told),
            Some(plan) => {
                let people = sign_ins::give(&mut db, &told.of)?;
                drop((db, told));
                serving::serve(context, &plan, &people)
            }
        }
    }
}

impl Ground {
    /// The place that the settings name, else a temporary folder.
    fn of(context: &Context) -> Result<Ground, Failure> {
        let given = ["data", "database_url"].map(|key| context.config.get(key));
        if given.iter().any(Option::is_some) {
            return Ok(Ground {
                address: open::address(context)?,
                keys: open::keys_folder(context)?,
                passing: None,
            });
        }
        let folder = tempfile::Builder::new()
            .prefix("tarebook-demo-")
            .tempdir()
            .map_err(|error| {
                Failure::failed(format!("expected a temporary folder, came: {error}."))
            })?;
        Ok(Ground {
            address: Address::Folder(folder.path().to_path_buf()),
            keys: folder.path().join("keys"),
            passing: Some(folder),
        })
    }
}

/// Books the year.
fn tell(context: &Context, ground: &Ground) -> Result<(Db, Told), Failure> {
    let shown = ground.address.shown();
    let mut db = Db::open(&ground.address, Purpose::Write, true)?.as_operator()?;
    // Tables that are there already may belong to another role than this one.
    if !db.is_postgres() || migrations::check(&mut db).is_err() {
        migrations::migrate(&mut db)?;
    }
    let kept = organisations(&mut db)?;
    if kept.iter().any(|of| of.name == demo::ORGANISATION) {
        return Err(Failure::failed(format!(
            "expected an empty place for the demo, came a book of {} at {shown}. Nothing was \
                 changed; name another folder or database, or serve the one that is there: \
                 tarebook serve.",
            demo::ORGANISATION
        )));
    }
    let log = format!("tarebook/{}", Id::random());
    let new_key = || SigningKey::generate(&log).map_err(|error| Failure::failed(error.to_string()));
    let (signing, recovery) = (new_key()?, new_key()?);
    open::write_key(&open::signing_key_file(&ground.keys, &log), &signing)?;
    open::write_key(&open::recovery_key_file(&ground.keys, &log), &recovery)?;
    context
        .terminal
        .say(format!("The book lies at {shown}. Booking the year ..."));
    let told = demo::tell(&mut db, &log, &signing, &recovery.verification_key())?;
    said(context, &told);
    over(context, &mut db, &told)?;
    Ok((db, told))
}

/// Writes the report of the year to standard output.
fn write_year(context: &Context, db: &mut Db, told: &Told) -> Result<Exit, Failure> {
    let asked = ReportAsked {
        name: ReportName::ApplianceYear,
        options: Options::of_year(demo::YEAR),
        rules: None,
        as_of: None,
    };
    let sheet = report::report(db, &told.of, asked, std::io::stdout().lock(), None)?;
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
        for line in &flagged.owed {
            terminal.say(format!("    {line}"));
        }
    }
    Ok(())
}

/// Who checks believes nobody: the commands, for a book that stays.
fn how_to_check(context: &Context, ground: &Ground) {
    let say = |line: &str| context.terminal.say(line);
    let option = match (&ground.address, &ground.passing) {
        (_, Some(_)) => {
            say("The temporary book is removed at the end. To check one that stays:");
            say("  tarebook demo --report --data demo-book > year.csv");
            "--data demo-book".to_string()
        }
        (Address::Folder(_), None) => format!("--data {}", ground.address.shown()),
        (Address::Postgres(_), None) => "--database-url URL".to_string(),
    };
    context.terminal.say(format!(
        "To check it: tarebook verify {option} --organisation \"{}\"",
        demo::ORGANISATION
    ));
}
