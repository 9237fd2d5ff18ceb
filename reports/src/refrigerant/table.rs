//! The refrigerant table: reading it, and finding a refrigerant in it.
//!
//! A table is refused as a whole when a row is doubtful in itself: a number that is none, a part
//! that is not in the table, parts that are not 100 %, a code or a spelling given twice.

use super::names::{asked, keys};
use super::{Basis, Gwp, Part, Refrigerant, Safety, SafetyGroup, TABLE_BYTES};
use crate::number::Decimal;
use serde::Deserialize;
use std::collections::HashMap;
use std::fmt;
use std::sync::LazyLock;

/// The designation of what was not identified, and its code.
pub const UNKNOWN: (&str, u16) = ("unknown", 65_001);

/// The designation of known refrigerants that were mixed, and its code.
pub const MIXTURE: (&str, u16) = ("mixture", 65_002);

/// All refrigerants, by code, designation and what people write.
#[derive(Clone, Debug)]
pub struct Table {
    rows: Vec<Refrigerant>,
    by_designation: HashMap<String, usize>,
    by_key: HashMap<String, usize>,
    by_code: HashMap<u16, usize>,
}

/// Why a table cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TableProblem {
    /// Line of the file, the header being line 1; 0 when the file as a whole is meant.
    pub line: u64,
    /// What is wrong with it.
    pub what: String,
}

impl Table {
    /// The table that is compiled in.
    ///
    /// # Panics
    /// When the compiled-in file is broken, which a test would have said.
    pub fn shipped() -> &'static Table {
        static SHIPPED: LazyLock<Table> = LazyLock::new(|| match Table::read(TABLE_BYTES) {
            Ok(table) => table,
            Err(problem) => panic!("the compiled-in refrigerant table: {problem}"),
        });
        &SHIPPED
    }

    /// Reads a table from CSV.
    pub fn read(csv: &[u8]) -> Result<Table, TableProblem> {
        let mut reader = csv::Reader::from_reader(csv);
        let mut table = Table {
            rows: Vec::new(),
            by_designation: HashMap::new(),
            by_key: HashMap::new(),
            by_code: HashMap::new(),
        };
        for (line, record) in (2..).zip(reader.deserialize::<Line>()) {
            let problem = |what: String| TableProblem { line, what };
            let record = record.map_err(|error| problem(error.to_string()))?;
            let row = record.row().map_err(problem)?;
            table.take(row).map_err(problem)?;
        }
        table.check_parts()?;
        Ok(table)
    }

    /// The refrigerant with exactly this designation.
    pub fn named(&self, designation: &str) -> Option<&Refrigerant> {
        self.by_designation
            .get(designation)
            .map(|at| &self.rows[*at])
    }

    /// The refrigerant a person means: also `R410A`, `r-410a`, `HFC-134a`, `ammonia`.
    pub fn understood(&self, text: &str) -> Option<&Refrigerant> {
        let found = |key: &String| self.by_key.get(key).map(|at| &self.rows[*at]);
        self.named(text)
            .or_else(|| asked(text.trim()).iter().find_map(found))
    }

    /// The code of a designation, `unknown` and `mixture` included.
    pub fn code(&self, designation: &str) -> Option<u16> {
        match self.named(designation) {
            Some(row) => Some(row.code),
            None => [UNKNOWN, MIXTURE]
                .into_iter()
                .find(|(name, _)| *name == designation)
                .map(|it| it.1),
        }
    }

    /// The designation of a code, `unknown` and `mixture` included.
    pub fn designation(&self, code: u16) -> Option<&str> {
        match self.by_code.get(&code) {
            Some(at) => Some(&self.rows[*at].designation),
            None => [UNKNOWN, MIXTURE]
                .into_iter()
                .find(|(_, known)| *known == code)
                .map(|it| it.0),
        }
    }

    /// All rows, in the order of the file.
    pub fn rows(&self) -> &[Refrigerant] {
        &self.rows
    }

    fn take(&mut self, row: Refrigerant) -> Result<(), String> {
        let at = self.rows.len();
        if row.code == 0 || row.code > 65_000 {
            return Err(format!("codes are 1 to 65000, not {}", row.code));
        }
        if self.by_code.insert(row.code, at).is_some() {
            return Err(format!("the code {} is given twice", row.code));
        }
        if self
            .by_designation
            .insert(row.designation.clone(), at)
            .is_some()
        {
            return Err(format!("{} stands twice", row.designation));
        }
        for key in keys(&row) {
            if let Some(other) = self.by_key.insert(key, at).filter(|other| *other != at) {
                let other = &self.rows[other].designation;
                return Err(format!(
                    "{} and {other} could be written alike",
                    row.designation
                ));
            }
        }
        self.rows.push(row);
        Ok(())
    }

    fn check_parts(&self) -> Result<(), TableProblem> {
        for (line, row) in (2..).zip(&self.rows) {
            let problem = |what| Err(TableProblem { line, what });
            let mut hundredths = 0;
            for part in &row.parts {
                let percent = part.percent.fraction();
                hundredths += percent.numerator() * 1_000_000 / percent.denominator();
                match self.named(&part.refrigerant) {
                    Some(pure) if !pure.is_blend() => {}
                    _ => {
                        return problem(format!(
                            "{} is no single substance here",
                            part.refrigerant
                        ));
                    }
                }
            }
            if row.is_blend() && hundredths != 100_000_000 {
                return problem(format!("the parts of {} are not 100 %", row.designation));
            }
        }
        Ok(())
    }
}

