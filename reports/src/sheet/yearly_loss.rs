//! Report `yearly-loss`: what each appliance lost in the year, as a share of its full charge.
//!
//! An appliance that loses 125 % of its full charge in a calendar year is reported by 1 March of
//! the next (40 CFR 82.157(j), 84.106(j)). One row stands for each appliance and each limit of
//! that sort that a rule set holds for it; where none does, one row shows the loss alone. The
//! sum is that of the additions of the year as the rule set reads them, never an annualised rate.
//! The projection is the straight line through the year so far: common practice, no source.

mod outlook;

use super::held::is_retired_before;
use super::table::Table;
use super::{ApplianceInput, Assessed, Cells, Column, Options, Sheet, Summary, columns};
use crate::day::{Day, Period, PeriodKind};
use crate::event::Event;
use crate::leak_rate::{Addition, Rate, Reader, Reading};
use crate::mass::Unit;
use crate::rules::duties::StartedBy;
use crate::rules::number::Comparison;
use crate::rules::review::{Review, reading_of};
use crate::rules::words::Measure;
use crate::rules::{Bound, LimitOn};
use outlook::{Outlook, Pace};
use std::collections::BTreeMap;
use std::io::{self, Write};

/// The columns, in their order.
pub fn header(unit: Unit) -> Vec<Column> {
    use Cells::{Count, Day, Mass, Number, Percent, Text, YesNo};
    #[rustfmt::skip]
    let table = [
        ("appliance", "Appliance", Text, "Tag of the appliance (one refrigerant circuit)."),
        ("site", "Site", Text, "Tag of its site on the last day looked at."),
        ("category", "Category", Text, "Category in force on the last day looked at."),
        ("refrigerant", "Refrigerant", Text, "Refrigerant on record on the last day looked at."),
        ("set", "Rule set", Text, "Id of the rule set; empty where no set has such a limit for it."),
        ("version", "Version", Text, "Version of the rule set, where it names one."),
        ("limit", "Limit", Text, "Name of the limit in the rule set."),
        ("clause", "Clause", Text, "Where the limit stands."),
        ("confidence", "Confidence", Text,
            "unconfirmed where the clause of the number was not read by whoever wrote the set."),
        ("from", "From", Day, "First day of the period that is summed."),
        ("until", "Until", Day, "Last day of the period."),
        ("full_charge_{u}", "Full charge", Mass(unit),
            "Full charge in force at the last addition of the period, else on the last day looked \
             at; empty when unknown."),
        ("days_added", "Days with an addition", Count,
            "Days of the period on which more was put in than taken out again."),
        ("lost_{u}", "Lost", Mass(unit),
            "Sum of the additions of the period, as the rule set reads them."),
        ("lost_percent", "Lost, percent", Percent, "Lost / full charge; empty when unknown."),
        ("limit_percent", "Limit, percent", Number, "The number of the limit."),
        ("reached", "Reached", YesNo,
            "Whether the limit was passed at an addition of the period, by the full charge of its \
             day; empty when nobody can say, or there is no limit."),
        ("reached_on", "Reached on", Day, "The day of the first addition that did."),
        ("report_due", "Report due", Text, "When the report is due that follows from it."),
        ("report_state", "Report", Text, "How that report stands on the last day looked at."),
        ("left_{u}", "Left", Mass(unit),
            "What can still be added until the limit; 0 where it is reached; empty when unknown."),
        ("days", "Days", Count,
            "Days of the period so far: from its first day, from the installation, or from the day \
             on which the rule begins to count, whichever is latest."),
        ("days_in_period", "Days in the period", Count, "Days from the same day to its last."),
        ("projected_{u}", "Projected loss", Mass(unit),
            "Lost / days x days in the period. A straight line, not a rule."),
        ("projected_percent", "Projected loss, percent", Percent, "Projected loss / full charge."),
        ("projected_on", "Projected to reach it on", Day,
            "The day on which the straight line reaches the limit; empty where it does not in the \
             period, or did already."),
    ];
    columns(unit, &table)
}

