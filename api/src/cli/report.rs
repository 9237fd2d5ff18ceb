//! `tarebook report`: a report as CSV, for programs and for the yearly file, or as a workbook.

mod choices;
mod files;

use super::failure::{Exit, Failure};
use super::open;
use super::{Context, examples};
use crate::actions::report::{self, ReportAsked, ReportName, ReportTold};
use crate::store::Purpose;
use choices::{CellSeparator, DecimalSign, FileKind, Method, Netting, Reader, ReportUnit};
use clap::Args;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use reports::day::Day;
use reports::plural;
use reports::refrigerant::Basis;
use reports::rules::RuleFile;
use reports::sheet::Options;
use std::path::{Path, PathBuf};

/// Write a report as CSV or as a workbook
///
/// appliance-year has one row per appliance and refrigerant held in the year: full charge,
/// balances, masses charged and recovered, the worst leak rate by each method and how often the
/// threshold was passed. additions has one row per addition of the year with both rates. follow-ups,
/// inspections-due and yearly-loss say what is owed and what comes near the yearly limit;
/// disposals-by-month, releases and yearly-co2e are the logs and sums that authorities ask for;
/// mass-balance says for each refrigerant what came into the cylinders, where it went, what is left.
/// Appliances are in the order of their tags.
///
/// Only the report goes to standard output (or --out). Standard error names the rule sets used, the
/// entry number the report was made from and its root, and how many rows could not be judged. An
/// unknown full charge leaves its cell and every figure that needs it empty; it is never 0.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook report appliance-year --data book --organisation \"Halfmoon Grocers\" --year 2025 \
       --out 2025.csv\n  \
       tarebook report additions --data book --organisation \"Halfmoon Grocers\" --year 2025 --unit kg \
       --method rolling --rules county.toml --as-of 4700"
))]
pub struct Report {
    /// Which report
    #[arg(value_name = "NAME", value_parser = names())]
    name: ReportName,

    /// Organisation whose book it is (default: the setting `organisation`, else the only one)
    #[arg(long, value_name = "NAME")]
    organisation: Option<String>,

    /// Calendar year, 1 to 9999
    #[arg(long, value_name = "YEAR", value_parser = clap::value_parser!(i16).range(1..=9999))]
    year: i16,

    /// Unit of masses and of the column names
    ///
    /// kg, g and ug are exact; lb is written with at most 14 decimals, from which the exact mass
    /// comes back.
    #[arg(long, value_name = "UNIT", default_value = "lb")]
    unit: ReportUnit,

    /// Judge every site by this method instead of its own recorded one
    ///
    /// Default: the dated method of the facility; annualising where none was recorded.
    #[arg(long, value_name = "METHOD")]
    method: Option<Method>,

    /// What is taken off an addition, instead of what the rule set says
    ///
    /// visit: what was recovered in the same visit. gross: nothing. returned: what was recovered
    /// within twelve months and is put back. Default: what the rule set says, else visit.
    #[arg(long, value_name = "NETTING")]
    netting: Option<Netting>,

    /// Judge by these rule files alone, not by the adopted rule sets (may be repeated)
    #[arg(long, value_name = "FILE.toml")]
    rules: Vec<PathBuf>,

    /// The book as it was: up to and including entry no. SEQ, or booked up to INSTANT
    ///
    /// An instant is written 2026-01-31T23:59:59Z. Rule sets adopted later are left out too.
    /// Default: the whole book.
    #[arg(long, value_name = "SEQ|INSTANT")]
    as_of: Option<AsOf>,

    /// The last day looked at, a day of the year
    ///
    /// Default: 31 December; for reports that say how things stand (follow-ups, inspections-due,
    /// yearly-loss, releases) no later than the day of the newest entry.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    on: Option<Day>,

    /// Global warming potentials by which yearly-co2e also sums the calendar year
    ///
    /// AR4, AR5, AR6, EU-2024/573 or US-84.64. Default: what the rule sets ask for; without one AR5.
    #[arg(long, value_name = "BASIS", value_parser = basis)]
    gwp_basis: Option<Basis>,

    /// What kind of file is written (default: what the ending of --out says, else csv)
    ///
    /// A workbook (xlsx) holds the table, its evidence and a sheet that says what both are, so that no
    /// file stands beside it. It keeps 15 digits of a number; the csv is the exact one.
    #[arg(long = "as", value_name = "KIND")]
    kind: Option<FileKind>,

    /// For whom the file is written
    ///
    /// The form for programs never changes: commas, decimal points, UTF-8 without a mark. The one for
    /// a spreadsheet begins with a byte-order mark, and texts that could be taken for a number or a
    /// day have an apostrophe before them; no description is written beside it.
    #[arg(long = "for", value_name = "WHOM", default_value = "programs")]
    reader: Reader,

