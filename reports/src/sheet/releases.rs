//! Report `releases`: stated losses to the atmosphere, by jurisdiction and site.
//!
//! A release is a loss that somebody stated (a burst hose, a purge, a broken pipe), measured or
//! estimated. Each has one line for each rule set that limits releases of its appliance, with what
//! it passed and what must be handed in (SOR/2022-110, sections 24 and 25, as an example); then
//! come the sums of the site and of the jurisdiction. Beside the stated losses the sums show what
//! was topped up at service and not taken out again: the two are never added, because a stated loss
//! that is filled up again would count twice.

use super::elsewhere::Elsewhere;
use super::table::Table;
use super::yearly_loss::plain;
use super::{
    ApplianceInput, Assessed, Cells, Column, Designations, Options, Sheet, Summary, columns,
};
use crate::day::Day;
use crate::event::{Event, Kind};
use crate::leak_rate::Reader;
use crate::mass::Unit;
use crate::rules::LimitOn;
use crate::rules::duties::StartedBy;
use crate::rules::review::Review;
use crate::rules::words::Measure;
use std::collections::BTreeMap;
use std::io::{self, Write};

/// The columns, in their order.
pub fn header(unit: Unit) -> Vec<Column> {
    use Cells::{Count, Day, Mass, Text, YesNo};
    #[rustfmt::skip]
    let table = [
        ("line", "Line", Text,
            "release (one stated loss), site or jurisdiction (sums of the year by refrigerant)."),
        ("jurisdiction", "Jurisdiction", Text,
            "Region on record (ISO 3166); empty where none is, as for cylinders."),
        ("site", "Site", Text, "Tag of the site."),
        ("appliance", "Appliance", Text, "Tag of the appliance."),
        ("cylinder", "Cylinder", Text, "Tag of the cylinder, where a cylinder lost it."),
        ("category", "Category", Text, "Category in force that day."),
        ("refrigerant", "Refrigerant", Text, "Designation."),
        ("full_charge_{u}", "Full charge", Mass(unit),
            "Full charge in force that day; empty when unknown."),
        ("on", "Date", Day, "Local date of the release."),
        ("entry", "Entry", Count, "Number of the entry in the book."),
        ("releases", "Releases", Count, "Stated losses; 1 in the line of one."),
        ("released_{u}", "Released", Mass(unit), "Stated to be lost, measured or estimated."),
        ("topped_up_{u}", "Topped up", Mass(unit),
            "Net mass of the additions of the year; first charges and those after a retrofit are \
             none. In sums alone, and no part of what was released."),
        ("set", "Rule set", Text, "Id of the rule set that limits releases of the appliance."),
        ("version", "Version", Text, "Version of the rule set, where it names one."),
        ("limit", "Limit", Text, "The limit that was passed."),
        ("clause", "Clause", Text, "Where it stands."),
        ("over", "Over", YesNo,
            "Whether a limit was passed; empty when nobody can say, or no set has one."),
        ("next_due", "Next due", Text, "The earliest date of what is still to be handed in."),
        ("reports", "Reports", Text, "Each report that is owed, with its date and state."),
    ];
    columns(unit, &table)
}

/// Jurisdiction, site and refrigerant.
type Place = (String, String, String);

/// Writes the report; lines stand by jurisdiction and site, so it is written at the end.
pub struct Releases<'a, W: Write> {
    table: Table<'a, W>,
    designations: &'a dyn Designations,
    lines: BTreeMap<Place, Vec<Line>>,
    sums: BTreeMap<Place, Sum>,
}

/// A release under one rule set, or under none.
struct Line {
    appliance: String,
    cylinder: String,
    category: String,
    full_charge: Option<i128>,
    day: Day,
    entry: u64,
    mass: i128,
    rule: Option<Rule>,
}

/// What a rule set says of a release.
struct Rule {
    set: String,
    version: String,
    limit: String,
    clause: String,
    over: Option<bool>,
    next_due: String,
    reports: String,
}

/// Sums with what each entry gave.
#[derive(Clone, Default)]
struct Sum {
    released: Vec<(u64, i128)>,
    topped_up: Vec<(u64, i128)>,
}

