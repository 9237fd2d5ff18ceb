//! `tarebook rules`: checks and compares rule files, evaluates situations, and shows what a set would
//! change in a book before it adopts it.

mod adopt;
mod diff;
mod named;
mod preview;

use super::failure::{Exit, Failure};
use super::{Context, examples};
use clap::{Args, Subcommand};
use reports::day::{Day, Zone};
use reports::rules::{Outcome, Problem, RuleFile, RuleSet, Tables};
use std::collections::BTreeMap;
use std::io::Write;
use std::path::PathBuf;

/// Check rule files and try situations
///
/// A rule set is a TOML file with the dated numbers of one regulation, their clauses, and examples
/// that must come out as written. Only `preview` and `adopt` need a book.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules check county.toml\n  \
       tarebook rules try situations.json"
))]
pub struct Rules {
    #[command(subcommand)]
    deed: Deed,
}

#[derive(Debug, Subcommand)]
enum Deed {
    Adopt(adopt::Adopt),
    Check(Check),
    Test(Test),
    Diff(diff::Diff),
    Preview(preview::PreviewRules),
    Schema(Schema),
    Try(Try),
}

/// Check rule files: words, dates, gaps and overlaps
///
/// Each finding names the file, the place in it and what is allowed there. An overlay is laid over
/// its base, which is a shipped set or another file on the same line.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules check us-federal-hfc.toml\n  \
       tarebook rules check base.toml county-overlay.toml"
))]
struct Check {
    /// Rule files (TOML); none: the sets that come with the program
    #[arg(value_name = "FILE.toml")]
    files: Vec<PathBuf>,
}

/// Run the examples that stand in rule files
///
/// Exit code 1 when one comes out otherwise than written. Expectations that this version does not
/// evaluate yet are counted and named, never passed over silently.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules test\n  \
       tarebook rules test county.toml"
))]
struct Test {
    /// Rule files (TOML); none: the sets that come with the program
    #[arg(value_name = "FILE.toml")]
    files: Vec<PathBuf>,
}

/// Print the JSON Schema of a rule set
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules schema\n  \
       tarebook rules schema > rule-set.schema.json"
))]
struct Schema {}

/// Evaluate situations and compare them with what they expect
///
/// A situation is one appliance with its facts and events, the sets to judge it by and a day. Exit
/// code 1 when an outcome differs from its expectation.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules try situations.json\n  \
       tarebook rules try --rules county.toml --quiet situations.json"
))]
struct Try {
    /// File of situations (JSON)
    #[arg(value_name = "SITUATIONS.json")]
    file: PathBuf,

    /// Rule files (TOML) that situations name beside the sets of the program (may be repeated)
    ///
    /// A file whose id is that of a set of the program takes its place.
    #[arg(long, value_name = "FILE.toml")]
    rules: Vec<PathBuf>,
}

impl Rules {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        match self.deed {
            Deed::Adopt(asked) => asked.run(context),
            Deed::Diff(asked) => asked.run(),
            Deed::Preview(asked) => asked.run(context),
            Deed::Check(Check { files }) => check_files(&files),
            Deed::Test(Test { files }) => test_files(&files),
            Deed::Schema(Schema {}) => {
                let mut out = std::io::stdout().lock();
                writeln!(out, "{:#}", reports::rules::schema::rule_set_schema())?;
                Ok(Exit::Good)
            }
            Deed::Try(asked) => try_situations(&asked),
        }
    }
}

/// A rule file with the name it has in messages.
struct Named {
    name: String,
    file: RuleFile,
}

/// Reads the files; without any, the sets that come with the program.
fn read(files: &[PathBuf]) -> Result<Vec<Named>, Failure> {
    let mut read = Vec::new();
    let mut problems = Vec::new();
    for (name, text) in texts(files)? {
        match RuleFile::from_toml(&name, &text) {
            Ok(file) => read.push(Named { name, file }),
            Err(found) => problems.extend(found),
        }
    }
    if problems.is_empty() {
        Ok(read)
    } else {
        Err(told(&problems))
    }
}

fn texts(files: &[PathBuf]) -> Result<Vec<(String, String)>, Failure> {
    if files.is_empty() {
        let shipped = reports::rules::shipped_texts().iter();
        return Ok(shipped
            .map(|(name, text)| (name.to_string(), text.to_string()))
            .collect());
    }
    let read = |path: &PathBuf| {
        let name = path.display().to_string();
        let text = std::fs::read_to_string(path).map_err(|error| {
            Failure::failed(format!(
                "expected a rule file (TOML) at {name}, came: {error}."
            ))
        })?;
        Ok((name, text))
    };
    files.iter().map(read).collect()
}

