//! A rule set made ready for many questions: names resolved, numbers read, rows in order.
//!
//! A yearly report asks two hundred thousand times which limit holds on a day; nothing is looked
//! up by name or parsed there.

use super::conditions::{Band, Covers, Exempt, ListTest, NumberTest, Test, WordTest};
use super::facts::Fact;
use super::file::{Overlay, Row, RuleSet, Series};
use super::number::{Comparison, Number, steps_of};
use super::problem::{Problem, no_such};
use super::text::TextOr;
use super::words::{Layer, Unit, YesNo};
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
    /// Tests of duties that start by being covered: what they lack is missing.
    pub covered_duties: Vec<Vec<Ask<'a>>>,
    /// Days on which an answer of this set can change whatever the appliance.
    pub change_days: Vec<Day>,
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

const LAST: Day = Day::from_count(2_932_896); // 9999-12-31

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
        let by_being_covered = set
            .duties
            .iter()
            .filter(|d| d.starts.iter().any(|s| s.covered));
        let covered_duties = by_being_covered
            .filter_map(|duty| duty.when.as_ref())
            .map(|t| maker.test(t))
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
            covered_duties,
            change_days: Vec::new(),
        };
        compiled.change_days = compiled.own_change_days();
        Ok(compiled)
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
        }
        days.sort_unstable();
        days.dedup();
        days
    }

    /// The place of a value by name.
    pub(super) fn value(&self, name: &str) -> Option<usize> {
        self.values.iter().position(|value| value.name == name)
    }

    /// Resolves a test that is asked rarely (the lines of a duty).
    pub(super) fn resolve(&self, test: &'a Test) -> Vec<Ask<'a>> {
        Maker {
            set: self.set,
            problems: Vec::new(),
        }
        .test(test)
    }
}

struct Maker<'a> {
    set: &'a RuleSet,
    problems: Vec<Problem>,
}