impl<'a, W: Write> Releases<'a, W> {
    /// Begins the report; `elsewhere`: movements without an appliance.
    pub fn new(
        out: W,
        evidence: Option<&'a mut dyn Write>,
        options: Options,
        designations: &'a dyn Designations,
        elsewhere: &[Elsewhere],
    ) -> io::Result<Releases<'a, W>> {
        let columns = header(options.unit);
        let mut report = Releases {
            table: Table::new(out, evidence, options, &columns)?,
            designations,
            lines: BTreeMap::new(),
            sums: BTreeMap::new(),
        };
        let days = options.first_day()..=options.last_day();
        for movement in elsewhere {
            if movement.kind == Kind::Loss && days.contains(&movement.day) {
                report.take_elsewhere(movement);
            }
        }
        Ok(report)
    }

    fn take_elsewhere(&mut self, movement: &Elsewhere) {
        let name = self.designations.designation(movement.refrigerant);
        let place = (String::new(), String::new(), name.to_string());
        let mass = i128::from(movement.mass.steps());
        let sum = self.sums.entry(place.clone()).or_default();
        sum.released.push((movement.entry, mass));
        self.lines.entry(place).or_default().push(Line {
            appliance: String::new(),
            cylinder: movement.from.clone(),
            category: String::new(),
            full_charge: None,
            day: movement.day,
            entry: movement.entry,
            mass,
            rule: None,
        });
    }

    fn place(&self, input: &ApplianceInput<'_>, event: &Event) -> Place {
        let region = input.facts.word("region", event.day).unwrap_or_default();
        let name = self.designations.designation(event.refrigerant);
        (
            region.to_string(),
            input.site_tag.to_string(),
            name.to_string(),
        )
    }

    /// What was topped up in the year, entry by entry.
    fn take_additions(&mut self, input: &ApplianceInput<'_>, events: &[Event], of: &Assessed) {
        let first = self.table.options.first_day();
        let mut reader = Reader::default().trace(true);
        let reading = plain(of.settings.netting);
        reader.read(events, input.facts, &reading);
        for given in reader.contributions() {
            let step = &reader.additions()[given.step as usize];
            if step.day >= first {
                let place = self.place(input, &events[step.at as usize]);
                let entry = events[given.event as usize].entry;
                let sum = self.sums.entry(place).or_default();
                sum.topped_up.push((entry, given.mass));
            }
        }
    }

    fn write(&mut self, place: &Place, line: &Line) -> io::Result<()> {
        let table = &mut self.table;
        table.csv.text("release");
        table.csv.text(&place.0);
        table.csv.text(&place.1);
        table.csv.text(&line.appliance);
        table.csv.text(&line.cylinder);
        table.csv.text(&line.category);
        table.csv.text(&place.2);
        table.mass_or_empty(line.full_charge);
        table.csv.day(line.day);
        table.csv.count(line.entry as i64);
        table.csv.count(1);
        table.csv.mass(line.mass, table.options.unit);
        table.csv.empty();
        let rule = line.rule.as_ref();
        let of = |part: fn(&Rule) -> &String| rule.map_or("", |rule| part(rule));
        table.csv.text(of(|rule| &rule.set));
        table.csv.text(of(|rule| &rule.version));
        table.csv.text(of(|rule| &rule.limit));
        table.csv.text(of(|rule| &rule.clause));
        table.yes_or_no(rule.and_then(|rule| rule.over));
        table.csv.when(of(|rule| &rule.next_due));
        table.csv.text(of(|rule| &rule.reports));
        table.summary.cannot_judge += u64::from(rule.is_some_and(|rule| rule.over.is_none()));
        table.end_row()?;
        table.prove(&line.appliance, |evidence, row| {
            evidence.one(row, "releases", line.entry)?;
            evidence.mass(row, "released", line.entry, line.mass)
        })
    }

    fn write_sum(&mut self, word: &str, place: (&str, &str, &str), sum: &Sum) -> io::Result<()> {
        let total = |of: &[(u64, i128)]| of.iter().map(|(_, mass)| mass).sum::<i128>();
        let table = &mut self.table;
        table.csv.text(word);
        table.csv.text(place.0);
        table.csv.text(place.1);
        (0..3).for_each(|_| table.csv.empty());
        table.csv.text(place.2);
        (0..3).for_each(|_| table.csv.empty());
        table.csv.count(sum.released.len() as i64);
        table.csv.mass(total(&sum.released), table.options.unit);
        table.csv.mass(total(&sum.topped_up), table.options.unit);
        (0..7).for_each(|_| table.csv.empty());
        table.end_row()?;
        table.prove("", |evidence, row| {
            for (entry, mass) in &sum.released {
                evidence.one(row, "releases", *entry)?;
                evidence.mass(row, "released", *entry, *mass)?;
            }
            let mut added = sum.topped_up.iter();
            added.try_for_each(|(entry, mass)| evidence.mass(row, "topped_up", *entry, *mass))
        })
    }
}

