//! Sums over a whole organisation: what its covered appliances lost in a period, in tonnes of CO2
//! equivalent, and the report that is owed when the sum passes a limit.
//!
//! Lost is what was charged at service less what was recovered at service; a first charge is no
//! loss, and what is recovered for disposal is none that was prevented. A fleet is added up
//! appliance by appliance, so that nobody has to hold all of it in memory.

use super::deadline::{Due, Moment, period_kind};
use super::duties::line::{Anchors, Dates};
use super::duties::ready::{ReadyDuty, Trigger};
use super::duties::{Owed, StartedBy, State};
use super::facts::FactSet;
use super::file::Limit;
use super::judge::{LimitOn, PreparedAppliance};
use super::words::{Measure, Subject};
use super::{Bound, Judge};
use crate::appliance::Facts;
use crate::day::{Day, Period, PeriodKind, Zone};
use crate::event::{Event, Kind, Reason};
use crate::number::Fraction;
use std::collections::BTreeMap;

/// A sum of a period that passed its limit.
#[derive(Clone, Debug)]
pub struct Sum<'j> {
    /// The limit.
    pub limit: &'j Limit,
    /// The last day of the period.
    pub on: Day,
    /// The sum in tonnes of CO2 equivalent.
    pub value: Fraction,
    /// The numbers it was judged against.
    pub bounds: Vec<Bound<'j>>,
    /// The sites that pass the limit of a part alone, sorted.
    pub lists: Vec<String>,
}

/// What a set says of the whole organisation.
#[derive(Clone, Debug, Default)]
pub struct OfOrganisation<'j> {
    /// Sums that passed their limit, the earliest first.
    pub sums: Vec<Sum<'j>>,
    /// What is owed because of them.
    pub duties: Vec<Owed<'j>>,
    /// Facts that were missing and mattered, sorted.
    pub missing: Vec<&'static str>,
}

/// The sums of one set while a fleet is added up, up to a day.
pub struct FleetSums {
    set: usize,
    day: Day,
    limits: Vec<SumsOfLimit>,
    /// Facts of the appliances that the numbers of a limit are read for, the first one foremost.
    kept: Vec<Facts>,
    /// What may fulfil a duty of the organisation, whichever appliance it was booked with.
    acts: Vec<Event>,
    missing: FactSet,
}

struct SumsOfLimit {
    limit: usize,
    kind: PeriodKind,
    by_last_day: BTreeMap<Day, SumOfPeriod>,
}

#[derive(Default)]
struct SumOfPeriod {
    by_site: BTreeMap<String, Fraction>,
    /// Which of the kept facts the limit applies to on the last day.
    judged_by: Option<usize>,
}

impl FleetSums {
    /// Nothing added up yet. `None`: the set has no limit over the whole organisation.
    pub fn new(judge: &Judge, set: usize, day: Day) -> Option<FleetSums> {
        let compiled = &judge.sets[set];
        let year_starts = compiled.set.year_starts.as_deref();
        let limits = (compiled.limits.iter().enumerate()).filter_map(|(at, compiled)| {
            let limit = compiled.limit;
            let whole = limit.subject == Some(Subject::Organisation);
            let period = limit.period?;
            (whole && limit.measure == Measure::Co2eLost).then(|| SumsOfLimit {
                limit: at,
                kind: period_kind(period, year_starts),
                by_last_day: BTreeMap::new(),
            })
        });
        let limits: Vec<SumsOfLimit> = limits.collect();
        (!limits.is_empty()).then(|| FleetSums {
            set,
            day,
            limits,
            kept: Vec::new(),
            acts: Vec::new(),
            missing: FactSet::NONE,
        })
    }