/// The parts of any table that carries a test, borrowed.
struct Parts<'a> {
    numbers: [(Quantity, &'a Option<NumberTest>); 4],
    words: [(Fact, &'a Option<WordTest>); 5],
    band: &'a Option<WordTest>,
    lists: &'a Option<ListTest>,
    yes_no: [(Fact, Option<YesNo>); 9],
    installed: &'a Option<super::conditions::DateTest>,
}

macro_rules! parts {
    ($table:expr) => {{
        let table = $table;
        Parts {
            numbers: [
                (Quantity::FullCharge, &table.full_charge),
                (Quantity::Co2e, &table.co2e),
                (Quantity::Gwp, &table.gwp),
                (Quantity::MotorKw, &table.motor_kw),
            ],
            words: [
                (Fact::Region, &table.region),
                (Fact::Category, &table.category),
                (Fact::OwnerClass, &table.owner_class),
                (Fact::Land, &table.land),
                (Fact::Equipment, &table.equipment),
            ],
            band: &table.band,
            lists: &table.refrigerant,
            yes_no: [
                (Fact::Hermetic, table.hermetic),
                (Fact::Residential, table.residential),
                (Fact::Detector, table.detector),
                (Fact::Mobile, table.mobile),
                (Fact::ProcessShutdown, table.process_shutdown),
                (Fact::Evacuated, table.evacuated),
                (Fact::GhgReporter, table.ghg_reporter),
                (Fact::YearRound, table.year_round),
                (Fact::Indoors, table.indoors),
            ],
            installed: &table.installed,
        }
    }};
}

impl<'a> Maker<'a> {
    fn test(&mut self, test: &'a Test) -> Vec<Ask<'a>> {
        self.asks(parts!(test))
    }

    fn band(&mut self, band: &'a Band) -> Vec<Ask<'a>> {
        self.asks(parts!(band))
    }

    fn covers(&mut self, block: &'a Covers) -> Block<'a> {
        let from = block.from.map_or(Facts::ALWAYS, |day| day.0);
        let until = block.until.map_or(LAST, |day| day.0);
        Block {
            from,
            until,
            asks: self.asks(parts!(block)),
        }
    }

    fn exempt(&mut self, block: &'a Exempt) -> Block<'a> {
        let from = block.from.map_or(Facts::ALWAYS, |day| day.0);
        let until = block.until.map_or(LAST, |day| day.0);
        Block {
            from,
            until,
            asks: self.asks(parts!(block)),
        }
    }

    /// Cheap and deciding lines first: one *no* decides a block.
    fn asks(&mut self, parts: Parts<'a>) -> Vec<Ask<'a>> {
        let mut asks = Vec::new();
        for (fact, test) in parts.words {
            if let Some(WordTest { is, is_not }) = test {
                asks.push(Ask::Word(fact, is.as_deref(), is_not.as_deref()));
            }
        }
        if let Some(WordTest { is, is_not }) = parts.band {
            asks.push(Ask::Band(is.as_deref(), is_not.as_deref()));
        }
        if let Some(ListTest {
            contains,
            lacks,
            only,
        }) = parts.lists
        {
            let lists = [
                (Membership::Contains, contains),
                (Membership::Lacks, lacks),
                (Membership::Only, only),
            ];
            let named = lists
                .into_iter()
                .filter_map(|(how, list)| Some((how, list.as_deref()?)));
            asks.extend(named.map(|(how, list)| Ask::List(how, list)));
        }
        for (fact, answer) in parts.yes_no {
            asks.extend(answer.map(|answer| Ask::YesNo(fact, answer == YesNo::Yes)));
        }
        if let Some(test) = parts.installed {
            asks.push(Ask::Installed(
                test.since.map(|d| d.0),
                test.before.map(|d| d.0),
            ));
        }
        for (quantity, test) in parts.numbers {
            for (comparison, name) in test.iter().flat_map(NumberTest::comparisons) {
                if let Some(value) = self.named(name) {
                    asks.push(Ask::Number(quantity, comparison, value));
                }
            }
        }
        asks
    }

    fn named(&mut self, name: &str) -> Option<usize> {
        let found = self.set.values.keys().position(|known| known == name);
        if found.is_none() {
            let names: Vec<&str> = self.set.values.keys().map(String::as_str).collect();
            self.problems.push(Problem::new(
                &self.set.id,
                "",
                no_such("value", name, &names),
            ));
        }
        found
    }

    fn limit(&mut self, limit: &'a super::file::Limit) -> CompiledLimit<'a> {
        let named = [
            (Comparison::Over, &limit.over),
            (Comparison::AtLeast, &limit.at_least),
            (Comparison::Below, &limit.below),
            (Comparison::AtMost, &limit.at_most),
        ];
        let mut bounds = Vec::new();
        for (comparison, values) in named {
            for name in values.iter().flat_map(TextOr::texts) {
                bounds.extend(self.named(name).map(|value| (comparison, value)));
            }
        }
        let when = limit
            .when
            .as_ref()
            .map(|test| self.test(test))
            .unwrap_or_default();
        let from = limit.from.map_or(Facts::ALWAYS, |day| day.0);
        let until = limit.until.map_or(LAST, |day| day.0);
        CompiledLimit {
            limit,
            from,
            until,
            when,
            bounds,
        }
    }

    fn value(&mut self, name: &'a str, series: &'a Series) -> CompiledValue<'a> {
        let rows = self.rows(name, series.unit, &series.rows);
        let mut layers = Vec::new();
        for overlay in &self.set.layers {
            if let Some(over) = overlay.values.get(name) {
                let place = overlay
                    .place
                    .as_ref()
                    .map(|test| self.test(test))
                    .unwrap_or_default();
                let rows = self.rows(name, series.unit, &over.rows);
                layers.push(LayerRows {
                    overlay,
                    place,
                    rows,
                });
            }
        }
        // The highest layer is asked first; of two in one layer the later one in the list.
        layers.reverse();
        layers.sort_by_key(|layer: &LayerRows| std::cmp::Reverse::<Layer>(layer.overlay.layer));
        let in_layers = layers.iter().flat_map(|layer| &layer.rows);
        let banded = rows
            .iter()
            .chain(in_layers)
            .any(|row| row.row.bands.is_some());
        CompiledValue {
            name,
            unit: series.unit,
            rows,
            layers,
            banded,
        }
    }

    fn rows(&mut self, name: &str, unit: Unit, rows: &'a [Row]) -> Vec<CompiledRow<'a>> {
        let mut read = Vec::new();
        for row in rows {
            match Number::read(&row.is, unit) {
                Ok(number) => {
                    let scale = steps_of(unit).map_or(1, i128::from);
                    let plain = number.plain().map_or(Fraction::new(0, 1), |n| n.fraction());
                    let limit = Fraction::new(plain.numerator() * scale, plain.denominator());
                    read.push(CompiledRow { row, number, limit });
                }
                Err(wrong) => {
                    let place = format!("values.{name}");
                    self.problems.push(Problem::new(&self.set.id, place, wrong));
                }
            }
        }
        read.sort_by_key(|row| row.row.from);
        read
    }
}
