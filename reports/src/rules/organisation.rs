//! Sums over a whole organisation: what its covered appliances lost in a period, in tonnes of CO2
//! equivalent, and the report that is owed when the sum passes a limit.
//!
//! Lost is what was charged at service less what was recovered at service; a first charge is no
//! loss, and what is recovered for disposal is none that was prevented.

use super::deadline::{Due, Moment, period_kind};
use super::duties::line::{Anchors, Dates};
use super::duties::ready::{ReadyDuty, Trigger};
use super::duties::{Owed, StartedBy, State};
use super::facts::FactSet;
use super::file::Limit;
use super::judge::{LimitOn, PreparedAppliance};
use super::words::{Measure, Subject};
use super::{Bound, Judge};
use crate::day::{Day, Period, PeriodKind, Zone};
use crate::event::{Event, Kind, Reason};
use crate::number::Fraction;
use std::collections::BTreeMap;

/// One appliance of the organisation.
pub struct Part<'p, 'j> {
    /// The site it stands at.
    pub site: &'p str,
    /// The appliance under every set.
    pub prepared: PreparedAppliance<'j>,
    /// Its events up to the day asked, in their order.
    pub events: Vec<Event>,
}

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

/// Judges the sums of one set over every appliance, on a day.
pub fn organisation<'j>(
    judge: &'j Judge<'j>,
    set: usize,
    parts: &[Part<'_, 'j>],
    day: Day,
    zone: &Zone,
) -> OfOrganisation<'j> {
    let mut of = OfOrganisation::default();
    let mut missing = FactSet::NONE;
    let compiled = &judge.sets[set];
    let year_starts = compiled.set.year_starts.as_deref();
    for (at, compiled_limit) in compiled.limits.iter().enumerate() {
        let limit = compiled_limit.limit;
        let whole = limit.subject == Some(Subject::Organisation);
        let Some(period) = limit
            .period
            .filter(|_| whole && limit.measure == Measure::Co2eLost)
        else {
            continue;
        };
        let kind = period_kind(period, year_starts);
        let sums = sums_of(set, parts, day, kind, &mut missing);
        for (last, by_site) in sums {
            if let Some(sum) = judged(set, at, limit, parts, last, &by_site) {
                let ready = &compiled.duties;
                let started = ready.iter().filter(|duty| starts(duty, at));
                let number = of.sums.len();
                of.duties.extend(started.filter_map(|duty| {
                    owed(
                        set,
                        duty,
                        parts,
                        last,
                        kind,
                        StartedBy::Limit(number),
                        day,
                        zone,
                    )
                }));
                of.sums.push(sum);
            }
        }
    }
    of.missing = missing.names();
    of
}

fn starts(duty: &ReadyDuty, limit: usize) -> bool {
    let by = |trigger: &Trigger| matches!(trigger, Trigger::Limit(named) if *named == limit);
    duty.of_organisation && duty.starts.iter().any(|start| by(&start.trigger))
}

/// Tonnes of CO2 equivalent by site for each period that is over, by its last day.
type Sums<'p> = BTreeMap<Day, BTreeMap<&'p str, Fraction>>;

fn sums_of<'p>(
    set: usize,
    parts: &'p [Part<'p, '_>],
    day: Day,
    kind: PeriodKind,
    missing: &mut FactSet,
) -> Sums<'p> {
    let mut sums = Sums::new();
    for part in parts {
        for event in &part.events {
            let change = lost(event);
            let over = Period::around(event.day, kind).filter(|period| period.last < day);
            let Some(period) = over.filter(|_| change != 0) else {
                continue;
            };
            if part.prepared.applies(set, event.day) != Some(true) {
                continue;
            }
            match part.prepared.asking(set, event.day).gwp() {
                Ok((gwp, of)) => {
                    let tonnes = Fraction::new(change * gwp, 100_000_000_000_000_000 * of);
                    let sites = sums.entry(period.last).or_default();
                    let sum = sites.entry(part.site).or_insert(Fraction::new(0, 1));
                    *sum = sum.plus(tonnes);
                }
                Err(facts) => *missing = missing.and(facts),
            }
        }
    }
    sums
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

/// Steps charged at service, less steps recovered at service.
pub(crate) fn lost(event: &Event) -> i128 {
    let steps = i128::from(event.mass.steps());
    match (event.kind, event.reason) {
        (Kind::Charge | Kind::OutsideCharge, Some(Reason::Installation)) => 0,
        (Kind::Recover, Some(Reason::Disposal)) => 0,
        (Kind::Charge | Kind::OutsideCharge, _) => steps,
        (Kind::Recover, _) => -steps,
        _ => 0,
    }
}

fn judged<'j>(
    set: usize,
    at: usize,
    limit: &'j Limit,
    parts: &[Part<'_, 'j>],
    last: Day,
    by_site: &BTreeMap<&str, Fraction>,
) -> Option<Sum<'j>> {
    let bounds = parts
        .iter()
        .find_map(|part| match part.prepared.limit_on(set, at, last) {
            LimitOn::Applies { bounds, .. } => Some(bounds),
            _ => None,
        })?;
    let value = by_site
        .values()
        .fold(Fraction::new(0, 1), |sum, site| sum.plus(*site));
    let passes = |bound: &Bound| bound.is_passed(value.numerator(), value.denominator());
    if !bounds.iter().all(passes) {
        return None;
    }
    let asking = parts.first()?.prepared.asking(set, last);
    let alone = limit.lists.as_ref().and_then(|lists| {
        let values = &asking.set.values;
        let at = values
            .iter()
            .position(|value| value.name == lists.at_least)?;
        super::duties::line::number_on(&asking, at)
    });
    let over = |sum: &Fraction| alone.is_some_and(|number| *sum >= number.limit());
    let lists = by_site.iter().filter(|(_, sum)| over(sum));
    Some(Sum {
        limit,
        on: last,
        value,
        lists: lists.map(|(site, _)| site.to_string()).collect(),
        bounds,
    })
}

/// The duty that a sum starts, with the first notice that fulfils it, whichever appliance it was
/// booked with.
#[allow(clippy::too_many_arguments)]
fn owed<'j>(
    set: usize,
    ready: &'j ReadyDuty<'j>,
    parts: &[Part<'_, 'j>],
    last: Day,
    kind: PeriodKind,
    started_by: StartedBy<'j>,
    day: Day,
    zone: &Zone,
) -> Option<Owed<'j>> {
    let asking = parts.first()?.prepared.asking(set, last);
    let anchors = Anchors::at_start(Moment::of_day(last), kind, zone);
    let dates = Dates::of(&asking, &ready.due, &anchors);
    let not_before = Dates::of(&asking, &ready.not_before, &anchors).earliest();
    let all = parts.iter().flat_map(|part| &part.events);
    let fits = |event: &&Event| {
        event.day > last && ready.done_by.iter().any(|pattern| pattern.words.fit(event))
    };
    let mut acts: Vec<&Event> = all.filter(fits).collect();
    acts.sort_by_key(|event| event.order());
    let early = |event: &&&Event| not_before.is_some_and(|due| Moment::of(event).is_before(due));
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
        ..Owed::new(ready.duty, last, started_by)
    };
    row.state = match done {
        Some(act) if row.due.is_some_and(|due| Moment::of(act).is_after(due)) => State::DoneLate,
        Some(_) => State::Done,
        None => super::duties::row::standing(&row, day),
    };
    Some(row)
}
