//! One sum of the report: its period, its basis, the numbers it is compared with, what it took in.

use super::held::{Held, Sum, TONNE};
use crate::day::{Day, Period, PeriodKind};
use crate::event::{Event, Kind};
use crate::refrigerant::Basis;
use crate::rules::deadline::period_kind;
use crate::rules::number::Comparison;
use crate::rules::organisation::report_due;
use crate::rules::words::{Measure, Subject};
use crate::rules::{Bound, Judge, LimitOn};
use crate::sheet::{Assessed, Options};
use std::collections::BTreeMap;

/// The sum of one set, or under one basis.
pub(super) struct Part {
    /// Place of the set in the judge, and of the limit in the set.
    pub(super) rule: Option<(usize, usize)>,
    pub(super) set: String,
    pub(super) version: String,
    pub(super) basis: Basis,
    pub(super) kind: PeriodKind,
    pub(super) period: Period,
    pub(super) until: Day,
    /// Known as soon as the set has covered an appliance.
    pub(super) numbers: Option<Numbers>,
    pub(super) sites: BTreeMap<String, BTreeMap<u16, Held>>,
}

/// The numbers of a limit, as an appliance it covers gives them.
pub(super) struct Numbers {
    pub(super) limit: String,
    pub(super) clause: String,
    /// Numerator and denominator in tonnes, and whether the number itself is too much.
    pub(super) bound: Comparable,
    pub(super) site: Option<(String, Comparable)>,
    pub(super) due: String,
}

/// A number of tonnes to compare with.
pub(super) struct Comparable {
    pub(super) numerator: i128,
    pub(super) denominator: i128,
    pub(super) reaches: bool,
}

/// A part for each set that limits a sum in CO2 equivalent.
pub(super) fn parts_of(judge: &Judge<'_>, options: &Options) -> Vec<Part> {
    let mut parts = Vec::new();
    for (place, set) in judge.sets().enumerate() {
        for (at, limit) in set.limits.iter().enumerate() {
            let whole = limit.subject == Some(Subject::Organisation);
            let (true, Measure::Co2eLost, Some(word), Some(basis)) =
                (whole, limit.measure, limit.period, set.gwp_basis)
            else {
                continue;
            };
            let kind = period_kind(word, set.year_starts.as_deref());
            let Some(part) = Part::new(options, kind, basis.basis()) else {
                continue;
            };
            parts.push(Part {
                rule: Some((place, at)),
                set: set.id.clone(),
                version: set.version.clone().unwrap_or_default(),
                ..part
            });
        }
    }
    parts
}

impl Part {
    pub(super) fn new(options: &Options, kind: PeriodKind, basis: Basis) -> Option<Part> {
        let period = match kind {
            PeriodKind::FiscalYear(month, day) => Period::fiscal_year(options.year, month, day)?,
            _ => Period::year(options.year)?,
        };
        Some(Part {
            rule: None,
            set: String::new(),
            version: String::new(),
            basis,
            kind,
            period,
            until: options.cut.map_or(period.last, |cut| cut.min(period.last)),
            numbers: None,
            sites: BTreeMap::new(),
        })
    }

    pub(super) fn take(&mut self, site: &str, event: &Event, of: &Assessed<'_, '_>) {
        if let (None, Some((set, at))) = (&self.numbers, self.rule) {
            self.numbers = numbers_of(of, set, at, self.period.last, self.kind);
        }
        let held = self.sites.entry(site.to_string()).or_default();
        let held = held.entry(event.refrigerant).or_default();
        let given = (event.entry, i128::from(event.mass.steps()));
        match event.kind {
            Kind::Recover => held.recovered.push(given),
            _ => held.charged.push(given),
        }
    }
}

/// The numbers of a limit on the last day of its period.
pub(super) fn numbers_of(
    of: &Assessed<'_, '_>,
    set: usize,
    at: usize,
    last: Day,
    kind: PeriodKind,
) -> Option<Numbers> {
    let LimitOn::Applies { limit, bounds } = of.prepared.limit_on(set, at, last) else {
        return None;
    };
    let bound = bounds.first()?;
    let due = report_due(of.prepared, set, at, last, kind, &of.settings.zone);
    let lists = limit.lists.as_ref();
    let alone = lists.and_then(|lists| of.prepared.value_on(set, &lists.at_least, last));
    Some(Numbers {
        limit: bound.number.text().to_string(),
        clause: bound.number.clause().to_string(),
        bound: Comparable::of(bound),
        site: alone.map(|number| {
            let limit = number.limit();
            let bound = Comparable {
                numerator: limit.numerator(),
                denominator: limit.denominator(),
                reaches: true,
            };
            (number.text().to_string(), bound)
        }),
        due: due.map_or(String::new(), |due| due.to_string()),
    })
}

impl Comparable {
    pub(super) fn of(bound: &Bound<'_>) -> Comparable {
        let limit = bound.number.limit();
        Comparable {
            numerator: limit.numerator(),
            denominator: limit.denominator(),
            reaches: bound.comparison == Comparison::AtLeast,
        }
    }

    /// `None`: what has no GWP could carry the sum over it.
    pub(super) fn is_passed(&self, sum: &Sum) -> Option<bool> {
        let (sum, limit) = (
            sum.tonnes * self.denominator,
            (self.numerator * TONNE, sum.without_gwp),
        );
        let passed = sum > limit.0 || (self.reaches && sum == limit.0);
        (passed || limit.1 == 0).then_some(passed)
    }
}
