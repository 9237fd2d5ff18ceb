//! Dated series: rows that can be read, no overlap, no gap where a value is used.

use super::Found;
use super::uses::{FOR_EVER, Use};
use crate::day::Day;
use crate::rules::file::{Row, RuleSet, Series};
use crate::rules::number::Number;
use crate::rules::problem::no_such;
use std::collections::{BTreeMap, BTreeSet};

/// Judges every row by itself, and the rows of a value against each other.
pub(super) fn rows(set: &RuleSet, found: &mut Found) {
    let bands = band_names(set);
    for (name, series) in &set.values {
        let place = format!("values.{name}");
        if series.rows.is_empty() {
            found.say(&place, "no rows; a value needs at least one dated row");
        }
        for row in &series.rows {
            if let Err(wrong) = Number::read(&row.is, series.unit) {
                found.say(&place, format!("row from {}: {wrong}", row.from));
            }
            if row.is != "none" && row.clause.as_deref().unwrap_or("").trim().is_empty() {
                found.say(
                    &place,
                    format!("row from {}: no clause; say where it stands", row.from),
                );
            }
            if row.loosens || row.reason.is_some() {
                let only = "'loosens' and 'reason' stand only in an overlay";
                found.say(&place, format!("row from {}: {only}", row.from));
            }
            for band in row
                .bands
                .iter()
                .flatten()
                .filter(|b| !bands.contains(b.as_str()))
            {
                let names: Vec<&str> = bands.iter().copied().collect();
                found.say(&place, no_such("band", band, &names));
            }
        }
        overlaps(&place, &series.rows, &bands, found);
    }
}

/// Two rows from the same day for the same band: nobody could say which holds.
pub(super) fn overlaps(place: &str, rows: &[Row], bands: &BTreeSet<&str>, found: &mut Found) {
    let mut twice: BTreeMap<Day, BTreeSet<&str>> = BTreeMap::new();
    for (at, row) in rows.iter().enumerate() {
        for other in rows[at + 1..].iter().filter(|other| other.from == row.from) {
            let both = twice.entry(row.from.0).or_default();
            let shared = bands
                .iter()
                .filter(|band| is_for(row, band) && is_for(other, band));
            both.extend(shared);
            if bands.is_empty() {
                both.insert("");
            }
        }
    }
    for (day, shared) in twice.into_iter().filter(|(_, shared)| !shared.is_empty()) {
        let names: Vec<&str> = shared.into_iter().collect();
        let names = names.join(", ");
        let whom = if names.is_empty() {
            String::new()
        } else {
            format!(" for {names}")
        };
        found.say(place, format!("overlap, two rows from {day}{whom}"));
    }
}

/// Whether a row is for a band.
pub(super) fn is_for(row: &Row, band: &str) -> bool {
    row.bands
        .as_ref()
        .is_none_or(|bands| bands.iter().any(|name| name == band))
}

/// The names of a set's bands.
pub(super) fn band_names(set: &RuleSet) -> BTreeSet<&str> {
    set.bands.iter().map(|band| band.name.as_str()).collect()
}

/// Judges each use: the value exists, its unit fits, it has a row on every day it is asked for.
pub(super) fn uses(set: &RuleSet, uses: &[Use], horizon: Day, found: &mut Found) {
    let names: Vec<&str> = set.values.keys().map(String::as_str).collect();
    let mut gaps: BTreeMap<&str, BTreeMap<(Day, Day), BTreeSet<&str>>> = BTreeMap::new();
    let mut asked: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for used in uses {
        let Some(series) = set.values.get(used.value) else {
            found.say(&used.place, no_such("value", used.value, &names));
            continue;
        };
        if !used.role.fits(series.unit) {
            let (value, unit, fitting) = (used.value, series.unit, used.role.units());
            let message = format!("value '{value}' is in {unit}; expected here: {fitting}");
            found.say(&used.place, message);
        }
        let banded = series.rows.iter().any(|row| row.bands.is_some());
        if banded && used.bands.is_none() {
            let value = used.value;
            let early = "has rows for single bands, but here the band is not known yet";
            found.say(&used.place, format!("value '{value}' {early}"));
            continue;
        }
        let everyone = vec![""];
        let bands = used.bands.as_ref().filter(|_| banded).unwrap_or(&everyone);
        asked.entry(used.value).or_default().extend(bands);
        for band in bands {
            for gap in gaps_of(series, band, &used.spans, horizon) {
                gaps.entry(used.value)
                    .or_default()
                    .entry(gap)
                    .or_default()
                    .insert(band);
            }
        }
    }
    say_gaps(gaps, &asked, found);
    let used: BTreeSet<&str> = uses.iter().map(|used| used.value).collect();
    for name in names {
        if !used.contains(name) && !name.starts_with("info_") {
            let message = "used nowhere; use it, or name it 'info_...' when it is only shown";
            found.say(format!("values.{name}"), message);
        }
    }
}

fn say_gaps<'a>(
    gaps: BTreeMap<&'a str, BTreeMap<(Day, Day), BTreeSet<&'a str>>>,
    asked: &BTreeMap<&str, BTreeSet<&str>>,
    found: &mut Found,
) {
    for (value, spans) in gaps {
        for ((from, until), bands) in spans {
            let all = asked.get(value).is_some_and(|asked| *asked == bands) && bands.len() != 1;
            let named = bands.iter().copied().collect::<Vec<_>>().join(", ");
            let whom = if all || named.is_empty() {
                String::new()
            } else {
                format!(" for {named}")
            };
            let when = if from == until {
                format!("on {from}")
            } else {
                format!("from {from} to {until}")
            };
            found.say("", format!("gap: value '{value}'{whom} has no row {when}"));
        }
    }
}

/// The days within the spans, up to the horizon, on which no row is in force for a band.
fn gaps_of(series: &Series, band: &str, spans: &[(Day, Day)], horizon: Day) -> Vec<(Day, Day)> {
    let mut rows: Vec<&Row> = series
        .rows
        .iter()
        .filter(|row| band.is_empty() || is_for(row, band))
        .collect();
    rows.sort_by_key(|row| row.from);
    let mut empty = Vec::new();
    let mut free_from = Some(crate::appliance::Facts::ALWAYS);
    for row in rows {
        let ends = row.is == "none";
        match (free_from, ends) {
            (Some(from), false) => {
                empty.push((from, row.from.0.plus(-1)));
                free_from = None;
            }
            (None, true) => free_from = Some(row.from.0),
            _ => {}
        }
    }
    empty.extend(free_from.map(|from| (from, FOR_EVER)));
    let mut gaps = Vec::new();
    for (from, until) in empty {
        for span in spans {
            let gap = (from.max(span.0), until.min(span.1).min(horizon));
            if gap.0 <= gap.1 {
                gaps.push(gap);
            }
        }
    }
    gaps
}
