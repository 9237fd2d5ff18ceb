//! Whether a rule set can be relied on: no gap, no overlap, no unknown name, units that fit.
//!
//! The parser has judged the words; here the names and the dated series are judged. Everything
//! wrong is told in one list. A gap is judged only where a value is used: over the days of the
//! covers, limits, duties and extensions that name it, for every band, up to the end of the tenth
//! year from today.

mod cover;
mod names;
mod overlay;
mod series;
mod uses;

use super::file::RuleSet;
use super::problem::Problem;
use super::tables::Tables;
use crate::day::Day;

pub use overlay::check_overlay;
pub(super) use overlay::is_looser;

/// Everything that is wrong with a rule set; an empty list means that it may be adopted once its
/// examples pass. `file` names it in the messages.
pub fn check(file: &str, set: &RuleSet, tables: &Tables, today: Day) -> Vec<Problem> {
    let mut found = Found {
        file,
        problems: Vec::new(),
    };
    size(set, &mut found);
    if !found.problems.is_empty() {
        return found.problems;
    }
    names::head(set, &mut found);
    names::references(set, tables, &mut found);
    series::rows(set, &mut found);
    let uses = uses::of(set);
    series::uses(set, &uses, horizon(today), &mut found);
    for layer in &set.layers {
        found.problems.extend(check_overlay(layer, set, tables));
    }
    found.problems
}

/// Most examples of a set; each is a history that is judged.
const MOST_EXAMPLES: usize = 100;
/// Most dated rows of a value, and most entries of any other list.
const MOST_ROWS: usize = 200;

/// A set that is much larger than an act needs would keep everybody waiting who tries it.
fn size(set: &RuleSet, found: &mut Found) {
    let lists = [
        ("examples", set.examples.len(), MOST_EXAMPLES),
        ("values", set.values.len(), MOST_ROWS),
        ("covers", set.covers.len(), MOST_ROWS),
        ("exempt", set.exempt.len(), MOST_ROWS),
        ("bands", set.bands.len(), MOST_ROWS),
        ("limits", set.limits.len(), MOST_ROWS),
        ("duties", set.duties.len(), MOST_ROWS),
    ];
    let rows = set.values.iter();
    let rows = rows.map(|(name, series)| (name.as_str(), series.rows.len(), MOST_ROWS));
    for (name, count, most) in lists.into_iter().chain(rows) {
        if count > most {
            let message = format!("expected at most {most}, found {count}; divide the set");
            found.say(name, message);
        }
    }
}

/// The last day for which a number must be there: rules are read to plan ten years ahead.
fn horizon(today: Day) -> Day {
    Day::from_ymd(today.year().saturating_add(10).min(9999), 12, 31).unwrap_or(today)
}

/// The list that every part of the check adds to.
struct Found<'a> {
    file: &'a str,
    problems: Vec<Problem>,
}

impl Found<'_> {
    fn say(&mut self, place: impl Into<String>, message: impl Into<String>) {
        let problem = Problem::new(self.file, place, message);
        if !self.problems.contains(&problem) {
            self.problems.push(problem);
        }
    }
}
