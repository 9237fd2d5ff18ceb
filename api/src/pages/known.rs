//! What a form carries for the phone, so that it can ask without signal what the book would ask.

use crate::actions::show::lines::Line;
use crate::actions::show::overview::Overview;
use crate::pages::appliances::fact;

/// What stands in the page so that a phone can ask without signal what the book would ask.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Known {
    /// Id of its owner.
    pub owner: String,
    /// Its refrigerant.
    pub runs_on: String,
    /// Its full charge in grams.
    pub full_charge: String,
    /// The day it was retired.
    pub retired: String,
    /// Does it cool an industrial process, whose stop moves days of the rules?
    pub industrial: bool,
}

impl Known {
    /// What is known of an appliance; empty texts for what is not.
    pub fn of(overview: &Overview, history: &[Line]) -> Known {
        let fact = |name| fact(&overview.thing, name).unwrap_or_default().to_string();
        let full = overview.standing.full_charge.as_ref();
        Known {
            owner: fact("owner"),
            runs_on: fact("refrigerant"),
            full_charge: full.map(|full| full.g.clone()).unwrap_or_default(),
            retired: retired(history),
            industrial: fact("category") == "industrial_process",
        }
    }
}

/// The id in `/entries/ID/correct`.
pub fn corrected_id(action: &str) -> &str {
    action.split('/').nth(2).unwrap_or_default()
}

/// The day an appliance was retired, by its history; empty: it was not.
pub fn retired(history: &[Line]) -> String {
    let stands = |line: &&Line| line.kind == "retire" && line.corrected_by.is_none();
    let retired = history.iter().find(stands);
    retired.map(|line| line.day.clone()).unwrap_or_default()
}
