//! What rules say of one appliance on any day, prepared so that asking often is cheap.
//!
//! Between two days on which a fact, a row, a list or a block changes, every answer is the same.
//! A prepared appliance therefore judges each such span once, when it is first asked for.

use super::compiled::{CompiledLimit, CompiledSet};
use super::facts::{FactSet, Subject};
use super::file::{Limit, RuleSet};
use super::in_force::{Bound, NumberOn};
use super::problem::Problem;
use super::scope::{Answer, Applies, Asking, BandOn, ValueOn};
use super::tables::Tables;
use super::words::Measure;
use crate::appliance::Facts;
use crate::day::Day;
use crate::leak_rate::Rate;
use std::cell::OnceCell;

/// Rule sets and tables, ready to judge appliances.
pub struct Judge<'a> {
    pub(super) sets: Vec<CompiledSet<'a>>,
    pub(super) tables: &'a Tables<'a>,
    table_days: Vec<Day>,
}

/// One appliance under every set of a judge.
pub struct PreparedAppliance<'j> {
    pub(super) judge: &'j Judge<'j>,
    pub(super) subject: Subject<'j>,
    /// First days of the spans between which nothing changes, for each set.
    sets: Vec<Spans<'j>>,
}

struct Spans<'j> {
    starts: Vec<Day>,
    judged: Vec<OnceCell<Judged<'j>>>,
}

/// What one set says of an appliance on a day.
#[derive(Debug)]
pub struct Judged<'j> {
    pub(super) applies: Applies,
    pub(super) band: BandOn<'j>,
    leak_rate: Vec<LimitOn<'j>>,
}

/// A limit on a day: its numbers, or why there are none.
#[derive(Debug)]
pub enum LimitOn<'j> {
    /// The numbers of the day; all bounds must be passed.
    Applies {
        /// The limit.
        limit: &'j Limit,
        /// Its bounds with the rows in force.
        bounds: Vec<Bound<'j>>,
    },
    /// The set does not cover the appliance on that day, or the limit is not for it.
    NotCovered,
    /// Nobody can say: these facts are missing (sorted).
    CannotJudge {
        /// Names of the facts.
        missing: Vec<&'static str>,
    },
}

impl<'a> Judge<'a> {
    /// Makes rule sets ready. Sets that `check` accepts never fail here.
    pub fn new(sets: &'a [RuleSet], tables: &'a Tables<'a>) -> Result<Judge<'a>, Vec<Problem>> {
        let sets = sets
            .iter()
            .map(CompiledSet::new)
            .collect::<Result<Vec<_>, _>>()?;
        let mut table_days = tables.change_days();
        table_days.sort_unstable();
        table_days.dedup();
        Ok(Judge {
            sets,
            tables,
            table_days,
        })
    }

    /// Lets each set judge only from its first to its last day: a set that was adopted, or given up,
    /// says nothing outside them. One pair for each set, in their order.
    pub fn within(mut self, days: &[(Day, Day)]) -> Judge<'a> {
        for (set, days) in self.sets.iter_mut().zip(days) {
            set.in_force(*days);
        }
        self
    }

    /// The rule sets, in the order they were given.
    pub fn sets(&self) -> impl Iterator<Item = &'a RuleSet> + '_ {
        self.sets.iter().map(|compiled| compiled.set)
    }

    /// An appliance with its dated facts.
    pub fn appliance<'j>(&'j self, facts: &'j Facts) -> PreparedAppliance<'j> {
        let subject = Subject::of(facts);
        let sets = self
            .sets
            .iter()
            .map(|set| self.spans(set, &subject))
            .collect();
        PreparedAppliance {
            judge: self,
            subject,
            sets,
        }
    }

    fn spans<'j>(&'j self, set: &CompiledSet, subject: &Subject) -> Spans<'j> {
        let mut starts = Vec::with_capacity(set.change_days.len() + self.table_days.len() + 12);
        starts.push(Facts::ALWAYS);
        starts.extend_from_slice(&set.change_days);
        starts.extend_from_slice(&self.table_days);
        subject.change_days(&mut starts);
        starts.sort_unstable();
        starts.dedup();
        let judged = starts.iter().map(|_| OnceCell::new()).collect();
        Spans { starts, judged }
    }
}

