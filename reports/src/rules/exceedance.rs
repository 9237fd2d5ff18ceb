//! Limits judged over a history: what was passed, when, by how much, by which number.
//!
//! Comparisons are made on exact numbers. A later step of the same addition supersedes the figure
//! of an exceedance, never its start; a sum over a period is passed once, at its first crossing.

use super::deadline;
use super::facts::{Fact, FactSet};
use super::file::Limit;
use super::in_force::Bound;
use super::judge::{LimitOn, PreparedAppliance};
use super::review::SiteSettings;
use super::words::{Measure, Unit};
use crate::day::{Day, Period};
use crate::event::{Event, Kind};
use crate::leak_rate::{Addition, Method, Rate, Reading};
use crate::mass::Mass;
use crate::number::Fraction;
use std::cell::OnceCell;
use std::collections::BTreeMap;

/// A limit that was passed.
#[derive(Clone, Debug)]
pub struct Exceedance<'j> {
    /// Which rule set.
    pub set: usize,
    /// Which limit.
    pub limit: &'j Limit,
    /// The day it was passed first.
    pub on: Day,
    /// Second of that day, when the event has a time.
    pub second: Option<u32>,
    /// The numbers it was judged against, all passed.
    pub bounds: Vec<Bound<'j>>,
    /// Numbers of the entries it rests on.
    pub entries: Vec<u64>,
    /// Index of the addition whose figure it carries, when it rests on additions.
    pub addition: Option<usize>,
    /// Place in the order of events at which it was passed.
    pub(super) at: u32,
    amount: Amount,
}

impl Exceedance<'_> {
    /// The number: percent, or kilograms. It is reduced only for those who read it.
    pub fn value(&self) -> Fraction {
        match self.amount {
            Amount::Percent(rate) => rate.fraction(),
            Amount::Steps(steps) => Fraction::new(steps, i128::from(Mass::GRAM) * 1000),
        }
    }

    /// Whether the number is percent (else kilograms).
    pub fn is_percent(&self) -> bool {
        matches!(self.amount, Amount::Percent(_))
    }
}

/// A walk over the limits of one set.
pub(super) struct Walk<'w, 'j> {
    pub prepared: &'w PreparedAppliance<'j>,
    pub set: usize,
    pub events: &'w [Event],
    pub additions: &'w [Addition],
    pub reading: &'w Reading,
    pub settings: &'w SiteSettings,
    pub found: Vec<Exceedance<'j>>,
    pub missing: FactSet,
}

/// A number to be judged.
struct Measured {
    at: u32,
    addition: Option<usize>,
    number: Amount,
    /// `None`: those of the addition, which are looked up only where the limit is passed.
    entries: Option<Vec<u64>>,
}

/// What one visit moved.
#[derive(Default)]
struct Visit {
    sum: i128,
    last_charge: Option<u32>,
    entries: Vec<u64>,
}

/// What is compared: percent as a rate, or steps of mass.
#[derive(Clone, Copy, Debug)]
enum Amount {
    Percent(Rate),
    Steps(i128),
}

