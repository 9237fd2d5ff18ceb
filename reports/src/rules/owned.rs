//! A judge that owns its rule sets, so that it can be kept from one question to the next.
//!
//! Making rule sets ready takes longer than judging an appliance by them. Whoever judges often
//! (a service that answers postings) makes this once for each state of what was adopted.

use super::file::RuleSet;
use super::judge::Judge;
use super::problem::Problem;
use super::tables::Tables;
use crate::day::Day;

/// What the judge borrows from.
struct Owner {
    sets: Vec<RuleSet>,
    tables: Tables<'static>,
}

self_cell::self_cell! {
    struct Kept {
        owner: Owner,
        #[covariant]
        dependent: Judge,
    }
}

/// Rule sets made ready, each with the days on which it judges.
pub struct OwnedJudge(Kept);

impl OwnedJudge {
    /// Makes sets ready by the tables that are compiled in. `days`: first and last day of each.
    pub fn new(sets: Vec<RuleSet>, days: &[(Day, Day)]) -> Result<OwnedJudge, Vec<Problem>> {
        let owner = Owner {
            sets,
            tables: Tables::shipped(),
        };
        let ready = Kept::try_new(owner, |owner| {
            Judge::new(&owner.sets, &owner.tables).map(|judge| judge.within(days))
        });
        ready.map(OwnedJudge)
    }

    /// The judge.
    pub fn judge(&self) -> &Judge<'_> {
        self.0.borrow_dependent()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::appliance::{FactValue, Facts};
    use crate::mass::Mass;
    use crate::rules::LimitOn;

    /// Of two days, one before the set was adopted: no limit there, its limit from the day on.
    #[test]
    fn a_set_says_nothing_before_it_was_adopted() {
        let sets = crate::rules::shipped();
        let set = sets.into_iter().find(|set| set.id == "us-federal-hfc");
        let adopted = Day::parse("2027-03-01").expect("a day");
        let last = Day::parse("2027-12-31").expect("a day");
        let owned = OwnedJudge::new(vec![set.expect("the set")], &[(adopted, last)]);
        let owned = owned.expect("a sound set");
        let mut facts = Facts::default();
        let word = |word: &str| FactValue::Word(word.to_string());
        facts.set("refrigerant", Facts::ALWAYS, word("R-448A"));
        facts.set("category", Facts::ALWAYS, word("commercial_refrigeration"));
        facts.set("region", Facts::ALWAYS, word("US-CO"));
        let full = FactValue::Mass(Mass::from_steps(210 * Mass::POUND));
        facts.set("full_charge", Facts::ALWAYS, full);
        let prepared = owned.judge().appliance(&facts);
        let limit = |day: &str| {
            let day = Day::parse(day).expect("a day");
            matches!(prepared.leak_rate_limit(0, day), LimitOn::Applies { .. })
        };
        assert!(!limit("2027-02-28"));
        assert!(limit("2027-03-01") && limit("2027-12-31"));
        assert!(!limit("2028-01-01"));
    }
}