impl<'j> PreparedAppliance<'j> {
    /// The leak-rate limit of one set on a day; a set without one covers nothing here. Of several
    /// leak-rate limits of a set the first that applies is given, `leak_rate_limits` gives all.
    pub fn leak_rate_limit(&self, set: usize, day: Day) -> &LimitOn<'j> {
        let limits = self.leak_rate_limits(set, day);
        let applies = limits
            .iter()
            .find(|limit| matches!(limit, LimitOn::Applies { .. }));
        let doubtful = || {
            limits
                .iter()
                .find(|limit| !matches!(limit, LimitOn::NotCovered))
        };
        applies.or_else(doubtful).unwrap_or(&LimitOn::NotCovered)
    }

    /// Every leak-rate limit of one set on a day.
    pub fn leak_rate_limits(&self, set: usize, day: Day) -> &[LimitOn<'j>] {
        &self.judged(set, day).leak_rate
    }

    /// Whether a set applies on a day; `None`: cannot judge, see `missing`.
    pub fn applies(&self, set: usize, day: Day) -> Option<bool> {
        match self.judged(set, day).applies {
            Applies::Yes(_) => Some(true),
            Applies::No => Some(false),
            Applies::CannotJudge(_) => None,
        }
    }

    /// How many rule sets judge.
    pub fn sets(&self) -> usize {
        self.sets.len()
    }

    /// One of the rule sets.
    pub fn set(&self, set: usize) -> &'j RuleSet {
        self.judge.sets[set].set
    }

    /// The block that covers the appliance on a day, when one does.
    pub fn covered_by(&self, set: usize, day: Day) -> Option<&'j super::conditions::Covers> {
        match self.judged(set, day).applies {
            Applies::Yes(block) => self.judge.sets[set].set.covers.get(block),
            _ => None,
        }
    }

    /// The band a set puts the appliance in on a day, when it applies and the band is known.
    pub fn band(&self, set: usize, day: Day) -> Option<&'j str> {
        let judged = self.judged(set, day);
        match (judged.applies, judged.band) {
            (Applies::Yes(_), BandOn::Known(band)) => band,
            _ => None,
        }
    }

    /// Names of the facts that were unknown and mattered to cover and band, sorted.
    pub fn missing(&self, set: usize, day: Day) -> Vec<&'static str> {
        self.missing_facts(set, day).names()
    }

    pub(super) fn missing_facts(&self, set: usize, day: Day) -> FactSet {
        let judged = self.judged(set, day);
        match (judged.applies, judged.band) {
            (Applies::CannotJudge(facts), _) => facts,
            (Applies::Yes(_), BandOn::Unknown(facts)) => facts,
            _ => FactSet::NONE,
        }
    }

    /// First days of the spans of a set after a day, ascending.
    pub(crate) fn spans_after(&self, set: usize, day: Day) -> std::slice::Iter<'_, Day> {
        let starts = &self.sets[set].starts;
        starts[starts.partition_point(|start| *start <= day)..].iter()
    }

    /// First days of the spans of a set up to a day, ascending.
    pub(super) fn spans_until(&self, set: usize, day: Day) -> std::slice::Iter<'_, Day> {
        let starts = &self.sets[set].starts;
        starts[..starts.partition_point(|start| *start <= day)].iter()
    }

    /// What a set says on a day, worked out once for each span of days.
    pub(super) fn judged(&self, set: usize, day: Day) -> &Judged<'j> {
        let spans = &self.sets[set];
        let at = spans
            .starts
            .partition_point(|start| *start <= day)
            .saturating_sub(1);
        spans.judged[at].get_or_init(|| self.judge_span(set, spans.starts[at]))
    }

    fn judge_span(&self, set: usize, day: Day) -> Judged<'j> {
        let compiled: &'j CompiledSet<'j> = &self.judge.sets[set];
        let mut asking = Asking::new(compiled, &self.subject, self.judge.tables, day);
        let (first, last) = compiled.days;
        let applies = match first <= day && day <= last {
            true => asking.applies(),
            false => Applies::No,
        };
        let mut band = BandOn::NotYet;
        // Also where cover is in doubt: a limit whose number hangs on the band must then say that
        // it cannot be judged, and not that there is none.
        if !matches!(applies, Applies::No) {
            band = asking.band();
            asking.band = band;
        }
        let leak_rates = compiled
            .limits
            .iter()
            .filter(|l| l.limit.measure == Measure::LeakRate);
        let leak_rate = leak_rates
            .map(|limit| limit_on(&asking, applies, limit))
            .collect();
        Judged {
            applies,
            band,
            leak_rate,
        }
    }

    /// A leak-rate limit on a day, as it was worked out for the span; `None`: of another measure.
    pub(super) fn judged_limit(&self, set: usize, limit: usize, day: Day) -> Option<&LimitOn<'j>> {
        let is_rate = |one: &&CompiledLimit| one.limit.measure == Measure::LeakRate;
        let limits = &self.judge.sets[set].limits;
        is_rate(&&limits[limit]).then_some(())?;
        let before = limits[..limit].iter().filter(is_rate).count();
        self.judged(set, day).leak_rate.get(before)
    }

    /// A limit of any measure on a day.
    pub fn limit_on(&self, set: usize, limit: usize, day: Day) -> LimitOn<'j> {
        let asking = self.asking(set, day);
        limit_on(
            &asking,
            self.judged(set, day).applies,
            &self.judge.sets[set].limits[limit],
        )
    }

    /// The question of a day with its band worked out.
    pub(super) fn asking(&self, set: usize, day: Day) -> Asking<'_, 'j> {
        let judged = self.judged(set, day);
        let compiled: &'j CompiledSet<'j> = &self.judge.sets[set];
        Asking {
            set: compiled,
            subject: &self.subject,
            tables: self.judge.tables,
            day,
            band: judged.band,
            told: [None; 3],
        }
    }
}

