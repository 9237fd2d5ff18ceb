//! Local layers: they change numbers of a base set, and may only tighten.

use super::Found;
use super::names::{bad_id, no_region};
use super::series::{band_names, is_for, overlaps};
use super::uses::FOR_EVER;
use crate::day::Day;
use crate::rules::file::{Overlay, Row, RuleSet, Series};
use crate::rules::number::Number;
use crate::rules::problem::{Problem, no_such};
use crate::rules::region::is_region;
use crate::rules::tables::Tables;
use crate::rules::words::Stricter;
use std::collections::BTreeSet;

/// Everything that is wrong with a local layer over its base set.
pub fn check_overlay(overlay: &Overlay, base: &RuleSet, tables: &Tables) -> Vec<Problem> {
    let file = format!("overlay {}", overlay.id);
    let mut found = Found {
        file: &file,
        problems: Vec::new(),
    };
    if let Some(wrong) = bad_id(&overlay.id) {
        found.say("id", wrong);
    }
    if overlay.overlays != base.id {
        let message = format!(
            "no set named '{}'; it was laid over '{}'",
            overlay.overlays, base.id
        );
        found.say("overlays", message);
        return found.problems;
    }
    for (word, text) in [("title", &overlay.title), ("reason", &overlay.reason)] {
        if text.trim().is_empty() {
            found.say(
                word,
                "may not be empty: it is shown wherever the layer acts",
            );
        }
    }
    if let Some(test) = &overlay.place {
        place(test, tables, &mut found);
    }
    if overlay.values.is_empty() {
        found.say(
            "values",
            "no values; a layer changes numbers and nothing else",
        );
    }
    for (name, rows) in &overlay.values {
        let place = format!("values.{name}");
        let Some(series) = base.values.get(name) else {
            let names: Vec<&str> = base.values.keys().map(String::as_str).collect();
            found.say(
                &place,
                format!("{} has {}", base.id, no_such("value", name, &names)),
            );
            continue;
        };
        layer_rows(&place, &rows.rows, series, base, &mut found);
    }
    found.problems
}

/// The test of a layer may not need numbers or bands of the base: it must read alone.
fn place(test: &crate::rules::conditions::Test, tables: &Tables, found: &mut Found) {
    if test.numbers().next().is_some() || test.band.is_some() {
        found.say(
            "where",
            "tests words, regions, lists and dates; a layer has no values of its own",
        );
    }
    if let Some(region) = &test.region {
        for code in [&region.is, &region.is_not].into_iter().flatten().flatten() {
            if !is_region(code) {
                found.say("where", no_region(code));
            }
        }
    }
    if let Some(lists) = &test.refrigerant {
        let names = tables.lists.names();
        for list in [&lists.contains, &lists.lacks, &lists.only]
            .into_iter()
            .flatten()
        {
            if !names.contains(&list.as_str()) {
                found.say("where", no_such("list", list, &names));
            }
        }
    }
}

fn layer_rows(place: &str, rows: &[Row], series: &Series, base: &RuleSet, found: &mut Found) {
    let bands = band_names(base);
    overlaps(place, rows, &bands, found);
    for row in rows {
        for band in row
            .bands
            .iter()
            .flatten()
            .filter(|b| !bands.contains(b.as_str()))
        {
            let names: Vec<&str> = bands.iter().copied().collect();
            found.say(place, no_such("band", band, &names));
        }
        match Number::read(&row.is, series.unit) {
            Err(wrong) => found.say(place, format!("row from {}: {wrong}", row.from)),
            Ok(Number::None) => {}
            Ok(_) if row.clause.as_deref().unwrap_or("").trim().is_empty() => {
                found.say(
                    place,
                    format!("row from {}: no clause; say where it stands", row.from),
                );
            }
            Ok(number) => tighter(place, row, number, rows, series, base, found),
        }
        if row.loosens && row.reason.as_deref().unwrap_or("").trim().is_empty() {
            found.say(
                place,
                format!("row from {}: loosens needs a reason", row.from),
            );
        }
    }
}

/// Compares a layer's row with every base row in force while it holds.
fn tighter(
    place: &str,
    row: &Row,
    number: Number,
    rows: &[Row],
    series: &Series,
    base: &RuleSet,
    found: &mut Found,
) {
    if row.loosens {
        return;
    }
    let Some(stricter) = series.stricter else {
        found.say(
            place,
            format!("{} does not say which way is stricter", base.id),
        );
        return;
    };
    let bands = band_names(base);
    let everyone = BTreeSet::from([""]);
    let bands = if bands.is_empty() { &everyone } else { &bands };
    for band in bands.iter().filter(|band| is_for(row, band)) {
        let until = next_day(rows, row.from.0, band);
        for other in in_force(&series.rows, row.from.0, until, band) {
            let Ok(old) = Number::read(&other.is, series.unit) else {
                continue;
            };
            if !is_looser(number, old, stricter) {
                continue;
            }
            let (new, from) = (&row.is, row.from);
            let day = other.from.0.max(row.from.0);
            let whom = if other.bands.is_some() {
                format!(" for {band}")
            } else {
                String::new()
            };
            let (id, old) = (&base.id, &other.is);
            found.say(
                place,
                format!(
                    "{new} from {from} is looser than {old} of {id} in force on {day}{whom}; \
                     a layer may only tighten (or say loosens = true with a reason)"
                ),
            );
        }
    }
}

/// The day before which a row of this band is replaced.
fn next_day(rows: &[Row], from: Day, band: &str) -> Day {
    let later = rows
        .iter()
        .filter(|row| is_for(row, band) && row.from.0 > from);
    later.map(|row| row.from.0).min().unwrap_or(FOR_EVER)
}

/// The rows of a band that hold on any day of `[from, until)`.
fn in_force<'a>(rows: &'a [Row], from: Day, until: Day, band: &str) -> Vec<&'a Row> {
    let mut own: Vec<&Row> = rows.iter().filter(|row| is_for(row, band)).collect();
    own.sort_by_key(|row| row.from);
    let first = own
        .partition_point(|row| row.from.0 <= from)
        .saturating_sub(1);
    own.into_iter()
        .skip(first)
        .filter(|row| row.from.0 < until)
        .collect()
}

/// Whether a number is looser than another, in the direction of its series.
pub(crate) fn is_looser(new: Number, old: Number, stricter: Stricter) -> bool {
    let ordering = match (new, old) {
        (Number::Plain(new), Number::Plain(old)) => new.cmp(&old),
        (Number::Day(new), Number::Day(old)) => new.cmp(&old),
        (Number::MonthDay(a, b), Number::MonthDay(c, d)) => (a, b).cmp(&(c, d)),
        _ => return false,
    };
    match stricter {
        Stricter::Lower => ordering.is_gt(),
        Stricter::Higher => ordering.is_lt(),
    }
}
