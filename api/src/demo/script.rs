//! The script of the year: who posts what, and when.
//!
//! The parts of the script are written by subject and sorted into one order here, by the moment at
//! which each request reaches the book.

use super::people::{self, Person};
use super::teller::StoryError;
use serde_json::{Value, json};

/// One request of one person at one moment.
#[derive(Clone, Debug)]
pub struct Job {
    /// Day on which it is booked, by the clock of the firm.
    pub day: String,
    /// Time of that day.
    pub time: String,
    /// Who books it.
    pub by: Person,
    /// How later requests call it (without the `@`).
    pub name: Option<String>,
    /// The request, with names still in place of ids.
    pub request: Value,
}

impl Job {
    /// Somebody books something at a moment.
    pub fn new(day: &str, time: &str, by: Person) -> Job {
        Job {
            day: day.to_string(),
            time: time.to_string(),
            by,
            name: None,
            request: Value::Null,
        }
    }

    /// How later requests call it.
    pub fn named(mut self, name: &str) -> Job {
        self.name = Some(name.to_string());
        self
    }

    /// What is posted. Without a time of its own it happened on the day it is booked.
    pub fn request(mut self, mut request: Value) -> Job {
        if request.get("happened").is_none() {
            request["happened"] = json!({"day": self.day});
        }
        self.request = request;
        self
    }
}

/// Sorts the parts of the script by the moment of booking.
pub fn in_order(parts: Vec<Vec<Job>>) -> Vec<Job> {
    let mut jobs: Vec<Job> = parts.into_iter().flatten().collect();
    jobs.sort_by(|a, b| (&a.day, &a.time).cmp(&(&b.day, &b.time)));
    jobs
}

/// The everyday work: one row of `work.csv` is one request.
pub fn work() -> Result<Vec<Job>, StoryError> {
    let rows = rows(include_str!("work.csv"))?;
    rows.iter().map(Row::job).collect()
}

/// A row of one of the demo's tables: cells by the names of their columns.
pub struct Row(std::collections::HashMap<String, String>);

/// Reads a table.
pub fn rows(text: &str) -> Result<Vec<Row>, StoryError> {
    let wrong = |error: csv::Error| StoryError::Script(error.to_string());
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let rows = reader.deserialize();
    rows.map(|row| row.map(Row).map_err(wrong)).collect()
}

impl Row {
    /// The cell of a column; `None` where it is empty.
    pub fn get(&self, column: &str) -> Option<&str> {
        self.0
            .get(column)
            .map(String::as_str)
            .filter(|cell| !cell.is_empty())
    }

    /// The cell of a column that must be filled.
    pub fn must(&self, column: &str) -> Result<&str, StoryError> {
        let missing = || StoryError::Script(format!("{column} is empty in {:?}", self.0));
        self.get(column).ok_or_else(missing)
    }

    /// A row of `work.csv`. It is booked when the job is done and the van is packed.
    fn job(&self) -> Result<Job, StoryError> {
        let (day, time) = (self.must("day")?, self.must("time")?);
        let kind = self.must("kind")?;
        let by = self.must("by")?;
        let by = people::named(by).ok_or_else(|| StoryError::Script(format!("who is {by}?")))?;
        let mut movement = json!({"from": self.must("from")?, "to": self.must("to")?});
        match self.get("scale") {
            Some(scale) => movement["weighed"] = json!({"net": self.must("mass")?, "scale": scale}),
            None => movement["mass"] = json!(self.must("mass")?),
        }
        for column in [
            "refrigerant",
            "reason",
            "class",
            "document",
            "state",
            "invoice",
            "basis",
        ] {
            if let Some(cell) = self.get(column) {
                movement[column] = json!(cell);
            }
        }
        let mut request = json!({"kind": kind, "happened": {"day": day, "time": time}});
        for word in self.get("more").unwrap_or_default().split(' ') {
            match word {
                "" => {}
                "full" => movement["returned_to_full_charge"] = json!(true),
                question => request["answers"][question] = json!("as_stated"),
            }
        }
        request["body"] = movement;
        for column in ["visit", "note"] {
            if let Some(cell) = self.get(column) {
                request[column] = json!(cell);
            }
        }
        let mut job = Job::new(day, &later(time)?, by).request(request);
        job.name = self.get("name").map(str::to_string);
        Ok(job)
    }
}

/// An hour and a quarter later, which no row of the table carries past midnight. The clock of the
/// firm may be an hour before that of the site: nothing is booked before it happened.
fn later(time: &str) -> Result<String, StoryError> {
    let (second, _) = reports::day::parse_clock(time)
        .ok_or_else(|| StoryError::Script(format!("'{time}' is no time")))?;
    Ok(reports::day::clock_text(second + 4_500, false))
}
