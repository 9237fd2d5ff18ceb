//! What can be chosen of a report by a word: unit, method, netting, and for whom it is written.

use super::super::failure::Failure;
use clap::ValueEnum;
use reports::leak_rate;
use reports::mass::Unit;
use reports::sheet::{Decimal, Dialect, Separator};
use std::path::Path;

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum ReportUnit {
    /// Pounds avoirdupois
    Lb,
    /// Kilograms
    Kg,
    /// Grams
    G,
    /// Micrograms
    Ug,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Reader {
    /// Programs, authorities, archives
    Programs,
    /// A person with a spreadsheet
    Spreadsheet,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum FileKind {
    /// Text, one row a line
    Csv,
    /// A workbook (Office Open XML)
    Xlsx,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum CellSeparator {
    /// ,
    Comma,
    /// ;
    Semicolon,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum DecimalSign {
    /// 7.25
    Point,
    /// 7,25
    Comma,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum Method {
    /// Each addition scaled to a year
    Annualising,
    /// All additions of the last 365 days
    Rolling,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum Netting {
    /// Less what the same visit recovered
    Visit,
    /// Nothing taken off
    Gross,
    /// Less what was recovered within twelve months
    Returned,
}

/// What kind of file is written: as asked, else as the name of the file ends.
pub(super) fn kind(asked: Option<FileKind>, out: Option<&Path>) -> FileKind {
    let ending = out.and_then(Path::extension);
    let is_workbook = ending.is_some_and(|ending| ending.eq_ignore_ascii_case("xlsx"));
    asked.unwrap_or(match is_workbook {
        true => FileKind::Xlsx,
        false => FileKind::Csv,
    })
}

/// Refuses what says how a CSV is written beside a workbook.
pub(super) fn plain(
    reader: Reader,
    separator: Option<CellSeparator>,
    decimal: Option<DecimalSign>,
) -> Result<(), Failure> {
    if reader == Reader::Programs && separator.is_none() && decimal.is_none() {
        return Ok(());
    }
    Err(Failure::usage(
        "expected a workbook without --for, --separator and --decimal, came one of them. A workbook \
         holds numbers and days as such; leave them out, or write --as csv.",
    ))
}

/// For whom the file is written, as three options say together.
pub(super) fn dialect(
    reader: Reader,
    separator: Option<CellSeparator>,
    decimal: Option<DecimalSign>,
) -> Result<Dialect, Failure> {
    if reader == Reader::Programs {
        return match (separator, decimal) {
            (None, None) => Ok(Dialect::Programs),
            _ => Err(Failure::usage(
                "expected --for spreadsheet with --separator and --decimal, came neither. The \
                     form for programs has one separator and one decimal sign; add --for \
                     spreadsheet or leave them out.",
            )),
        };
    }
    let decimal = match decimal {
        Some(DecimalSign::Comma) => Decimal::Comma,
        _ => Decimal::Point,
    };
    let separator = separator.map(|separator| match separator {
        CellSeparator::Comma => Separator::Comma,
        CellSeparator::Semicolon => Separator::Semicolon,
    });
    Dialect::spreadsheet(separator, decimal).ok_or_else(|| {
        Failure::usage(
            "expected semicolons between cells beside decimal commas, came commas for both. \
                 Write --separator semicolon.",
        )
    })
}

impl ReportUnit {
    pub(super) fn unit(self) -> Unit {
        match self {
            ReportUnit::Lb => Unit::Pound,
            ReportUnit::Kg => Unit::Kilogram,
            ReportUnit::G => Unit::Gram,
            ReportUnit::Ug => Unit::Microgram,
        }
    }
}

impl Method {
    pub(super) fn method(self) -> leak_rate::Method {
        match self {
            Method::Annualising => leak_rate::Method::Annualising,
            Method::Rolling => leak_rate::Method::Rolling,
        }
    }
}

impl Netting {
    pub(super) fn netting(self) -> leak_rate::Netting {
        match self {
            Netting::Visit => leak_rate::Netting::Visit,
            Netting::Gross => leak_rate::Netting::Gross,
            Netting::Returned => leak_rate::Netting::Returned,
        }
    }
}