    /// What stands between cells for a spreadsheet (default: comma, beside decimal commas semicolon)
    #[arg(long, value_name = "SIGN")]
    separator: Option<CellSeparator>,

    /// Decimal sign for a spreadsheet (default: point)
    #[arg(long, value_name = "SIGN")]
    decimal: Option<DecimalSign>,

    /// File to write instead of standard output; it must not exist yet
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// The names of reports, as the command line offers them.
fn names() -> impl TypedValueParser<Value = ReportName> {
    let offered = ReportName::ALL.map(|report| {
        let about = report.about();
        PossibleValue::new(about.word).help(about.title)
    });
    PossibleValuesParser::new(offered).try_map(|word| {
        let named = ReportName::named(&word);
        named.ok_or_else(|| format!("no report is called {word}"))
    })
}

fn basis(word: &str) -> Result<Basis, String> {
    let words = || Basis::ALL.map(Basis::word).join(", ");
    Basis::from_word(word).ok_or_else(|| format!("expected one of {}", words()))
}

fn day(text: &str) -> Result<Day, String> {
    Day::parse(text).ok_or_else(|| "expected a day written YYYY-MM-DD".to_string())
}

/// Where a report cuts the book.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum AsOf {
    /// Up to and including this entry.
    Number(u64),
    /// Up to this instant, in microseconds since 1970.
    Instant(i64),
}

impl std::str::FromStr for AsOf {
    type Err = String;

    fn from_str(text: &str) -> Result<AsOf, String> {
        if let Ok(number) = text.parse() {
            return Ok(AsOf::Number(number));
        }
        let instant: jiff::Timestamp = text.parse().map_err(|_| {
            "expected the number of an entry, such as 4700, or an instant such as \
             2026-01-31T23:59:59Z"
                .to_string()
        })?;
        Ok(AsOf::Instant(instant.as_microsecond()))
    }
}

impl Report {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let (mut db, of) = open::book(context, &self.organisation, Purpose::Read)?;
        let rules = match self.rules.is_empty() {
            true => None,
            false => Some(
                self.rules
                    .iter()
                    .map(|file| rule_file(file))
                    .collect::<Result<_, _>>()?,
            ),
        };
        let mut options = Options::of_year(self.year);
        options.unit = self.unit.unit();
        options.netting = self.netting.map(Netting::netting);
        options.method = self.method.map(Method::method);
        options.cut = self.on;
        options.basis = self.gwp_basis;
        options.dialect = choices::dialect(self.reader, self.separator, self.decimal)?;
        let as_of = self.as_of.map(|as_of| match as_of {
            AsOf::Number(number) => report::AsOf::Number(number),
            AsOf::Instant(moment) => report::AsOf::Instant(moment),
        });
        let asked = ReportAsked {
            name: self.name,
            options,
            rules,
            as_of,
        };
        let kind = choices::kind(self.kind, self.out.as_deref());
        if kind == FileKind::Xlsx {
            choices::plain(self.reader, self.separator, self.decimal)?;
        }
        let told = match &self.out {
            Some(file) if kind == FileKind::Xlsx => {
                files::write_workbook(&mut db, &of, asked, file)?
            }
            None if kind == FileKind::Xlsx => files::print_workbook(&mut db, &of, asked)?,
            None => report::report(&mut db, &of, asked, std::io::stdout().lock(), None)?,
            Some(file) => files::write(&mut db, &of, asked, file)?,
        };
        said(context, &told);
        Ok(Exit::Good)
    }
}

fn rule_file(file: &Path) -> Result<(RuleFile, String), Failure> {
    let shown = file.display().to_string();
    let text = std::fs::read_to_string(file)
        .map_err(|error| Failure::failed(format!("{shown}: {error}")))?;
    let read = RuleFile::from_toml(&shown, &text).map_err(|problems| {
        let lines: Vec<String> = problems.iter().map(ToString::to_string).collect();
        Failure::failed(lines.join("\n"))
    })?;
    Ok((read, text))
}

/// What stands beside the figures: by what they were judged, and up to where the book was read.
fn said(context: &Context, told: &ReportTold) {
    let terminal = &context.terminal;
    if told.sets.is_empty() {
        terminal
            .say("No rule set is adopted: nothing is judged, every count of additions over is 0.");
    }
    for (id, version) in &told.sets {
        terminal.say(format!("Judged by {id} ({version})."));
    }
    for sentence in &told.left_off {
        terminal.say(sentence);
    }
    match told.as_of {
        Some(seq) => terminal.say(format!("As of entry no. {seq}, root {}.", told.root)),
        None => terminal.say("The book has no entry yet."),
    }
    let summary = &told.summary;
    terminal.say(format!(
        "{}; {} could not be judged; {} used an unconfirmed value.",
        plural::counted(summary.rows, "rows"),
        summary.cannot_judge,
        plural::counted(summary.unconfirmed, "comparisons")
    ));
}
