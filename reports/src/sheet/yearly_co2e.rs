//! Report `yearly-co2e`: what was lost at service, in tonnes of CO2 equivalent.
//!
//! Lost is what was charged at service less what was recovered at service; first charges, of a new
//! appliance or after a change of refrigerant, and what is recovered for disposal or before such a
//! change do not count (Japan's yearly report, a usual reading elsewhere). A
//! global warming potential never stands without the basis it was taken from. Each rule set that
//! limits such a sum has its own part: its basis, its period (a fiscal year that begins in the year
//! asked for), the appliances it covers, its limit. Where no set has one, or a basis is asked for, a
//! part over the calendar year and the whole fleet stands under that basis, else under AR5.
//! Sums are exact; refrigerant without a value under the basis stands apart and is never 0.

mod held;
mod part;

use super::table::Table;
use super::{
    ApplianceInput, Assessed, Cells, Column, Designations, Options, Sheet, Summary, columns,
};
use crate::day::PeriodKind;
use crate::mass::Unit;
use crate::refrigerant::Basis;
use crate::rules::Judge;
use crate::rules::organisation::lost;
use held::{Held, Sum, gwp_of, prove, tonnes_text};
use part::{Part, parts_of};
use std::collections::BTreeMap;
use std::io::{self, Write};

/// The columns, in their order.
pub fn header(unit: Unit) -> Vec<Column> {
    use Cells::{Day, Mass, Number, Text, Tonnes, YesNo};
    #[rustfmt::skip]
    let table = [
        ("line", "Line", Text, "refrigerant (of a site), site, or organisation: sums."),
        ("set", "Rule set", Text, "Id of the rule set that limits the sum; empty: none."),
        ("version", "Version", Text, "Version of the rule set, where it names one."),
        ("gwp_basis", "GWP basis", Text, "The list of global warming potentials that was used."),
        ("from", "From", Day, "First day of the period."),
        ("until", "Until", Day, "Last day of the period, or the last day looked at."),
        ("site", "Site", Text, "Tag of the site."),
        ("refrigerant", "Refrigerant", Text, "Designation."),
        ("charged_{u}", "Charged", Mass(unit), "Charged at service, by whomever."),
        ("recovered_{u}", "Recovered", Mass(unit), "Recovered at service."),
        ("lost_{u}", "Lost", Mass(unit), "Charged less recovered."),
        ("gwp", "GWP", Number,
            "Global warming potential under the basis; empty where the basis has no value."),
        ("co2e_t", "Tonnes of CO2 equivalent", Tonnes,
            "Lost x GWP / 1000 kg; empty without a GWP. In sums: of what has one."),
        ("without_gwp_{u}", "Without a GWP", Mass(unit),
            "Lost of refrigerants that have no value under the basis: not in the tonnes."),
        ("limit_t", "Limit, tonnes", Number, "The number of the limit, of organisation or site."),
        ("clause", "Clause", Text, "Where it stands."),
        ("over", "Over", YesNo,
            "Whether the limit is passed; for a site: whether it is listed apart. Empty where \
             nobody can say."),
        ("report_due", "Report due", Text, "When the report is due where the sum passes."),
    ];
    columns(unit, &table)
}

/// Writes the report; lines stand by part and site, so it is written at the end.
pub struct YearlyCo2e<'a, W: Write> {
    table: Table<'a, W>,
    designations: &'a dyn Designations,
    parts: Vec<Part>,
}

