//! Report `additions`: every addition of a calendar year with both leak rates.
//!
//! One row per addition, by appliance and date. A visit of several steps is one row: its figures
//! are those of its last step, its date is that of its first step over the limit, else the last.

use super::csv_text::CsvText;
use super::evidence::{Evidence, Row, Trail};
use super::judged::{Judge, Summary, YearAddition};
use super::{ApplianceInput, Cells, Column, Limits, Options, check_order, columns};
use crate::event::Event;
use crate::mass::Unit;
use std::io::{self, Write};

/// The columns, in their order.
pub fn header(unit: Unit) -> Vec<Column> {
    use Cells::{Count, Day, Mass, Percent, Text, YesNo};
    #[rustfmt::skip]
    let table = [
        ("appliance", "Appliance", Text, "Tag of the appliance (one refrigerant circuit)."),
        ("on", "Date", Day,
            "Local date at the site: of the first step over the limit, else of the last step."),
        ("added_{u}", "Added", Mass(unit),
            "What the visit, or the day without one, put in and did not take out again."),
        ("days", "Days", Count,
            "Days since the previous addition, else as the rule says; at most 365."),
        ("rolling_{u}", "Rolling sum", Mass(unit),
            "Additions dated in the 365 days that end with this date, or since the last follow-up \
             verification test that showed all identified leaks repaired."),
        ("rolling_percent", "Rolling rate", Percent,
            "Rolling sum / full charge of that day; empty when the full charge is unknown."),
        ("annualised_percent", "Annualised rate", Percent,
            "Added (by the whole leak event) / full charge of that day x 365 / days."),
        ("rolling_over", "Over by rolling average", YesNo,
            "Whether that is over the limit of a rule that applies; empty when nobody can say."),
        ("annualised_over", "Over by annualising", YesNo,
            "Whether that is over the limit of a rule that applies; empty when nobody can say."),
    ];
    columns(unit, &table)
}

/// Writes the report.
pub struct Additions<'a, W: Write, L: Limits> {
    csv: CsvText<W>,
    evidence: Option<Evidence<'a>>,
    judge: Judge<'a, L>,
    options: Options,
    last_tag: Option<String>,
}

impl<'a, W: Write, L: Limits> Additions<'a, W, L> {
    /// Begins the report.
    pub fn new(
        out: W,
        evidence: Option<&'a mut dyn Write>,
        options: Options,
        limits: &'a L,
    ) -> io::Result<Additions<'a, W, L>> {
        let columns = header(options.unit);
        let traces = evidence.is_some();
        Ok(Additions {
            csv: CsvText::new(
                out,
                options.dialect,
                columns.iter().map(|column| column.name.as_str()),
            )?,
            evidence: evidence
                .map(|out| Evidence::new(out, &options))
                .transpose()?,
            judge: Judge::new(limits, options, traces),
            options,
            last_tag: None,
        })
    }

    /// Writes the rows of one appliance. Appliances come in the order of their tags.
    pub fn push(&mut self, input: &ApplianceInput<'_>) -> io::Result<()> {
        check_order(&mut self.last_tag, input.tag)?;
        let events = input.until(self.options.last_day());
        self.judge.read(input, events);
        for addition in self.judge.additions() {
            write_row(&mut self.csv, self.options.unit, input.tag, addition)?;
        }
        let rows = self.judge.summary.rows;
        self.judge.summary.rows += self.judge.additions().len() as u64;
        self.write_evidence(input.tag, events, rows)
    }

    /// Ends the report.
    pub fn finish(mut self) -> io::Result<Summary> {
        self.csv.flush()?;
        if let Some(mut evidence) = self.evidence {
            evidence.finish()?;
        }
        Ok(self.judge.summary)
    }

    /// One line for each entry behind the figures of the rows after row number `rows`.
    fn write_evidence(&mut self, tag: &str, events: &[Event], rows: u64) -> io::Result<()> {
        let Some(evidence) = &mut self.evidence else {
            return Ok(());
        };
        let first_day = self.options.first_day();
        for (number, addition) in (rows + 1..).zip(self.judge.additions()) {
            let row = Row {
                number,
                appliance: tag,
            };
            let trail = Trail {
                reader: self.judge.reader(addition),
                events,
                index: addition.index,
            };
            evidence.steps(row, "added", &trail, trail.added(first_day))?;
            evidence.steps(row, "rolling", &trail, trail.rolling())?;
            evidence.steps(row, "annualised", &trail, trail.annualised())?;
        }
        Ok(())
    }
}

fn write_row<W: Write>(
    csv: &mut CsvText<W>,
    unit: Unit,
    tag: &str,
    addition: &YearAddition,
) -> io::Result<()> {
    let step = &addition.step;
    csv.text(tag);
    csv.day(addition.on);
    csv.mass(addition.added, unit);
    csv.count(i64::from(step.days));
    csv.mass(step.rolling_mass, unit);
    for rate in [step.rolling_rate(), step.annualised_rate()] {
        match rate {
            Some(rate) => csv.percent(rate),
            None => csv.empty(),
        }
    }
    for over in [addition.rolling_over, addition.annualised_over] {
        match over {
            Some(true) => csv.text("yes"),
            Some(false) => csv.text("no"),
            None => csv.empty(),
        }
    }
    csv.end_row()
}