/// Writes the report.
pub struct YearlyLoss<'a, W: Write> {
    table: Table<'a, W>,
}

/// One appliance and one limit.
struct Loss<'r> {
    period: Period,
    reading: Reading,
    additions: Vec<&'r Addition>,
    lost: i128,
    /// Of the last addition of the period, else of the last day looked at.
    full_charge: Option<i128>,
    /// Empty where no set has a limit for it.
    rule: Option<Rule<'r>>,
}

/// The limit, and what follows from it.
struct Rule<'r> {
    set: &'r str,
    version: &'r str,
    limit: &'r str,
    clause: &'r str,
    /// `None`: nobody can say which number holds.
    bound: Option<Bound<'r>>,
    reached: Option<bool>,
    reached_on: Option<Day>,
    report_due: Option<String>,
    report_state: &'static str,
}

impl<'a, W: Write> YearlyLoss<'a, W> {
    /// Begins the report.
    pub fn new(
        out: W,
        evidence: Option<&'a mut dyn Write>,
        options: Options,
    ) -> io::Result<YearlyLoss<'a, W>> {
        let columns = header(options.unit);
        Ok(YearlyLoss {
            table: Table::new(out, evidence, options, &columns)?,
        })
    }

    fn write(
        &mut self,
        input: &ApplianceInput<'_>,
        events: &[Event],
        loss: &Loss<'_>,
    ) -> io::Result<()> {
        let last = self.table.options.last_day();
        let table = &mut self.table;
        let fact = |name| input.facts.word(name, last).unwrap_or_default();
        table.csv.text(input.tag);
        table.csv.text(input.site_tag);
        table.csv.text(fact("category"));
        table.csv.text(fact("refrigerant"));
        write_limit(table, loss);
        table.mass_or_empty(loss.full_charge);
        let days = days_added(loss.additions.iter().copied());
        table.csv.count(days.len() as i64);
        table.csv.mass(loss.lost, table.options.unit);
        percent_of(table, loss.lost, 1, loss.full_charge);
        write_reached(table, loss);
        write_outlook(table, loss, &pace(input, loss, last));
        if loss
            .rule
            .as_ref()
            .is_some_and(|rule| rule.reached.is_none())
        {
            table.summary.cannot_judge += 1;
        }
        table.end_row()?;
        self.prove(input, events, loss)
    }

    /// One line for each entry that an addition came from, and one for each day with one.
    fn prove(
        &mut self,
        input: &ApplianceInput<'_>,
        events: &[Event],
        loss: &Loss<'_>,
    ) -> io::Result<()> {
        self.table.prove(input.tag, |evidence, row| {
            let mut reader = Reader::default().trace(true);
            let steps = reader.read(events, input.facts, &loss.reading);
            for at in days_added(steps.iter().filter(|step| loss.period.holds(step.day))) {
                evidence.one(row, "days_added", events[at as usize].entry)?;
            }
            for given in reader.contributions() {
                let day = reader.additions()[given.step as usize].day;
                if loss.period.holds(day) {
                    let entry = events[given.event as usize].entry;
                    evidence.mass(row, "lost", entry, given.mass)?;
                }
            }
            Ok(())
        })
    }
}

impl<W: Write> Sheet for YearlyLoss<'_, W> {
    fn push(&mut self, input: &ApplianceInput<'_>, of: &Assessed<'_, '_>) -> io::Result<()> {
        self.table.next(input.tag)?;
        let last = self.table.options.last_day();
        let events = input.until(last);
        if !input.is_registered(last) || is_retired_before(events, self.table.options.first_day()) {
            return Ok(());
        }
        let mut has_rule = false;
        for set in 0..of.prepared.sets() {
            let mut limits = of.prepared.limits_by(set, Measure::LossOfPeriod).peekable();
            if limits.peek().is_none() {
                continue;
            }
            let review = (of.prepared).review(set, events, input.facts, of.settings, last, None);
            for (at, _) in limits {
                if let Some(loss) = loss_by(input, of, &review, (set, at), &self.table.options) {
                    has_rule = true;
                    self.write(input, events, &loss)?;
                }
            }
        }
        if has_rule {
            return Ok(());
        }
        let reading = plain(of.settings.netting);
        let additions = crate::leak_rate::additions(events, input.facts, &reading);
        match Period::year(self.table.options.year) {
            Some(year) => {
                let loss = Loss::of(input, &additions, reading, year, last);
                self.write(input, events, &loss)
            }
            None => Ok(()),
        }
    }

    fn finish(self: Box<Self>) -> io::Result<Summary> {
        self.table.finish()
    }
}