    /// Adds an appliance at a site with its events, in any order of appliances.
    pub fn add(
        &mut self,
        site: &str,
        facts: &Facts,
        prepared: &PreparedAppliance<'_>,
        events: &[Event],
    ) {
        let mut own = None;
        if self.kept.is_empty() {
            self.kept.push(facts.clone());
            own = Some(0);
        }
        for sums in &mut self.limits {
            let missing = sums.add(self.set, self.day, site, prepared, events);
            self.missing = self.missing.and(missing);
            let unjudged = sums.by_last_day.iter_mut();
            for (last, of) in unjudged.filter(|(_, of)| of.judged_by.is_none()) {
                let on = prepared.limit_on(self.set, sums.limit, *last);
                if matches!(on, LimitOn::Applies { .. }) {
                    of.judged_by = Some(*own.get_or_insert_with(|| {
                        self.kept.push(facts.clone());
                        self.kept.len() - 1
                    }));
                }
            }
        }
        let duties = &prepared.judge.sets[self.set].duties;
        let of_organisation = || duties.iter().filter(|duty| duty.of_organisation);
        let fulfils = |event: &&Event| of_organisation().any(|duty| fits(duty, event));
        self.acts.extend(events.iter().filter(fulfils).cloned());
    }

    /// The appliances that the numbers are read for, under the same sets.
    pub fn prepared<'j>(&'j self, judge: &'j Judge<'j>) -> Vec<PreparedAppliance<'j>> {
        self.kept
            .iter()
            .map(|facts| judge.appliance(facts))
            .collect()
    }

    /// Judges what was added up; `kept` comes from [`FleetSums::prepared`].
    pub fn judged<'j>(
        &self,
        judge: &'j Judge<'j>,
        kept: &[PreparedAppliance<'j>],
        zone: &Zone,
    ) -> OfOrganisation<'j> {
        let mut of = OfOrganisation {
            missing: self.missing.names(),
            ..OfOrganisation::default()
        };
        let compiled = &judge.sets[self.set];
        for sums in &self.limits {
            for (last, period) in &sums.by_last_day {
                let Some(sum) = self.judged_sum(judge, kept, sums.limit, *last, period) else {
                    continue;
                };
                let started_by = StartedBy::Limit(of.sums.len());
                let started = compiled
                    .duties
                    .iter()
                    .filter(|duty| starts(duty, sums.limit));
                of.duties.extend(started.filter_map(|duty| {
                    let start = Start {
                        last: *last,
                        kind: sums.kind,
                        started_by,
                    };
                    self.owed(duty, kept, &start, zone)
                }));
                of.sums.push(sum);
            }
        }
        of
    }

    fn judged_sum<'j>(
        &self,
        judge: &'j Judge<'j>,
        kept: &[PreparedAppliance<'j>],
        at: usize,
        last: Day,
        period: &SumOfPeriod,
    ) -> Option<Sum<'j>> {
        let limit = judge.sets[self.set].limits[at].limit;
        let judged_by = period.judged_by.and_then(|judged_by| kept.get(judged_by));
        // One that was added before the period was met may be the one it applies to.
        let bounds = judged_by.into_iter().chain(kept).find_map(|one| {
            match one.limit_on(self.set, at, last) {
                LimitOn::Applies { bounds, .. } => Some(bounds),
                _ => None,
            }
        })?;
        let value =
            (period.by_site.values()).fold(Fraction::new(0, 1), |sum, site| sum.plus(*site));
        let passes = |bound: &Bound| bound.is_passed(value.numerator(), value.denominator());
        if !bounds.iter().all(passes) {
            return None;
        }
        let asking = kept.first()?.asking(self.set, last);
        let alone = limit.lists.as_ref().and_then(|lists| {
            let values = &asking.set.values;
            let at = values
                .iter()
                .position(|value| value.name == lists.at_least)?;
            super::duties::line::number_on(&asking, at)
        });
        let over = |sum: &Fraction| alone.is_some_and(|number| *sum >= number.limit());
        let lists = period.by_site.iter().filter(|(_, sum)| over(sum));
        Some(Sum {
            limit,
            on: last,
            value,
            lists: lists.map(|(site, _)| site.clone()).collect(),
            bounds,
        })
    }

    /// The duty that a sum starts, with the first notice that fulfils it.
    fn owed<'j>(
        &self,
        ready: &'j ReadyDuty<'j>,
        kept: &[PreparedAppliance<'j>],
        start: &Start<'j>,
        zone: &Zone,
    ) -> Option<Owed<'j>> {
        let (last, day) = (start.last, self.day);
        let asking = kept.first()?.asking(self.set, last);
        let anchors = Anchors::at_start(Moment::of_day(last), start.kind, zone);
        let dates = Dates::of(&asking, &ready.due, &anchors);
        let not_before = Dates::of(&asking, &ready.not_before, &anchors).earliest();
        let fulfils = |event: &&Event| event.day > last && fits(ready, event);
        let mut acts: Vec<&Event> = self.acts.iter().filter(fulfils).collect();
        acts.sort_by_key(|event| event.order());
        let early =
            |event: &&&Event| not_before.is_some_and(|due| Moment::of(event).is_before(due));
        let too_early = acts
            .iter()
            .filter(early)
            .map(|act| (act.day, act.entry))
            .collect();
        let done = acts.iter().find(|act| !early(act));
        let mut row = Owed {
            due: dates.earliest(),
            not_before,
            on: done.map(|act| act.day),
            by: done.map(|act| act.entry),
            age: ready.duty.no_number.as_ref().map(|_| day.days_since(last)),
            waiting: dates.waiting,
            lines: dates.lines,
            too_early,
            missing: dates.missing.names(),
            ..Owed::new(ready.duty, last, start.started_by)
        };
        row.state = match done {
            Some(act) if row.due.is_some_and(|due| Moment::of(act).is_after(due)) => {
                State::DoneLate
            }
            Some(_) => State::Done,
            None => super::duties::row::standing(&row, day),
        };
        Some(row)
    }
}

