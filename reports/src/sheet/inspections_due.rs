//! Report `inspections-due`: every inspection that is owed, and when.
//!
//! One row is one duty that an inspection fulfils (of the unit, of its leak detector, of a
//! container), whatever the rule set calls it, and that is owed on the last day looked at: due on a
//! day to come, overdue, waiting, paused, or beyond judging. What a recorded fact makes unnecessary
//! (as an automatic detector does) has no row. Rows stand by appliance and rule set.

use super::table::Table;
use super::{ApplianceInput, Assessed, Cells, Column, Options, Sheet, Summary, columns};
use crate::day::Day;
use crate::mass::Unit;
use crate::standing::{DutyShown, Inspects, duties_since};
use std::io::{self, Write};

/// The columns, in their order.
pub fn header(unit: Unit) -> Vec<Column> {
    use Cells::{Count, Day, Text, YesNo};
    #[rustfmt::skip]
    let table = [
        ("appliance", "Appliance", Text, "Tag of the appliance (one refrigerant circuit)."),
        ("site", "Site", Text, "Tag of its site on the last day looked at."),
        ("category", "Category", Text, "Category in force on the last day looked at."),
        ("set", "Rule set", Text, "Id of the rule set that asks for the inspection."),
        ("version", "Version", Text, "Version of the rule set, where it names one."),
        ("inspection", "Inspection", Text, "Name of the duty in the rule set."),
        ("means", "What is owed", Text, "The duty in words."),
        ("of", "Of", Text, "unit, detector or container."),
        ("type", "Type", Text, "The type of inspection that counts, where the rule names one."),
        ("certified", "Certified person", YesNo,
            "Whether only a certified person's inspection counts; empty: the rule does not say."),
        ("clause", "Clause", Text, "Where the rule asks for it."),
        ("confidence", "Confidence", Text,
            "unconfirmed where a clause or number was not read by whoever wrote the rule set."),
        ("since", "Since", Day, "The day since which it is owed."),
        ("last_on", "Last on", Day, "The last inspection that counted; empty: none yet."),
        ("not_before", "Not before", Text, "An inspection before this does not count."),
        ("due", "Due", Text, "The day; a moment where the rule counts hours; empty: no date."),
        ("days_left", "Days left", Count,
            "Days from the last day looked at to the due day; below 0: overdue by so many."),
        ("state", "State", Text,
            "overdue, open, no_date, waiting, paused or cannot_judge, on the last day looked at."),
        ("waiting_for", "Waiting for", Text, "What its clock waits for."),
        ("to_be_found", "To be found", Text, "Facts without which it cannot be judged."),
        ("rests_on", "Rests on", Count, "Number of entries that began it."),
        ("acts", "Acts", Count, "1 where an inspection counted already, else 0."),
        ("why", "Why", Text, "The reckoning as a sentence."),
    ];
    columns(unit, &table)
}

/// Writes the report.
pub struct InspectionsDue<'a, W: Write> {
    table: Table<'a, W>,
}

impl<'a, W: Write> InspectionsDue<'a, W> {
    /// Begins the report.
    pub fn new(
        out: W,
        evidence: Option<&'a mut dyn Write>,
        options: Options,
    ) -> io::Result<InspectionsDue<'a, W>> {
        let columns = header(options.unit);
        Ok(InspectionsDue {
            table: Table::new(out, evidence, options, &columns)?,
        })
    }

    fn write(
        &mut self,
        input: &ApplianceInput<'_>,
        duty: &DutyShown,
        inspects: &Inspects,
    ) -> io::Result<()> {
        let last = self.table.options.last_day();
        let csv = &mut self.table.csv;
        csv.text(input.tag);
        csv.text(input.site_tag);
        csv.text(input.facts.word("category", last).unwrap_or_default());
        csv.text(&duty.set);
        csv.text(duty.version.as_deref().unwrap_or_default());
        csv.text(&duty.duty);
        csv.text(&duty.means);
        csv.text(inspects.of.as_deref().unwrap_or("unit"));
        csv.text(inspects.kind.as_deref().unwrap_or_default());
        csv.text(inspects.certified.unwrap_or_default());
        csv.text(&duty.clause);
        csv.text(if duty.is_unconfirmed() {
            "unconfirmed"
        } else {
            ""
        });
        csv.when(&duty.since);
        csv.when(duty.last.as_ref().map_or("", |act| act.on.as_str()));
        csv.when(duty.not_before.as_deref().unwrap_or_default());
        csv.when(duty.due.as_deref().unwrap_or_default());
        match due_day(duty) {
            Some(due) => csv.count(i64::from(due.days_since(last))),
            None => csv.empty(),
        }
        csv.text(duty.state);
        csv.text(&duty.waiting.join(" "));
        csv.text(&duty.missing.join(" "));
        csv.count(duty.started_by.entries.len() as i64);
        csv.count(i64::from(duty.last.is_some()));
        csv.text(&duty.why);
        self.table.summary.unconfirmed += u64::from(duty.is_unconfirmed());
        self.table.summary.cannot_judge += u64::from(duty.state == "cannot_judge");
        self.table.end_row()?;
        self.table.prove(input.tag, |evidence, row| {
            for entry in &duty.started_by.entries {
                evidence.one(row, "rests_on", *entry)?;
            }
            match &duty.last {
                Some(act) => evidence.one(row, "acts", act.entry),
                None => Ok(()),
            }
        })
    }
}

impl<W: Write> Sheet for InspectionsDue<'_, W> {
    fn push(&mut self, input: &ApplianceInput<'_>, of: &Assessed<'_, '_>) -> io::Result<()> {
        self.table.next(input.tag)?;
        let last = self.table.options.last_day();
        let events = input.until(last);
        // What is over is left out, so the first day that matters is the one after.
        let from = last.plus(1);
        let duties = duties_since(
            of.prepared,
            input.facts,
            events,
            of.settings,
            (from, last),
            None,
        );
        for duty in duties.iter().filter(|duty| duty.is_owed) {
            if let Some(inspects) = &duty.inspects {
                self.write(input, duty, inspects)?;
            }
        }
        Ok(())
    }

    fn finish(self: Box<Self>) -> io::Result<Summary> {
        self.table.finish()
    }
}

/// The local day on which it is due; a moment begins with its day.
fn due_day(duty: &DutyShown) -> Option<Day> {
    Day::parse(duty.due.as_deref()?.get(..10)?)
}