/// Additions as they are read where no rule set says: first charges and those after a retrofit are
/// none.
pub(super) fn plain(netting: Option<crate::leak_rate::Netting>) -> Reading {
    Reading {
        netting: netting.unwrap_or(crate::leak_rate::Netting::Visit),
        leaves_out_installation: true,
        leaves_out_after_retrofit: true,
        leaves_out_seasonal: true,
        ..Reading::default()
    }
}

impl<'r> Loss<'r> {
    fn of(
        input: &ApplianceInput<'_>,
        additions: &'r [Addition],
        reading: Reading,
        period: Period,
        last: Day,
    ) -> Loss<'r> {
        let counts = |step: &&Addition| reading.counts_from.is_none_or(|from| from <= step.day);
        let own = additions
            .iter()
            .filter(|step| period.holds(step.day))
            .filter(counts);
        let additions: Vec<&Addition> = own.collect();
        let full_charge = match additions.last() {
            Some(step) => step.full_charge,
            None => input.facts.full_charge(last),
        };
        Loss {
            period,
            lost: additions.iter().map(|step| step.mass).sum(),
            additions,
            full_charge: full_charge.map(|mass| i128::from(mass.steps())),
            rule: None,
            reading,
        }
    }
}

/// What an appliance lost by one limit of one set; `None`: the limit is not for it.
fn loss_by<'r, 'j: 'r>(
    input: &ApplianceInput<'_>,
    of: &Assessed<'_, 'j>,
    review: &'r Review<'j>,
    (set, at): (usize, usize),
    options: &Options,
) -> Option<Loss<'r>> {
    let last = options.last_day();
    let (_, limit) = (of.prepared.limits_by(set, Measure::LossOfPeriod)).find(|one| one.0 == at)?;
    let period = match of.prepared.period_of(set, limit)? {
        PeriodKind::Year => Period::year(options.year)?,
        kind => Period::around(last, kind)?,
    };
    let found = review
        .exceedances
        .iter()
        .enumerate()
        .find(|(_, found)| std::ptr::eq(found.limit, limit) && period.holds(found.on));
    let bound = match of.prepared.limit_on(set, at, last) {
        LimitOn::NotCovered if found.is_none() => return None,
        LimitOn::Applies { bounds, .. } => bounds.first().copied(),
        _ => found.and_then(|(_, found)| found.bounds.first().copied()),
    };
    let reading = reading_of(of.prepared.set(set), of.settings.netting);
    let mut loss = Loss::of(input, &review.additions, reading, period, last);
    let knows = bound.is_some() && loss.additions.iter().all(|step| step.full_charge.is_some());
    let reached = match found {
        Some(_) => Some(true),
        None if knows && loss.full_charge.is_some() => Some(false),
        None => None,
    };
    let report = review.duties.iter().find(|owed| match owed.started_by {
        StartedBy::Limit(place) => found.is_some_and(|(own, _)| own == place),
        _ => false,
    });
    loss.rule = Some(Rule {
        set: &of.prepared.set(set).id,
        version: of.prepared.set(set).version.as_deref().unwrap_or_default(),
        limit: &limit.name,
        clause: bound.map_or(limit.clause.as_str(), |bound| bound.number.clause()),
        bound,
        reached,
        reached_on: found.map(|(_, found)| found.on),
        report_due: report.and_then(|owed| owed.due).map(|due| due.to_string()),
        report_state: report.map_or("", |owed| owed.state.word()),
    });
    Some(loss)
}

