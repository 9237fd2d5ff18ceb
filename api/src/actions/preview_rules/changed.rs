//! What would change of one appliance, in the words that the page and the command share.

use reports::day::Day;
use reports::standing::{DutyShown, ExceedanceShown, Standing};
use std::collections::BTreeSet;

/// What would change of an appliance.
#[derive(Clone, Debug, PartialEq)]
pub struct Changed {
    /// Its tag.
    pub tag: String,
    /// Whether its newest addition passes its limit: now, and then.
    pub over: (&'static str, &'static str),
    /// Limits that would be passed and are not now.
    pub passed: Vec<ExceedanceShown>,
    /// Limits that are passed now and would not be.
    pub no_longer: Vec<ExceedanceShown>,
    /// What would be owed otherwise.
    pub duties: Vec<DutyChange>,
    /// Facts that would have to be found before it can be judged.
    pub missing: Vec<&'static str>,
}

/// A duty that would be there, elsewhere, or no more.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub enum DutyChange {
    Appears(DutyShown),
    Moves {
        was: Box<DutyShown>,
        becomes: Box<DutyShown>,
    },
    Vanishes(DutyShown),
}

/// An appliance that would have crossed a limit that is still to come.
#[derive(Clone, Debug, PartialEq)]
pub struct Crossing {
    /// Its tag.
    pub tag: String,
    /// As if from this day.
    pub from: Day,
    /// Limits that it would have passed.
    pub passed: Vec<ExceedanceShown>,
    /// Limits that it would not have passed.
    pub no_longer: Vec<ExceedanceShown>,
}

impl Changed {
    pub(super) fn of(tag: &str, now: Standing, then: Standing) -> Changed {
        let over = (now.over().word(), then.over().word());
        let missing = (then.missing.iter()).filter(|fact| !now.missing.contains(fact));
        let missing = missing.copied().collect();
        let (passed, no_longer) = limits(now.exceedances, then.exceedances);
        Changed {
            tag: tag.to_string(),
            over,
            passed,
            no_longer,
            duties: duties(now.duties, then.duties),
            missing,
        }
    }

    /// A line for each change.
    pub fn lines(&self) -> Vec<String> {
        let tag = &self.tag;
        let mut lines = Vec::new();
        for one in &self.passed {
            let (set, limit, on, worked) = (&one.set, &one.limit, &one.on, &one.worked);
            lines.push(format!("{tag}: passes {limit} of {set} on {on}: {worked}."));
        }
        for one in &self.no_longer {
            let (set, limit, on, worked) = (&one.set, &one.limit, &one.on, &one.worked);
            lines.push(format!(
                "{tag}: no longer passes {limit} of {set} on {on}; it was: {worked}."
            ));
        }
        lines.extend(
            self.duties
                .iter()
                .map(|one| format!("{tag}: {}", one.line())),
        );
        for fact in &self.missing {
            lines.push(format!("{tag}: cannot be judged until {fact} is found."));
        }
        lines
    }
}

impl Crossing {
    /// `laid_back`: the first day of the change, and the day on which it is taken to have begun.
    pub(super) fn of(tag: &str, laid_back: (Day, Day), now: Standing, then: Standing) -> Crossing {
        let (since, from) = laid_back;
        let (mut passed, mut no_longer) = limits(now.exceedances, then.exceedances);
        let first = from.to_string();
        passed.retain(|one| one.on >= first);
        no_longer.retain(|one| one.on >= first);
        // The number is cited with the day on which it will begin, not with an earlier one.
        for one in &mut passed {
            let (told, begins) = (
                format!("in force since {from}"),
                format!("in force from {since}"),
            );
            one.worked = one.worked.replace(&told, &begins);
        }
        Crossing {
            tag: tag.to_string(),
            from,
            passed,
            no_longer,
        }
    }

    /// A line for each limit.
    pub fn lines(&self) -> Vec<String> {
        let (tag, from) = (&self.tag, self.from);
        let passed = self.passed.iter().map(|one| {
            let (set, limit, on, worked) = (&one.set, &one.limit, &one.on, &one.worked);
            format!("{tag}: had it begun on {from}, passes {limit} of {set} on {on}: {worked}.")
        });
        let no_longer = self.no_longer.iter().map(|one| {
            let (set, limit, on) = (&one.set, &one.limit, &one.on);
            format!("{tag}: had it begun on {from}, does not pass {limit} of {set} on {on}.")
        });
        passed.chain(no_longer).collect()
    }
}

impl DutyChange {
    /// What becomes of the duty, without the appliance.
    pub fn line(&self) -> String {
        match self {
            DutyChange::Appears(duty) => {
                let (name, set) = (&duty.duty, &duty.set);
                format!(
                    "{name} of {set} appears, since {}: {} [{}].",
                    duty.since,
                    stands(duty),
                    duty.clause
                )
            }
            DutyChange::Moves { was, becomes } => {
                let (name, set) = (&was.duty, &was.set);
                format!(
                    "{name} of {set}, since {}: {} becomes {}.",
                    was.since,
                    stands(was),
                    stands(becomes)
                )
            }
            DutyChange::Vanishes(duty) => {
                let (name, set) = (&duty.duty, &duty.set);
                format!(
                    "{name} of {set}, since {}, vanishes; it was {}.",
                    duty.since,
                    stands(duty)
                )
            }
        }
    }
}

/// How a duty stands, in few words.
fn stands(duty: &DutyShown) -> String {
    let state = duty.state.replace('_', " ");
    match (&duty.on, &duty.due) {
        (Some(on), Some(due)) if duty.state == "done_late" => format!("{state} on {on}, due {due}"),
        (Some(on), _) => format!("{state} on {on}"),
        (None, Some(due)) => format!("{state}, due {due}"),
        (None, None) => state,
    }
}

/// Limits that only the second passes, and those that only the first does.
fn limits(
    now: Vec<ExceedanceShown>,
    then: Vec<ExceedanceShown>,
) -> (Vec<ExceedanceShown>, Vec<ExceedanceShown>) {
    let named = |one: &ExceedanceShown| (one.set.clone(), one.limit.clone(), one.on.clone());
    let names = |all: &[ExceedanceShown]| all.iter().map(named).collect::<BTreeSet<_>>();
    let (before, after) = (names(&now), names(&then));
    let without = |mut all: Vec<ExceedanceShown>, known: &BTreeSet<_>| {
        all.retain(|one| !known.contains(&named(one)));
        all
    };
    (without(then, &before), without(now, &after))
}

/// What became of each duty; one of the same set, name and first day is the same.
fn duties(now: Vec<DutyShown>, then: Vec<DutyShown>) -> Vec<DutyChange> {
    let mut rest = now;
    let mut changes = Vec::new();
    for becomes in then {
        let same = |was: &DutyShown| {
            was.set == becomes.set && was.duty == becomes.duty && was.since == becomes.since
        };
        match rest.iter().position(same).map(|at| rest.remove(at)) {
            None => changes.push(DutyChange::Appears(becomes)),
            Some(was) if stands(&was) != stands(&becomes) => {
                let (was, becomes) = (Box::new(was), Box::new(becomes));
                changes.push(DutyChange::Moves { was, becomes });
            }
            Some(_) => {}
        }
    }
    changes.extend(rest.into_iter().map(DutyChange::Vanishes));
    changes
}
