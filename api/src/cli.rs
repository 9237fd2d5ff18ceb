//! The command line: which commands there are, and how each ends.
//!
//! Outside programs drive these commands, so their names, options and exit codes are a contract:
//! data goes to standard output, words to standard error, and how it ended is the exit code of
//! [`failure::Exit`]. Each command has a file of its own with its options, its help and its deed.

pub mod demo;
pub mod failure;
pub mod terminal;

mod access_records;
mod check_config;
mod completions;
mod export;
mod health;
mod import;
mod init;
mod mail;
mod man;
mod mass;
mod migrate;
mod new_password;
mod open;
mod rebuild;
mod report;
mod rules;
mod serve;
mod token;
mod user;
mod verify;

use crate::config::{Config, Environment, Layer};
use clap::{ArgAction, Args, ColorChoice, CommandFactory, FromArgMatches, Parser, Subcommand};
use failure::{Exit, Failure};
use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitCode;
use terminal::Terminal;

/// Ends the help of every command: its examples, then what the exit code says.
macro_rules! examples {
    ($text:literal) => {
        concat!(
            "Examples:\n",
            $text,
            "\n\nExit codes:\n",
            "  0  good\n",
            "  1  failed; standard error says what was expected, what came and what to do\n",
            "  2  usage: the command line or a setting is wrong\n",
            "  3  a verification found a break in the book\n",
            "  4  not ready: not initialised, not migrated, locked, or written by a newer program"
        )
    };
}
pub(crate) use examples;

/// tarebook: a refrigerant book that adds up and can be checked.
///
/// The book takes in what was weighed into and out of cooling appliances and cylinders, works out
/// leak rates against dated rules, writes yearly CSV reports, and proves to an outsider that its
/// history was not changed. Nothing in it is ever altered: a mistake is corrected by a new entry.
///
/// A book lies in a folder (SQLite, --data) or in PostgreSQL (--database-url). Every option has an
/// environment variable and a line in the settings file: flags beat the environment, which beats
/// the file, which beats the defaults.
#[derive(Debug, Parser)]
#[command(
    name = "tarebook",
    version,
    propagate_version = true,
    max_term_width = 100
)]
#[command(after_long_help = examples!(
    "  tarebook mass \"7 lb 10 oz\"\n  \
       tarebook report appliance-year --data book --organisation \"Tamarack Ridge Mechanical\" \
       --year 2025"
))]
pub struct CommandLine {
    #[command(flatten)]
    settings: Settings,
    #[command(subcommand)]
    command: Command,
}

/// Options that every command takes.
#[derive(Debug, Args)]
#[command(next_help_heading = "Settings")]
struct Settings {
    /// Folder of a SQLite book
    ///
    /// Folder that holds a SQLite book, or shall hold one. It must lie on a local disk. Exactly
    /// one of --data and --database-url is needed by commands that read or write a book. Default:
    /// the environment variable TAREBOOK_DATA, else `data` in the settings file.
    #[arg(long, global = true, value_name = "DIR")]
    data: Option<PathBuf>,

    /// PostgreSQL database of a book
    ///
    /// Written postgres://USER@HOST/DATABASE. A password does not belong on a command line: put
    /// the URL into the environment variable TAREBOOK_DATABASE_URL, or into a file that
    /// TAREBOOK_DATABASE_URL_FILE names.
    #[arg(long, global = true, value_name = "URL", conflicts_with = "data")]
    database_url: Option<String>,

    /// Folder of the signing keys
    ///
    /// Default: the folder `keys` in --data; for --database-url the folder `keys` in
    /// $STATE_DIRECTORY, else `tarebook/keys` in $XDG_DATA_HOME, else
    /// $HOME/.local/share/tarebook/keys. Keys are never part of a backup of the database.
    #[arg(long, global = true, value_name = "DIR")]
    keys: Option<PathBuf>,

    /// Settings file (TOML)
    ///
    /// Default: the file named by TAREBOOK_CONFIG, else /etc/tarebook/tarebook.toml where it
    /// exists. A name in it that is no setting is refused.
    #[arg(long, global = true, value_name = "FILE")]
    config: Option<PathBuf>,

    /// Say nothing on standard error but errors
    #[arg(long, global = true, action = ArgAction::SetTrue)]
    quiet: bool,

    /// Never colour what is written to a terminal
    ///
    /// Also by the environment variable NO_COLOR. Nothing is coloured that is not a terminal.
    #[arg(long, global = true, action = ArgAction::SetTrue)]
    no_color: bool,
}