impl<'j> Walk<'_, 'j> {
    /// Judges one limit.
    pub(super) fn limit(&mut self, at: usize, limit: &'j Limit) {
        match limit.measure {
            Measure::LeakRate => self.leak_rate(at, limit),
            Measure::LossOfPeriod => self.loss_of_period(at, limit),
            Measure::Added => self.added(at, limit),
            Measure::NetGain => self.net_gain(at, limit),
            Measure::Released => self.released(at, limit),
            Measure::Co2eLost => {}
        }
    }

    fn counts(&self, addition: &Addition) -> bool {
        self.reading
            .counts_from
            .is_none_or(|from| from <= addition.day)
    }

    fn measured(&self, at: usize, addition: &Addition, number: Amount) -> Measured {
        Measured {
            at: addition.at,
            addition: Some(at),
            number,
            entries: None,
        }
    }

    fn leak_rate(&mut self, at: usize, limit: &'j Limit) {
        let mut last_group = None;
        for (index, addition) in self.additions.iter().enumerate() {
            if !self.counts(addition) {
                continue;
            }
            let rate = match self.settings.method(addition.day) {
                Method::Annualising => addition.annualised_rate(),
                Method::Rolling => addition.rolling_rate(),
            };
            let Some(rate) = rate else {
                self.unknown_full_charge(at, addition.day);
                continue;
            };
            let measured = self.measured(index, addition, Amount::Percent(rate));
            let earlier = last_group.filter(|(group, _)| *group == addition.group);
            if let Some(place) = self.judge(at, limit, measured, earlier.map(|(_, place)| place)) {
                last_group = Some((addition.group, place));
            }
        }
    }

    fn loss_of_period(&mut self, at: usize, limit: &'j Limit) {
        let year_starts = self.prepared.judge.sets[self.set]
            .set
            .year_starts
            .as_deref();
        let Some(kind) = limit
            .period
            .map(|word| deadline::period_kind(word, year_starts))
        else {
            return;
        };
        let mut sums: BTreeMap<Day, (i128, Vec<u64>, bool)> = BTreeMap::new();
        for (index, addition) in self.additions.iter().enumerate() {
            let Some(period) = Period::around(addition.day, kind) else {
                continue;
            };
            if !self.counts(addition) {
                continue;
            }
            let (sum, entries, crossed) = sums.entry(period.first).or_default();
            *sum += addition.mass;
            for entry in addition.entries(self.events, self.reading.netting) {
                if !entries.contains(&entry) {
                    entries.push(entry);
                }
            }
            let Some(full) = addition.full_charge else {
                self.unknown_full_charge(at, addition.day);
                continue;
            };
            if *crossed {
                continue;
            }
            let rate = Rate::new(*sum * 100, i128::from(full.steps()));
            let measured = Measured {
                at: addition.at,
                addition: Some(index),
                number: Amount::Percent(rate),
                entries: Some(entries.clone()),
            };
            let crossing = self.judge(at, limit, measured, None).is_some();
            sums.entry(period.first).and_modify(|sum| sum.2 = crossing);
        }
    }

    fn added(&mut self, at: usize, limit: &'j Limit) {
        let mut last_group = None;
        for (index, addition) in self.additions.iter().enumerate() {
            if !self.counts(addition) {
                continue;
            }
            let measured = self.measured(index, addition, Amount::Steps(addition.group_mass));
            let earlier = last_group.filter(|(group, _)| *group == addition.group);
            if let Some(place) = self.judge(at, limit, measured, earlier.map(|(_, place)| place)) {
                last_group = Some((addition.group, place));
            }
        }
    }

    /// Charged less recovered of each visit (without a visit: of each day) that has a charge,
    /// judged at its last charge.
    fn net_gain(&mut self, at: usize, limit: &'j Limit) {
        let mut visits: BTreeMap<(Option<u128>, Option<Day>), Visit> = BTreeMap::new();
        for (index, event) in self.events.iter().enumerate() {
            let charged = matches!(event.kind, Kind::Charge | Kind::OutsideCharge);
            if !charged && event.kind != Kind::Recover {
                continue;
            }
            let day = event.visit.is_none().then_some(event.day);
            let visit = visits.entry((event.visit, day)).or_default();
            let steps = i128::from(event.mass.steps());
            visit.sum += if charged { steps } else { -steps };
            visit.entries.push(event.entry);
            if charged {
                visit.last_charge = u32::try_from(index).ok();
            }
        }
        for Visit {
            sum,
            last_charge,
            entries,
        } in visits.into_values()
        {
            let Some(event) = last_charge else { continue };
            let number = Amount::Steps(sum);
            self.judge(
                at,
                limit,
                Measured {
                    at: event,
                    addition: None,
                    number,
                    entries: Some(entries),
                },
                None,
            );
        }
    }

    fn released(&mut self, at: usize, limit: &'j Limit) {
        for (index, event) in self.events.iter().enumerate() {
            if event.kind == Kind::Loss {
                let number = Amount::Steps(i128::from(event.mass.steps()));
                let (event_at, entries) = (index as u32, Some(vec![event.entry]));
                let measured = Measured {
                    at: event_at,
                    addition: None,
                    number,
                    entries,
                };
                self.judge(at, limit, measured, None);
            }
        }
    }

    fn unknown_full_charge(&mut self, at: usize, day: Day) {
        // Only where the limit would have been judged does the full charge matter.
        if !matches!(
            self.prepared.limit_on(self.set, at, day),
            LimitOn::NotCovered
        ) {
            self.missing = self.missing.and(FactSet::of(Fact::FullCharge));
        }
    }

    /// Judges one number on its day. `earlier`: the exceedance that this step supersedes.
    fn judge(
        &mut self,
        at: usize,
        limit: &'j Limit,
        measured: Measured,
        earlier: Option<usize>,
    ) -> Option<usize> {
        let event = &self.events[measured.at as usize];
        let (prepared, worked_out) = (self.prepared, OnceCell::new());
        let limit_on = prepared.judged_limit(self.set, at, event.day);
        let limit_on = limit_on.unwrap_or_else(|| {
            worked_out.get_or_init(|| prepared.limit_on(self.set, at, event.day))
        });
        let bounds = match limit_on {
            LimitOn::Applies { bounds, .. } => bounds,
            LimitOn::NotCovered => return None,
            LimitOn::CannotJudge { missing } => {
                let facts = missing.iter().filter_map(|name| {
                    Fact::named(name).or((*name == Fact::Gwp.name()).then_some(Fact::Gwp))
                });
                let found = facts.fold(FactSet::NONE, |set, fact| set.and(FactSet::of(fact)));
                self.missing = self.missing.and(found);
                return None;
            }
        };
        let full_charge = self.prepared.subject.full_charge(event.day);
        for bound in bounds {
            match passes(bound, measured.number, full_charge) {
                Some(true) => {}
                Some(false) => return None,
                None => {
                    self.missing = self.missing.and(FactSet::of(Fact::FullCharge));
                    return None;
                }
            }
        }
        let entries = measured.entries.or_else(|| {
            let addition = &self.additions[measured.addition?];
            Some(addition.entries(self.events, self.reading.netting))
        });
        let entries = entries.unwrap_or_default();
        if let Some(place) = earlier {
            let standing = &mut self.found[place];
            standing.amount = measured.number;
            standing.entries = entries;
            standing.addition = measured.addition;
            return Some(place);
        }
        self.found.push(Exceedance {
            set: self.set,
            limit,
            on: event.day,
            second: event.second,
            amount: measured.number,
            bounds: bounds.clone(),
            entries,
            addition: measured.addition,
            at: measured.at,
        });
        Some(self.found.len() - 1)
    }
}

/// Whether an amount passes a bound; `None`: the full charge it is a share of is unknown.
fn passes(bound: &Bound, amount: Amount, full_charge: Option<i64>) -> Option<bool> {
    match amount {
        Amount::Percent(rate) => Some(bound.is_passed_by(rate)),
        Amount::Steps(steps) if bound.number.unit == Unit::PercentOfFullCharge => {
            Some(bound.is_passed(steps * 100, i128::from(full_charge?)))
        }
        Amount::Steps(steps) => Some(bound.is_passed(steps, 1)),
    }
}
