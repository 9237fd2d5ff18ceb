//! Trying a rule file and adopting it: check, look at what it would change, then book.
//!
//! Nothing is adopted that was not looked at: the press that adopts carries the mark of the text
//! and the day whose preview was shown. With another text or another day it shows the preview
//! first.

use super::super::figures;
use super::super::way::Visit;
use super::previewed::Previewed;
use crate::actions::permit::Deed;
use crate::actions::preview_rules::{Asked, preview, unsound};
use crate::actions::{ActionError, Refusal};
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use crate::ledger::id::Id;
use crate::ledger::tree::sha256;
use reports::day::Day;
use reports::rules::{RuleFile, Tables, run_examples};
use serde_json::json;

/// Appliances that a page shows in full.
const MOST: u64 = 100;

/// What was filled in beside the rules, and what came of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Trial {
    /// The first day, as it was written.
    pub from: String,
    /// Why, as it was written.
    pub reason: String,
    /// The id under which it is booked, once.
    pub entry_id: String,
    /// The mark of what was looked at.
    pub looked: String,
    /// What stands against it.
    pub problems: Vec<String>,
    /// What is good about it, where it was only checked.
    pub good: Option<String>,
    /// What it would change.
    pub previewed: Option<Previewed>,
    /// May the reader adopt?
    pub may_adopt: bool,
}

/// Where a trial leads.
pub enum Outcome {
    /// Back to the form, with what came of it.
    Shown(Box<Trial>),
    /// It was adopted by this entry, under this id.
    Adopted {
        /// The set or layer.
        id: String,
        /// The entry.
        entry: u64,
    },
}

impl Trial {
    /// A trial that begins: the change would hold from the first day of next month.
    pub fn new(visit: &Visit, today: Day) -> Result<Trial, Problem> {
        let milliseconds = u64::try_from(visit.asked.now / 1_000).unwrap_or_default();
        Ok(Trial {
            from: next_month(today).to_string(),
            entry_id: Id::at(milliseconds).to_string(),
            may_adopt: visit.by()?.may(Deed::AdoptRules),
            ..Trial::default()
        })
    }

    /// What was filled in.
    pub fn filled(visit: &Visit) -> Result<Trial, Problem> {
        Ok(Trial {
            from: visit.filled("from").trim().to_string(),
            reason: visit.filled("reason").trim().to_string(),
            entry_id: visit.filled("entry_id").to_string(),
            looked: visit.filled("looked").to_string(),
            may_adopt: visit.by()?.may(Deed::AdoptRules),
            ..Trial::default()
        })
    }

    /// Can the press that adopts be offered?
    pub fn can_adopt(&self) -> bool {
        self.may_adopt && self.previewed.is_some()
    }

    /// Tries a text: `check`, `preview` or `adopt`, as the pressed button says.
    pub async fn tried(
        mut self,
        visit: &Visit,
        name: &str,
        toml: &str,
    ) -> Result<Outcome, Problem> {
        let (since, file) = match (day(&self.from), RuleFile::from_toml(name, toml)) {
            (Ok(since), Ok(file)) => (since, file),
            (since, file) => {
                self.problems.extend(since.err());
                let unread = file.err().unwrap_or_default();
                self.problems.extend(unread.iter().map(ToString::to_string));
                return Ok(Outcome::Shown(Box::new(self)));
            }
        };
        let step = visit.filled("step");
        if step == "check" {
            return self.checked(visit, file, since).await;
        }
        if step == "adopt" && self.reason.is_empty() {
            let why = "Reason: expected why the rules change (an ordinance, a notice), came \
                       nothing. It is booked with the adoption.";
            self.problems.push(why.to_string());
        }
        let mark = mark(toml, since);
        if step == "adopt" && self.problems.is_empty() && self.looked == mark {
            return self.adopted(visit, &file, toml, since).await;
        }
        self.looked = mark;
        self.shown(visit, file, since).await
    }

    async fn checked(
        mut self,
        visit: &Visit,
        file: RuleFile,
        since: Day,
    ) -> Result<Outcome, Problem> {
        let (of, now) = (visit.by()?.signed_in.of.clone(), visit.asked.now);
        let read = visit.asked.read(move |state| {
            let set = match &file {
                RuleFile::Set(set) => Some(set.clone()),
                RuleFile::Overlay(_) => None,
            };
            let question = |db: &mut _| unsound(db, &of, file, since, now);
            let problems = state.desk.report(question)?;
            // A set with a problem may be too large to be tried.
            let good = set.filter(|_| problems.is_empty());
            let examples = good.map_or(0, |set| run_examples(&set, &Tables::shipped()).compared);
            Ok((problems, examples))
        });
        let (problems, examples) = read.await?;
        self.problems = problems;
        if self.problems.is_empty() {
            self.good = Some(match examples {
                0 => "Good as it stands.".to_string(),
                count => format!("Good as it stands; {count} expectations of its examples hold."),
            });
        }
        Ok(Outcome::Shown(Box::new(self)))
    }

