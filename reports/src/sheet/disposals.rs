//! Report `disposals-by-month`: the log of appliances that were emptied for good.
//!
//! 40 CFR 82.156(a)(3) asks of whoever disposes of appliances with more than 5 and less than 50 lb:
//! company, place, date and refrigerant of each; the total recovered in each calendar month by
//! refrigerant; what was sent for reclamation or destruction, to whom and when. These are the three
//! kinds of line. Which appliances belong to the log the rule sets say: those that ask for a total by
//! the month at disposals. What nobody can say stays in the log with an empty `in_log`; what was
//! sent is not traced to single appliances, so all that was sent in the year stands here.

use super::elsewhere::Elsewhere;
use super::table::Table;
use super::{
    ApplianceInput, Assessed, Cells, Column, Designations, Options, Sheet, Summary, columns,
};
use crate::day::Day;
use crate::event::{Event, Kind, Reason};
use crate::mass::Unit;
use crate::rules::RuleSet;
use crate::rules::words::{EventKind, Period, ReasonWord};
use std::collections::BTreeMap;
use std::io::{self, Write};

/// The columns, in their order.
pub fn header(unit: Unit) -> Vec<Column> {
    use Cells::{Count, Day, Mass, Month, Text, YesNo};
    #[rustfmt::skip]
    let table = [
        ("month", "Month", Month, "Calendar month of the recovery or shipment, by local days."),
        ("line", "Line", Text,
            "disposal (an appliance), sent (a shipment), total (of the month, by refrigerant)."),
        ("company", "Company", Text, "Who keeps the log."),
        ("on", "Date", Day, "Date of recovery or of transfer."),
        ("appliance", "Appliance", Text, "Tag of the appliance; empty: emptied in bulk."),
        ("site", "Location", Text, "Tag of the site the appliance stood at."),
        ("cylinder", "Cylinder", Text, "Tag of the cylinder that was sent."),
        ("refrigerant", "Refrigerant", Text, "Designation."),
        ("full_charge_{u}", "Full charge", Mass(unit),
            "Full charge in force that day; empty when unknown."),
        ("in_log", "In the log", YesNo,
            "Whether a rule asks for this line; empty when nobody can say."),
        ("disposals", "Disposals", Count, "Lines of appliances."),
        ("recovered_{u}", "Recovered", Mass(unit),
            "Recovered for disposal; in a total: of all lines of the month."),
        ("sent_{u}", "Sent", Mass(unit),
            "Sent for reclamation or destruction; in a total: of all lines of the month."),
        ("way", "Way", Text, "reclaim or destruction."),
        ("receiver", "Receiver", Text, "To whom it was transferred."),
        ("set", "Rule set", Text, "Id of the rule set that asks for the line."),
        ("clause", "Clause", Text, "Where it asks for it."),
        ("entry", "Entry", Count, "Number of the entry in the book."),
    ];
    columns(unit, &table)
}

/// Writes the report; lines stand by month, kind, date and tag, so it is written at the end.
pub struct Disposals<'a, W: Write> {
    table: Table<'a, W>,
    company: &'a str,
    designations: &'a dyn Designations,
    lines: Vec<Line>,
}

/// One disposal or shipment.
struct Line {
    day: Day,
    kind: LineKind,
    appliance: String,
    site: String,
    cylinder: String,
    refrigerant: u16,
    full_charge: Option<i128>,
    in_log: Option<bool>,
    mass: i128,
    receiver: String,
    /// Rule set and clause that ask for it.
    asks: Option<(String, String)>,
    entry: u64,
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum LineKind {
    Disposal,
    Reclaim,
    Destruction,
}

/// What a month comes to, by refrigerant: entries with what they gave.
#[derive(Default)]
struct Total {
    recovered: Vec<(u64, i128)>,
    sent: Vec<(u64, i128)>,
}

impl<'a, W: Write> Disposals<'a, W> {
    /// Begins the report of a company; `elsewhere`: movements without an appliance.
    pub fn new(
        out: W,
        evidence: Option<&'a mut dyn Write>,
        options: Options,
        company: &'a str,
        designations: &'a dyn Designations,
        elsewhere: &[Elsewhere],
    ) -> io::Result<Disposals<'a, W>> {
        let columns = header(options.unit);
        let days = options.first_day()..=options.last_day();
        let own = elsewhere
            .iter()
            .filter(|movement| days.contains(&movement.day));
        Ok(Disposals {
            table: Table::new(out, evidence, options, &columns)?,
            company,
            designations,
            lines: own.filter_map(line_elsewhere).collect(),
        })
    }