fn told(problems: &[Problem]) -> Failure {
    let lines: Vec<String> = problems.iter().map(ToString::to_string).collect();
    Failure::failed(format!(
        "the rules are not good as they stand.\n{}",
        lines.join("\n")
    ))
}

/// Lays overlays over their bases: sets of the same line, else sets that come with the program.
/// Each set comes with the name of its file; bases that were only needed for an overlay come too.
fn assembled(files: Vec<Named>, tables: &Tables) -> Result<Vec<(String, RuleSet)>, Failure> {
    let mut names: Vec<(String, String)> = Vec::new();
    let mut all = Vec::new();
    let mut wanted = Vec::new();
    for Named { name, file } in files {
        match &file {
            RuleFile::Set(set) => names.push((set.id.clone(), name)),
            RuleFile::Overlay(layer) => wanted.push((layer.overlays.clone(), name)),
        }
        all.push(file);
    }
    for set in reports::rules::shipped() {
        let layered = wanted.iter().find(|(base, _)| *base == set.id);
        let given = names.iter().any(|(id, _)| *id == set.id);
        if let Some((base, name)) = layered.filter(|_| !given) {
            names.push((base.clone(), name.clone()));
            all.push(RuleFile::Set(Box::new(set)));
        }
    }
    let sets = reports::rules::assemble(all, tables).map_err(|problems| told(&problems))?;
    let name_of = |set: &RuleSet| names.iter().find(|(id, _)| *id == set.id);
    let named = sets.into_iter().map(|set| {
        let name = name_of(&set).map_or_else(|| set.id.clone(), |(_, name)| name.clone());
        (name, set)
    });
    Ok(named.collect())
}

/// A day as an option gives it.
fn day(text: &str) -> Result<Day, String> {
    Day::parse(text).ok_or_else(|| "expected a day such as 2026-01-01".to_string())
}

fn check_files(files: &[PathBuf]) -> Result<Exit, Failure> {
    let tables = Tables::shipped();
    let sets = assembled(read(files)?, &tables)?;
    let texts: BTreeMap<String, String> = texts(files)?.into_iter().collect();
    let now = jiff::Timestamp::from_microsecond(crate::clock::now()).unwrap_or_default();
    let today = Zone::named("UTC").map_or(Day::from_count(0), |utc| utc.day(now));
    let mut problems = Vec::new();
    for (name, set) in &sets {
        let found = reports::rules::check(name, set, &tables, today).into_iter();
        let text = texts.get(name).map_or("", String::as_str);
        problems.extend(found.map(|problem| problem.located(text)));
    }
    if !problems.is_empty() {
        return Err(told(&problems));
    }
    let mut out = std::io::stdout().lock();
    for (name, set) in &sets {
        writeln!(
            out,
            "{name}: good; {} with {} examples",
            set.id,
            set.examples.len()
        )?;
    }
    Ok(Exit::Good)
}

fn test_files(files: &[PathBuf]) -> Result<Exit, Failure> {
    let tables = Tables::shipped();
    let mut exit = Exit::Good;
    for (name, set) in assembled(read(files)?, &tables)? {
        let outcome = reports::rules::run_examples(&set, &tables);
        if tell(&name, &outcome)? == Exit::Failed {
            exit = Exit::Failed;
        }
    }
    Ok(exit)
}

fn try_situations(asked: &Try) -> Result<Exit, Failure> {
    let name = asked.file.display().to_string();
    let text = std::fs::read_to_string(&asked.file).map_err(|error| {
        Failure::failed(format!(
            "expected a file of situations at {name}, came: {error}."
        ))
    })?;
    let tables = Tables::shipped();
    let mut sets: Vec<RuleSet> = if asked.rules.is_empty() {
        Vec::new()
    } else {
        assembled(read(&asked.rules)?, &tables)?
            .into_iter()
            .map(|(_, set)| set)
            .collect()
    };
    for set in reports::rules::shipped() {
        if !sets.iter().any(|given| given.id == set.id) {
            sets.push(set);
        }
    }
    let outcome = reports::rules::run_situations(&name, &text, &sets, &tables);
    tell(&name, &outcome.map_err(|problems| told(&problems))?)
}

/// Says what came of it.
fn tell(name: &str, outcome: &Outcome) -> Result<Exit, Failure> {
    let mut out = std::io::stdout().lock();
    for difference in &outcome.differences {
        writeln!(out, "{difference}")?;
    }
    let (compared, differences) = (outcome.compared, outcome.differences.len());
    writeln!(out, "{name}: {compared} compared, {differences} differ")?;
    Ok(if differences == 0 {
        Exit::Good
    } else {
        Exit::Failed
    })
}
