//! Every day from 1990 to 2040, every number of the ten sets: exactly one version of it applies.
//!
//! The checker of the crate works with spans of days and looks at the days around each change.
//! This test is written apart from it: it reads the files as plain TOML and asks day after day,
//! band after band, which rows hold wherever a number is named. It shares only the calendar with
//! the program. Source of the expectation: a dated series means one number a day, or it means
//! nothing.

use crate::sets;

use reports::day::Day;
use std::collections::BTreeMap;
use toml::{Table, Value};

/// Members that name a value; everything else names events, limits, duties or words.
const NAMING: [&str; 10] = [
    "at_least",
    "over",
    "below",
    "at_most",
    "within",
    "by",
    "on",
    "silence",
    "min_run_hours",
    "time",
];

type Days = Vec<(Day, Day)>;

/// A place that names a value, the days on which it is asked and the bands it is asked for;
/// `None` where the band itself is still being worked out.
struct Named {
    place: String,
    value: String,
    days: Days,
    bands: Option<Vec<String>>,
}

fn day(text: &str) -> Day {
    Day::parse(text).unwrap_or_else(|| panic!("'{text}' is no date"))
}

fn text<'t>(table: &'t Table, name: &str) -> Option<&'t str> {
    table.get(name).and_then(Value::as_str)
}

fn tables<'t>(table: &'t Table, name: &str) -> Vec<&'t Table> {
    let list = table.get(name).and_then(Value::as_array);
    list.into_iter()
        .flatten()
        .filter_map(Value::as_table)
        .collect()
}

fn words(list: Option<&Value>) -> Option<Vec<String>> {
    let list = list?.as_array()?;
    Some(
        list.iter()
            .map(|word| word.as_str().unwrap().to_string())
            .collect(),
    )
}

/// The days of a block with its own `from` and `until`, both included.
fn cut(days: &Days, block: &Table) -> Days {
    let from = text(block, "from").map_or(day("0001-01-01"), day);
    let until = text(block, "until").map_or(day("9999-12-31"), day);
    let cut = days
        .iter()
        .map(|(first, last)| (*first.max(&from), *last.min(&until)));
    cut.filter(|(first, last)| first <= last).collect()
}

/// The bands that a test on `band` leaves.
fn narrowed(bands: &[String], test: Option<&Value>) -> Vec<String> {
    let is = words(test.and_then(|test| test.get("is")));
    let is_not = words(test.and_then(|test| test.get("is_not")));
    let stays = |band: &&String| {
        is.as_ref().is_none_or(|is| is.contains(band))
            && !is_not.as_ref().is_some_and(|is_not| is_not.contains(band))
    };
    bands.iter().filter(stays).cloned().collect()
}

/// Everything that a table and the tables in it name.
fn walk(place: &str, table: &Table, days: &Days, bands: Option<&[String]>, found: &mut Vec<Named>) {
    let days = cut(days, table);
    let of_when = table.get("when").and_then(|when| when.get("band"));
    let bands = bands.map(|bands| narrowed(&narrowed(bands, of_when), table.get("band")));
    for (name, member) in table {
        let list = match member {
            Value::Array(list) => list.as_slice(),
            one => std::slice::from_ref(one),
        };
        for one in list {
            match one {
                Value::Table(inner) => {
                    walk(
                        &format!("{place}.{name}"),
                        inner,
                        &days,
                        bands.as_deref(),
                        found,
                    );
                }
                Value::String(value) if NAMING.contains(&name.as_str()) => found.push(Named {
                    place: format!("{place}.{name}"),
                    value: value.clone(),
                    days: days.clone(),
                    bands: bands.clone(),
                }),
                _ => {}
            }
        }
    }
}

/// Every place of a set that names one of its values.
fn named(set: &Table) -> Vec<Named> {
    let always = vec![(day("0001-01-01"), day("9999-12-31"))];
    let covered: Days = tables(set, "covers")
        .iter()
        .flat_map(|block| cut(&always, block))
        .collect();
    let mut bands: Vec<String> = Vec::new();
    for band in tables(set, "bands") {
        let name = text(band, "name").unwrap().to_string();
        if !bands.contains(&name) {
            bands.push(name);
        }
    }
    if bands.is_empty() {
        bands.push(String::new());
    }
    let mut found = Vec::new();
    for (list, days, bands) in [
        ("covers", &always, None),
        ("exempt", &covered, None),
        ("bands", &covered, None),
        ("limits", &covered, Some(bands.as_slice())),
        ("duties", &covered, Some(bands.as_slice())),
        ("records", &covered, Some(bands.as_slice())),
        ("keep", &covered, Some(bands.as_slice())),
    ] {
        for (at, block) in tables(set, list).into_iter().enumerate() {
            let name = text(block, "name").map_or((at + 1).to_string(), str::to_string);
            walk(&format!("{list}.{name}"), block, days, bands, &mut found);
        }
    }
    // `on` of a record is a kind of event and not a value.
    let values = set["values"].as_table().unwrap();
    found.retain(|named| values.contains_key(&named.value));
    found
}

