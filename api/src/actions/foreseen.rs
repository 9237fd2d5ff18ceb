//! What an adoption comes to, looked at before it is booked and outside the writer.
//!
//! A rule file is read, checked and tried on its own examples while others post; what the writer
//! then looks at is only how it stands to the book of that moment. An adoption from a day in the
//! past re-works what was judged since: how much is counted as a preview counts it, and told with
//! the answer.

use super::candidate::Candidate;
use super::preview_rules::{Asked, Preview, preview_each, today};
use super::refusal::ActionError;
use super::show::reading;
use crate::store::Db;
use crate::store::open::Organisation;
use reports::day::Day;
use reports::rules::RuleFile;
use serde::Serialize;
use serde_json::Value;

/// What an adoption from a past day judges otherwise than before.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ReWorked {
    /// From this day on.
    pub from: String,
    /// The last entry that was read.
    pub as_of: u64,
    /// Appliances of which anything changes.
    pub appliances: u64,
    /// Limits that are passed and were not before.
    pub limits_passed: u64,
    /// Limits that were passed before and are not now.
    pub limits_no_longer: u64,
    /// Duties that appear.
    pub duties_appear: u64,
    /// Duties with another date or another state.
    pub duties_moved: u64,
    /// Duties that vanish.
    pub duties_vanish: u64,
    /// The same in words.
    pub sentence: String,
}

impl ReWorked {
    fn of(preview: &Preview) -> ReWorked {
        let counts = preview.counts;
        ReWorked {
            from: preview.since.to_string(),
            as_of: preview.as_of,
            appliances: counts.appliances,
            limits_passed: counts.passed,
            limits_no_longer: counts.no_longer,
            duties_appear: counts.appear,
            duties_moved: counts.moved,
            duties_vanish: counts.vanish,
            sentence: preview.re_worked(),
        }
    }
}

/// The rule file of a request that adopts one, with its first day; `None`: it adopts none, or
/// cannot be read (the door says why).
fn adopts(entry: &Value) -> Option<(RuleFile, Option<Day>)> {
    if entry.get("kind")?.as_str()? != "rule_set" {
        return None;
    }
    let body = entry.get("body")?;
    let file = match (body.get("toml").and_then(Value::as_str), body.get("set")) {
        (Some(text), None) => RuleFile::from_toml("rule set", text),
        (None, Some(set)) => RuleFile::from_json("rule set", &set.to_string()),
        _ => return None,
    };
    let from = body.get("from").and_then(Value::as_str);
    Some((file.ok()?, from.and_then(Day::parse)))
}

/// Checks the rule file of a request and tries its examples, so that the writer need not.
pub fn checked(entry: &Value, today: Day) {
    if let Some((file, _)) = adopts(entry) {
        // What is wrong is said by the door.
        let _ = Candidate::new(file, today, 0).own_problems(today);
    }
}

/// What an adoption that is asked for would re-work; `None`: it adopts nothing, from no past day,
/// or cannot be adopted (the door says why). `now`: microseconds since 1970.
pub fn re_worked(
    db: &mut Db,
    of: &Organisation,
    entry: &Value,
    now: i64,
) -> Result<Option<ReWorked>, ActionError> {
    let Some((file, from)) = adopts(entry) else {
        return Ok(None);
    };
    let today = reading(db, of, |db| Ok(today(db, of, now)?))?;
    let Some(since) = from.filter(|from| *from < today) else {
        checked(entry, today);
        return Ok(None);
    };
    let asked = Asked {
        rules: Some(file),
        method: None,
        since,
        now,
        most: 0,
    };
    match preview_each(db, of, asked, |_| ()) {
        Ok(preview) => Ok(Some(ReWorked::of(&preview))),
        Err(ActionError::Refused(_)) => Ok(None),
        Err(failed) => Err(failed),
    }
}