fn write_limit<W: Write>(table: &mut Table<'_, W>, loss: &Loss<'_>) {
    let rule = loss.rule.as_ref();
    let bound = rule.and_then(|rule| rule.bound);
    let unconfirmed = bound.is_some_and(|bound| bound.number.confidence().is_some());
    table.summary.unconfirmed += u64::from(unconfirmed);
    table.csv.text(rule.map_or("", |rule| rule.set));
    table.csv.text(rule.map_or("", |rule| rule.version));
    table.csv.text(rule.map_or("", |rule| rule.limit));
    table.csv.text(rule.map_or("", |rule| rule.clause));
    table.csv.text(if unconfirmed { "unconfirmed" } else { "" });
    table.csv.day(loss.period.first);
    table.csv.day(loss.period.last);
}

fn write_reached<W: Write>(table: &mut Table<'_, W>, loss: &Loss<'_>) {
    let rule = loss.rule.as_ref();
    let bound = rule.and_then(|rule| rule.bound);
    table
        .csv
        .number(bound.map_or("", |bound| bound.number.text()));
    table.yes_or_no(rule.and_then(|rule| rule.reached));
    table.day_or_empty(rule.and_then(|rule| rule.reached_on));
    let due = rule.and_then(|rule| rule.report_due.as_deref());
    table.csv.when(due.unwrap_or_default());
    table.csv.text(rule.map_or("", |rule| rule.report_state));
}

fn pace(input: &ApplianceInput<'_>, loss: &Loss<'_>, last: Day) -> Pace {
    let installed = match input.facts.on("installed", last) {
        Some(crate::appliance::FactValue::Day(day)) => Some(*day),
        _ => None,
    };
    let begins = [Some(loss.period.first), installed, loss.reading.counts_from];
    let begins = begins
        .into_iter()
        .flatten()
        .max()
        .unwrap_or(loss.period.first);
    Pace {
        begins: begins.min(last),
        last,
        ends: loss.period.last,
    }
}

fn write_outlook<W: Write>(table: &mut Table<'_, W>, loss: &Loss<'_>, pace: &Pace) {
    let rule = loss.rule.as_ref();
    let bound = rule.and_then(|rule| rule.bound);
    let outlook = Outlook {
        lost: loss.lost,
        full_charge: loss.full_charge,
        limit: bound.map(|bound| bound.number.limit()),
        reaches: bound.is_some_and(|bound| bound.comparison == Comparison::AtLeast),
        was_reached: rule.is_some_and(|rule| rule.reached == Some(true)),
    };
    table.mass_or_empty(outlook.left());
    table.csv.count(pace.days());
    table.csv.count(pace.days_in_all());
    table.csv.mass(outlook.projected(pace), table.options.unit);
    let (steps, days) = (loss.lost * i128::from(pace.days_in_all()), pace.days());
    percent_of(table, steps, i128::from(days), loss.full_charge);
    table.day_or_empty(outlook.reached_on(pace));
}

/// Days on which more was put in than taken out again, each with the event judged last on it.
fn days_added<'r>(steps: impl Iterator<Item = &'r Addition>) -> Vec<u32> {
    let mut days: BTreeMap<Day, (i128, u32)> = BTreeMap::new();
    for step in steps {
        let (sum, at) = days.entry(step.day).or_default();
        *sum += step.mass;
        *at = step.at;
    }
    let added = days.into_values().filter(|(sum, _)| *sum > 0);
    added.map(|(_, at)| at).collect()
}

/// A share of the full charge, or nothing where that is unknown. A visit that took out what an
/// earlier year put in can leave less than nothing, which no percent shows.
fn percent_of<W: Write>(table: &mut Table<'_, W>, steps: i128, of: i128, full: Option<i128>) {
    match full.filter(|full| *full > 0) {
        Some(full) => table.csv.percent(Rate::new(steps.max(0) * 100, full * of)),
        None => table.csv.empty(),
    }
}