/// The rows of a series that are for a band: first day, and whether the row says a number.
fn rows_for(series: &Table, band: Option<&str>) -> Vec<(Day, bool)> {
    let mut rows = Vec::new();
    for row in tables(series, "rows") {
        let is_for = words(row.get("for"));
        if is_for.is_none_or(|is_for| is_for.iter().any(|one| Some(one.as_str()) == band)) {
            rows.push((
                day(text(row, "from").unwrap()),
                text(row, "is") != Some("none"),
            ));
        }
    }
    rows
}

/// How many rows say what holds on a day, `none` counting as no row.
fn versions(rows: &[(Day, bool)], on: Day) -> usize {
    let newest = rows
        .iter()
        .map(|(from, _)| *from)
        .filter(|from| *from <= on)
        .max();
    rows.iter()
        .filter(|(from, says)| Some(*from) == newest && *says)
        .count()
}

/// Asks every day; gives how often it asked, and for each fault its first day.
fn sweep(set: &Table) -> (usize, BTreeMap<String, Day>) {
    let (mut asked, mut faults) = (0, BTreeMap::new());
    for named in named(set) {
        let series = set["values"][&named.value].as_table().unwrap();
        let bands: Vec<Option<&str>> = match &named.bands {
            None => vec![None],
            Some(bands) => bands.iter().map(|band| Some(band.as_str())).collect(),
        };
        for band in bands {
            let rows = rows_for(series, band);
            let mut on = day("1990-01-01");
            while on <= day("2040-12-31") {
                if named
                    .days
                    .iter()
                    .any(|(first, last)| (*first..=*last).contains(&on))
                {
                    asked += 1;
                    let count = versions(&rows, on);
                    if count != 1 {
                        let (place, value) = (&named.place, &named.value);
                        let band = band.unwrap_or_default();
                        let fault = format!("{place}: {value} {band}: {count} versions");
                        faults.entry(fault).or_insert(on);
                    }
                }
                on = on.plus(1);
            }
        }
    }
    (asked, faults)
}

#[test]
fn every_day_has_exactly_one_version_of_every_number() {
    for (name, text) in sets::files() {
        let (asked, faults) = sweep(&text.parse().unwrap());
        assert!(asked > 0, "{name}: nothing was asked");
        println!("{name}: asked {asked} times");
        assert_eq!(faults, BTreeMap::new(), "{name}");
    }
}

#[test]
fn a_planted_gap_and_a_planted_overlap_are_found() {
    let (_, text) = sets::files()
        .into_iter()
        .find(|(name, _)| name == "us-federal-ods.toml")
        .unwrap();
    let row = "  { from = \"2019-01-01\", for = [\"industrial\"], is = \"30\",";
    assert_eq!(text.matches(row).count(), 1);
    let ended = "  { from = \"2019-06-01\", for = [\"industrial\"], is = \"none\" },\n";
    let gap = text.replace(row, &format!("{ended}{row}"));
    let twice = "  { from = \"2019-01-01\", for = [\"industrial\"], is = \"31\" },\n";
    let overlap = text.replace(row, &format!("{twice}{row}"));
    for (changed, count, first) in [(gap, 0, "2019-06-01"), (overlap, 2, "2019-01-01")] {
        let (_, faults) = sweep(&changed.parse().unwrap());
        let fault = format!("trigger industrial: {count} versions");
        let found: Vec<_> = faults
            .iter()
            .filter(|(said, _)| said.ends_with(&fault))
            .collect();
        assert!(!found.is_empty(), "{faults:?}");
        assert!(found.iter().all(|(_, on)| **on == day(first)), "{found:?}");
        assert_eq!(found.len(), faults.len(), "{faults:?}");
    }
}
