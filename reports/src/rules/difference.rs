//! What differs between two versions of a rule set or layer, in lines that a manager can read.
//!
//! Numbers are compared as they act: for each band and each day from which the two say different
//! things, so that a row that was only written otherwise is no difference. Whether a number became
//! stricter follows from its series. Everything else is compared member by member; examples are no
//! rules and are only counted.

use super::check::is_looser;
use super::file::{Row, Series};
use super::number::Number;
use super::parse::RuleFile;
use crate::day::Day;
use serde_json::{Map, Value};
use std::collections::BTreeSet;

/// Lines that say what is other in `new`; none: both judge alike.
pub fn differences(old: &RuleFile, new: &RuleFile) -> Vec<String> {
    let mut lines = Vec::new();
    let (a, b) = (members(old), members(new));
    numbers(old, new, &mut lines);
    for name in names(&a, &b) {
        match name {
            "values" => {}
            "examples" => {
                let count = |members: &Map<String, Value>| {
                    members
                        .get(name)
                        .and_then(Value::as_array)
                        .map_or(0, Vec::len)
                };
                if a.get(name) != b.get(name) {
                    lines.push(format!(
                        "examples: {} become {}, or others",
                        count(&a),
                        count(&b)
                    ));
                }
            }
            name => walk(name, a.get(name), b.get(name), &mut lines),
        }
    }
    lines
}

fn members(file: &RuleFile) -> Map<String, Value> {
    let json = match file {
        RuleFile::Set(set) => set.to_json(),
        RuleFile::Overlay(layer) => layer.to_json(),
    };
    match json {
        Value::Object(members) => members,
        _ => Map::new(),
    }
}

fn names<'m>(a: &'m Map<String, Value>, b: &'m Map<String, Value>) -> BTreeSet<&'m str> {
    a.keys().chain(b.keys()).map(String::as_str).collect()
}

/// Rows of each value by name; a layer knows neither units nor which way is stricter.
fn series(file: &RuleFile) -> Vec<(&str, Option<&Series>, &[Row])> {
    match file {
        RuleFile::Set(set) => (set.values.iter())
            .map(|(name, series)| (name.as_str(), Some(series), &series.rows[..]))
            .collect(),
        RuleFile::Overlay(layer) => (layer.values.iter())
            .map(|(name, over)| (name.as_str(), None, &over.rows[..]))
            .collect(),
    }
}

fn numbers(old: &RuleFile, new: &RuleFile, lines: &mut Vec<String>) {
    let (old, new) = (series(old), series(new));
    let all: BTreeSet<&str> = old.iter().chain(&new).map(|one| one.0).collect();
    for name in all {
        let of = |file: &[(&str, Option<&Series>, &[Row])]| {
            let found = file.iter().find(|one| one.0 == name);
            found.map_or((None, Vec::new()), |one| (one.1.cloned(), one.2.to_vec()))
        };
        let ((a, before), (b, after)) = (of(&old), of(&new));
        described(name, a.as_ref(), b.as_ref(), lines);
        let bands: BTreeSet<&str> = (before.iter().chain(&after))
            .flat_map(|row| row.bands.iter().flatten().map(String::as_str))
            .collect();
        let mut whom = bands;
        if before.iter().chain(&after).any(|row| row.bands.is_none()) {
            whom.insert("");
        }
        let alone = whom.len() == 1;
        for band in whom {
            let place = match (band, alone) {
                ("", true) => format!("values.{name}"),
                ("", false) => format!("values.{name} for all others"),
                (band, _) => format!("values.{name} for {band}"),
            };
            let series = b.as_ref().or(a.as_ref());
            by_days(&place, band, (&before, &after), series, lines);
        }
    }
}

/// What stands beside the rows: meaning, unit, which way is stricter.
fn described(name: &str, old: Option<&Series>, new: Option<&Series>, lines: &mut Vec<String>) {
    let (Some(old), Some(new)) = (old, new) else {
        return;
    };
    let place = format!("values.{name}");
    if old.means != new.means {
        lines.push(format!(
            "{place}.means: '{}' becomes '{}'",
            old.means, new.means
        ));
    }
    if old.unit != new.unit {
        lines.push(format!("{place}.unit: {} becomes {}", old.unit, new.unit));
    }
    if old.stricter != new.stricter {
        lines.push(format!(
            "{place}.stricter: it becomes stricter the other way, or says no way"
        ));
    }
}