#[derive(Debug, Subcommand)]
enum Command {
    Init(init::Init),
    Import(import::Import),
    Report(report::Report),
    Verify(verify::Verify),
    Export(export::Export),
    Rebuild(rebuild::Rebuild),
    Migrate(migrate::Migrate),
    User(user::User),
    Token(token::Token),
    Rules(rules::Rules),
    Mail(mail::Mail),
    AccessRecords(access_records::AccessRecords),
    Mass(mass::ReadMass),
    Demo(demo::Demo),
    Serve(serve::Serve),
    Health(health::Health),
    CheckConfig(check_config::CheckConfig),
    Completions(completions::Completions),
    Man(man::Man),
}

/// What a command is given: the settings and the terminal.
pub struct Context {
    /// All settings.
    pub config: Config,
    /// Where words go.
    pub terminal: Terminal,
}

/// Runs the command line of this process.
pub fn main() -> ExitCode {
    let arguments: Vec<_> = std::env::args_os().collect();
    let environment = std::env::vars_os()
        .filter_map(|(name, value)| Some((name.into_string().ok()?, value.into_string().ok()?)))
        .collect();
    let ended = match parse(arguments) {
        Ok(line) => run(line, environment),
        Err(error) => {
            // A reader that closes the pipe early has seen what it wanted.
            error.print().ok();
            Ok(if error.use_stderr() {
                Exit::Usage
            } else {
                Exit::Good
            })
        }
    };
    ended.unwrap_or_else(|failure| failure.say()).into()
}

fn parse(arguments: Vec<OsString>) -> Result<CommandLine, clap::Error> {
    // Help is coloured while the arguments are still being read, so this one is looked for first.
    let plain = arguments.iter().any(|argument| argument == "--no-color");
    let color = if plain {
        ColorChoice::Never
    } else {
        ColorChoice::Auto
    };
    let matches = CommandLine::command()
        .color(color)
        .try_get_matches_from(arguments)?;
    CommandLine::from_arg_matches(&matches)
}

fn run(line: CommandLine, environment: Environment) -> Result<Exit, Failure> {
    let file = line.settings.config.clone();
    let config = Config::read(line.settings.layer(), environment, file.as_deref())?;
    if config.says_yes("allow_network_filesystem") {
        crate::store::filesystem::allow_network();
    }
    let terminal = Terminal::new(config.says_yes("quiet"), config.no_color());
    let context = Context { config, terminal };
    line.command
        .run(&context)
        .map_err(|failure| failure.colored(context.terminal.colored()))
}

impl Settings {
    fn layer(&self) -> Layer {
        let mut layer = Layer::new();
        let path = |path: &PathBuf| path.to_string_lossy().into_owned();
        layer.extend(self.data.as_ref().map(|folder| ("data", path(folder))));
        layer.extend(self.database_url.clone().map(|url| ("database_url", url)));
        layer.extend(self.keys.as_ref().map(|folder| ("keys", path(folder))));
        layer.extend(self.quiet.then(|| ("quiet", "true".to_string())));
        layer.extend(self.no_color.then(|| ("no_color", "true".to_string())));
        layer
    }
}

impl Command {
    fn run(self, context: &Context) -> Result<Exit, Failure> {
        match self {
            Command::Init(init) => init.run(context),
            Command::Import(import) => import.run(context),
            Command::Report(report) => report.run(context),
            Command::Verify(verify) => verify.run(context),
            Command::Export(export) => export.run(context),
            Command::Rebuild(rebuild) => rebuild.run(context),
            Command::Migrate(migrate) => migrate.run(context),
            Command::User(user) => user.run(context),
            Command::Token(token) => token.run(context),
            Command::Rules(rules) => rules.run(context),
            Command::Mail(mail) => mail.run(context),
            Command::AccessRecords(records) => records.run(context),
            Command::Mass(mass) => mass.run(context),
            Command::Demo(demo) => demo.run(context),
            Command::Serve(serve) => serve.run(context),
            Command::Health(health) => health.run(context),
            Command::CheckConfig(check) => check.run(context),
            Command::Completions(completions) => completions.run(context),
            Command::Man(man) => man.run(context),
        }
    }
}

impl Context {
    /// The name of the organisation that a command is for, where it was said: its option, else the
    /// setting.
    pub fn organisation<'a>(&'a self, option: &'a Option<String>) -> Option<&'a str> {
        option
            .as_deref()
            .or_else(|| self.config.get("organisation"))
    }
}

#[cfg(test)]
mod tests;
