//! `tarebook rules preview`: what a rule set, a layer or a method would change on the fleet.

use super::named;
use crate::actions::preview_rules::{Asked, Told, preview_each};
use crate::cli::failure::{Exit, Failure};
use crate::cli::{Context, examples, open};
use crate::store::Purpose;
use clap::Args;
use reports::day::Day;
use reports::leak_rate::Method;
use std::io::Write;

/// Show what a rule set, a layer or a method would change on the fleet
///
/// Judges every appliance twice over its whole history: by what is adopted, and as if this were
/// adopted as well, from the day given. Standard output has a line for each limit that would be passed
/// or would no longer be, with its arithmetic, for each duty that would appear, move or vanish, and
/// for each fact that would have to be found. Where the day is still to come, a line for each
/// appliance that would have crossed, had the change begun a year ago. Nothing is booked; what could
/// not be adopted is refused.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules preview us-federal-hfc --from 2026-01-01 --data book\n  \
       tarebook rules preview county.toml --from 2025-01-01 --organisation \"Halfmoon Grocers\" \
         --data book\n  \
       tarebook rules preview --method rolling --from 2026-01-01 --data book"
))]
pub struct PreviewRules {
    /// A rule file (TOML), or the id of a set that comes with the program
    #[arg(value_name = "SET", required_unless_present = "method")]
    set: Option<String>,

    /// First day on which it would judge (YYYY-MM-DD)
    #[arg(long, value_name = "DAY", value_parser = super::day)]
    from: Day,

    /// The leak-rate method that every site would go by
    #[arg(long, value_name = "METHOD")]
    method: Option<MethodAsked>,

    /// Tell at most so many appliances in full; all are counted
    #[arg(long, value_name = "N")]
    most: Option<u64>,

    /// Organisation whose fleet it is (default: the setting `organisation`, else the only one)
    #[arg(long, value_name = "NAME")]
    organisation: Option<String>,
}

#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum MethodAsked {
    /// Added / full charge, times 365 / days since the addition before
    Annualising,
    /// Everything added in 365 days / full charge
    Rolling,
}

impl PreviewRules {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let rules = self.set.as_deref().map(named::file).transpose()?;
        let (mut db, of) = open::book(context, &self.organisation, Purpose::Read)?;
        let asked = Asked {
            rules,
            method: self.method.map(|method| match method {
                MethodAsked::Annualising => Method::Annualising,
                MethodAsked::Rolling => Method::Rolling,
            }),
            since: self.from,
            now: crate::clock::now(),
            most: self.most.unwrap_or(u64::MAX),
        };
        let mut out = std::io::BufWriter::new(std::io::stdout().lock());
        let mut wrote = Ok(());
        let found = preview_each(&mut db, &of, asked, |told| {
            let lines = match told {
                Told::Changed(changed) => changed.lines(),
                Told::Crossing(crossing) => crossing.lines(),
            };
            for line in lines {
                if wrote.is_ok() {
                    wrote = writeln!(out, "{line}");
                }
            }
        })?;
        wrote?;
        out.flush()?;
        context.terminal.say(found.summary());
        Ok(Exit::Good)
    }
}