    async fn shown(
        mut self,
        visit: &Visit,
        file: RuleFile,
        since: Day,
    ) -> Result<Outcome, Problem> {
        let of = visit.by()?.signed_in.of.clone();
        let asked = Asked {
            rules: Some(file),
            method: None,
            since,
            now: visit.asked.now,
            most: MOST,
        };
        let read =
            visit.asked.read(
                move |state| match state.desk.report(|db| preview(db, &of, asked)) {
                    Err(ActionError::Refused(Refusal::InvalidValue { detail, .. })) => {
                        Ok(Err(detail))
                    }
                    other => other.map(Ok),
                },
            );
        match read.await? {
            Ok(preview) => self.previewed = Some(Previewed::of(&preview)),
            Err(detail) => self.problems.extend(detail.split('\n').map(str::to_string)),
        }
        Ok(Outcome::Shown(Box::new(self)))
    }

    async fn adopted(
        self,
        visit: &Visit,
        file: &RuleFile,
        toml: &str,
        since: Day,
    ) -> Result<Outcome, Problem> {
        let id = match file {
            RuleFile::Set(set) => set.id.clone(),
            RuleFile::Overlay(layer) => layer.id.clone(),
        };
        let body = json!({ "toml": toml, "from": since.to_string() });
        self.booked(visit, id, body).await
    }

    /// Ends what was adopted under an id: from the day on it judges no more.
    pub async fn ended(mut self, visit: &Visit, id: &str) -> Result<Outcome, Problem> {
        let since = day(&self.from);
        if self.reason.is_empty() {
            let why = "Reason: expected why it ends, came nothing. It is booked with the end.";
            self.problems.push(why.to_string());
        }
        match since {
            Ok(since) if self.problems.is_empty() => {
                let body = json!({ "ends": id, "from": since.to_string() });
                self.booked(visit, id.to_string(), body).await
            }
            since => {
                self.problems.extend(since.err());
                Ok(Outcome::Shown(Box::new(self)))
            }
        }
    }

    /// Books an adoption or an end through the one door.
    async fn booked(
        mut self,
        visit: &Visit,
        id: String,
        body: serde_json::Value,
    ) -> Result<Outcome, Problem> {
        let request = json!({
            "entry_id": self.entry_id,
            "kind": "rule_set",
            "note": self.reason,
            "body": body,
        });
        let by = visit.by()?.poster();
        let posted = visit.asked.state.desk.post(&by, request);
        let posted = tokio::time::timeout(PATIENCE, posted).await;
        let posted = posted.map_err(|_| Problem::unavailable("no answer of the book in time"))?;
        match posted {
            Ok(receipt) => Ok(Outcome::Adopted {
                id,
                entry: receipt.seq,
            }),
            Err(ActionError::Refused(Refusal::InvalidValue { detail, .. })) => {
                self.problems.extend(detail.split('\n').map(str::to_string));
                Ok(Outcome::Shown(Box::new(self)))
            }
            Err(failed) => Err(failed.into()),
        }
    }
}

/// The mark of a text and its first day.
fn mark(toml: &str, since: Day) -> String {
    figures::print(&sha256(format!("{since}\n{toml}").as_bytes()), 32)
}

fn day(text: &str) -> Result<Day, String> {
    Day::parse(text).ok_or_else(|| {
        format!(
            "First day: expected a day such as 2027-01-01, came '{text}'. A past day is allowed."
        )
    })
}

fn next_month(today: Day) -> Day {
    let (_, month, _) = today.ymd();
    let next = match month {
        12 => Day::from_ymd(today.year() + 1, 1, 1),
        month => Day::from_ymd(today.year(), month + 1, 1),
    };
    next.unwrap_or(today)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_next_month_begins_a_year_after_december() {
        for (today, next) in [("2026-11-26", "2026-12-01"), ("2026-12-31", "2027-01-01")] {
            let today = Day::parse(today).unwrap();
            assert_eq!(next_month(today).to_string(), next);
        }
    }

    #[test]
    fn another_text_or_another_day_has_another_mark() {
        let (one, two) = (day("2027-01-01").unwrap(), day("2027-01-02").unwrap());
        assert_eq!(mark("a", one), mark("a", one));
        assert!(mark("a", one) != mark("b", one) && mark("a", one) != mark("a", two));
        assert!(day("next month").unwrap_err().contains("came 'next month'"));
    }
}