impl<W: Write> Sheet for Releases<'_, W> {
    fn push(&mut self, input: &ApplianceInput<'_>, of: &Assessed<'_, '_>) -> io::Result<()> {
        self.table.next(input.tag)?;
        let (first, last) = (
            self.table.options.first_day(),
            self.table.options.last_day(),
        );
        let events = input.until(last);
        self.take_additions(input, events, of);
        let losses = events
            .iter()
            .filter(|event| event.kind == Kind::Loss && event.day >= first);
        let losses: Vec<&Event> = losses.collect();
        if losses.is_empty() {
            return Ok(());
        }
        let limiting = |set: &usize| {
            of.prepared
                .limits_by(*set, Measure::Released)
                .next()
                .is_some()
        };
        let reviews: Vec<(usize, Review)> = (0..of.prepared.sets())
            .filter(limiting)
            .map(|set| {
                let prepared = of.prepared;
                (
                    set,
                    prepared.review(set, events, input.facts, of.settings, last, None),
                )
            })
            .collect();
        for event in losses {
            let place = self.place(input, event);
            let mass = i128::from(event.mass.steps());
            let sum = self.sums.entry(place.clone()).or_default();
            sum.released.push((event.entry, mass));
            let rules = reviews
                .iter()
                .filter_map(|(set, review)| rule_of(of, *set, review, event));
            let mut rules: Vec<Option<Rule>> = rules.map(Some).collect();
            if rules.is_empty() {
                rules.push(None);
            }
            let lines = self.lines.entry(place).or_default();
            lines.extend(rules.into_iter().map(|rule| line_of(input, event, rule)));
        }
        Ok(())
    }

    fn finish(mut self: Box<Self>) -> io::Result<Summary> {
        let sums = std::mem::take(&mut self.sums);
        let mut lines = std::mem::take(&mut self.lines);
        let mut of_jurisdiction: BTreeMap<String, Sum> = BTreeMap::new();
        let mut sums = sums.iter().peekable();
        while let Some((place, sum)) = sums.next() {
            let mut own = lines.remove(place).unwrap_or_default();
            own.sort_by_key(|line| (line.day, line.entry));
            for line in &own {
                self.write(place, line)?;
            }
            self.write_sum("site", (&place.0, &place.1, &place.2), sum)?;
            let whole = of_jurisdiction.entry(place.2.clone()).or_default();
            whole.released.extend(&sum.released);
            whole.topped_up.extend(&sum.topped_up);
            if sums.peek().is_none_or(|(next, _)| next.0 != place.0) {
                for (refrigerant, sum) in std::mem::take(&mut of_jurisdiction) {
                    self.write_sum("jurisdiction", (&place.0, "", &refrigerant), &sum)?;
                }
            }
        }
        self.table.finish()
    }
}

fn line_of(input: &ApplianceInput<'_>, event: &Event, rule: Option<Rule>) -> Line {
    let full_charge = input.facts.full_charge(event.day);
    let category = input.facts.word("category", event.day);
    Line {
        appliance: input.tag.to_string(),
        cylinder: String::new(),
        category: category.unwrap_or_default().to_string(),
        full_charge: full_charge.map(|mass| i128::from(mass.steps())),
        day: event.day,
        entry: event.entry,
        mass: i128::from(event.mass.steps()),
        rule,
    }
}

/// What a set that limits releases says of one; `None`: it does not cover the appliance then.
fn rule_of(of: &Assessed<'_, '_>, set: usize, review: &Review<'_>, event: &Event) -> Option<Rule> {
    let limits = of.prepared.limits_by(set, Measure::Released);
    let on: Vec<LimitOn> = limits
        .map(|(at, _)| of.prepared.limit_on(set, at, event.day))
        .filter(|limit| !matches!(limit, LimitOn::NotCovered))
        .collect();
    if on.is_empty() {
        return None;
    }
    let found = review.exceedances.iter().position(|found| {
        found.limit.measure == Measure::Released && found.entries.contains(&event.entry)
    });
    let doubtful = on
        .iter()
        .any(|limit| matches!(limit, LimitOn::CannotJudge { .. }));
    let passed = found.map(|at| &review.exceedances[at]);
    let owed = review.duties.iter().filter(|owed| match owed.started_by {
        StartedBy::Limit(at) => Some(at) == found,
        _ => false,
    });
    let told = owed.clone().map(|owed| {
        let due = owed.due.map_or(String::new(), |due| format!(" {due}"));
        format!("{}{due} {}", owed.duty.name, owed.state.word())
    });
    let dues = owed
        .clone()
        .filter(|owed| owed.state.is_owed())
        .filter_map(|owed| owed.due);
    let next = dues.min_by_key(|due| due.order());
    let rules = of.prepared.set(set);
    Some(Rule {
        set: rules.id.clone(),
        version: rules.version.clone().unwrap_or_default(),
        limit: passed.map_or(String::new(), |found| found.limit.name.clone()),
        clause: passed.map_or(String::new(), |found| found.limit.clause.clone()),
        over: passed.map(|_| true).or((!doubtful).then_some(false)),
        next_due: next.map_or(String::new(), |due| due.to_string()),
        reports: told.collect::<Vec<_>>().join("; "),
    })
}