impl fmt::Display for TableProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.what)
    }
}

impl std::error::Error for TableProblem {}

/// A line of the file, as it stands.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    code: u16,
    number: String,
    name: String,
    class: String,
    components_mass_pct: String,
    composition_source: String,
    safety_group_ashrae34: String,
    safety_source: String,
    safety_verified: String,
    odp: String,
    odp_source: String,
    gwp_ar4: String,
    gwp_ar4_source: String,
    gwp_ar5: String,
    gwp_ar5_source: String,
    gwp_ar6: String,
    gwp_ar6_source: String,
    gwp_eu_2024_573: String,
    gwp_eu_source: String,
    gwp_us_84_64: String,
    gwp_us_source: String,
    ods_40cfr82: String,
    hfc_40cfr84: String,
    eu_annex: String,
    verified: String,
    unverified_fields: String,
    note: String,
}

impl Line {
    fn row(self) -> Result<Refrigerant, String> {
        let doubtful: Vec<&str> = self.unverified_fields.split(';').collect();
        let gwp = |basis: Basis, value: &str, source: &str| {
            let verified = !doubtful.contains(&basis.column()) && !doubtful.contains(&"components");
            Ok::<Gwp, String>(Gwp {
                value: number(value)?,
                source: source.to_string(),
                verified,
            })
        };
        let group = match self.safety_group_ashrae34.as_str() {
            "" => None,
            word => Some(SafetyGroup::from_word(word).ok_or(format!("no safety group: {word}"))?),
        };
        Ok(Refrigerant {
            gwp: [
                gwp(Basis::Ar4, &self.gwp_ar4, &self.gwp_ar4_source)?,
                gwp(Basis::Ar5, &self.gwp_ar5, &self.gwp_ar5_source)?,
                gwp(Basis::Ar6, &self.gwp_ar6, &self.gwp_ar6_source)?,
                gwp(Basis::Eu2024573, &self.gwp_eu_2024_573, &self.gwp_eu_source)?,
                gwp(Basis::Us8464, &self.gwp_us_84_64, &self.gwp_us_source)?,
            ],
            code: self.code,
            designation: self.number,
            name: self.name,
            class: self.class,
            parts: parts(&self.components_mass_pct)?,
            composition_source: self.composition_source,
            safety: Safety {
                group,
                verified: yes(&self.safety_verified)?,
                source: self.safety_source,
            },
            odp: number(&self.odp)?,
            odp_source: self.odp_source,
            ods_40cfr82: yes(&self.ods_40cfr82)?,
            hfc_40cfr84: yes(&self.hfc_40cfr84)?,
            eu_annexes: annexes(&self.eu_annex),
            verified: yes(&self.verified)?,
            note: self.note,
        })
    }
}

fn number(text: &str) -> Result<Option<Decimal>, String> {
    match text {
        "" => Ok(None),
        text => Decimal::parse(text)
            .map(Some)
            .ok_or(format!("no number: {text}")),
    }
}

pub(super) fn yes(text: &str) -> Result<bool, String> {
    match text {
        "yes" => Ok(true),
        "no" => Ok(false),
        other => Err(format!("expected yes or no, not {other:?}")),
    }
}

/// `R-32:50;R-125:50`.
fn parts(text: &str) -> Result<Vec<Part>, String> {
    let part = |text: &str| {
        let (refrigerant, percent) = text.split_once(':')?;
        let percent =
            Decimal::parse(percent).filter(|percent| percent.fraction().numerator() > 0)?;
        Some(Part {
            refrigerant: refrigerant.to_string(),
            percent,
        })
    };
    let all = text.split(';').filter(|text| !text.is_empty());
    all.map(|text| part(text).ok_or(format!("no part of a blend: {text}")))
        .collect()
}

/// `I-1+II-1`; `none` is none.
fn annexes(text: &str) -> Vec<String> {
    text.split('+')
        .filter(|word| !matches!(*word, "" | "none"))
        .map(str::to_string)
        .collect()
}
