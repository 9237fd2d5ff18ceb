//! Report `mass-balance`: the year of each refrigerant in the cylinders of the organisation.
//!
//! What was there and what came in is what went out and what is there: opening + purchased +
//! recovered + ... = charged + sent + lost + ... + closing, exactly. The account is that of the
//! cylinders, because only they are weighed; what is presumed to have leaked from appliances is no
//! weight, stands apart and is in neither sum. Lines `cylinders` split a refrigerant by the kind of
//! cylinder it stood in, the line `refrigerant` is their sum, in which what moved from one cylinder
//! to another has not moved. A line `statements` holds what a receiver's accepted statement said
//! after a shipment had left: the less or more passes through it, and what was sent stays as weighed.

mod account;
mod apart;

pub use account::{Account, Balance, End, Figure, Moved, Part, Stock, Vessel};

use super::table::Table;
use super::{ApplianceInput, Cells, Column, Designations, Options, Summary, columns};
use crate::mass::Unit;
use account::closing_change;
use apart::{Apart, AtAppliances};
use std::collections::HashMap;
use std::io::{self, Write};

/// The columns, in their order.
pub fn header(unit: Unit) -> Vec<Column> {
    use Cells::{Mass, Text};
    let mass = Mass(unit);
    #[rustfmt::skip]
    let table = [
        ("refrigerant", "Refrigerant", Text, "Designation."),
        ("line", "Line", Text, "cylinders (of one kind), statements, or refrigerant: their sum."),
        ("cylinders", "Cylinders", Text,
            "supply, disposable or recovery, by the register; empty: not stated, or the sum."),
        ("opening_{u}", "Opening stock", mass,
            "In the cylinders when the year began, and what came into the book at its opening."),
        ("purchased_{u}", "Purchased", mass, "From suppliers."),
        ("recovered_{u}", "Recovered", mass, "From appliances, small ones in bulk among them."),
        ("received_{u}", "Received", mass, "From others, but for purchases."),
        ("stated_less_{u}", "Less by statement", mass,
            "What a receiver's accepted statement found less than was sent to him."),
        ("redesignated_in_{u}", "Redesignated to this", mass, "Was something else by name before."),
        ("found_{u}", "Counted over", mass, "More on the scale than in the book."),
        ("moved_in_{u}", "Moved in", mass, "From cylinders of another kind; 0 in the sum."),
        ("came_in_{u}", "Came in", mass, "The sum of the eight columns before."),
        ("charged_{u}", "Charged", mass, "Into appliances."),
        ("to_reclaim_{u}", "Sent to reclaim", mass, "As weighed when it was sent."),
        ("to_destruction_{u}", "Sent to destruction", mass, "As weighed when it was sent."),
        ("returned_{u}", "Returned", mass, "To suppliers and others."),
        ("stated_more_{u}", "More by statement", mass,
            "What a receiver's accepted statement found more than was sent to him."),
        ("lost_{u}", "Stated losses", mass, "Lost from cylinders and hoses, as stated."),
        ("redesignated_out_{u}", "Redesignated from this", mass, "Is something else by name now."),
        ("residue_{u}", "Residue", mass, "Oil, water, air, by statement or analysis."),
        ("missing_{u}", "Counted short", mass, "Less on the scale than in the book."),
        ("moved_out_{u}", "Moved out", mass, "To cylinders of another kind; 0 in the sum."),
        ("closing_{u}", "Closing stock", mass,
            "In the cylinders on the last day; below 0 where an entry is missing."),
        ("accounted_{u}", "Accounted for", mass,
            "The sum of the eleven columns before; the same as came in."),
        ("unexplained_{u}", "Unexplained", mass,
            "Counted short less counted over; they are in the sums already."),
        ("outside_charged_{u}", "Charged from outside", mass,
            "Put into appliances by others, of their stock. In no sum; empty but in the sum line."),
        ("lost_at_appliances_{u}", "Lost at appliances", mass,
            "Stated losses of appliances. In no sum; empty but in the sum line."),
        ("presumed_leaked_{u}", "Presumed leaked", mass,
            "Charged beyond the full charge by the year's charges back to full: it leaked at some \
             time before. Worked out, never weighed; in no sum."),
        ("left_at_retirement_{u}", "Left at retirement", mass,
            "On the books of appliances when they were retired, not recovered. In no sum."),
    ];
    columns(unit, &table)
}

