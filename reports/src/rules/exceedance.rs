//! Limits judged over a history: what was passed, when, by how much, by which number.
//!
//! Comparisons are made on exact numbers. A later step of the same addition supersedes the figure
//! of an exceedance, never its start; a sum over a period is passed once, at its first crossing.

use super::deadline::{self, Case, FirstDue};
use super::facts::{Fact, FactSet};
use super::file::Limit;
use super::in_force::Bound;
use super::judge::{LimitOn, PreparedAppliance};
use super::words::{FirstDaysWord, LeavesOut, Measure, NettingWord, Subject, Unit};
use crate::appliance::Facts;
use crate::day::{Day, Period, Zone};
use crate::event::{Event, Kind};
use crate::leak_rate::{self, Addition, FirstDays, Method, Netting, Rate, Reading};
use crate::mass::Mass;
use crate::number::Fraction;
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
    /// The number: percent, or kilograms.
    pub value: Fraction,
    /// Whether the number is percent (else kilograms).
    pub is_percent: bool,
    /// The numbers it was judged against, all passed.
    pub bounds: Vec<Bound<'j>>,
    /// Numbers of the entries it rests on.
    pub entries: Vec<u64>,
    /// Index of the addition whose figure it carries, when it rests on additions.
    pub addition: Option<usize>,
    /// What is owed first because of it.
    pub due: Vec<FirstDue<'j>>,
    /// Place in the order of events at which it was passed.
    at: u32,
}

/// What one set makes of a history.
#[derive(Clone, Debug)]
pub struct Review<'j> {
    /// The additions as the set reads them.
    pub additions: Vec<Addition>,
    /// How they were read.
    pub reading: Reading,
    /// Limits that were passed, in order.
    pub exceedances: Vec<Exceedance<'j>>,
    /// Facts that were unknown and mattered, sorted.
    pub missing: Vec<&'static str>,
}

/// The dated settings of a site that a judgement reads.
#[derive(Clone)]
pub struct SiteSettings {
    /// The leak-rate method from each day on, ascending; before the first: annualising.
    pub methods: Vec<(Day, Method)>,
    /// Replaces the sets' own netting.
    pub netting: Option<Netting>,
    /// The zone of the site.
    pub zone: Zone,
}

impl SiteSettings {
    /// The method in force on a day.
    pub fn method(&self, day: Day) -> Method {
        let begun = self.methods.partition_point(|(from, _)| *from <= day);
        begun
            .checked_sub(1)
            .map_or(Method::Annualising, |at| self.methods[at].1)
    }
}

/// How a set reads additions; `netting` replaces its own.
pub fn reading_of(set: &super::RuleSet, netting: Option<Netting>) -> Reading {
    let Some(own) = &set.leak_rate else {
        return Reading {
            netting: netting.unwrap_or(Netting::Visit),
            ..Reading::default()
        };
    };
    let leaves_out = |word| own.leaves_out.contains(&word);
    Reading {
        netting: netting.unwrap_or(match own.netting {
            None | Some(NettingWord::Visit) => Netting::Visit,
            Some(NettingWord::Gross) => Netting::Gross,
            Some(NettingWord::Returned) => Netting::Returned,
        }),
        leaves_out_installation: leaves_out(LeavesOut::Installation),
        leaves_out_after_retrofit: leaves_out(LeavesOut::AfterRetrofit),
        leaves_out_seasonal: leaves_out(LeavesOut::Seasonal),
        first_days: match own.first_days {
            Some(FirstDaysWord::SinceInstalled) => FirstDays::SinceInstalled,
            Some(FirstDaysWord::Year) | None => FirstDays::Year,
        },
        counts_from: own.counts_from.map(|day| day.0),
    }
}

impl<'j> PreparedAppliance<'j> {
    /// Judges every limit of one set over the events up to a day. `events` are in the order of
    /// [`Event::sort`], corrections applied, none later than the day. Limits of the whole
    /// organisation and sums of CO₂ equivalent are not judged here.
    pub fn review(
        &self,
        set: usize,
        events: &[Event],
        additions: Vec<Addition>,
        reading: Reading,
        settings: &SiteSettings,
        day: Day,
    ) -> Review<'j> {
        let mut walk = Walk {
            prepared: self,
            set,
            events,
            additions: &additions,
            reading: &reading,
            settings,
            found: Vec::new(),
            missing: self.missing_facts(set, day),
        };
        for (at, compiled) in self.judge.sets[set].limits.iter().enumerate() {
            if compiled.limit.subject != Some(Subject::Organisation) {
                walk.limit(at, compiled.limit);
            }
        }
        walk.covered_duties(day);
        let (mut exceedances, missing) = (walk.found, walk.missing);
        exceedances.sort_by_key(|found| found.at);
        let case = Case {
            events,
            day,
            zone: &settings.zone,
        };
        for found in &mut exceedances {
            found.due = deadline::first_dues(self, found, &case);
        }
        Review {
            additions,
            reading,
            exceedances,
            missing: missing.names(),
        }
    }

    /// As `review`, reading the additions as the set asks.
    pub fn review_all(
        &self,
        set: usize,
        events: &[Event],
        facts: &Facts,
        settings: &SiteSettings,
        day: Day,
    ) -> Review<'j> {
        let reading = reading_of(self.judge.sets[set].set, settings.netting);
        let additions = additions_of(events, facts, &reading);
        self.review(set, events, additions, reading, settings, day)
    }
}

