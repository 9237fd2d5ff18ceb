//! `tarebook import`: appliances, cylinders and movements from CSV files and workbooks.

use super::failure::{Exit, Failure};
use super::open;
use super::terminal::spaced;
use super::{Context, examples};
use crate::actions::import::{ImportFile, Importing, Outcome, Stage, Table};
use crate::store::open::Organisation;
use crate::store::writer::{Books, Clock};
use crate::store::{Db, Purpose, imports};
use clap::{Args, ValueEnum};
use reports::day::Zone;
use reports::plural;
use std::path::PathBuf;

/// Import a CSV file or a workbook of appliances, cylinders or movements
///
/// The file is read twice: first every row is checked and nothing is booked, then the rows are
/// booked in order, at most 1 000 in one transaction. Nothing is booked from a file with an error;
/// each error names file, row (the header is row 1) and column. Stopped half-way, the same command
/// continues; a second import of the same file books nothing and says so.
///
/// Files are CSV with a header row and commas (where the header has none: tabs or semicolons), in
/// UTF-8, in UTF-16 with a byte-order mark or in Windows-1252; that last one is guessed and said: try
/// such a file with --dry-run. Or they are workbooks, XLSX or ODS, of at most 10 MiB: the first row of
/// the sheet is the header, numbers count with the 15 digits that a spreadsheet keeps, formulas with the
/// value kept beside them; merged cells, empty rows between others and passwords are refused. Decimals
/// have a point in every text; masses with more than 15 digits stand as texts or in a CSV. The columns:
///
/// appliances: appliance, site, category, refrigerant, full_charge, commissioned_on; and, where
/// wanted, machine, full_charge_method, zone, region, place, serial, owner and the facts that rules
/// ask for (hermetic, residential, detector, motor_kw, ...)
///
/// cylinders: cylinder, refrigerant, use (supply, recovery or disposable), capacity; and, where
/// wanted, tare, water_capacity, retest_on, owner
///
/// movements: movement_id, occurred_at, kind, from, to, refrigerant, mass, technician; and, where
/// wanted, seq (must ascend), visit, reason, outside (yes or no). kind is opening, purchase,
/// charge, recover, transfer, send_to_reclaim, send_to_destruction or loss; from and to are tags,
/// from is empty for opening. occurred_at is an instant (2026-07-14T11:52:00-06:00), a local time
/// (2026-07-14T11:52) or a day (2026-07-14); fractions of a second are cut off.
///
/// A column of masses carries its unit: mass_lb, mass_oz, mass_kg, mass_g, mass_mg or mass_ug hold
/// plain decimals, mass alone holds texts such as "7 lb 10 oz"; likewise full_charge, capacity,
/// tare and water_capacity.
///
/// A file of up to 10 MiB is kept in the book with its import; keep larger ones yourself, the book
/// knows their hash.
///
/// An import asks no questions: what a technician would be asked on the spot becomes a finding.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook import appliances appliances.csv --data book --organisation \"Halfmoon Grocers\" \
       --zone America/Denver\n  \
       tarebook import movements movements.csv --data book --organisation \"Halfmoon Grocers\" --dry-run"
))]
pub struct Import {
    /// What the file holds
    #[arg(value_name = "TABLE")]
    table: TableName,

    /// The file to import
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// The sheet to import, where the file is a workbook with several
    #[arg(long, value_name = "NAME")]
    sheet: Option<String>,

    /// Organisation whose book it is (default: the setting `organisation`, else the only one)
    #[arg(long, value_name = "NAME")]
    organisation: Option<String>,

    /// Check the whole file and book nothing
    #[arg(long)]
    dry_run: bool,

