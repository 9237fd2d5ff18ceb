//! The additions of one appliance in one year, judged against every rule set.
//!
//! Sets may read additions differently (netting, first days). Figures follow the first set that
//! covers the appliance; each set is judged by its own reading, and what one of them finds over
//! its limit is shown even where the leading one sees no addition at all.

use super::{ApplianceInput, ApplianceLimits, Limit, Limits, Options};
use crate::leak_rate::{Addition, Method, Reader, Reading};
use crate::{day::Day, event::Event};

/// What the caller says beside a report.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Summary {
    /// Rows written, the header not counted.
    pub rows: u64,
    /// Additions that could not be judged because a fact is missing.
    pub cannot_judge: u64,
    /// Comparisons with a limit whose clause was not read by whoever wrote the rule set.
    pub unconfirmed: u64,
    /// Visits that were split because their entries lie more than 7 days apart.
    pub split_visits: u64,
}

/// One addition of the year: all steps of a visit, of a day, of a leak event.
#[derive(Clone, Debug)]
pub(super) struct YearAddition {
    /// Its date: the first step over the limit, else the last step.
    pub(super) on: Day,
    /// The last step of the year: its figures are those that stand.
    pub(super) step: Addition,
    /// Index of that step among the additions of its reading.
    pub(super) index: u32,
    /// Which reading it comes from.
    pub(super) reading: usize,
    /// What its steps of this year added.
    pub(super) added: i128,
    /// Over a limit by the rolling average; `None`: nobody can say.
    pub(super) rolling_over: Option<bool>,
    /// Over a limit by the annualising method.
    pub(super) annualised_over: Option<bool>,
    /// Whether a step was over by the method of its day.
    pub(super) is_over: bool,
}

/// What a step is over, by either method.
#[derive(Clone, Copy)]
struct Verdict {
    rolling: Option<bool>,
    annualised: Option<bool>,
    is_over: bool,
}

/// Reads and judges one appliance after another.
#[derive(Debug)]
pub(super) struct Judge<'a, L: Limits> {
    limits: &'a L,
    options: Options,
    readings: Vec<Reading>,
    readers: Vec<Reader>,
    reading_of_set: Vec<Option<usize>>,
    /// Row of each unit of netting, by the index of its first event; the same in every reading.
    row_of_unit: Vec<Option<u32>>,
    /// Row of each leak event, day or visit of the reading at work.
    row_of_event: Vec<Option<u32>>,
    event_of_group: Vec<u32>,
    additions: Vec<YearAddition>,
    pub(super) summary: Summary,
}