/// The additions of a history. Those before the day a rule counts from are listed too, though
/// they neither count nor reset the days: a reader must see them to believe the rest.
fn additions_of(events: &[Event], facts: &Facts, reading: &Reading) -> Vec<Addition> {
    let counted = leak_rate::additions(events, facts, reading);
    let Some(from) = reading.counts_from else {
        return counted;
    };
    let all = Reading {
        counts_from: None,
        ..reading.clone()
    };
    let mut listed = leak_rate::additions(events, facts, &all);
    listed.retain(|addition| addition.day < from);
    for addition in &mut listed {
        // Groups of two readings must not meet.
        addition.group = u32::MAX - addition.group;
    }
    listed.extend(counted);
    listed
}

struct Walk<'w, 'j> {
    prepared: &'w PreparedAppliance<'j>,
    set: usize,
    events: &'w [Event],
    additions: &'w [Addition],
    reading: &'w Reading,
    settings: &'w SiteSettings,
    found: Vec<Exceedance<'j>>,
    missing: FactSet,
}

/// A number to be judged.
struct Measured {
    at: u32,
    addition: Option<usize>,
    number: Amount,
    entries: Vec<u64>,
}

/// What is compared: percent as a rate, or steps of mass.
#[derive(Clone, Copy)]
enum Amount {
    Percent(Rate),
    Steps(i128),
}

impl<'j> Walk<'_, 'j> {
    fn limit(&mut self, at: usize, limit: &'j Limit) {
        match limit.measure {
            Measure::LeakRate => self.leak_rate(at, limit),
            Measure::LossOfPeriod => self.loss_of_period(at, limit),
            Measure::Added => self.added(at, limit),
            Measure::NetGain => self.net_gain(at, limit),
            Measure::Released => self.released(at, limit),
            Measure::Co2eLost => {}
        }
    }

    /// Facts that a duty of being covered asks for on the day and that nobody recorded.
    fn covered_duties(&mut self, day: Day) {
        if self.prepared.applies(self.set, day) != Some(true) {
            return;
        }
        let asking = self.prepared.asking(self.set, day);
        for asks in &asking.set.covered_duties {
            if let super::scope::Answer::Unknown(facts) = asking.all(asks) {
                self.missing = self.missing.and(facts);
            }
        }
    }

    fn counts(&self, addition: &Addition) -> bool {
        self.reading
            .counts_from
            .is_none_or(|from| from <= addition.day)
    }

    fn measured(&self, at: usize, addition: &Addition, number: Amount) -> Measured {
        let entries = addition.entries(self.events, self.reading.netting);
        Measured {
            at: addition.at,
            addition: Some(at),
            number,
            entries,
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
                entries: entries.clone(),
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
        let mut visits: BTreeMap<(Option<u128>, Option<Day>), (i128, Option<u32>, Vec<u64>)> =
            BTreeMap::new();
        for (index, event) in self.events.iter().enumerate() {
            let charged = matches!(event.kind, Kind::Charge | Kind::OutsideCharge);
            if !charged && event.kind != Kind::Recover {
                continue;
            }
            let day = event.visit.is_none().then_some(event.day);
            let (sum, last_charge, entries) = visits.entry((event.visit, day)).or_default();
            let steps = i128::from(event.mass.steps());
            *sum += if charged { steps } else { -steps };
            entries.push(event.entry);
            if charged {
                *last_charge = u32::try_from(index).ok();
            }
        }
        for (sum, last_charge, entries) in visits.into_values() {
            let Some(event) = last_charge else { continue };
            let number = Amount::Steps(sum);
            self.judge(
                at,
                limit,
                Measured {
                    at: event,
                    addition: None,
                    number,
                    entries,
                },
                None,
            );
        }
    }

    fn released(&mut self, at: usize, limit: &'j Limit) {
        for (index, event) in self.events.iter().enumerate() {
            if event.kind == Kind::Loss {
                let number = Amount::Steps(i128::from(event.mass.steps()));
                let (event_at, entries) = (index as u32, vec![event.entry]);
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
        let bounds = match self.prepared.limit_on(self.set, at, event.day) {
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
        for bound in &bounds {
            match passes(bound, measured.number, full_charge) {
                Some(true) => {}
                Some(false) => return None,
                None => {
                    self.missing = self.missing.and(FactSet::of(Fact::FullCharge));
                    return None;
                }
            }
        }
        let (value, is_percent) = match measured.number {
            Amount::Percent(rate) => (rate.fraction(), true),
            Amount::Steps(steps) => (Fraction::new(steps, i128::from(Mass::GRAM) * 1000), false),
        };
        if let Some(place) = earlier {
            let standing = &mut self.found[place];
            standing.value = value;
            standing.entries = measured.entries;
            standing.addition = measured.addition;
            return Some(place);
        }
        self.found.push(Exceedance {
            set: self.set,
            limit,
            on: event.day,
            second: event.second,
            value,
            is_percent,
            bounds,
            entries: measured.entries,
            addition: measured.addition,
            due: Vec::new(),
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