    /// Time zone (IANA name) of rows and sites that have none of their own
    #[arg(long, value_name = "ZONE", default_value = "UTC")]
    zone: String,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum TableName {
    /// Appliances and the sites they stand at
    Appliances,
    /// Cylinders
    Cylinders,
    /// Movements of refrigerant
    Movements,
}

impl From<TableName> for Table {
    fn from(name: TableName) -> Table {
        match name {
            TableName::Appliances => Table::Appliances,
            TableName::Cylinders => Table::Cylinders,
            TableName::Movements => Table::Movements,
        }
    }
}

impl Import {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let zone = Zone::named(&self.zone).ok_or_else(|| {
            Failure::usage(format!(
                "expected the IANA name of a time zone after --zone, came '{}'. Write it like \
                 America/Denver or UTC.",
                self.zone
            ))
        })?;
        let (mut db, of) = open::book(context, &self.organisation, Purpose::Write)?;
        let table = Table::from(self.table);
        let mut books = Books::new();
        let mut importing = Importing {
            db: &mut db,
            books: &mut books,
            of: &of,
            clock: Clock::real(),
            zone,
        };
        let mut bar = context.terminal.progress("rows");
        let file = ImportFile {
            path: &self.file,
            sheet: self.sheet.as_deref(),
        };
        let outcome = importing.run(table, file, self.dry_run, &mut |stage| match stage {
            Stage::Checking(row) => bar.at("checked", row, None),
            Stage::Booking(row, rows) => bar.at("booked", row, Some(rows)),
        });
        drop(bar);
        let outcome = match outcome {
            Ok(outcome) => outcome,
            Err(error) => {
                // Before the reason: how far it came, and that the same command goes on from there.
                // Where even that cannot be read, the reason alone must do.
                let _ = self.tell_unfinished(context, &mut db, &of);
                return Err(error.into());
            }
        };
        self.tell(context, &outcome)?;
        if let Outcome::Booked { .. } = outcome {
            open::sign(context, &mut db, &of)?;
        }
        self.tell_unfinished(context, &mut db, &of)?;
        Ok(Exit::Good)
    }

    fn tell(&self, context: &Context, outcome: &Outcome) -> Result<(), Failure> {
        let file = self.file.display();
        let text = match outcome {
            Outcome::Wrong(problems) => {
                let count = spaced(problems.count());
                let things = if problems.count() == 1 {
                    "problem"
                } else {
                    "problems"
                };
                return Err(Failure::failed(format!(
                    "{file} has {count} {things}; nothing was booked.\n{}",
                    problems.to_string().trim_end()
                )));
            }
            Outcome::Good { rows, left, .. } => format!(
                "{file}: {} good; {} would be booked. Nothing was booked.",
                all(*rows),
                spaced(*left)
            ),
            Outcome::Already { rows, seq } => format!(
                "{file}: {} in the book already, since entry no. {seq}. Nothing was booked.",
                all(*rows)
            ),
            Outcome::Booked {
                rows,
                booked,
                findings,
                seq,
                ..
            } => {
                let findings = match findings {
                    0 => "no findings".to_string(),
                    some => format!("{} {}", spaced(*some), plural::noun(some, "findings")),
                };
                format!(
                    "{file}: {} of {} booked under import no. {seq}; {findings}.",
                    spaced(*booked),
                    format_args!("{} {}", spaced(*rows), plural::noun(rows, "rows"))
                )
            }
        };
        context.terminal.say(text);
        if let Outcome::Good { guessed, .. } | Outcome::Booked { guessed, .. } = outcome
            && let Some(cell) = guessed
        {
            context.terminal.say(format!(
                "The file is no UTF-8 and was read as Windows-1252, with letters such as in {cell}. \
                 Where they are others, save it as CSV UTF-8."
            ));
        }
        Ok(())
    }

    /// An import that stopped half-way stays visible until it is continued.
    fn tell_unfinished(
        &self,
        context: &Context,
        db: &mut Db,
        of: &Organisation,
    ) -> Result<(), Failure> {
        for import in imports::unfinished(db, of.org)? {
            context.terminal.say(format!(
                "An import of {} is unfinished: row {} of {} is the last one booked. Run it again \
                 with the same file to go on.",
                import.table,
                spaced(import.done),
                spaced(import.rows + 1)
            ));
        }
        Ok(())
    }
}

/// `all 640 rows are`, `the one row is`.
fn all(rows: u64) -> String {
    match rows {
        1 => "the one row is".to_string(),
        rows => format!("all {} rows are", spaced(rows)),
    }
}
