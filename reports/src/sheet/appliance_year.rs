//! Report `appliance-year`: what each appliance held, took and lost in a calendar year.
//!
//! One row per appliance and refrigerant held in the year, by tag and then by time.
//! `opening + charged - recovered = closing` holds in every row: what is neither a charge nor a
//! recovery (an opening entry of the year, a redesignation, a stated loss) stands in `opening`.

use super::csv_text::CsvText;
use super::evidence::{Evidence, Row, Trail};
use super::held::{Figure, Held, Worst, is_retired_before};
use super::judged::{Judge, Summary, YearAddition};
use super::{ApplianceInput, Cells, Column, Designations, Limits, Options, columns};
use crate::day::Day;
use crate::event::Event;
use crate::mass::Unit;
use std::io::{self, Write};

/// The columns, in their order.
pub fn header(unit: Unit) -> Vec<Column> {
    use Cells::{Count, Day, Mass, Percent, Text};
    #[rustfmt::skip]
    let table = [
        ("appliance", "Appliance", Text,
            "Tag of the appliance (one refrigerant circuit)."),
        ("site", "Site", Text,
            "Tag of its site on the last day looked at."),
        ("category", "Category", Text,
            "Category in force on the last day looked at."),
        ("refrigerant", "Refrigerant", Text,
            "Designation of the refrigerant of this row."),
        ("full_charge_{u}", "Full charge", Mass(unit),
            "Full charge in force on the last day looked at; empty when unknown."),
        ("opening_{u}", "Opening balance", Mass(unit),
            "Balance (charged less recovered; not the content) on 1 January, with opening \
             entries and redesignations of the year and less stated losses."),
        ("charged_{u}", "Charged", Mass(unit),
            "All that was charged in the year, by whomever."),
        ("recovered_{u}", "Recovered", Mass(unit),
            "All that was recovered in the year."),
        ("closing_{u}", "Closing balance", Mass(unit),
            "Balance on the last day looked at: opening + charged - recovered."),
        ("charges", "Charges", Count,
            "Number of charge movements."),
        ("additions", "Additions", Count,
            "Number of additions: visits, or days without one, that put in more than they took \
             out."),
        ("added_{u}", "Added", Mass(unit),
            "Net mass of the additions."),
        ("worst_rolling_percent", "Worst rolling rate", Percent,
            "Highest rate by the rolling average method: additions of 365 days / full charge."),
        ("worst_rolling_on", "Worst rolling rate on", Day,
            "Date of the addition with that rate, the earliest of equals."),
        ("worst_annualised_percent", "Worst annualised rate", Percent,
            "Highest rate by the annualising method: added / full charge x 365 / days."),
        ("worst_annualised_on", "Worst annualised rate on", Day,
            "Date of the addition with that rate, the earliest of equals."),
        ("rolling_over", "Over by rolling average", Count,
            "Additions over the limit of a rule that applies, by the rolling average method."),
        ("annualised_over", "Over by annualising", Count,
            "Additions over the limit of a rule that applies, by the annualising method."),
        ("first_over_on", "First over on", Day,
            "Date of the first addition over the limit, by the method chosen for the report or \
             in force at the site, else by either."),
    ];
    columns(unit, &table)
}

/// Writes the report.
pub struct ApplianceYear<'a, W: Write, L: Limits> {
    csv: CsvText<W>,
    evidence: Option<Evidence<'a>>,
    designations: &'a dyn Designations,
    judge: Judge<'a, L>,
    options: Options,
    held: Vec<Held>,
    last_tag: Option<String>,
}

