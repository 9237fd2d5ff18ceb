//! Three-valued questions about one appliance on one day: covered, band, the number in force.
//!
//! One *no* decides a block; else one *unknown* makes it unknown; of several blocks one *yes*
//! decides. What was unknown is carried along, so that the answer can say what to find.

use super::compiled::{Ask, Block, CompiledRow, CompiledSet, LayerRows, Membership, Quantity};
use super::facts::{Fact, FactSet, Subject, holds};
use super::file::Overlay;
use super::number::{Comparison, compare_ratio};
use super::tables::Tables;
use crate::appliance::FactValue;
use crate::day::Day;

/// Yes, no, or unknown for want of these facts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Answer {
    Yes,
    No,
    Unknown(FactSet),
}

/// Which band an appliance is in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum BandOn<'a> {
    /// It is not asked yet: covers, exemptions and bands themselves.
    NotYet,
    /// The first that fits; `None`: none does.
    Known(Option<&'a str>),
    Unknown(FactSet),
}

/// Whether a set applies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Applies {
    /// By this covers block.
    Yes(usize),
    No,
    CannotJudge(FactSet),
}

/// The number in force.
pub(super) enum ValueOn<'a> {
    /// This row, of the set itself.
    Row(&'a CompiledRow<'a>),
    /// This row of a layer, and the one of the set itself that it lies over.
    Laid(
        &'a CompiledRow<'a>,
        &'a Overlay,
        Option<&'a CompiledRow<'a>>,
    ),
    NoRow,
    Unknown(FactSet),
}

/// One appliance, one set, one day.
#[derive(Clone, Copy)]
pub(super) struct Asking<'s, 'a> {
    pub set: &'a CompiledSet<'a>,
    pub subject: &'s Subject<'s>,
    pub tables: &'s Tables<'s>,
    pub day: Day,
    pub band: BandOn<'a>,
    /// What events of the case said of `process_shutdown`, `evacuated`, `ghg_reporter`.
    pub told: [Option<bool>; 3],
}

impl<'s, 'a> Asking<'s, 'a> {
    pub(super) fn new(
        set: &'a CompiledSet<'a>,
        subject: &'s Subject<'s>,
        tables: &'s Tables<'s>,
        day: Day,
    ) -> Asking<'s, 'a> {
        Asking {
            set,
            subject,
            tables,
            day,
            band: BandOn::NotYet,
            told: [None; 3],
        }
    }

    /// Whether the set applies on the day.
    pub(super) fn applies(&self) -> Applies {
        let covered = self.blocks(&self.set.covers);
        if covered == Applies::No {
            return Applies::No;
        }
        // An exemption must be shown: unknown does not exempt.
        match self.blocks(&self.set.exempt) {
            Applies::Yes(_) => Applies::No,
            _ => covered,
        }
    }

    fn blocks(&self, blocks: &[Block<'a>]) -> Applies {
        let mut unknown = FactSet::NONE;
        for (at, block) in blocks.iter().enumerate() {
            if self.day < block.from || self.day > block.until {
                continue;
            }
            match self.all(&block.asks) {
                Answer::Yes => return Applies::Yes(at),
                Answer::No => {}
                Answer::Unknown(facts) => unknown = unknown.and(facts),
            }
        }
        if unknown.is_empty() {
            Applies::No
        } else {
            Applies::CannotJudge(unknown)
        }
    }

    /// The first band that fits. An unknown one before it decides only when it has another name.
    pub(super) fn band(&self) -> BandOn<'a> {
        let mut unknown = FactSet::NONE;
        let mut unknown_name = None;
        for (name, asks) in &self.set.bands {
            match self.all(asks) {
                Answer::No => {}
                Answer::Yes if unknown_name.is_none_or(|other| other == Some(*name)) => {
                    return BandOn::Known(Some(name));
                }
                Answer::Yes => return BandOn::Unknown(unknown),
                Answer::Unknown(facts) => {
                    unknown = unknown.and(facts);
                    unknown_name = match unknown_name {
                        None => Some(Some(*name)),
                        Some(Some(other)) if other == *name => Some(Some(*name)),
                        _ => Some(None),
                    };
                }
            }
        }
        if unknown.is_empty() {
            BandOn::Known(None)
        } else {
            BandOn::Unknown(unknown)
        }
    }