    fn write(&mut self, line: &Line) -> io::Result<()> {
        let is_disposal = line.kind == LineKind::Disposal;
        let table = &mut self.table;
        table.csv.when(&month_of(line.day));
        table
            .csv
            .text(if is_disposal { "disposal" } else { "sent" });
        table.csv.text(self.company);
        table.csv.day(line.day);
        table.csv.text(&line.appliance);
        table.csv.text(&line.site);
        table.csv.text(&line.cylinder);
        table
            .csv
            .text(self.designations.designation(line.refrigerant));
        table.mass_or_empty(line.full_charge);
        table.yes_or_no(line.in_log);
        table.csv.count(i64::from(is_disposal));
        table.mass_or_empty(Some(line.mass).filter(|_| is_disposal));
        table.mass_or_empty(Some(line.mass).filter(|_| !is_disposal));
        table.csv.text(match line.kind {
            LineKind::Disposal => "",
            LineKind::Reclaim => "reclaim",
            LineKind::Destruction => "destruction",
        });
        table.csv.text(&line.receiver);
        let (set, clause) = match &line.asks {
            Some((set, clause)) => (set.as_str(), clause.as_str()),
            None => ("", ""),
        };
        table.csv.text(set);
        table.csv.text(clause);
        table.csv.count(line.entry as i64);
        table.summary.cannot_judge += u64::from(is_disposal && line.in_log.is_none());
        table.end_row()?;
        table.prove(&line.appliance, |evidence, row| match is_disposal {
            true => {
                evidence.one(row, "disposals", line.entry)?;
                evidence.mass(row, "recovered", line.entry, line.mass)
            }
            false => evidence.mass(row, "sent", line.entry, line.mass),
        })
    }

    fn write_total(&mut self, month: &str, refrigerant: &str, total: &Total) -> io::Result<()> {
        let sum = |of: &[(u64, i128)]| of.iter().map(|(_, mass)| mass).sum::<i128>();
        let table = &mut self.table;
        table.csv.when(month);
        table.csv.text("total");
        table.csv.text(self.company);
        (0..4).for_each(|_| table.csv.empty());
        table.csv.text(refrigerant);
        (0..2).for_each(|_| table.csv.empty());
        table.csv.count(total.recovered.len() as i64);
        table.csv.mass(sum(&total.recovered), table.options.unit);
        table.csv.mass(sum(&total.sent), table.options.unit);
        (0..5).for_each(|_| table.csv.empty());
        table.end_row()?;
        table.prove("", |evidence, row| {
            for (entry, mass) in &total.recovered {
                evidence.one(row, "disposals", *entry)?;
                evidence.mass(row, "recovered", *entry, *mass)?;
            }
            let mut sent = total.sent.iter();
            sent.try_for_each(|(entry, mass)| evidence.mass(row, "sent", *entry, *mass))
        })
    }

    fn write_month(&mut self, lines: &[Line]) -> io::Result<()> {
        let mut totals: BTreeMap<String, Total> = BTreeMap::new();
        for line in lines {
            self.write(line)?;
            let name = self.designations.designation(line.refrigerant);
            let total = totals.entry(name.to_string()).or_default();
            match line.kind {
                LineKind::Disposal => total.recovered.push((line.entry, line.mass)),
                _ => total.sent.push((line.entry, line.mass)),
            }
        }
        let month = lines
            .first()
            .map_or(String::new(), |line| month_of(line.day));
        for (refrigerant, total) in &totals {
            self.write_total(&month, refrigerant, total)?;
        }
        Ok(())
    }
}