impl<'a, W: Write, L: Limits> ApplianceYear<'a, W, L> {
    /// Begins the report; `designations` names refrigerants.
    pub fn new(
        out: W,
        evidence: Option<&'a mut dyn Write>,
        options: Options,
        limits: &'a L,
        designations: &'a dyn Designations,
    ) -> io::Result<ApplianceYear<'a, W, L>> {
        let columns = header(options.unit);
        let traces = evidence.is_some();
        Ok(ApplianceYear {
            csv: CsvText::new(
                out,
                options.dialect,
                columns.iter().map(|column| column.name.as_str()),
            )?,
            evidence: evidence
                .map(|out| Evidence::new(out, &options))
                .transpose()?,
            designations,
            judge: Judge::new(limits, options, traces),
            options,
            held: Vec::new(),
            last_tag: None,
        })
    }

    /// Writes the rows of one appliance. Appliances come in the order of their tags.
    pub fn push(&mut self, input: &ApplianceInput<'_>) -> io::Result<()> {
        super::check_order(&mut self.last_tag, input.tag)?;
        let last = self.options.last_day();
        let events = input.until(last);
        self.weigh(events);
        self.judge.read(input, events);
        for row in self.judge.additions() {
            let code = events[row.step.at as usize].refrigerant;
            Held::of(&mut self.held, code, row.step.at).add(row);
        }
        let retired = is_retired_before(events, self.options.first_day());
        self.held
            .retain(|held| held.moved || (held.start != 0 && !retired));
        self.held.sort_by_key(|held| held.since);
        for at in 0..self.held.len() {
            self.write_row(input, at)?;
            self.write_evidence(input.tag, events, at)?;
        }
        if self.held.is_empty() && !retired && input.is_registered(last) {
            self.write_registered(input)?;
        }
        Ok(())
    }

    /// Ends the report.
    pub fn finish(mut self) -> io::Result<Summary> {
        self.csv.flush()?;
        if let Some(mut evidence) = self.evidence {
            evidence.finish()?;
        }
        Ok(self.judge.summary)
    }

    /// Gathers balances and movements by refrigerant.
    fn weigh(&mut self, events: &[Event]) {
        self.held.clear();
        let first = self.options.first_day();
        for (at, event) in events.iter().enumerate() {
            let change = event.balance_change();
            if change != 0 {
                let held = Held::of(&mut self.held, event.refrigerant, at as u32);
                held.weigh(event, change, first);
            }
        }
    }

    fn write_row(&mut self, input: &ApplianceInput<'_>, at: usize) -> io::Result<()> {
        let name = self.designations.designation(self.held[at].refrigerant);
        self.begin_row(input, name);
        let in_the_dark = self.judge.is_in_the_dark(input);
        let (csv, held, unit) = (&mut self.csv, &self.held[at], self.options.unit);
        csv.mass(held.opening, unit);
        csv.mass(held.charged, unit);
        csv.mass(held.recovered, unit);
        csv.mass(held.closing(), unit);
        csv.count(held.charges);
        csv.count(held.additions);
        csv.mass(held.added, unit);
        for worst in [&held.worst_rolling, &held.worst_annualised] {
            match worst {
                Some(worst) => {
                    csv.percent(worst.rate);
                    csv.day(worst.on);
                }
                None => {
                    csv.empty();
                    csv.empty();
                }
            }
        }
        for count in [held.rolling_over, held.annualised_over] {
            match count.answer(in_the_dark) {
                Some(count) => csv.count(count),
                None => csv.empty(),
            }
        }
        match held.first_over_on {
            Some(day) => csv.day(day),
            None => csv.empty(),
        }
        self.judge.summary.rows += 1;
        csv.end_row()
    }

    /// A row for an appliance that has never been weighed: it is in the fleet all the same.
    fn write_registered(&mut self, input: &ApplianceInput<'_>) -> io::Result<()> {
        let last = self.options.last_day();
        let name = input.facts.word("refrigerant", last).unwrap_or_default();
        self.begin_row(input, name);
        let in_the_dark = self.judge.is_in_the_dark(input);
        let (csv, unit) = (&mut self.csv, self.options.unit);
        (0..4).for_each(|_| csv.mass(0, unit));
        (0..2).for_each(|_| csv.count(0));
        csv.mass(0, unit);
        (0..4).for_each(|_| csv.empty());
        for _ in 0..2 {
            match in_the_dark {
                true => csv.empty(),
                false => csv.count(0),
            }
        }
        csv.empty();
        self.judge.summary.rows += 1;
        csv.end_row()
    }

    fn begin_row(&mut self, input: &ApplianceInput<'_>, refrigerant: &str) {
        let last = self.options.last_day();
        let csv = &mut self.csv;
        csv.text(input.tag);
        csv.text(input.site_tag);
        csv.text(input.facts.word("category", last).unwrap_or_default());
        csv.text(refrigerant);
        match input.facts.full_charge(last) {
            Some(mass) => csv.mass(i128::from(mass.steps()), self.options.unit),
            None => csv.empty(),
        }
    }

    /// One line for each entry behind the figures of a row.
    fn write_evidence(&mut self, tag: &str, events: &[Event], at: usize) -> io::Result<()> {
        let Some(evidence) = &mut self.evidence else {
            return Ok(());
        };
        let (held, judge, first) = (&self.held[at], &self.judge, self.options.first_day());
        let row = Row {
            number: judge.summary.rows,
            appliance: tag,
        };
        write_balance(evidence, row, held, events, first)?;
        let own = |addition: &&YearAddition| {
            events[addition.step.at as usize].refrigerant == held.refrigerant
        };
        for addition in judge.additions().iter().filter(own) {
            let trail = Trail {
                reader: judge.reader(addition),
                events,
                index: addition.index,
            };
            write_addition(evidence, row, held, addition, &trail, first)?;
        }
        Ok(())
    }
}

fn write_balance(
    evidence: &mut Evidence<'_>,
    row: Row<'_>,
    held: &Held,
    events: &[Event],
    first_day: Day,
) -> io::Result<()> {
    for event in events {
        let change = event.balance_change();
        if event.refrigerant != held.refrigerant || change == 0 {
            continue;
        }
        match Figure::of(event, first_day) {
            Figure::Opening => evidence.mass(row, "opening", event.entry, change)?,
            Figure::Recovered => evidence.mass(row, "recovered", event.entry, -change)?,
            Figure::Charged => {
                evidence.mass(row, "charged", event.entry, change)?;
                evidence.one(row, "charges", event.entry)?;
            }
        }
        evidence.mass(row, "closing", event.entry, change)?;
    }
    Ok(())
}

fn write_addition(
    evidence: &mut Evidence<'_>,
    row: Row<'_>,
    held: &Held,
    addition: &YearAddition,
    trail: &Trail<'_>,
    first_day: Day,
) -> io::Result<()> {
    let entry = trail.events[addition.step.at as usize].entry;
    evidence.one(row, "additions", entry)?;
    evidence.steps(row, "added", trail, trail.added(first_day))?;
    let is = |worst: Option<Worst>| worst.is_some_and(|worst| worst.at == addition.step.at);
    if is(held.worst_rolling) {
        evidence.steps(row, "worst_rolling", trail, trail.rolling())?;
    }
    if is(held.worst_annualised) {
        evidence.steps(row, "worst_annualised", trail, trail.annualised())?;
    }
    if addition.rolling_over == Some(true) {
        evidence.one(row, "rolling_over", entry)?;
    }
    if addition.annualised_over == Some(true) {
        evidence.one(row, "annualised_over", entry)?;
    }
    Ok(())
}
