//! `tarebook rules preview`: what a rule set or layer would change on the fleet.

use super::named;
use crate::actions::preview_rules::{Changed, Preview, preview};
use crate::cli::failure::{Exit, Failure};
use crate::cli::terminal::spaced;
use crate::cli::{Context, examples, open};
use crate::store::Purpose;
use clap::Args;
use reports::day::Day;
use std::io::Write;

/// Show what a rule set or layer would change on the fleet
///
/// Judges every appliance twice over its whole history up to today: by what is adopted, and as if
/// this were adopted as well, from the day given. Standard output has a line for each limit that
/// would be passed or would no longer be, with its arithmetic, and for each fact that would have to
/// be found. Nothing is booked. A day in the past shows what it would have found by now.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules preview us-federal-hfc --from 2026-01-01 --data book\n  \
       tarebook rules preview county.toml --from 2025-01-01 --organisation \"Halfmoon Grocers\" \
       --data book"
))]
pub struct PreviewRules {
    /// A rule file (TOML), or the id of a set that comes with the program
    #[arg(value_name = "SET")]
    set: String,

    /// First day on which it would judge (YYYY-MM-DD)
    #[arg(long, value_name = "DAY", value_parser = super::day)]
    from: Day,

    /// Organisation whose fleet it is (default: the setting `organisation`, else the only one)
    #[arg(long, value_name = "NAME")]
    organisation: Option<String>,
}

impl PreviewRules {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let file = named::file(&self.set)?;
        let (mut db, of) = open::book(context, &self.organisation, Purpose::Read)?;
        let found = preview(&mut db, &of, file, self.from, crate::clock::now())?;
        let mut out = std::io::stdout().lock();
        for changed in &found.changed {
            for line in lines(changed) {
                writeln!(out, "{line}")?;
            }
        }
        context.terminal.say(summary(&found, self.from));
        Ok(Exit::Good)
    }
}

fn lines(changed: &Changed) -> Vec<String> {
    let tag = &changed.tag;
    let mut lines = Vec::new();
    for one in &changed.passed {
        let (set, limit, on, worked) = (&one.set, &one.limit, &one.on, &one.worked);
        lines.push(format!("{tag}: passes {limit} of {set} on {on}: {worked}."));
    }
    for one in &changed.no_longer {
        let (set, limit, on, worked) = (&one.set, &one.limit, &one.on, &one.worked);
        lines.push(format!(
            "{tag}: no longer passes {limit} of {set} on {on}; it was: {worked}."
        ));
    }
    for fact in &changed.missing {
        lines.push(format!("{tag}: cannot be judged until {fact} is found."));
    }
    lines
}

fn summary(found: &Preview, from: Day) -> String {
    let plural = |count: usize, one: &str, more: &str| match count {
        1 => format!("1 {one}"),
        count => format!("{} {more}", spaced(count as u64)),
    };
    let appliances = plural(found.changed.len(), "appliance", "appliances");
    format!(
        "With {} from {from} on, {appliances} of {} would be judged otherwise: {} passed, {} no \
         longer. As of entry no. {}; nothing was booked.",
        found.id,
        spaced(found.appliances),
        plural(found.passed(), "limit", "limits"),
        spaced(found.no_longer() as u64),
        found.as_of
    )
}