impl<W: Write> Sheet for Disposals<'_, W> {
    fn push(&mut self, input: &ApplianceInput<'_>, of: &Assessed<'_, '_>) -> io::Result<()> {
        self.table.next(input.tag)?;
        let first = self.table.options.first_day();
        for event in input.until(self.table.options.last_day()) {
            let is_disposal = event.kind == Kind::Recover && event.reason == Some(Reason::Disposal);
            if is_disposal && event.day >= first {
                self.lines.extend(line_of(input, of, event));
            }
        }
        Ok(())
    }

    fn finish(mut self: Box<Self>) -> io::Result<Summary> {
        let mut lines = std::mem::take(&mut self.lines);
        lines.sort_by(|a, b| {
            let key = |line: &Line| (line.day.ymd().0, line.day.ymd().1, line.kind, line.day);
            let same = |line: &Line| (line.appliance.clone(), line.entry);
            key(a).cmp(&key(b)).then_with(|| same(a).cmp(&same(b)))
        });
        let of_month = |a: &Line, b: &Line| month_of(a.day) == month_of(b.day);
        for month in lines.chunk_by(of_month) {
            self.write_month(month)?;
        }
        self.table.finish()
    }
}

/// The line of a disposal; `None`: every set that keeps such a log says that it is not in it.
fn line_of(input: &ApplianceInput<'_>, of: &Assessed<'_, '_>, event: &Event) -> Option<Line> {
    let mut asking = (0..of.prepared.sets())
        .filter_map(|set| Some((set, log_clause(of.prepared.set(set))?)))
        .map(|(set, clause)| (set, clause, of.prepared.applies(set, event.day)))
        .peekable();
    let no_log = asking.peek().is_none();
    let best = asking
        .filter(|one| one.2 != Some(false))
        .max_by_key(|one| one.2);
    if best.is_none() && !no_log {
        return None;
    }
    let full_charge = input.facts.full_charge(event.day);
    Some(Line {
        day: event.day,
        kind: LineKind::Disposal,
        appliance: input.tag.to_string(),
        site: input.site_tag.to_string(),
        cylinder: String::new(),
        refrigerant: event.refrigerant,
        full_charge: full_charge.map(|mass| i128::from(mass.steps())),
        in_log: best.and_then(|one| one.2),
        mass: i128::from(event.mass.steps()),
        receiver: String::new(),
        asks: best.map(|one| (of.prepared.set(one.0).id.clone(), one.1.to_string())),
        entry: event.entry,
    })
}

/// The clause of the record by which a set keeps a log of disposals.
fn log_clause(set: &RuleSet) -> Option<&str> {
    let mut records = set.records.iter();
    let log = records.find(|record| {
        record.total_by == Some(Period::CalendarMonth)
            && record.on.contains(&EventKind::Recover)
            && record.reason.contains(&ReasonWord::Disposal)
    });
    log.map(|record| record.clause.as_str())
}

/// A shipment, or what was recovered in bulk for disposal.
fn line_elsewhere(movement: &Elsewhere) -> Option<Line> {
    let kind = match (movement.kind, movement.reason) {
        (Kind::SendToReclaim, _) => LineKind::Reclaim,
        (Kind::SendToDestruction, _) => LineKind::Destruction,
        (Kind::Recover, Some(Reason::Disposal)) => LineKind::Disposal,
        _ => return None,
    };
    let is_sent = kind != LineKind::Disposal;
    Some(Line {
        day: movement.day,
        kind,
        appliance: String::new(),
        site: String::new(),
        cylinder: if is_sent {
            movement.from.clone()
        } else {
            String::new()
        },
        refrigerant: movement.refrigerant,
        full_charge: None,
        in_log: None,
        mass: i128::from(movement.mass.steps()),
        receiver: if is_sent {
            movement.to.clone()
        } else {
            String::new()
        },
        asks: None,
        entry: movement.entry,
    })
}

fn month_of(day: Day) -> String {
    let (year, month, _) = day.ymd();
    format!("{year:04}-{month:02}")
}
