//! A rule set made ready for many questions: names resolved, numbers read, rows in order.
//!
//! A yearly report asks two hundred thousand times which limit holds on a day; nothing is looked
//! up by name or parsed there.

use super::duties::ready::ReadyDuty;
use super::facts::Fact;
use super::file::{Overlay, Row, RuleSet};
use super::number::{Comparison, Number};
use super::problem::Problem;
use super::resolve::Maker;
use super::words::Unit;
use crate::appliance::Facts;
use crate::day::Day;
use crate::number::Fraction;

/// A rule set with its names resolved.
pub(super) struct CompiledSet<'a> {
    pub set: &'a RuleSet,
    pub values: Vec<CompiledValue<'a>>,
    pub covers: Vec<Block<'a>>,
    pub exempt: Vec<Block<'a>>,
    pub bands: Vec<(&'a str, Vec<Ask<'a>>)>,
    pub limits: Vec<CompiledLimit<'a>>,
    pub duties: Vec<ReadyDuty<'a>>,
    /// The tests of the records, in their order.
    pub records: Vec<Vec<Ask<'a>>>,
    /// Days on which an answer of this set can change whatever the appliance.
    pub change_days: Vec<Day>,
    /// First and last day on which it judges at all.
    pub days: (Day, Day),
}

/// A covers or exempt block.
pub(super) struct Block<'a> {
    pub from: Day,
    pub until: Day,
    pub asks: Vec<Ask<'a>>,
}

/// One line of a test.
pub(super) enum Ask<'a> {
    Number(Quantity, Comparison, usize),
    Word(Fact, Option<&'a [String]>, Option<&'a [String]>),
    Band(Option<&'a [String]>, Option<&'a [String]>),
    List(Membership, &'a str),
    YesNo(Fact, bool),
    Installed(Option<Day>, Option<Day>),
}

/// What is compared.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Quantity {
    FullCharge,
    Co2e,
    Gwp,
    MotorKw,
}

/// How a refrigerant stands to a list.
#[derive(Clone, Copy)]
pub(super) enum Membership {
    Contains,
    Lacks,
    Only,
}

/// A named number with its rows and the layers over them.
pub(super) struct CompiledValue<'a> {
    pub name: &'a str,
    pub unit: Unit,
    pub rows: Vec<CompiledRow<'a>>,
    pub layers: Vec<LayerRows<'a>>,
    /// Whether any row is for single bands.
    pub banded: bool,
}

/// The rows that one overlay lays over a value.
pub(super) struct LayerRows<'a> {
    pub overlay: &'a Overlay,
    pub place: Vec<Ask<'a>>,
    pub rows: Vec<CompiledRow<'a>>,
}

/// A row with its number read.
pub(super) struct CompiledRow<'a> {
    pub row: &'a Row,
    pub number: Number,
    /// The number ready to be compared: masses in steps of 10⁻¹¹ g, else as written.
    pub limit: Fraction,
}

/// A limit with its bounds: each comparison against one or more values, all to be passed.
pub(super) struct CompiledLimit<'a> {
    pub limit: &'a super::file::Limit,
    pub from: Day,
    pub until: Day,
    pub when: Vec<Ask<'a>>,
    pub bounds: Vec<(Comparison, usize)>,
}

pub(super) const LAST: Day = Day::from_count(2_932_896); // 9999-12-31

impl<'a> CompiledSet<'a> {
    /// Resolves the names of a set; a set that `check` accepts always resolves.
    pub(super) fn new(set: &'a RuleSet) -> Result<CompiledSet<'a>, Vec<Problem>> {
        let mut maker = Maker {
            set,
            problems: Vec::new(),
        };
        let values = set
            .values
            .iter()
            .map(|(name, series)| maker.value(name, series))
            .collect();
        let covers = set.covers.iter().map(|block| maker.covers(block)).collect();
        let exempt = set.exempt.iter().map(|block| maker.exempt(block)).collect();
        let bands = set
            .bands
            .iter()
            .map(|band| (band.name.as_str(), maker.band(band)))
            .collect();
        let limits = set.limits.iter().map(|limit| maker.limit(limit)).collect();
        let duties = maker.duties();
        let records = (set.records.iter())
            .map(|record| maker.optional_test(&record.when))
            .collect();
        if !maker.problems.is_empty() {
            return Err(maker.problems);
        }
        let mut compiled = CompiledSet {
            set,
            values,
            covers,
            exempt,
            bands,
            limits,
            duties,
            records,
            change_days: Vec::new(),
            days: (Facts::ALWAYS, LAST),
        };
        compiled.change_days = compiled.own_change_days();
        Ok(compiled)
    }

    /// Lets the set judge only on these days, the last included.
    pub(super) fn in_force(&mut self, days: (Day, Day)) {
        self.days = days;
        self.change_days.extend([days.0, days.1.plus(1)]);
        self.change_days.sort_unstable();
        self.change_days.dedup();
    }

    fn own_change_days(&self) -> Vec<Day> {
        let mut days = Vec::new();
        for block in self.covers.iter().chain(&self.exempt) {
            days.extend([block.from, block.until.plus(1)]);
        }
        for limit in &self.limits {
            days.extend([limit.from, limit.until.plus(1)]);
        }
        for value in &self.values {
            days.extend(value.rows.iter().map(|row| row.row.from.0));
            days.extend(
                value
                    .layers
                    .iter()
                    .flat_map(|l| &l.rows)
                    .map(|row| row.row.from.0),
            );
            let windows = value.layers.iter().filter_map(|layer| layer.overlay.days);
            days.extend(windows.flat_map(|(first, last)| [first, last.plus(1)]));
        }
        days.sort_unstable();
        days.dedup();
        days
    }
}
