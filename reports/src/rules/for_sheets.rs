//! Rule sets as the yearly sheets ask them: one leak-rate limit for a set, an appliance and a day.

use super::NumberOn;
use super::deadline::period_kind;
use super::file::Limit as RuleLimit;
use super::judge::{Judge, LimitOn, PreparedAppliance};
use super::number::Comparison;
use super::review::reading_of;
use super::words::Measure;
use crate::appliance::Facts;
use crate::day::{Day, PeriodKind};
use crate::leak_rate::{Rate, Reading};
use crate::sheet::limits::{ApplianceLimits, Limit, Limits};

/// The rule sets of a judge with the reading of each.
pub struct SheetLimits<'j> {
    judge: &'j Judge<'j>,
    readings: Vec<Option<Reading>>,
}

impl<'j> SheetLimits<'j> {
    /// The limits of a judge's sets, in their order.
    pub fn new(judge: &'j Judge<'j>) -> SheetLimits<'j> {
        let reading = |set: &super::RuleSet| set.leak_rate.as_ref().map(|_| reading_of(set, None));
        SheetLimits {
            judge,
            readings: judge.sets().map(reading).collect(),
        }
    }
}

impl<'j> Limits for SheetLimits<'j> {
    type Appliance<'a>
        = PreparedAppliance<'a>
    where
        Self: 'a;

    fn readings(&self) -> &[Option<Reading>] {
        &self.readings
    }

    fn appliance<'a>(&'a self, facts: &'a Facts) -> PreparedAppliance<'a> {
        let judge: &'a Judge<'a> = self.judge;
        judge.appliance(facts)
    }
}

impl<'j> PreparedAppliance<'j> {
    /// The limits of a set by what they measure, each with its place.
    pub fn limits_by(
        &self,
        set: usize,
        measure: Measure,
    ) -> impl Iterator<Item = (usize, &'j RuleLimit)> + use<'j> {
        let limits = self.judge.sets[set].limits.iter().enumerate();
        let limits = limits.map(|(at, compiled)| (at, compiled.limit));
        limits.filter(move |(_, limit)| limit.measure == measure)
    }

    /// The kind of period over which a limit of a set sums.
    pub fn period_of(&self, set: usize, limit: &RuleLimit) -> Option<PeriodKind> {
        let year_starts = self.set(set).year_starts.as_deref();
        limit.period.map(|word| period_kind(word, year_starts))
    }

    /// A value of a set on a day, where it has a number then.
    pub fn value_on(&self, set: usize, name: &str, day: Day) -> Option<NumberOn<'j>> {
        let asking = self.asking(set, day);
        let at = asking
            .set
            .values
            .iter()
            .position(|value| value.name == name)?;
        super::duties::line::number_on(&asking, at)
    }
}

impl ApplianceLimits for PreparedAppliance<'_> {
    fn limit(&mut self, set: usize, day: Day) -> Limit {
        match self.leak_rate_limit(set, day) {
            LimitOn::NotCovered => Limit::NotCovered,
            LimitOn::CannotJudge { .. } => Limit::CannotJudge,
            LimitOn::Applies { bounds, .. } => {
                // A list of values must be passed in all of them, so the greatest binds; `check`
                // refuses leak-rate limits with an upper end.
                let rate = |at: &usize| (Rate::from(bounds[*at].number.limit()), *at);
                let Some((threshold, at)) = (0..bounds.len()).map(|at| rate(&at)).max() else {
                    return Limit::NotCovered;
                };
                Limit::Applies {
                    threshold,
                    at_least: bounds[at].comparison == Comparison::AtLeast,
                    unconfirmed: bounds[at].number.confidence().is_some(),
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::appliance::FactValue;
    use crate::mass::Mass;
    use crate::rules::{Tables, shipped};

    /// 40 CFR 82.157(c)(2): 20, 30 and 10 % since 2019; 82.156(i) before (unconfirmed): 35 and 15.
    #[test]
    fn the_limit_of_a_day_follows_category_and_date() {
        let (sets, tables) = (&shipped()[..3], Tables::shipped());
        let judge = Judge::new(sets, &tables).unwrap();
        let limits = SheetLimits::new(&judge);
        assert_eq!(
            limits
                .readings()
                .iter()
                .map(Option::is_some)
                .collect::<Vec<_>>(),
            [true, true, false]
        );
        for (category, before, since) in [
            ("commercial_refrigeration", 35, 20),
            ("industrial_process", 35, 30),
            ("comfort_cooling", 15, 10),
        ] {
            let mut facts = Facts::default();
            let mut word = |name, word: &str| {
                facts.set(name, Facts::ALWAYS, FactValue::Word(word.to_string()));
            };
            word("region", "US-CO");
            word("refrigerant", "R-22");
            word("category", category);
            let mass = Mass::from_steps(Mass::POUND * 100);
            facts.set("full_charge", Facts::ALWAYS, FactValue::Mass(mass));
            let mut appliance = limits.appliance(&facts);
            let applies = |percent, unconfirmed| Limit::Applies {
                threshold: Rate::new(percent, 1),
                at_least: false,
                unconfirmed,
            };
            let last = Day::from_ymd(2018, 12, 31).unwrap();
            assert_eq!(
                appliance.limit(0, last),
                applies(before, true),
                "{category}"
            );
            assert_eq!(
                appliance.limit(0, last.plus(1)),
                applies(since, false),
                "{category}"
            );
            assert_eq!(appliance.limit(1, last.plus(1)), Limit::NotCovered);
            assert_eq!(appliance.limit(2, last.plus(1)), Limit::NotCovered);
        }
    }
}
