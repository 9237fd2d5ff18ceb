//! What can be chosen of a report by a word: unit, method, netting, and for whom it is written.

use super::super::failure::Failure;
use clap::ValueEnum;
use reports::leak_rate;
use reports::mass::Unit;
use reports::sheet::{Decimal, Dialect, Separator};

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
