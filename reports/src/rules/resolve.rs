//! From names to places: the parts of a rule set made ready, with everything that has no place.

use super::compiled::{
    Ask, Block, CompiledLimit, CompiledRow, CompiledValue, LAST, LayerRows, Membership, Quantity,
};
use super::conditions::{Band, Covers, Exempt, ListTest, NumberTest, Test, WordTest};
use super::facts::Fact;
use super::file::{Row, RuleSet, Series};
use super::number::{Comparison, Number, steps_of};
use super::problem::{Problem, no_such};
use super::text::TextOr;
use super::words::{Layer, Unit, YesNo};
use crate::appliance::Facts;
use crate::number::Fraction;

/// Resolves the parts of one set.
pub(super) struct Maker<'a> {
    pub set: &'a RuleSet,
    pub problems: Vec<Problem>,
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
    pub(super) fn test(&mut self, test: &'a Test) -> Vec<Ask<'a>> {
        self.asks(parts!(test))
    }

    pub(super) fn band(&mut self, band: &'a Band) -> Vec<Ask<'a>> {
        self.asks(parts!(band))
    }

    pub(super) fn covers(&mut self, block: &'a Covers) -> Block<'a> {
        let from = block.from.map_or(Facts::ALWAYS, |day| day.0);
        let until = block.until.map_or(LAST, |day| day.0);
        Block {
            from,
            until,
            asks: self.asks(parts!(block)),
        }
    }

    pub(super) fn exempt(&mut self, block: &'a Exempt) -> Block<'a> {
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

    /// The place of a value by name.
    pub(super) fn named(&mut self, name: &str) -> Option<usize> {
        let names: Vec<&str> = self.set.values.keys().map(String::as_str).collect();
        self.place("value", name, &names)
    }

    /// The place of a limit by name.
    pub(super) fn limit_named(&mut self, name: &str) -> Option<usize> {
        let names: Vec<&str> = (self.set.limits.iter())
            .map(|it| it.name.as_str())
            .collect();
        self.place("limit", name, &names)
    }

    /// The place of a duty by name, where one is named.
    pub(super) fn duty_named(&mut self, name: Option<&str>) -> Option<usize> {
        let names: Vec<&str> = (self.set.duties.iter())
            .map(|it| it.name.as_str())
            .collect();
        self.place("duty", name?, &names)
    }

    fn place(&mut self, what: &str, name: &str, names: &[&str]) -> Option<usize> {
        let found = names.iter().position(|known| *known == name);
        if found.is_none() {
            let message = no_such(what, name, names);
            self.problems.push(Problem::new(&self.set.id, "", message));
        }
        found
    }

    /// A test where there is one; without one nothing is asked.
    pub(super) fn optional_test(&mut self, test: &'a Option<Test>) -> Vec<Ask<'a>> {
        test.as_ref()
            .map(|test| self.test(test))
            .unwrap_or_default()
    }

    pub(super) fn limit(&mut self, limit: &'a super::file::Limit) -> CompiledLimit<'a> {
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

    pub(super) fn value(&mut self, name: &'a str, series: &'a Series) -> CompiledValue<'a> {
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