/// How a duty of the organisation began.
struct Start<'j> {
    last: Day,
    kind: PeriodKind,
    started_by: StartedBy<'j>,
}

impl SumsOfLimit {
    /// Adds what an appliance lost in each period that is over; gives the facts that were missing.
    fn add(
        &mut self,
        set: usize,
        day: Day,
        site: &str,
        prepared: &PreparedAppliance<'_>,
        events: &[Event],
    ) -> FactSet {
        let mut missing = FactSet::NONE;
        for event in events {
            let change = lost(event);
            let over = Period::around(event.day, self.kind).filter(|period| period.last < day);
            let Some(period) = over.filter(|_| change != 0) else {
                continue;
            };
            if prepared.applies(set, event.day) != Some(true) {
                continue;
            }
            match prepared.asking(set, event.day).gwp() {
                Ok((gwp, of)) => {
                    let tonnes = Fraction::new(change * gwp, 100_000_000_000_000_000 * of);
                    let of = self.by_last_day.entry(period.last).or_default();
                    match of.by_site.get_mut(site) {
                        Some(sum) => *sum = sum.plus(tonnes),
                        None => drop(of.by_site.insert(site.to_string(), tonnes)),
                    }
                }
                Err(facts) => missing = missing.and(facts),
            }
        }
        missing
    }
}

fn starts(duty: &ReadyDuty, limit: usize) -> bool {
    let by = |trigger: &Trigger| matches!(trigger, Trigger::Limit(named) if *named == limit);
    duty.of_organisation && duty.starts.iter().any(|start| by(&start.trigger))
}

fn fits(duty: &ReadyDuty, event: &Event) -> bool {
    duty.done_by.iter().any(|pattern| pattern.words.fit(event))
}

/// When the report of a sum is due that passed a limit in the period that ended on a day; `None`:
/// the set asks for none.
pub fn report_due(
    prepared: &PreparedAppliance,
    set: usize,
    limit: usize,
    last: Day,
    kind: PeriodKind,
    zone: &Zone,
) -> Option<Due> {
    let asking = prepared.asking(set, last);
    let ready = asking.set.duties.iter().find(|duty| starts(duty, limit))?;
    let anchors = Anchors::at_start(Moment::of_day(last), kind, zone);
    Dates::of(&asking, &ready.due, &anchors).earliest()
}

/// Steps charged at service, less steps recovered at service. First charges are no loss, the one after
/// a change of refrigerant as little as that of a new appliance; what is taken out for good, for
/// disposal or before such a change, makes up for no loss elsewhere.
pub(crate) fn lost(event: &Event) -> i128 {
    let steps = i128::from(event.mass.steps());
    match (event.kind, event.reason) {
        (
            Kind::Charge | Kind::OutsideCharge,
            Some(Reason::Installation | Reason::AfterRetrofit),
        ) => 0,
        (Kind::Recover, Some(Reason::Disposal | Reason::Retrofit)) => 0,
        (Kind::Charge | Kind::OutsideCharge, _) => steps,
        (Kind::Recover, _) => -steps,
        _ => 0,
    }
}
