//! Which appliances passed a limit: the arithmetic, the clause, and what is owed first.

use crate::actions::ActionError;
use crate::actions::rules_in_force::judge_of;
use crate::actions::standings::settings;
use crate::store::open::{Organisation, size};
use crate::store::scan::fleet;
use crate::store::tx::read_adopted;
use crate::store::{Db, StoreError};
use reports::day::Day;
use reports::standing::{Standing, assess};

/// An appliance over a limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flagged {
    /// Its tag.
    pub appliance: String,
    /// Tag of its site.
    pub site: String,
    /// Each limit passed, as a sentence with its figures and clause.
    pub over: Vec<String>,
    /// The rule sets that say so.
    pub sets: Vec<String>,
    /// What is owed because of it, or was: what, how it stands, since when, by when.
    pub owed: Vec<String>,
}

/// Every appliance that passed a limit in a year, by tag.
pub fn flagged(db: &mut Db, of: &Organisation, year: i16) -> Result<Vec<Flagged>, ActionError> {
    let known = size(db, of.org)?.saturating_sub(1);
    let adopted = read_adopted(db, of.org, known)?;
    let ready = judge_of(db, of.org, &adopted)?;
    let broken = |what: String| ActionError::Failed(StoreError::Broken(what));
    let last = Day::from_ymd(year, 12, 31).ok_or_else(|| broken(format!("no year {year}")))?;
    let mut found = Vec::new();
    fleet(db, of.org, known, last, |appliance| {
        let settings = settings(&adopted, appliance.site, appliance.zone, last);
        let (facts, events) = (appliance.facts, appliance.events);
        let standing = assess(ready.judge(), facts, events, &settings, last, None);
        found.extend(of_year(appliance.tag, appliance.site_tag, &standing, year));
        Ok::<(), ActionError>(())
    })?;
    Ok(found)
}

fn of_year(tag: &str, site: &str, standing: &Standing, year: i16) -> Option<Flagged> {
    let year = format!("{year}-");
    let over = standing.exceedances.iter();
    let over: Vec<_> = over.filter(|found| found.on.starts_with(&year)).collect();
    let of_case = standing.duties.iter().filter(|duty| duty.case.is_some());
    let begun = of_case.filter(|duty| duty.since.starts_with(&year));
    let owed = begun.map(|duty| {
        let due = duty.due.as_deref().map(|due| format!(", due {due}"));
        let on = duty.on.as_deref().map(|on| format!(" {on}"));
        let (due, on) = (due.unwrap_or_default(), on.unwrap_or_default());
        format!("{}: {}{on}{due}", duty.means, duty.state.replace('_', " "))
    });
    let sets = over.iter().map(|found| found.set.clone());
    (!over.is_empty()).then(|| Flagged {
        appliance: tag.to_string(),
        site: site.to_string(),
        over: over.iter().map(|found| found.worked.clone()).collect(),
        sets: sets.collect(),
        owed: owed.collect(),
    })
}
