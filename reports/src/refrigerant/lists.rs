//! The lists of substances that rules refer to, dated.
//!
//! A list says which refrigerants contain something it names, and which consist of nothing else.
//! The answer has three values: a refrigerant that is not in the table, not identified or a
//! mixture is neither on a list nor off it, and so is everything on a list that does not exist.

use super::table::yes;
use super::{LISTS_BYTES, Table, TableProblem};
use crate::day::Day;
use serde::Deserialize;
use std::collections::HashMap;
use std::sync::LazyLock;

/// All lists, by name.
#[derive(Clone, Debug)]
pub struct Lists {
    /// By list, then by code of the refrigerant.
    lists: HashMap<String, HashMap<u16, Vec<Row>>>,
}

#[derive(Clone, Debug)]
struct Row {
    from: Option<Day>,
    /// Last day, inclusive.
    until: Option<Day>,
    contains: bool,
    only: Option<bool>,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    list: String,
    refrigerant: String,
    contains: String,
    only: String,
    from: String,
    until: String,
    source: String,
}

impl Lists {
    /// The lists that are compiled in.
    ///
    /// # Panics
    /// When the compiled-in file is broken, which a test would have said.
    pub fn shipped() -> &'static Lists {
        static SHIPPED: LazyLock<Lists> =
            LazyLock::new(|| match Lists::read(LISTS_BYTES, Table::shipped()) {
                Ok(lists) => lists,
                Err(problem) => panic!("the compiled-in lists: {problem}"),
            });
        &SHIPPED
    }

    /// Reads lists from CSV; every refrigerant must be in the table.
    pub fn read(csv: &[u8], table: &Table) -> Result<Lists, TableProblem> {
        let mut reader = csv::Reader::from_reader(csv);
        let mut lists: HashMap<String, HashMap<u16, Vec<Row>>> = HashMap::new();
        for (line, record) in (2..).zip(reader.deserialize::<Line>()) {
            let problem = |what: String| TableProblem { line, what };
            let record = record.map_err(|error| problem(error.to_string()))?;
            let code = (table.named(&record.refrigerant).map(|row| row.code))
                .ok_or_else(|| problem(format!("{} is not in the table", record.refrigerant)))?;
            let row = record.row().map_err(problem)?;
            let rows = lists
                .entry(record.list)
                .or_default()
                .entry(code)
                .or_default();
            if rows.iter().any(|other| other.overlaps(&row)) {
                return Err(problem("overlaps an earlier line".to_string()));
            }
            rows.push(row);
        }
        Ok(Lists { lists })
    }

    /// Whether there is a list of this name.
    pub fn knows(&self, list: &str) -> bool {
        self.lists.contains_key(list)
    }

    /// Names of all lists, sorted.
    pub fn names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = self.lists.keys().map(String::as_str).collect();
        names.sort_unstable();
        names
    }

    /// Whether a refrigerant is, or contains, something on the list on a day.
    pub fn contains(&self, table: &Table, list: &str, refrigerant: &str, day: Day) -> Option<bool> {
        let code = table.named(refrigerant)?.code;
        let rows = self.lists.get(list)?.get(&code);
        Some(
            rows.and_then(|rows| on(rows, day))
                .is_some_and(|row| row.contains),
        )
    }

    /// Whether a refrigerant consists of nothing but what is on the list on a day. Where the list
    /// does not say, it follows from the parts.
    pub fn only(&self, table: &Table, list: &str, refrigerant: &str, day: Day) -> Option<bool> {
        let refrigerant = table.named(refrigerant)?;
        let rows = self.lists.get(list)?.get(&refrigerant.code);
        let row = rows.and_then(|rows| on(rows, day));
        match row.map(|row| (row.contains, row.only)) {
            None | Some((false, _)) => Some(false),
            Some((true, Some(only))) => Some(only),
            Some((true, None)) => {
                let on_list = |part: &str| self.contains(table, list, part, day) == Some(true);
                Some(
                    refrigerant
                        .parts
                        .iter()
                        .all(|part| on_list(&part.refrigerant)),
                )
            }
        }
    }

    /// Days on which any answer may change, ascending; between two of them all lists stand still.
    pub fn change_days(&self) -> Vec<Day> {
        let rows = self.lists.values().flat_map(HashMap::values).flatten();
        let mut days: Vec<Day> = rows
            .flat_map(|row| [row.from, row.until.map(|until| until.plus(1))])
            .flatten()
            .collect();
        days.sort_unstable();
        days.dedup();
        days
    }

    /// Where it says so, for a refrigerant on the list.
    pub fn source(&self, table: &Table, list: &str, refrigerant: &str, day: Day) -> Option<&str> {
        let code = table.named(refrigerant)?.code;
        on(self.lists.get(list)?.get(&code)?, day).map(|row| row.source.as_str())
    }
}

fn on(rows: &[Row], day: Day) -> Option<&Row> {
    rows.iter().find(|row| {
        row.from.is_none_or(|from| from <= day) && row.until.is_none_or(|until| day <= until)
    })
}

impl Row {
    fn overlaps(&self, other: &Row) -> bool {
        let begins_in_time = |a: &Row, b: &Row| match (a.from, b.until) {
            (Some(from), Some(until)) => from <= until,
            _ => true,
        };
        begins_in_time(self, other) && begins_in_time(other, self)
    }
}

impl Line {
    fn row(&self) -> Result<Row, String> {
        let day = |text: &str| match text {
            "" => Ok(None),
            text => Day::parse(text).map(Some).ok_or(format!("no day: {text}")),
        };
        let only = match self.only.as_str() {
            "" => None,
            word => Some(yes(word)?),
        };
        Ok(Row {
            from: day(&self.from)?,
            until: day(&self.until)?,
            contains: yes(&self.contains)?,
            only,
            source: self.source.clone(),
        })
    }
}
