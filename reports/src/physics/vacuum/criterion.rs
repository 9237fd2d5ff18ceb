//! What a vacuum rise test has to show: rows of a table, or one of the shop's own.

// A criterion decides pass or fail: no float does.
#![deny(clippy::float_arithmetic)]

use crate::number::Decimal;
use crate::physics::exact;
use crate::physics::pressure::Pressure;
use crate::physics::problem::{Problem, ProblemCode};
use crate::physics::quantity::{Quantity, decimal_text};
use serde::{Deserialize, Serialize};
use std::sync::LazyLock;

/// The shipped criteria, as CSV.
pub static VACUUM_CRITERIA_BYTES: &[u8] =
    include_bytes!("../../../data/physics/vacuum-criteria.csv");

/// What is compared with the limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VacuumKind {
    /// The pressure at the end.
    End,
    /// How much it rose.
    Rise,
}

/// What a vacuum rise test has to show, and who says so. Stored with the result.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct VacuumCriterion {
    /// Its name.
    pub criterion_id: String,
    /// What is compared with the limit.
    pub kind: VacuumKind,
    /// The limit.
    pub limit: Pressure,
    /// Whether it has to stay below the limit, not only not above it.
    pub strict: bool,
    /// How long it has to stand, in minutes.
    #[serde(with = "decimal_text")]
    pub minutes: Decimal,
    /// The pressure at which the pump has to be closed off at the latest, where it says so.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub most_at_start: Option<Pressure>,
    /// Whether it was read at its source, rather than remembered.
    pub read_at_source: bool,
    /// In words.
    pub text: String,
    /// Where it comes from.
    pub source: String,
}

/// The criteria that can be chosen.
#[derive(Clone, Debug)]
pub struct VacuumCriteria {
    rows: Vec<VacuumCriterion>,
}

#[derive(Deserialize)]
struct Line {
    criterion_id: String,
    kind: VacuumKind,
    limit: String,
    unit: String,
    strict: String,
    minutes: String,
    most_at_start: String,
    read_at_source: String,
    text: String,
    source: String,
}

impl VacuumCriteria {
    /// The criteria that are compiled in.
    ///
    /// # Panics
    /// When the compiled-in file is broken, which a test would have said.
    pub fn shipped() -> &'static VacuumCriteria {
        static SHIPPED: LazyLock<VacuumCriteria> =
            LazyLock::new(|| match VacuumCriteria::read(VACUUM_CRITERIA_BYTES) {
                Ok(criteria) => criteria,
                Err(problem) => panic!("the compiled-in vacuum criteria: {problem}"),
            });
        &SHIPPED
    }

    /// Reads criteria in the form of the shipped ones.
    ///
    /// # Errors
    /// [`ProblemCode::BadTable`] and those of reading pressures.
    pub fn read(bytes: &[u8]) -> Result<VacuumCriteria, Problem> {
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_reader(bytes);
        let mut rows = Vec::new();
        for line in reader.deserialize() {
            let line: Line = line.map_err(|error| bad("a criterion", &error.to_string()))?;
            rows.push(line.criterion()?);
        }
        Ok(VacuumCriteria { rows })
    }

    /// All of them, in the order of the file.
    pub fn all(&self) -> &[VacuumCriterion] {
        &self.rows
    }

    /// The one of a name.
    ///
    /// # Errors
    /// [`ProblemCode::Missing`], with the names there are.
    pub fn named(&self, criterion_id: &str) -> Result<&VacuumCriterion, Problem> {
        let found = self
            .rows
            .iter()
            .find(|row| row.criterion_id == criterion_id);
        found.ok_or_else(|| {
            let names: Vec<&str> = self
                .rows
                .iter()
                .map(|row| row.criterion_id.as_str())
                .collect();
            Problem::new(
                ProblemCode::Missing,
                "criterion",
                format!("one of {}", names.join(", ")),
                format!("\"{criterion_id}\""),
                "Choose the criterion of the equipment's manual, or write down the shop's own.",
            )
        })
    }
}

impl VacuumCriterion {
    /// Whether a test from one pressure to another met it, exactly; `None` beyond 128 bits.
    pub fn is_met(&self, start: Pressure, end: Pressure) -> Option<bool> {
        let limit = self.limit.size_pascal_exact()?;
        let (start, end) = (start.size_pascal_exact()?, end.size_pascal_exact()?);
        let compared = match self.kind {
            VacuumKind::End => end,
            VacuumKind::Rise => exact::minus(end, start)?,
        };
        Some(compared < limit || (compared == limit && !self.strict))
    }
}

impl Line {
    fn criterion(self) -> Result<VacuumCriterion, Problem> {
        let yes = |text: &str| match text {
            "yes" => Ok(true),
            "no" => Ok(false),
            _ => Err(bad("yes or no", text)),
        };
        let start = Some(self.most_at_start.as_str()).filter(|text| !text.is_empty());
        let start = start.map(|text| Quantity::read("most_at_start", text, &self.unit));
        Ok(VacuumCriterion {
            kind: self.kind,
            limit: Quantity::read("limit", &self.limit, &self.unit)?,
            strict: yes(&self.strict)?,
            minutes: Decimal::parse(&self.minutes).ok_or_else(|| bad("minutes", &self.minutes))?,
            most_at_start: start.transpose()?,
            read_at_source: yes(&self.read_at_source)?,
            criterion_id: self.criterion_id,
            text: self.text,
            source: self.source,
        })
    }
}

fn bad(expected: &str, came: &str) -> Problem {
    Problem::new(
        ProblemCode::BadTable,
        "criteria",
        expected,
        came,
        "Correct the row of the table of criteria.",
    )
}
