//! Report `follow-ups`: every step of every follow-up that was open in the year.
//!
//! A follow-up is what a limit, a leak or another event set going. One row is one duty of it, as
//! it stands on the last day looked at: what is still owed, and what was done, lifted or ended in
//! the year. What opened the follow-up stands in each of its rows, because whoever asks for more
//! time must name the day and the rate (40 CFR 82.157(f)(4)). Rows stand by appliance, rule set,
//! follow-up and the day the step began.

use super::table::Table;
use super::{ApplianceInput, Assessed, Cells, Column, Options, Sheet, Summary, columns};
use crate::mass::Unit;
use crate::standing::{DutyShown, OpenedShown, StartShown, duties_since};
use std::io::{self, Write};

/// The columns, in their order.
pub fn header(unit: Unit) -> Vec<Column> {
    use Cells::{Count, Day, Number, Text};
    #[rustfmt::skip]
    let table = [
        ("appliance", "Appliance", Text, "Tag of the appliance (one refrigerant circuit)."),
        ("site", "Site", Text, "Tag of its site on the last day looked at."),
        ("set", "Rule set", Text, "Id of the rule set that asks for the step."),
        ("version", "Version", Text, "Version of the rule set, where it names one."),
        ("follow_up", "Follow-up", Count,
            "Number of the follow-up among those of this appliance under this rule set."),
        ("opened_on", "Opened on", Day, "The day of what opened it."),
        ("opened_by", "Opened by", Text,
            "The limit that was passed, or the kind of start, and its name."),
        ("measured", "Measured", Number,
            "What passed the limit, cut after four decimals; empty where no limit opened it."),
        ("measured_in", "Measured in", Text, "percent (of the full charge, or a year) or kg."),
        ("step", "Step", Text, "Name of the duty in the rule set."),
        ("means", "What is owed", Text, "The duty in words."),
        ("clause", "Clause", Text, "Where the rule asks for it."),
        ("confidence", "Confidence", Text,
            "unconfirmed where a clause or number was not read by whoever wrote the rule set."),
        ("since", "Since", Day, "The day the step began."),
        ("started_by", "Started by", Text, "What began it."),
        ("due", "Due", Text,
            "The day, extensions and pauses included; a moment where the rule counts hours; empty \
             where there is no date."),
        ("not_before", "Not before", Text, "Work before this does not count."),
        ("state", "State", Text,
            "overdue, open, no_date, waiting, paused, cannot_judge, not_needed, done, done_late, \
             lifted, ended or lapsed, on the last day looked at."),
        ("over_on", "Over on", Day, "The day it was done, lifted, ended or lapsed."),
        ("late_on_discovery", "Late on discovery", Text,
            "yes where its day was over before the book knew of what began it."),
        ("paused_days", "Paused days", Count, "Days by which pauses moved the date."),
        ("extended", "Extensions taken", Count, "Extensions that were taken."),
        ("waiting_for", "Waiting for", Text, "What its clock waits for."),
        ("to_be_found", "To be found", Text, "Facts without which it cannot be judged."),
        ("rests_on", "Rests on", Count, "Number of entries that began it."),
        ("acts", "Acts", Count, "Number of entries that fulfilled or ended it, or fulfil it so far."),
        ("why", "Why", Text, "The reckoning as a sentence."),
    ];
    columns(unit, &table)
}

/// Writes the report.
pub struct FollowUps<'a, W: Write> {
    table: Table<'a, W>,
}