impl<'a, L: Limits> Judge<'a, L> {
    pub(super) fn new(limits: &'a L, options: Options, traces: bool) -> Judge<'a, L> {
        let mut readings: Vec<Reading> = Vec::new();
        let mut reading_of_set = Vec::new();
        for reading in limits.readings() {
            reading_of_set.push(reading.as_ref().map(|reading| {
                let mut reading = reading.clone();
                reading.netting = options.netting.unwrap_or(reading.netting);
                place_of(&mut readings, reading)
            }));
        }
        if readings.is_empty() {
            let mut reading = Reading::default();
            reading.netting = options.netting.unwrap_or(reading.netting);
            readings.push(reading);
        }
        let reader = || Reader::default().trace(traces);
        Judge {
            limits,
            options,
            readers: readings.iter().map(|_| reader()).collect(),
            readings,
            reading_of_set,
            row_of_unit: Vec::new(),
            row_of_event: Vec::new(),
            event_of_group: Vec::new(),
            additions: Vec::new(),
            summary: Summary::default(),
        }
    }

    /// The additions of the year, by date.
    pub(super) fn additions(&self) -> &[YearAddition] {
        &self.additions
    }

    /// The reader an addition came from.
    pub(super) fn reader(&self, addition: &YearAddition) -> &Reader {
        &self.readers[addition.reading]
    }

    /// Reads an appliance; `events` end with the last day looked at.
    pub(super) fn read(&mut self, input: &ApplianceInput<'_>, events: &[Event]) {
        self.additions.clear();
        self.row_of_unit.clear();
        self.row_of_unit.resize(events.len(), None);
        let mut limits = self.limits.appliance(input.facts);
        let leading = self.leading(&mut limits);
        self.read_by(leading, true, input, events, &mut limits);
        for reading in 0..self.readings.len() {
            if reading != leading {
                self.read_by(reading, false, input, events, &mut limits);
            }
        }
        let stands = |row: &YearAddition| {
            row.step.annualised_mass > 0
                || row.added != 0
                || row.rolling_over == Some(true)
                || row.annualised_over == Some(true)
        };
        self.additions.retain(stands);
        self.additions.sort_by_key(|row| (row.on, row.step.at));
        let unclear =
            |row: &&YearAddition| row.rolling_over.is_none() || row.annualised_over.is_none();
        self.summary.cannot_judge += self.additions.iter().filter(unclear).count() as u64;
        self.summary.split_visits += self.readers[leading].split_visits().len() as u64;
    }

    /// Whether nobody can say how many additions were over a limit, even when there was none: the
    /// full charge is unknown, and a set may have a limit.
    pub(super) fn is_in_the_dark(&self, input: &ApplianceInput<'_>) -> bool {
        let last = self.options.last_day();
        if input.facts.full_charge(last).is_some() {
            return false;
        }
        let mut limits = self.limits.appliance(input.facts);
        (0..self.reading_of_set.len()).any(|set| limits.limit(set, last) != Limit::NotCovered)
    }

    /// The reading of the first set that covers the appliance on the last day, else the first.
    fn leading(&self, limits: &mut L::Appliance<'_>) -> usize {
        if self.readings.len() == 1 {
            return 0;
        }
        let last = self.options.last_day();
        let covering = |(set, reading): (usize, &Option<usize>)| {
            reading.filter(|_| limits.limit(set, last) != Limit::NotCovered)
        };
        let sets = self.reading_of_set.iter().enumerate();
        sets.map(covering).find_map(|reading| reading).unwrap_or(0)
    }

    fn read_by(
        &mut self,
        reading: usize,
        leads: bool,
        input: &ApplianceInput<'_>,
        events: &[Event],
        limits: &mut L::Appliance<'_>,
    ) {
        let first = self.options.first_day();
        let mut reader = std::mem::take(&mut self.readers[reading]);
        let steps = reader.read(events, input.facts, &self.readings[reading]);
        self.find_events(steps);
        let before = steps.partition_point(|step| step.day < first);
        for (index, step) in steps.iter().enumerate().skip(before) {
            let method = self.options.method.or_else(|| input.method(step.day));
            let verdict = self.verdict(reading, step, method, limits);
            let event = self.event_of_group[step.group as usize] as usize;
            let of_unit = self.row_of_unit[step.first as usize];
            let row = match of_unit.or(self.row_of_event[event]) {
                Some(row) => {
                    self.additions[row as usize].take_in(reading, index, step, verdict);
                    row
                }
                None if leads || verdict.is_over_at_all() => {
                    let new = YearAddition::new(reading, index, step, verdict);
                    self.additions.push(new);
                    self.additions.len() as u32 - 1
                }
                None => continue,
            };
            self.row_of_unit[step.first as usize] = Some(row);
            self.row_of_event[event] = Some(row);
        }
        self.readers[reading] = reader;
    }

    /// Notes which leak event, day or visit each unit belongs to in the end: a visit may have moved.
    fn find_events(&mut self, steps: &[Addition]) {
        let groups = steps.iter().map(|step| step.group + 1).max().unwrap_or(0);
        let events = steps.iter().map(|step| step.event + 1).max().unwrap_or(0);
        self.event_of_group.clear();
        self.event_of_group.resize(groups as usize, 0);
        self.row_of_event.clear();
        self.row_of_event.resize(events as usize, None);
        for step in steps {
            self.event_of_group[step.group as usize] = step.event;
        }
    }

    /// Judges a step by every set that reads additions this way.
    fn verdict(
        &mut self,
        reading: usize,
        step: &Addition,
        method: Option<Method>,
        limits: &mut L::Appliance<'_>,
    ) -> Verdict {
        let (mut rolling, mut annualised) = (Some(false), Some(false));
        for (set, of_set) in self.reading_of_set.iter().enumerate() {
            if *of_set != Some(reading) {
                continue;
            }
            let limit = limits.limit(set, step.day);
            if let Limit::Applies {
                unconfirmed: true, ..
            } = limit
            {
                self.summary.unconfirmed += 1;
            }
            rolling = either(rolling, limit.is_passed_by(step.rolling_rate()));
            annualised = either(annualised, limit.is_passed_by(step.annualised_rate()));
        }
        let by_method = match method {
            Some(Method::Rolling) => rolling,
            Some(Method::Annualising) => annualised,
            None => either(rolling, annualised),
        };
        Verdict {
            rolling,
            annualised,
            is_over: by_method == Some(true),
        }
    }
}

impl Verdict {
    fn is_over_at_all(self) -> bool {
        self.rolling == Some(true) || self.annualised == Some(true)
    }
}

impl YearAddition {
    fn new(reading: usize, index: usize, step: &Addition, verdict: Verdict) -> YearAddition {
        YearAddition {
            on: step.day,
            step: step.clone(),
            index: index as u32,
            reading,
            added: step.mass,
            rolling_over: verdict.rolling,
            annualised_over: verdict.annualised,
            is_over: verdict.is_over,
        }
    }

    /// A later step supersedes the figures, never the start; another reading only adds its verdict.
    fn take_in(&mut self, reading: usize, index: usize, step: &Addition, verdict: Verdict) {
        let mut on = step.day;
        if reading == self.reading {
            self.added += step.mass;
            self.step = step.clone();
            self.index = index as u32;
            self.rolling_over = later(self.rolling_over, verdict.rolling);
            self.annualised_over = later(self.annualised_over, verdict.annualised);
        } else {
            self.rolling_over = either(self.rolling_over, verdict.rolling);
            self.annualised_over = either(self.annualised_over, verdict.annualised);
            on = if verdict.is_over { step.day } else { self.on };
        }
        if self.is_over {
            on = if verdict.is_over {
                self.on.min(on)
            } else {
                self.on
            };
        }
        self.on = on;
        self.is_over |= verdict.is_over;
    }
}

/// Over one limit or another: one *yes* decides, else one *cannot judge* does.
fn either(one: Option<bool>, other: Option<bool>) -> Option<bool> {
    match (one, other) {
        (Some(true), _) | (_, Some(true)) => Some(true),
        (None, _) | (_, None) => None,
        _ => Some(false),
    }
}

/// What was over once stays over; otherwise the later step says.
fn later(before: Option<bool>, now: Option<bool>) -> Option<bool> {
    if before == Some(true) { before } else { now }
}

fn place_of(readings: &mut Vec<Reading>, reading: Reading) -> usize {
    let known = readings.iter().position(|known| *known == reading);
    known.unwrap_or_else(|| {
        readings.push(reading);
        readings.len() - 1
    })
}