    /// Whether all lines of a test hold.
    pub(super) fn all(&self, asks: &[Ask<'a>]) -> Answer {
        let mut unknown = FactSet::NONE;
        for ask in asks {
            match self.one(ask) {
                Answer::Yes => {}
                Answer::No => return Answer::No,
                Answer::Unknown(facts) => unknown = unknown.and(facts),
            }
        }
        if unknown.is_empty() {
            Answer::Yes
        } else {
            Answer::Unknown(unknown)
        }
    }

    fn one(&self, ask: &Ask<'a>) -> Answer {
        match ask {
            Ask::Word(fact, is, is_not) => {
                let Some(word) = self.subject.word(*fact, self.day) else {
                    return Answer::Unknown(FactSet::of(*fact));
                };
                let same = |named: &String| match fact {
                    Fact::Region => holds(named, word),
                    _ => named == word,
                };
                yes(is.is_none_or(|list| list.iter().any(same))
                    && !is_not.is_some_and(|list| list.iter().any(same)))
            }
            Ask::Band(is, is_not) => match self.band {
                BandOn::Known(band) => {
                    let named = |list: &[String]| list.iter().any(|n| Some(n.as_str()) == band);
                    yes(is.is_none_or(named) && !is_not.is_some_and(named))
                }
                BandOn::Unknown(facts) => Answer::Unknown(facts),
                BandOn::NotYet => Answer::No,
            },
            Ask::List(how, list) => self.list(*how, list),
            Ask::YesNo(fact, wanted) => match self.yes_no(*fact) {
                Some(found) => yes(found == *wanted),
                None => Answer::Unknown(FactSet::of(*fact)),
            },
            Ask::Installed(since, before) => match self.subject.installed(self.day) {
                Some(day) => yes(since.is_none_or(|s| day >= s) && before.is_none_or(|b| day < b)),
                None => Answer::Unknown(FactSet::of(Fact::Installed)),
            },
            Ask::Number(quantity, comparison, value) => self.number(*quantity, *comparison, *value),
        }
    }

    fn yes_no(&self, fact: Fact) -> Option<bool> {
        let told = match fact {
            Fact::ProcessShutdown => self.told[0],
            Fact::Evacuated => self.told[1],
            Fact::GhgReporter => self.told[2],
            _ => None,
        };
        told.or(match self.subject.word(fact, self.day) {
            Some("yes") => Some(true),
            Some("no") => Some(false),
            _ => None,
        })
    }

    fn refrigerant(&self) -> Option<&'s str> {
        self.subject
            .word(Fact::Refrigerant, self.day)
            .filter(|name| self.tables.knows(name))
    }

    fn list(&self, how: Membership, list: &str) -> Answer {
        let Some(refrigerant) = self.refrigerant() else {
            return Answer::Unknown(FactSet::of(Fact::Refrigerant));
        };
        let answer = match how {
            Membership::Contains => self.tables.contains(list, refrigerant, self.day),
            Membership::Lacks => self
                .tables
                .contains(list, refrigerant, self.day)
                .map(|c| !c),
            Membership::Only => self.tables.only(list, refrigerant, self.day),
        };
        answer.map_or(Answer::Unknown(FactSet::of(Fact::Refrigerant)), yes)
    }

    fn number(&self, quantity: Quantity, comparison: Comparison, value: usize) -> Answer {
        let (numerator, denominator) = match self.quantity(quantity) {
            Ok(ratio) => ratio,
            Err(missing) => return Answer::Unknown(missing),
        };
        match self.value(value) {
            ValueOn::Row(row) | ValueOn::Laid(row, ..) => {
                yes(comparison.holds(compare_ratio(numerator, denominator, row.limit)))
            }
            // Without a row there is nothing to be passed; `check` has refused such a set.
            ValueOn::NoRow => Answer::No,
            ValueOn::Unknown(facts) => Answer::Unknown(facts),
        }
    }