impl<'a, W: Write> YearlyCo2e<'a, W> {
    /// Begins the report.
    pub fn new(
        out: W,
        evidence: Option<&'a mut dyn Write>,
        options: Options,
        designations: &'a dyn Designations,
        judge: &Judge<'_>,
    ) -> io::Result<YearlyCo2e<'a, W>> {
        let columns = header(options.unit);
        let mut parts = parts_of(judge, &options);
        if parts.is_empty() || options.basis.is_some() {
            let basis = options.basis.unwrap_or(Basis::Ar5);
            parts.extend(Part::new(&options, PeriodKind::Year, basis));
        }
        Ok(YearlyCo2e {
            table: Table::new(out, evidence, options, &columns)?,
            designations,
            parts,
        })
    }

    /// Begins a row: everything up to the masses.
    fn begin(&mut self, part: &Part, line: &str, site: &str, refrigerant: &str) {
        let csv = &mut self.table.csv;
        csv.text(line);
        csv.text(&part.set);
        csv.text(&part.version);
        csv.text(part.basis.word());
        csv.day(part.period.first);
        csv.day(part.until);
        csv.text(site);
        csv.text(refrigerant);
    }

    fn masses(&mut self, sum: &Sum) {
        let (csv, unit) = (&mut self.table.csv, self.table.options.unit);
        csv.mass(sum.charged, unit);
        csv.mass(sum.recovered, unit);
        csv.mass(sum.charged - sum.recovered, unit);
    }

    fn write_refrigerant(
        &mut self,
        part: &Part,
        site: &str,
        code: u16,
        held: &Held,
    ) -> io::Result<Sum> {
        let name = self.designations.designation(code);
        let gwp = gwp_of(name, part.basis);
        let sum = held.sum(gwp);
        self.begin(part, "refrigerant", site, name);
        self.masses(&sum);
        let csv = &mut self.table.csv;
        match gwp {
            Some(gwp) => {
                csv.number(&gwp.to_string());
                csv.number(&tonnes_text(sum.tonnes));
            }
            None => (0..2).for_each(|_| csv.empty()),
        }
        csv.mass(sum.without_gwp, self.table.options.unit);
        (0..4).for_each(|_| self.table.csv.empty());
        self.table.end_row()?;
        self.table.prove("", |evidence, row| {
            held.prove(gwp, |figure, entry, of| {
                prove(evidence, row, figure, entry, of)
            })
        })?;
        Ok(sum)
    }

    /// The sum of a site or of the organisation, with the number it is compared with.
    fn write_sum(
        &mut self,
        part: &Part,
        site: Option<&str>,
        sum: &Sum,
        of: &BTreeMap<&str, &BTreeMap<u16, Held>>,
    ) -> io::Result<()> {
        let line = if site.is_some() {
            "site"
        } else {
            "organisation"
        };
        self.begin(part, line, site.unwrap_or_default(), "");
        self.masses(sum);
        let numbers = part.numbers.as_ref();
        let number = match site {
            Some(_) => numbers
                .and_then(|numbers| numbers.site.as_ref())
                .map(|site| (&site.0, &site.1)),
            None => numbers.map(|numbers| (&numbers.limit, &numbers.bound)),
        };
        let over = number.and_then(|(_, bound)| bound.is_passed(sum));
        let table = &mut self.table;
        table.csv.empty();
        table.csv.number(&tonnes_text(sum.tonnes));
        table.csv.mass(sum.without_gwp, table.options.unit);
        table.csv.number(number.map_or("", |(text, _)| text));
        table.csv.text(
            numbers
                .filter(|_| number.is_some())
                .map_or("", |numbers| &numbers.clause),
        );
        table.yes_or_no(over);
        let due = numbers.filter(|_| site.is_none() && over == Some(true));
        table.csv.when(due.map_or("", |numbers| &numbers.due));
        table.end_row()?;
        let (designations, basis) = (self.designations, part.basis);
        self.table.prove("", |evidence, row| {
            for (code, held) in of.values().flat_map(|held| held.iter()) {
                let gwp = gwp_of(designations.designation(*code), basis);
                held.prove(gwp, |figure, entry, of| {
                    prove(evidence, row, figure, entry, of)
                })?;
            }
            Ok(())
        })
    }

    fn write_part(&mut self, part: &Part) -> io::Result<()> {
        let mut whole = Sum::default();
        for (site, held) in &part.sites {
            let mut by_name: Vec<(&u16, &Held)> = held.iter().collect();
            by_name.sort_by_key(|(code, _)| self.designations.designation(**code).to_string());
            let mut sum = Sum::default();
            for (code, held) in by_name {
                sum.add(&self.write_refrigerant(part, site, *code, held)?);
            }
            let own = BTreeMap::from([(site.as_str(), held)]);
            self.write_sum(part, Some(site), &sum, &own)?;
            whole.add(&sum);
        }
        let all = part
            .sites
            .iter()
            .map(|(site, held)| (site.as_str(), held))
            .collect();
        self.write_sum(part, None, &whole, &all)
    }
}

impl<W: Write> Sheet for YearlyCo2e<'_, W> {
    fn push(&mut self, input: &ApplianceInput<'_>, of: &Assessed<'_, '_>) -> io::Result<()> {
        self.table.next(input.tag)?;
        let mut in_doubt = 0;
        for part in &mut self.parts {
            for event in input.events {
                if lost(event) == 0 || !(part.period.first..=part.until).contains(&event.day) {
                    continue;
                }
                let covers = match part.rule {
                    Some((set, _)) => of.prepared.applies(set, event.day),
                    None => Some(true),
                };
                match covers {
                    Some(true) => part.take(input.site_tag, event, of),
                    Some(false) => {}
                    None => in_doubt += 1,
                }
            }
        }
        self.table.summary.cannot_judge += in_doubt;
        Ok(())
    }

    fn finish(mut self: Box<Self>) -> io::Result<Summary> {
        for part in std::mem::take(&mut self.parts) {
            self.write_part(&part)?;
        }
        self.table.finish()
    }
}
