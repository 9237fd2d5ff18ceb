//! What a rule file would change on the fleet, before anybody adopts it.
//!
//! Every appliance is assessed twice over the same history up to today: by what is adopted, and as
//! if the file were adopted from a day on. Only what differs is told. Nothing is booked, and a file
//! that could not be adopted is refused with the same words as by the door.

use super::candidate::Candidate;
use super::refusal::{ActionError, Refusal};
use super::rules_in_force::InForce;
use super::standings::{Standings, settings};
use crate::ledger::tree::Hash;
use crate::store::open::Organisation;
use crate::store::scan::{attachment, fleet};
use crate::store::{Db, StoreError};
use reports::day::Day;
use reports::rules::{Judge, OwnedJudge, Problem, RuleFile};
use reports::standing::{ExceedanceShown, Standing, assess};
use std::collections::BTreeSet;

/// What would change.
#[derive(Clone, Debug, PartialEq)]
pub struct Preview {
    /// The set or layer.
    pub id: String,
    /// The last entry that was read.
    pub as_of: u64,
    /// How many appliances were assessed.
    pub appliances: u64,
    /// Appliances of which anything changes, in the order of tags.
    pub changed: Vec<Changed>,
}

/// What would change of an appliance.
#[derive(Clone, Debug, PartialEq)]
pub struct Changed {
    /// Its tag.
    pub tag: String,
    /// Limits that would be passed and are not now.
    pub passed: Vec<ExceedanceShown>,
    /// Limits that are passed now and would not be.
    pub no_longer: Vec<ExceedanceShown>,
    /// Facts that would have to be found before it can be judged.
    pub missing: Vec<&'static str>,
}

impl Preview {
    /// How many limits would be passed that are not now.
    pub fn passed(&self) -> usize {
        self.changed.iter().map(|one| one.passed.len()).sum()
    }

    /// How many limits that are passed now would not be.
    pub fn no_longer(&self) -> usize {
        self.changed.iter().map(|one| one.no_longer.len()).sum()
    }
}

/// Assesses the fleet with and without a file that would judge from a day on; `now` in microseconds
/// since 1970.
pub fn preview(
    db: &mut Db,
    of: &Organisation,
    file: RuleFile,
    since: Day,
    now: i64,
) -> Result<Preview, ActionError> {
    db.begin_reading().map_err(StoreError::from)?;
    let read = Standings::open(db, of, now).map_err(ActionError::from);
    let done = read.and_then(|standings| compared(db, of, &standings, file, since));
    // A read transaction leaves nothing to keep.
    let _ = db.rollback();
    done
}

fn compared(
    db: &mut Db,
    of: &Organisation,
    standings: &Standings,
    file: RuleFile,
    since: Day,
) -> Result<Preview, ActionError> {
    let (known, today, adopted) = (standings.as_of(), standings.today(), standings.adopted());
    let candidate = Candidate::new(file, since, known + 1);
    let mut bytes = |hash: &Hash| attachment(db, of.org, hash);
    let problems = candidate.unsound(adopted, today, &mut bytes)?;
    if !problems.is_empty() {
        return Err(refused(&problems));
    }
    let now = ready(InForce::of_adopted(adopted, &mut bytes)?)?;
    let then = ready(candidate.in_force(adopted, &mut bytes)?)?;
    let mut preview = Preview {
        id: candidate.entry.id,
        as_of: known,
        appliances: 0,
        changed: Vec::new(),
    };
    fleet(db, of.org, known, today, |scanned| {
        preview.appliances += 1;
        let settings = settings(adopted, scanned.site, scanned.zone, today);
        let day = standings.day_at(&settings);
        let assess =
            |judge: &Judge<'_>| assess(judge, scanned.facts, scanned.events, &settings, day, None);
        let changed = changed(scanned.tag, assess(now.judge()), assess(then.judge()));
        preview.changed.extend(changed);
        Ok::<(), ActionError>(())
    })?;
    Ok(preview)
}

fn ready(in_force: InForce) -> Result<OwnedJudge, ActionError> {
    let told = |problems: Vec<Problem>| {
        let lines: Vec<String> = problems.iter().map(ToString::to_string).collect();
        refused(&lines)
    };
    in_force.judge().map_err(told)
}

fn refused(problems: &[String]) -> ActionError {
    let (pointer, detail) = ("/rules".to_string(), problems.join("\n"));
    Refusal::InvalidValue { pointer, detail }.into()
}

/// What differs between two standings of an appliance.
fn changed(tag: &str, now: Standing, then: Standing) -> Option<Changed> {
    let named = |one: &ExceedanceShown| (one.set.clone(), one.limit.clone(), one.on.clone());
    let names = |all: &[ExceedanceShown]| all.iter().map(named).collect::<BTreeSet<_>>();
    let (before, after) = (names(&now.exceedances), names(&then.exceedances));
    let missing = then
        .missing
        .iter()
        .filter(|fact| !now.missing.contains(fact));
    let changed = Changed {
        tag: tag.to_string(),
        missing: missing.copied().collect(),
        passed: without(then.exceedances, |one| before.contains(&named(one))),
        no_longer: without(now.exceedances, |one| after.contains(&named(one))),
    };
    let same = changed.passed.is_empty() && changed.no_longer.is_empty();
    (!same || !changed.missing.is_empty()).then_some(changed)
}

fn without(
    mut all: Vec<ExceedanceShown>,
    known: impl Fn(&ExceedanceShown) -> bool,
) -> Vec<ExceedanceShown> {
    all.retain(|one| !known(one));
    all
}