    /// A quantity as a ratio, in the unit its values are compared in.
    fn quantity(&self, quantity: Quantity) -> Result<(i128, i128), FactSet> {
        match quantity {
            Quantity::FullCharge => self.full_charge().map(|steps| (steps, 1)),
            Quantity::MotorKw => match self.subject.on(Fact::MotorKw, self.day) {
                Some(FactValue::Number(number)) => Ok((
                    number.fraction().numerator(),
                    number.fraction().denominator(),
                )),
                _ => Err(FactSet::of(Fact::MotorKw)),
            },
            Quantity::Gwp => self.gwp(),
            Quantity::Co2e => {
                // Both are asked, so that both stand in `missing`.
                let (steps, gwp) = match (self.full_charge(), self.gwp()) {
                    (Ok(steps), Ok(gwp)) => (steps, gwp),
                    (Err(one), Err(other)) => return Err(one.and(other)),
                    (Err(missing), _) | (_, Err(missing)) => return Err(missing),
                };
                // A tonne is 10¹⁷ steps of 10⁻¹¹ g.
                Ok((steps * gwp.0, 100_000_000_000_000_000 * gwp.1))
            }
        }
    }

    fn full_charge(&self) -> Result<i128, FactSet> {
        let steps = self.subject.full_charge(self.day).map(i128::from);
        steps.ok_or(FactSet::of(Fact::FullCharge))
    }

    pub(super) fn gwp(&self) -> Result<(i128, i128), FactSet> {
        let refrigerant = self.refrigerant().ok_or(FactSet::of(Fact::Refrigerant))?;
        let basis = self.set.set.gwp_basis.ok_or(FactSet::of(Fact::Gwp))?;
        let gwp = self
            .tables
            .gwp(basis, refrigerant)
            .ok_or(FactSet::of(Fact::Gwp))?;
        Ok((gwp.fraction().numerator(), gwp.fraction().denominator()))
    }

    /// The row in force: of the highest layer that acts here, else of the set itself.
    pub(super) fn value(&self, at: usize) -> ValueOn<'a> {
        let value = &self.set.values[at];
        let band = match (value.banded, self.band) {
            (false, _) => None,
            (true, BandOn::Known(band)) => band,
            (true, BandOn::Unknown(facts)) => return ValueOn::Unknown(facts),
            (true, BandOn::NotYet) => return ValueOn::NoRow,
        };
        let lies = |layer: &&LayerRows| {
            let days = layer.overlay.days;
            days.is_none_or(|(first, last)| first <= self.day && self.day <= last)
        };
        for layer in value.layers.iter().filter(lies) {
            let Some(row) = row_on(&layer.rows, band, self.day) else {
                continue;
            };
            match self.all(&layer.place) {
                Answer::Yes => {
                    let own = row_on(&value.rows, band, self.day);
                    return ValueOn::Laid(row, layer.overlay, own);
                }
                Answer::No => {}
                Answer::Unknown(facts) => return ValueOn::Unknown(facts),
            }
        }
        row_on(&value.rows, band, self.day).map_or(ValueOn::NoRow, ValueOn::Row)
    }
}

/// The newest row for a band on a day; a row that ends the series is none.
fn row_on<'r, 'a>(
    rows: &'r [CompiledRow<'a>],
    band: Option<&str>,
    day: Day,
) -> Option<&'r CompiledRow<'a>> {
    let begun = rows.partition_point(|row| row.row.from.0 <= day);
    let is_for = |row: &&CompiledRow| match (&row.row.bands, band) {
        (None, _) => true,
        (Some(bands), Some(band)) => bands.iter().any(|name| name == band),
        (Some(_), None) => false,
    };
    rows[..begun]
        .iter()
        .rev()
        .find(is_for)
        .filter(|row| row.row.is != "none")
}

fn yes(holds: bool) -> Answer {
    if holds { Answer::Yes } else { Answer::No }
}