/// One line for each day from which the two say different things.
fn by_days(
    place: &str,
    band: &str,
    rows: (&[Row], &[Row]),
    series: Option<&Series>,
    lines: &mut Vec<String>,
) {
    let days: BTreeSet<Day> = rows.0.iter().chain(rows.1).map(|row| row.from.0).collect();
    let mut said = None;
    for day in days {
        let (old, new) = (row_on(rows.0, band, day), row_on(rows.1, band, day));
        let (a, b) = (stands(old), stands(new));
        if a == b || said.as_ref() == Some(&(a.clone(), b.clone())) {
            said = (a != b).then_some((a, b));
            continue;
        }
        let unit = series.map_or(String::new(), |series| format!(" {}", series.unit));
        let turn = turn(old, new, series);
        lines.push(format!("{place} from {day}: {a} becomes {b}{unit}{turn}"));
        said = Some((a, b));
    }
}

/// The newest row for a band on a day; a row that ends the series is none.
fn row_on<'r>(rows: &'r [Row], band: &str, day: Day) -> Option<&'r Row> {
    let is_for = |row: &&Row| match &row.bands {
        None => true,
        Some(bands) => bands.iter().any(|name| name == band),
    };
    let begun = rows.iter().filter(is_for).filter(|row| row.from.0 <= day);
    begun
        .max_by_key(|row| row.from.0)
        .filter(|row| row.is != "none")
}

/// A row as it is cited.
fn stands(row: Option<&Row>) -> String {
    let Some(row) = row else {
        return "no number".to_string();
    };
    let mut text = row.is.clone();
    if let Some(clause) = &row.clause {
        text.push_str(&format!(" [{clause}]"));
    }
    if row.confidence.is_some() {
        text.push_str(" (unconfirmed)");
    }
    text
}

/// Which way a number turned.
fn turn(old: Option<&Row>, new: Option<&Row>, series: Option<&Series>) -> &'static str {
    let read = |row: Option<&Row>| Number::read(&row?.is, series?.unit).ok();
    let stricter = series.and_then(|series| series.stricter);
    let (Some(old), Some(new), Some(stricter)) = (read(old), read(new), stricter) else {
        return "";
    };
    match (is_looser(new, old, stricter), is_looser(old, new, stricter)) {
        (true, _) => ", looser",
        (_, true) => ", stricter",
        _ => "",
    }
}

/// Compares two members and what is in them.
fn walk(path: &str, old: Option<&Value>, new: Option<&Value>, lines: &mut Vec<String>) {
    match (old, new) {
        (old, new) if old == new => {}
        (Some(Value::Object(a)), Some(Value::Object(b))) => {
            for name in names(a, b) {
                walk(&format!("{path}.{name}"), a.get(name), b.get(name), lines);
            }
        }
        (Some(Value::Array(a)), Some(Value::Array(b))) => lists(path, a, b, lines),
        (Some(old), Some(new)) => lines.push(format!("{path}: {old} becomes {new}")),
        (Some(old), None) => lines.push(format!("{path}: gone; it was {old}")),
        (None, Some(new)) => lines.push(format!("{path}: new: {new}")),
        (None, None) => {}
    }
}

/// Blocks with names are compared by name, other items by their place.
fn lists(path: &str, old: &[Value], new: &[Value], lines: &mut Vec<String>) {
    let keys = |list: &[Value]| -> Option<Vec<String>> {
        let name = |item: &Value| item.get("name").and_then(Value::as_str).map(str::to_string);
        let keys: Vec<String> = list.iter().map(name).collect::<Option<_>>()?;
        let unique = keys.iter().collect::<BTreeSet<_>>().len() == keys.len();
        unique.then_some(keys)
    };
    let (Some(a), Some(b)) = (keys(old), keys(new)) else {
        for at in 0..old.len().max(new.len()) {
            walk(
                &format!("{path}[{}]", at + 1),
                old.get(at),
                new.get(at),
                lines,
            );
        }
        return;
    };
    for name in a.iter().chain(b.iter().filter(|name| !a.contains(name))) {
        let of = |keys: &[String], list: &'_ [Value]| {
            let at = keys.iter().position(|key| key == name)?;
            list.get(at).cloned()
        };
        let (old, new) = (of(&a, old), of(&b, new));
        walk(&format!("{path}.{name}"), old.as_ref(), new.as_ref(), lines);
    }
}
