//! The evidence of a report: one line for each entry that a figure came from.
//!
//! The contributions of a figure add up to it (in pounds and ounces to the 14 decimals printed, in
//! metric units exactly). A rate has its mass for a figure: percent = 100 x mass / full charge, for
//! the annualising method x 365 / days. Lines name the row of the report, the first after the
//! header being row 1, because two visits of one day have the same tag and date.

use super::Options;
use super::csv_text::CsvText;
use crate::day::Day;
use crate::event::Event;
use crate::leak_rate::{Contribution, Reader};
use crate::mass::Unit;
use std::collections::HashMap;
use std::io::{self, Write};

/// The columns of every evidence file.
pub const HEADER: [&str; 5] = ["row", "appliance", "figure", "entry", "contribution"];

/// The row that a figure stands in.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row<'a> {
    pub(super) number: u64,
    pub(super) appliance: &'a str,
}

/// Writes the evidence beside a report.
pub(super) struct Evidence<'w> {
    csv: CsvText<&'w mut dyn Write>,
    unit: Unit,
    figure: String,
}

impl<'w> Evidence<'w> {
    pub(super) fn new(out: &'w mut dyn Write, options: &Options) -> io::Result<Evidence<'w>> {
        Ok(Evidence {
            csv: CsvText::new(out, options.dialect, HEADER)?,
            unit: options.unit,
            figure: String::new(),
        })
    }

    /// A mass that an entry gave to a figure; `figure` is the column's name before its unit.
    pub(super) fn mass(
        &mut self,
        row: Row<'_>,
        figure: &str,
        entry: u64,
        steps: i128,
    ) -> io::Result<()> {
        self.figure.clear();
        self.figure.push_str(figure);
        self.figure.push('_');
        self.figure.push_str(self.unit.word());
        self.csv.count(row.number as i64);
        self.csv.text(row.appliance);
        self.csv.text(&self.figure);
        self.csv.count(entry as i64);
        self.csv.mass(steps, self.unit);
        self.csv.end_row()
    }

    /// An entry that counts one in a figure.
    pub(super) fn one(&mut self, row: Row<'_>, figure: &str, entry: u64) -> io::Result<()> {
        self.csv.count(row.number as i64);
        self.csv.text(row.appliance);
        self.csv.text(figure);
        self.csv.count(entry as i64);
        self.csv.count(1);
        self.csv.end_row()
    }

    /// A number in a unit of its own that an entry gave to a figure.
    pub(super) fn number(
        &mut self,
        row: Row<'_>,
        figure: &str,
        entry: u64,
        number: &str,
    ) -> io::Result<()> {
        self.csv.count(row.number as i64);
        self.csv.text(row.appliance);
        self.csv.text(figure);
        self.csv.count(entry as i64);
        self.csv.number(number);
        self.csv.end_row()
    }

    /// What the entries of some steps gave.
    pub(super) fn steps(
        &mut self,
        row: Row<'_>,
        figure: &str,
        trail: &Trail<'_>,
        steps: impl Iterator<Item = u32>,
    ) -> io::Result<()> {
        for step in steps {
            for given in trail.of_step(step) {
                let entry = trail.events[given.event as usize].entry;
                self.mass(row, figure, entry, given.mass)?;
            }
        }
        Ok(())
    }

    pub(super) fn finish(&mut self) -> io::Result<()> {
        self.csv.flush()
    }
}

/// Where the figures of one addition came from.
pub(super) struct Trail<'a> {
    pub(super) reader: &'a Reader,
    pub(super) events: &'a [Event],
    /// The step whose figures stand.
    pub(super) index: u32,
}

impl Trail<'_> {
    /// Steps of the addition from a day on.
    pub(super) fn added(&self, first_day: Day) -> impl Iterator<Item = u32> {
        let day = |index: &u32| self.reader.additions()[*index as usize].day;
        self.annualised()
            .filter(move |index| day(index) >= first_day)
    }

    /// Steps that the rolling sum counts; of a visit that the window cuts, those since its least
    /// figure.
    pub(super) fn rolling(&self) -> impl Iterator<Item = u32> {
        self.reader.rolling_steps(self.index).into_iter()
    }

    /// Steps of the visit, day or leak event that the annualising method takes as one.
    pub(super) fn annualised(&self) -> impl Iterator<Item = u32> {
        let additions = self.reader.additions();
        let event = additions[self.index as usize].event;
        // A visit may have moved to another leak event: where its newest step belongs, it belongs.
        let so_far = &additions[..=self.index as usize];
        let newest: HashMap<u32, u32> =
            so_far.iter().map(|step| (step.group, step.event)).collect();
        let own = move |index: &u32| newest[&additions[*index as usize].group] == event;
        (0..=self.index).filter(own)
    }

    fn of_step(&self, step: u32) -> &[Contribution] {
        let all = self.reader.contributions();
        let from = all.partition_point(|given| given.step < step);
        let until = all.partition_point(|given| given.step <= step);
        &all[from..until]
    }
}
