//! What a rule file says, as lines of a page: numbers with their days and clauses, limits, duties.

use super::super::{figures, words};
use reports::day::Day;
use reports::plural;
use reports::rules::file::{Line, Row, RuleSet};
use reports::rules::{Overlay, RuleFile};

/// A number from a day on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NumberLine {
    /// Name of the value.
    pub value: String,
    /// What the number means.
    pub means: String,
    /// The bands it is for; empty: all.
    pub bands: String,
    /// Its first day.
    pub from: String,
    /// The number with its unit.
    pub number: String,
    /// Where it stands.
    pub clause: String,
    /// What is to be known of it: unconfirmed, loosens.
    pub marks: Vec<String>,
    /// It is the newest that has begun.
    pub holds: bool,
}

/// A limit or a duty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RuleLine {
    /// What it is.
    pub means: String,
    /// When: what is compared, or until when it is owed.
    pub says: String,
    /// Its clause.
    pub clause: String,
    /// The clause itself was not read.
    pub unconfirmed: bool,
}

/// Every number of a file as of a day. Of a layer, means and units are those of its base.
pub fn numbers(file: &RuleFile, base: Option<&RuleSet>, today: Day) -> Vec<NumberLine> {
    let mut lines = Vec::new();
    match file {
        RuleFile::Set(set) => {
            for (name, series) in &set.values {
                let of = (name.as_str(), series.means.as_str(), series.unit.word());
                lines.extend(
                    series
                        .rows
                        .iter()
                        .map(|row| number(of, row, &series.rows, today)),
                );
            }
        }
        RuleFile::Overlay(layer) => {
            for (name, over) in &layer.values {
                let series = base.and_then(|base| base.values.get(name));
                let means = series.map_or("", |series| series.means.as_str());
                let unit = series.map_or("", |series| series.unit.word());
                let of = (name.as_str(), means, unit);
                lines.extend(
                    over.rows
                        .iter()
                        .map(|row| number(of, row, &over.rows, today)),
                );
            }
        }
    }
    lines
}

fn number(of: (&str, &str, &str), row: &Row, rows: &[Row], today: Day) -> NumberLine {
    let (value, means, unit) = of;
    let mut marks = Vec::new();
    if let Some(confidence) = row.confidence {
        let source = row.source.as_deref();
        let read = source.map_or(String::new(), |source| format!("; read: {source}"));
        marks.push(format!("{}{read}", words::capital(confidence.word())));
    }
    if row.loosens {
        let reason = row.reason.as_deref().unwrap_or_default();
        marks.push(format!("Loosens the set below it: {reason}"));
    }
    let begun = |other: &&Row| other.bands == row.bands && other.from.0 <= today;
    let newest = rows.iter().filter(begun).map(|other| other.from).max();
    NumberLine {
        value: value.to_string(),
        means: words::capital(means),
        bands: (row.bands.iter().flatten())
            .map(|band| words::plain(band))
            .collect::<Vec<_>>()
            .join(", "),
        from: figures::day(row.from.0),
        number: with_unit(&row.is, unit),
        clause: row.clause.clone().unwrap_or_default(),
        marks,
        holds: newest == Some(row.from),
    }
}

/// A number with its unit; `none` ends a series.
pub fn with_unit(number: &str, unit: &str) -> String {
    match (number, unit) {
        ("none", _) => "no number".to_string(),
        (number, "percent_per_year") => format!("{} a year", figures::percent(number)),
        (number, "percent") => figures::percent(number),
        (number, "" | "date" | "month_day") => number.to_string(),
        (number, unit) => plural::counted(number, unit),
    }
}

/// The limits of a set.
pub fn limits(set: &RuleSet) -> Vec<RuleLine> {
    let limits = set.limits.iter().map(|limit| {
        let bounds = [
            ("over", &limit.over),
            ("at least", &limit.at_least),
            ("below", &limit.below),
            ("at most", &limit.at_most),
        ];
        let bounds: Vec<String> = (bounds.into_iter())
            .flat_map(|(word, names)| names.iter().map(move |names| (word, names)))
            .map(|(word, names)| {
                let names: Vec<String> = names.texts().iter().map(|it| words::plain(it)).collect();
                format!("{word} {}", names.join(" and "))
            })
            .collect();
        let measure = words::plain(limit.measure.word());
        RuleLine {
            means: words::capital(&limit.means),
            says: format!("{} {}", words::capital(&measure), bounds.join(", ")),
            clause: limit.clause.clone(),
            unconfirmed: limit.confidence.is_some(),
        }
    });
    limits.collect()
}

/// The duties of a set.
pub fn duties(set: &RuleSet) -> Vec<RuleLine> {
    let duties = set.duties.iter().map(|duty| {
        let due: Vec<String> = duty.due.iter().map(due).collect();
        let says = match (&duty.no_number, due.is_empty()) {
            (Some(words), _) => words.clone(),
            (None, true) => "No date".to_string(),
            (None, false) => words::capital(&due.join("; or ")),
        };
        RuleLine {
            means: words::capital(&duty.means),
            says,
            clause: duty.clause.clone(),
            unconfirmed: duty.confidence.is_some(),
        }
    });
    duties.collect()
}

/// `within repair time after the start, when ...`.
fn due(line: &Line) -> String {
    let mut text = match (&line.within, &line.by, &line.on) {
        (Some(value), ..) => format!("within {}", words::plain(value)),
        (_, Some(value), _) => format!("by {}", words::plain(value)),
        (_, _, Some(value)) => format!("on {}", words::plain(value)),
        _ => "on the day the authority granted".to_string(),
    };
    if let Some(anchor) = line.after {
        text.push_str(&format!(" after {}", words::plain(anchor.word())));
    }
    if line.when.is_some() {
        text.push_str(" (in some cases)");
    }
    text
}

/// Where a layer acts.
pub fn place(layer: &Overlay) -> String {
    let Some(test) = &layer.place else {
        return "everywhere".to_string();
    };
    let region = test.region.as_ref().and_then(|region| region.is.as_ref());
    match region {
        Some(regions) => format!("in {}", regions.join(", ")),
        None => "where its test holds (see the text)".to_string(),
    }
}