fn limit_on<'j>(
    asking: &Asking<'_, 'j>,
    applies: Applies,
    compiled: &'j CompiledLimit<'j>,
) -> LimitOn<'j> {
    let doubt = match applies {
        Applies::No => return LimitOn::NotCovered,
        Applies::CannotJudge(facts) => facts,
        Applies::Yes(_) => FactSet::NONE,
    };
    if asking.day < compiled.from || asking.day > compiled.until {
        return LimitOn::NotCovered;
    }
    let mut missing = match asking.all(&compiled.when) {
        Answer::No => return LimitOn::NotCovered,
        Answer::Unknown(facts) => doubt.and(facts),
        Answer::Yes => doubt,
    };
    let mut bounds = Vec::with_capacity(compiled.bounds.len());
    for (comparison, value) in &compiled.bounds {
        match asking.value(*value) {
            // No row: this limit has no number on that day; `check` refuses such gaps.
            ValueOn::NoRow => return LimitOn::NotCovered,
            ValueOn::Unknown(facts) => missing = missing.and(facts),
            found => bounds.extend(
                NumberOn::of(&asking.set.values[*value], found).map(|number| Bound {
                    comparison: *comparison,
                    number,
                }),
            ),
        }
    }
    if missing.is_empty() {
        LimitOn::Applies {
            limit: compiled.limit,
            bounds,
        }
    } else {
        LimitOn::CannotJudge {
            missing: missing.names(),
        }
    }
}

impl LimitOn<'_> {
    /// Whether a leak rate passes the limit; `None`: cannot judge.
    pub fn is_passed_by(&self, rate: Rate) -> Option<bool> {
        match self {
            LimitOn::Applies { bounds, .. } => {
                Some(bounds.iter().all(|bound| bound.is_passed_by(rate)))
            }
            LimitOn::NotCovered => Some(false),
            LimitOn::CannotJudge { .. } => None,
        }
    }
}
