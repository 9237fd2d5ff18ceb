//! The description beside a report: `<name>.csv-metadata.json`.
//!
//! The form is that of the W3C recommendation "Metadata Vocabulary for Tabular Data" (CSV on the
//! Web): titles, datatypes, primary key. What the reader must know besides (unit, rule sets with
//! their versions, the entry and root the report was made at) stands in properties of `notes`,
//! where that recommendation allows any object.

use super::{Cells, Column, Options};
use crate::leak_rate::{Method, Netting};
use crate::mass::Unit;
use crate::refrigerant::Basis;
use serde_json::{Map, Value, json};

/// What a report was made from.
#[derive(Clone, Debug, Default)]
pub struct Provenance<'a> {
    /// Number of the last entry that was read.
    pub as_of: Option<u64>,
    /// Root hash of the book at that entry, as its checkpoint prints it.
    pub root_hash: &'a str,
    /// Rule sets with their versions, in their order.
    pub rule_sets: &'a [(String, String)],
    /// How many limits were used whose clause was not read by whoever wrote the rule set.
    pub unconfirmed: u64,
}

/// The description of a report; `url`: where it lies, as seen from the description, `key`: the
/// columns that tell its rows apart, if any do.
pub fn document(
    url: &str,
    columns: &[Column],
    key: &[&str],
    options: &Options,
    provenance: &Provenance<'_>,
) -> String {
    let mut schema = Map::new();
    schema.insert("columns".into(), columns.iter().map(described).collect());
    if !key.is_empty() {
        schema.insert("primaryKey".into(), json!(key));
    }
    let document = json!({
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "url": url,
        "dialect": {
            "encoding": "utf-8",
            "header": true,
            "lineTerminators": ["\r\n"],
            "quoteChar": "\"",
            "doubleQuote": true,
        },
        "tableSchema": schema,
        "notes": [note(options, provenance)],
    });
    format!("{document:#}\n")
}

/// What the vocabulary has no word for.
fn note(options: &Options, provenance: &Provenance<'_>) -> Value {
    let sets = provenance.rule_sets.iter();
    let sets: Value = sets
        .map(|(id, version)| json!({"id": id, "version": version}))
        .collect();
    json!({
        "year": options.year,
        "judged_on": options.last_day().to_string(),
        "unit": options.unit.code(),
        "netting": options.netting.map(netting_word),
        "method": options.method.map(method_word),
        "gwp_basis": options.basis.map(Basis::word),
        "rule_sets": sets,
        "unconfirmed_values_used": provenance.unconfirmed,
        "as_of": provenance.as_of,
        "root_hash": provenance.root_hash,
        "engine": crate::ENGINE,
        "text_cells": "A text that begins with = + - @ or a control character has one apostrophe \
                       before it, so that no spreadsheet executes it.",
        "evidence": "Beside this file: one line per row, figure and entry; contributions add up.",
    })
}

fn described(column: &Column) -> Value {
    let mut described = json!({
        "name": column.name,
        "titles": [column.name, column.title],
        "datatype": datatype(column.cells),
        "dc:description": column.description,
    });
    if let Cells::Mass(unit) = column.cells {
        described["schema:unitCode"] = json!(unit.code());
        described["schema:unitText"] = json!(unit_text(unit));
    }
    described
}

fn datatype(cells: Cells) -> Value {
    match cells {
        Cells::Text => json!("string"),
        Cells::Mass(_) | Cells::Percent | Cells::Number => {
            json!({"base": "decimal", "format": "#0.##############"})
        }
        // Mass in steps of 10^-11 g (17 decimals of a tonne) times a GWP with at most four.
        Cells::Tonnes => json!({"base": "decimal", "format": "#0.#####################"}),
        Cells::Month => json!("gYearMonth"),
        Cells::Count => json!("integer"),
        Cells::Day => json!({"base": "date", "format": "yyyy-MM-dd"}),
        Cells::YesNo => json!({"base": "boolean", "format": "yes|no"}),
    }
}

/// A unit of masses in words, with its size where it is no metric one.
pub fn unit_text(unit: Unit) -> &'static str {
    match unit {
        Unit::Pound | Unit::PoundsAndOunces => "pound avoirdupois, 0.45359237 kg",
        Unit::Ounce => "ounce avoirdupois, 28.349523125 g",
        Unit::Kilogram => "kilogram",
        Unit::Gram => "gram",
        Unit::Milligram => "milligram",
        Unit::Microgram => "microgram",
    }
}

/// The word of a netting.
pub fn netting_word(netting: Netting) -> &'static str {
    match netting {
        Netting::Visit => "visit",
        Netting::Gross => "gross",
        Netting::Returned => "returned",
    }
}

/// The word of a method.
pub fn method_word(method: Method) -> &'static str {
    match method {
        Method::Annualising => "annualising",
        Method::Rolling => "rolling",
    }
}
