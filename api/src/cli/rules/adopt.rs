//! `tarebook rules adopt`: lets an organisation judge by a rule set from a day on.

use super::super::failure::{Exit, Failure};
use super::super::{Context, examples, open};
use crate::actions::ActionError;
use crate::actions::post::post;
use crate::ledger::actor::Actor;
use crate::ledger::id::Id;
use crate::store::Purpose;
use crate::store::writer::{Books, Clock, transact};
use clap::Args;
use reports::day::Day;
use reports::refrigerant::Table;
use reports::rules::shipped_texts;
use serde_json::json;

/// Judge by a rule set from a day on
///
/// Books one entry that holds the whole text of the set, so that every later reader judges by the
/// same numbers. The set is a file, or the id of one that comes with the program. Its examples are
/// run first; a layer needs its base adopted before it. A newer version of a set takes over from its
/// own day, and what was judged before stays as it was.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules adopt us-federal-hfc --from 2026-01-01 --data book\n  \
       tarebook rules adopt county.toml --from 2026-07-01 --organisation \"Halfmoon Grocers\" --data book"
))]
pub struct Adopt {
    /// A rule file (TOML), or the id of a set that comes with the program
    #[arg(value_name = "SET")]
    set: String,

    /// First day on which it judges (YYYY-MM-DD)
    #[arg(long, value_name = "DAY", value_parser = day)]
    from: Day,

    /// Organisation that adopts it (default: the setting `organisation`)
    #[arg(long, value_name = "NAME")]
    organisation: Option<String>,
}

fn day(text: &str) -> Result<Day, String> {
    Day::parse(text).ok_or_else(|| "expected a day such as 2026-01-01".to_string())
}

impl Adopt {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let toml = text(&self.set)?;
        let (mut db, of) = open::book(context, &self.organisation, Purpose::Write)?;
        let request = json!({
            "entry_id": Id::random(),
            "kind": "rule_set",
            "body": { "toml": toml, "from": self.from.to_string() },
        });
        let (table, clock) = (Table::shipped(), Clock::real());
        let mut books = Books::new();
        let posted = transact(
            &mut db,
            &mut books,
            &of,
            &[],
            table,
            clock,
            |tx| match post(tx, &Actor::OPERATOR, &request) {
                Err(ActionError::Failed(error)) => Err(error),
                outcome => Ok(outcome),
            },
        )??;
        open::sign(context, &mut db, &of)?;
        context.terminal.say(format!(
            "{} judges by {} from {} on: entry no. {}.",
            of.name, self.set, self.from, posted.seq
        ));
        Ok(Exit::Good)
    }
}

/// The text of a shipped set, else of a file.
fn text(set: &str) -> Result<String, Failure> {
    let shipped = |(name, _): &&(&str, &str)| name.strip_suffix(".toml") == Some(set);
    if let Some((_, text)) = shipped_texts().iter().find(shipped) {
        return Ok((*text).to_string());
    }
    std::fs::read_to_string(set).map_err(|error| {
        let known: Vec<&str> = shipped_texts()
            .iter()
            .filter_map(|(name, _)| name.strip_suffix(".toml"))
            .collect();
        Failure::failed(format!(
            "expected a rule file (TOML) or one of {}, came '{set}': {error}.",
            known.join(", ")
        ))
    })
}
