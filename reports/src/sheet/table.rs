//! What the sheets of duties and sums share: the file, its evidence, the order of the tags.

use super::csv_text::CsvText;
use super::evidence::{Evidence, Row};
use super::{Column, Options, Summary, check_order};
use std::io::{self, Write};

/// A report that is being written.
pub(super) struct Table<'a, W: Write> {
    pub(super) csv: CsvText<W>,
    pub(super) evidence: Option<Evidence<'a>>,
    pub(super) options: Options,
    pub(super) summary: Summary,
    last_tag: Option<String>,
}

impl<'a, W: Write> Table<'a, W> {
    pub(super) fn new(
        out: W,
        evidence: Option<&'a mut dyn Write>,
        options: Options,
        columns: &[Column],
    ) -> io::Result<Table<'a, W>> {
        Ok(Table {
            csv: CsvText::new(
                out,
                options.dialect,
                columns.iter().map(|column| column.name.as_str()),
            )?,
            evidence: evidence
                .map(|out| Evidence::new(out, &options))
                .transpose()?,
            options,
            summary: Summary::default(),
            last_tag: None,
        })
    }

    /// Refuses appliances that do not come in the order of their tags.
    pub(super) fn next(&mut self, tag: &str) -> io::Result<()> {
        check_order(&mut self.last_tag, tag)
    }

    /// Ends the row that was written.
    pub(super) fn end_row(&mut self) -> io::Result<()> {
        self.summary.rows += 1;
        self.csv.end_row()
    }

    /// Writes evidence of the row that was ended last, where evidence is asked for.
    pub(super) fn prove(
        &mut self,
        appliance: &str,
        with: impl FnOnce(&mut Evidence<'a>, Row<'_>) -> io::Result<()>,
    ) -> io::Result<()> {
        let number = self.summary.rows;
        self.prove_of(Row { number, appliance }, with)
    }

    /// Writes evidence of a row that was ended before, where evidence is asked for.
    pub(super) fn prove_row(
        &mut self,
        number: u64,
        with: impl FnOnce(&mut Evidence<'a>, Row<'_>) -> io::Result<()>,
    ) -> io::Result<()> {
        let appliance = "";
        self.prove_of(Row { number, appliance }, with)
    }

    fn prove_of(
        &mut self,
        row: Row<'_>,
        with: impl FnOnce(&mut Evidence<'a>, Row<'_>) -> io::Result<()>,
    ) -> io::Result<()> {
        match &mut self.evidence {
            Some(evidence) => with(evidence, row),
            None => Ok(()),
        }
    }

    /// A day, or nothing.
    pub(super) fn day_or_empty(&mut self, day: Option<crate::day::Day>) {
        match day {
            Some(day) => self.csv.day(day),
            None => self.csv.empty(),
        }
    }

    /// A mass in the unit of the report, or nothing: what is not known is never 0.
    pub(super) fn mass_or_empty(&mut self, steps: Option<i128>) {
        match steps {
            Some(steps) => self.csv.mass(steps, self.options.unit),
            None => self.csv.empty(),
        }
    }

    /// `yes`, `no`, or nothing where nobody can say.
    pub(super) fn yes_or_no(&mut self, answer: Option<bool>) {
        match answer {
            Some(true) => self.csv.text("yes"),
            Some(false) => self.csv.text("no"),
            None => self.csv.empty(),
        }
    }

    pub(super) fn finish(mut self) -> io::Result<Summary> {
        self.csv.flush()?;
        if let Some(mut evidence) = self.evidence {
            evidence.finish()?;
        }
        Ok(self.summary)
    }
}