/// Writes the report. First every movement is taken and every appliance pushed, then the rows are
/// written; for the evidence every movement comes once more, so that none has to be kept.
pub struct MassBalance<'a, W: Write> {
    table: Table<'a, W>,
    designations: &'a dyn Designations,
    stock: Stock,
    apart: AtAppliances,
    /// The row of each line, `None` being the sum.
    rows: HashMap<(u16, Option<Part>), u64>,
}

impl<'a, W: Write> MassBalance<'a, W> {
    /// Begins the report.
    pub fn new(
        out: W,
        evidence: Option<&'a mut dyn Write>,
        options: Options,
        designations: &'a dyn Designations,
    ) -> io::Result<MassBalance<'a, W>> {
        Ok(MassBalance {
            table: Table::new(out, evidence, options, &header(options.unit))?,
            designations,
            stock: Stock::new(options.first_day()),
            apart: AtAppliances::default(),
            rows: HashMap::new(),
        })
    }

    /// Takes a movement in; in any order. Movements after the last day are ignored.
    pub fn take(&mut self, moved: &Moved) -> io::Result<()> {
        if moved.day <= self.table.options.last_day() {
            self.stock.take(moved);
        }
        Ok(())
    }

    /// Takes in what happened at one appliance. Appliances come in the order of their tags.
    pub fn push(&mut self, input: &ApplianceInput<'_>) -> io::Result<()> {
        self.table.next(input.tag)?;
        let days = (
            self.table.options.first_day(),
            self.table.options.last_day(),
        );
        self.apart.take(input.tag, input.facts, input.events, days);
        Ok(())
    }

    /// Writes the rows, and the evidence of what stands apart.
    pub fn write_rows(&mut self) -> io::Result<()> {
        for balance in self.stock.balances(self.designations, &self.apart.codes()) {
            for (part, account) in &balance.parts {
                self.begin(&balance, Some(*part));
                self.figures(account);
                (0..4).for_each(|_| self.table.csv.empty());
                self.table.end_row()?;
            }
            self.begin(&balance, None);
            self.figures(&balance.whole);
            for apart in Apart::ALL {
                let sum = self.apart.sum(balance.code, apart);
                self.table.csv.mass(sum, self.table.options.unit);
            }
            self.table.end_row()?;
            for given in self.apart.of(balance.code) {
                self.table.prove(&given.tag, |evidence, row| {
                    evidence.mass(row, given.figure.word(), given.entry, given.mass)
                })?;
            }
        }
        Ok(())
    }

    fn begin(&mut self, balance: &Balance, part: Option<Part>) {
        let (line, cylinders) = match part {
            Some(Part::Cylinders(vessel)) => ("cylinders", vessel.word()),
            Some(Part::Statements) => ("statements", ""),
            None => ("refrigerant", ""),
        };
        let number = self.table.summary.rows + 1;
        self.rows.insert((balance.code, part), number);
        let csv = &mut self.table.csv;
        csv.text(&balance.refrigerant);
        csv.text(line);
        csv.text(cylinders);
    }

    fn figures(&mut self, account: &Account) {
        let (csv, unit) = (&mut self.table.csv, self.table.options.unit);
        for figure in Figure::IN {
            csv.mass(account.of(figure), unit);
        }
        csv.mass(account.came_in(), unit);
        for figure in Figure::OUT {
            csv.mass(account.of(figure), unit);
        }
        csv.mass(account.closing, unit);
        csv.mass(account.accounted(), unit);
        csv.mass(account.unexplained(), unit);
    }

    /// Writes what a movement gave to which figures; every movement once, after the rows.
    pub fn prove(&mut self, moved: &Moved) -> io::Result<()> {
        if moved.day > self.table.options.last_day() {
            return Ok(());
        }
        let first = self.table.options.first_day();
        for (part, figure, mass) in moved.gives(first).into_iter().flatten() {
            for line in [Some(part), None] {
                let Some(row) = self.rows.get(&(moved.refrigerant, line)) else {
                    continue;
                };
                let closing = closing_change(figure, mass);
                self.table.prove_row(*row, |evidence, row| {
                    if line.is_some() || !figure.is_inside() {
                        evidence.mass(row, figure.word(), moved.entry, mass)?;
                    }
                    match figure {
                        Figure::Missing => {
                            evidence.mass(row, "unexplained", moved.entry, mass)?;
                        }
                        Figure::Found => evidence.mass(row, "unexplained", moved.entry, -mass)?,
                        _ => {}
                    }
                    evidence.mass(row, "closing", moved.entry, closing)
                })?;
            }
        }
        Ok(())
    }

    /// Ends the report.
    pub fn finish(self) -> io::Result<Summary> {
        self.table.finish()
    }
}
