//! Reports as tables.
//!
//! A report is streamed: the caller pushes one appliance after another, in the order of their
//! tags. What limit applies to an appliance the sheets of leak rates ask of [`Limits`]; those of
//! duties and sums read what the rule sets say of it ([`Assessed`]). Every report has three files:
//! the table itself, its description ([`metadata`]) and its evidence, one line for each entry that
//! a figure came from. [`Report`] is the list of them all.

pub mod additions;
pub mod appliance_year;
pub mod csv_text;
mod dialect;
pub mod disposals;
mod elsewhere;
pub mod evidence;
pub mod follow_ups;
mod held;
pub mod inspections_due;
mod judged;
pub mod limits;
pub mod mass_balance;
pub mod metadata;
mod name;
pub mod releases;
mod table;
pub mod yearly_co2e;
pub mod yearly_loss;

pub use dialect::{Decimal, Dialect, Separator};
pub use elsewhere::Elsewhere;
pub use judged::Summary;
pub use limits::{ApplianceLimits, Limit, Limits, NoLimits};
pub use name::{About, Report};

use crate::appliance::{FactValue, Facts};
use crate::day::Day;
use crate::event::Event;
use crate::leak_rate::{Method, Netting};
use crate::mass::Unit;
use crate::refrigerant::Basis;
use crate::rules::PreparedAppliance;
use crate::rules::duties::KnownThen;
use crate::rules::review::SiteSettings;
use std::io;

/// What the caller of a report chooses.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// The calendar year, by local days.
    pub year: i16,
    /// Unit of every mass.
    pub unit: Unit,
    /// Replaces the netting of every rule set.
    pub netting: Option<Netting>,
    /// Replaces the method of the sites, for dates that depend on it.
    ///
    /// Where neither this nor the site names one, over by either method counts.
    pub method: Option<Method>,
    /// The last day looked at, where it lies before 31 December.
    pub cut: Option<Day>,
    /// The GWP basis of sums in CO2 equivalent that no rule set asks for.
    pub basis: Option<Basis>,
    /// For whom the file is written.
    pub dialect: Dialect,
}

impl Options {
    /// A year in pounds, everything else as the rule sets and sites say.
    pub fn of_year(year: i16) -> Options {
        Options {
            year,
            unit: Unit::Pound,
            netting: None,
            method: None,
            cut: None,
            basis: None,
            dialect: Dialect::Programs,
        }
    }

    /// 1 January.
    pub fn first_day(&self) -> Day {
        Day::from_ymd(self.year, 1, 1).unwrap_or(Facts::ALWAYS)
    }

    /// 31 December, or the day of the cut: the day everything is judged on.
    pub fn last_day(&self) -> Day {
        let last = Day::from_ymd(self.year, 12, 31).unwrap_or(Facts::ALWAYS);
        self.cut.map_or(last, |cut| cut.min(last))
    }
}

/// One appliance, as a report reads it.
#[derive(Clone, Copy, Debug)]
pub struct ApplianceInput<'a> {
    /// Its tag.
    pub tag: &'a str,
    /// Tag of the site it belongs to on the last day looked at; empty when it has none.
    pub site_tag: &'a str,
    /// Its dated facts.
    pub facts: &'a Facts,
    /// Its whole history up to the last day looked at, in the order of [`Event::sort`];
    /// corrections are applied. Later events are ignored.
    pub events: &'a [Event],
    /// The dated method of its site, ascending; none is known before the first.
    pub methods: &'a [(Day, Method)],
}

/// What the rule sets make of one appliance, for the sheets of duties and sums.
#[derive(Clone, Copy)]
pub struct Assessed<'a, 'j> {
    /// The appliance under every rule set.
    pub prepared: &'a PreparedAppliance<'j>,
    /// The dated settings of its site.
    pub settings: &'a SiteSettings,
    /// What the book knew and when, where anything came late and matters to the report.
    pub known_then: Option<KnownThen<'a>>,
}

/// A report of duties or sums, written appliance after appliance in the order of their tags.
pub trait Sheet {
    /// Takes in one appliance.
    fn push(&mut self, input: &ApplianceInput<'_>, of: &Assessed<'_, '_>) -> io::Result<()>;

    /// Ends the report.
    fn finish(self: Box<Self>) -> io::Result<Summary>;
}

/// The designation of each refrigerant code.
pub trait Designations {
    /// The designation of a code, as the refrigerant table spells it.
    ///
    /// # Panics
    /// When the table does not know the code: events carry codes of the table alone.
    fn designation(&self, code: u16) -> &str;
}

impl<T: AsRef<str>> Designations for [T] {
    fn designation(&self, code: u16) -> &str {
        self[usize::from(code)].as_ref()
    }
}

impl<T: AsRef<str>, const N: usize> Designations for [T; N] {
    fn designation(&self, code: u16) -> &str {
        self.as_slice().designation(code)
    }
}

impl<'a> ApplianceInput<'a> {
    /// The events up to a day.
    fn until(&self, last: Day) -> &'a [Event] {
        &self.events[..self.events.partition_point(|event| event.day <= last)]
    }

    /// The method of the site on a day.
    fn method(&self, day: Day) -> Option<Method> {
        let after = self.methods.partition_point(|(from, _)| *from <= day);
        after.checked_sub(1).map(|at| self.methods[at].1)
    }

    /// Whether the appliance is known to be there by a day: it has a refrigerant and is installed.
    fn is_registered(&self, last: Day) -> bool {
        let later = matches!(
            self.facts.on("installed", last),
            Some(FactValue::Day(installed)) if *installed > last
        );
        self.facts.word("refrigerant", last).is_some() && !later
    }
}

/// Refuses appliances that do not come in the order of their tags: rows are written at once.
fn check_order(last_tag: &mut Option<String>, tag: &str) -> io::Result<()> {
    if last_tag.as_deref().is_some_and(|last| last >= tag) {
        let last = last_tag.as_deref().unwrap_or_default();
        let told = format!(
            "appliances must come in the order of their tags, each once; {tag} came after {last}"
        );
        return Err(io::Error::new(io::ErrorKind::InvalidInput, told));
    }
    let last = last_tag.get_or_insert_with(String::new);
    last.clear();
    last.push_str(tag);
    Ok(())
}

/// A column of a report.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Column {
    /// Name in the header row, with the unit in it.
    pub name: String,
    /// Name in words.
    pub title: &'static str,
    /// What its cells are.
    pub cells: Cells,
    /// What it says, and how it was worked out.
    pub description: &'static str,
}

/// What the cells of a column are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cells {
    /// Text.
    Text,
    /// A mass in this unit.
    Mass(Unit),
    /// A percent with four decimals.
    Percent,
    /// A whole number.
    Count,
    /// A date.
    Day,
    /// `yes` or `no`.
    YesNo,
    /// A decimal number.
    Number,
    /// Tonnes of CO2 equivalent, exact.
    Tonnes,
    /// A calendar month, `YYYY-MM`.
    Month,
}

/// Columns from a table of name (`{u}` stands for the unit), title, cells, description.
fn columns(unit: Unit, table: &[(&str, &'static str, Cells, &'static str)]) -> Vec<Column> {
    let column =
        |(name, title, cells, description): &(&str, &'static str, Cells, &'static str)| Column {
            name: name.replace("{u}", unit.word()),
            title,
            cells: *cells,
            description,
        };
    table.iter().map(column).collect()
}
