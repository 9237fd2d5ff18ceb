//! `tarebook rules adopt`: lets an organisation judge by a rule set from a day on.

use super::named;
use crate::actions::foreseen::re_worked;
use crate::actions::post::post;
use crate::actions::{ActionError, Refusal};
use crate::cli::failure::{Exit, Failure};
use crate::cli::{Context, examples, open};
use crate::ledger::actor::Actor;
use crate::ledger::id::Id;
use crate::store::Purpose;
use crate::store::writer::{Books, Clock, transact};
use clap::Args;
use reports::day::Day;
use reports::refrigerant::Table;
use serde_json::json;

/// Judge by a rule set from a day on
///
/// Books one entry that holds the whole text of the set, so that every later reader judges by the
/// same numbers. The set is a file, or the id of one that comes with the program. Its examples are
/// run first; a layer needs its base adopted before it. A newer version of a set takes over from its
/// own day, and what was judged before stays as it was.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook rules adopt us-federal-hfc --from 2026-01-01 --reason \"first rules\" --data book\n  \
       tarebook rules adopt county.toml --from 2026-07-01 --reason \"ordinance 12\" \
         --organisation \"Halfmoon Grocers\" --data book"
))]
pub struct Adopt {
    /// A rule file (TOML), or the id of a set that comes with the program
    #[arg(value_name = "SET")]
    set: String,

    /// First day on which it judges (YYYY-MM-DD)
    #[arg(long, value_name = "DAY", value_parser = super::day)]
    from: Day,

    /// Why: the ordinance, the notice; booked with the adoption
    ///
    /// Needed where the day is in the past and something was judged since.
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,

    /// Organisation that adopts it (default: the setting `organisation`, else the only one)
    #[arg(long, value_name = "NAME")]
    organisation: Option<String>,
}

impl Adopt {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let toml = named::text(&self.set)?;
        let (mut db, of) = open::book(context, &self.organisation, Purpose::Write)?;
        let mut request = json!({
            "entry_id": Id::random(),
            "kind": "rule_set",
            "body": { "toml": toml, "from": self.from.to_string() },
        });
        if let Some(reason) = &self.reason {
            request["note"] = json!(reason);
        }
        let foreseen = re_worked(&mut db, &of, &request, crate::clock::now())?;
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
                outcome => Ok(outcome.map_err(by_its_flag)),
            },
        )??;
        open::sign(context, &mut db, &of)?;
        context.terminal.say(format!(
            "{} judges by {} from {} on: entry no. {}.",
            of.name, self.set, self.from, posted.seq
        ));
        if let Some(foreseen) = foreseen {
            context.terminal.say(foreseen.sentence);
        }
        Ok(Exit::Good)
    }
}

/// A missing reason is called as this command calls it.
fn by_its_flag(error: ActionError) -> ActionError {
    match error {
        ActionError::Refused(Refusal::InvalidValue { pointer, detail }) if pointer == "/note" => {
            let pointer = "--reason".to_string();
            ActionError::Refused(Refusal::InvalidValue { pointer, detail })
        }
        other => other,
    }
}