impl<'a, W: Write> FollowUps<'a, W> {
    /// Begins the report.
    pub fn new(
        out: W,
        evidence: Option<&'a mut dyn Write>,
        options: Options,
    ) -> io::Result<FollowUps<'a, W>> {
        let columns = header(options.unit);
        Ok(FollowUps {
            table: Table::new(out, evidence, options, &columns)?,
        })
    }

    fn write(
        &mut self,
        input: &ApplianceInput<'_>,
        case: usize,
        duty: &DutyShown,
    ) -> io::Result<()> {
        let csv = &mut self.table.csv;
        csv.text(input.tag);
        csv.text(input.site_tag);
        csv.text(&duty.set);
        csv.text(duty.version.as_deref().unwrap_or_default());
        csv.count(case as i64 + 1);
        write_opening(&mut self.table, duty.opened.as_ref());
        let csv = &mut self.table.csv;
        csv.text(&duty.duty);
        csv.text(&duty.means);
        csv.text(&duty.clause);
        csv.text(if duty.is_unconfirmed() {
            "unconfirmed"
        } else {
            ""
        });
        csv.when(&duty.since);
        csv.text(&started_by(&duty.started_by));
        csv.when(duty.due.as_deref().unwrap_or_default());
        csv.when(duty.not_before.as_deref().unwrap_or_default());
        csv.text(duty.state);
        csv.when(duty.on.as_deref().unwrap_or_default());
        csv.text(if duty.late_on_discovery { "yes" } else { "no" });
        csv.count(i64::from(duty.paused_days));
        csv.count(duty.extensions.iter().filter(|asked| asked.taken).count() as i64);
        csv.text(&duty.waiting.join(" "));
        csv.text(&duty.missing.join(" "));
        csv.count(duty.started_by.entries.len() as i64);
        csv.count(acts(duty).count() as i64);
        csv.text(&duty.why);
        self.table.summary.unconfirmed += u64::from(duty.is_unconfirmed());
        self.table.summary.cannot_judge += u64::from(duty.state == "cannot_judge");
        self.table.end_row()?;
        self.prove(input.tag, duty)
    }

    /// One line for each entry that began a step, did it, or extended it.
    fn prove(&mut self, tag: &str, duty: &DutyShown) -> io::Result<()> {
        self.table.prove(tag, |evidence, row| {
            for entry in &duty.started_by.entries {
                evidence.one(row, "rests_on", *entry)?;
            }
            for entry in acts(duty) {
                evidence.one(row, "acts", entry)?;
            }
            for asked in duty.extensions.iter().filter(|asked| asked.taken) {
                evidence.one(row, "extended", asked.entry)?;
            }
            Ok(())
        })
    }
}

impl<W: Write> Sheet for FollowUps<'_, W> {
    fn push(&mut self, input: &ApplianceInput<'_>, of: &Assessed<'_, '_>) -> io::Result<()> {
        self.table.next(input.tag)?;
        let (first, last) = (
            self.table.options.first_day(),
            self.table.options.last_day(),
        );
        let events = input.until(last);
        let (days, known) = ((first, last), of.known_then);
        let duties = duties_since(of.prepared, input.facts, events, of.settings, days, known);
        let steps = duties.iter().filter_map(|duty| Some((duty.case?, duty)));
        for (case, duty) in steps {
            self.write(input, case, duty)?;
        }
        Ok(())
    }

    fn finish(self: Box<Self>) -> io::Result<Summary> {
        self.table.finish()
    }
}

/// What opened the follow-up: day, name, number.
fn write_opening<W: Write>(table: &mut Table<'_, W>, opened: Option<&OpenedShown>) {
    let csv = &mut table.csv;
    csv.when(opened.map_or("", |opened| opened.on.as_str()));
    csv.text(&opened.map_or(String::new(), |opened| started_by(&opened.by)));
    let measured = opened.and_then(|opened| opened.measured.as_ref());
    csv.number(measured.map_or("", |value| value.text.as_str()));
    csv.text(measured.map_or("", |value| value.unit));
}

/// The kind of a start, and the name of the limit or duty it rests on.
fn started_by(start: &StartShown) -> String {
    match start.limit.as_ref().or(start.duty.as_ref()) {
        Some(name) => format!("{} {name}", start.kind),
        None => start.kind.to_string(),
    }
}

/// The entry that fulfilled or ended it, else the last act of a cadence.
fn acts(duty: &DutyShown) -> impl Iterator<Item = u64> {
    let last = duty.last.as_ref().map(|act| act.entry);
    duty.by.or(last).into_iter()
}
