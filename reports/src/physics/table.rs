//! The saturation tables that are compiled in, and those of manufacturers that are added to them.
//!
//! The shipped table was generated with its settings in its header; see `data/physics/generate.py`.
//! Refrigerants without one get a manufacturer's table, whose source is stored with it, and never a
//! guessed mixing rule. A table that contradicts itself is refused as a whole.

use super::fluid::{Fluid, Point};
use super::problem::{Problem, ProblemCode};
use crate::refrigerant;
use serde::Deserialize;
use std::collections::HashMap;
use std::sync::{Arc, LazyLock, OnceLock};

/// The shipped saturation table, as CSV.
pub static SATURATION_BYTES: &[u8] = include_bytes!("../../data/physics/saturation.csv");

/// What the shipped table was computed from, as CSV.
pub static FLUIDS_BYTES: &[u8] = include_bytes!("../../data/physics/fluids.csv");

/// Saturation curves of many refrigerants.
#[derive(Clone, Debug)]
pub struct SaturationTable {
    fluids: Vec<Arc<Fluid>>,
    by_designation: HashMap<String, usize>,
}

/// The shipped tables with those that were added when the program started.
static ADDED: OnceLock<SaturationTable> = OnceLock::new();

#[derive(Deserialize)]
struct FluidLine {
    refrigerant: String,
    kind: String,
    composition: String,
    critical_k: Option<f64>,
    model_doubt_percent: f64,
    doubt_source: String,
}

#[derive(Deserialize)]
struct PointLine {
    refrigerant: String,
    cel: f64,
    bubble_kpa: f64,
    dew_kpa: f64,
    liquid_kg_m3: f64,
    vapour_kg_m3: f64,
}

impl SaturationTable {
    /// The tables that are compiled in.
    ///
    /// # Panics
    /// When a compiled-in file is broken, which a test would have said.
    pub fn shipped() -> &'static SaturationTable {
        static SHIPPED: LazyLock<SaturationTable> =
            LazyLock::new(
                || match SaturationTable::read(SATURATION_BYTES, FLUIDS_BYTES) {
                    Ok(table) => table,
                    Err(problem) => panic!("the compiled-in saturation table: {problem}"),
                },
            );
        &SHIPPED
    }

    /// The tables that are looked at: the shipped ones, and those of manufacturers that were added when
    /// the program started.
    pub fn in_force() -> &'static SaturationTable {
        ADDED.get().unwrap_or_else(|| SaturationTable::shipped())
    }

    /// Adds tables of manufacturers for as long as the program runs; once, before anybody asks.
    ///
    /// # Errors
    /// [`ProblemCode::BadTable`] for one that contradicts itself, two of one refrigerant, or where
    /// tables were added before.
    pub fn add(added: &[ManufacturerTable]) -> Result<(), Problem> {
        let mut table = SaturationTable::shipped().clone();
        let mut known: Vec<&str> = Vec::new();
        for one in added {
            if known.contains(&one.refrigerant.as_str()) {
                return Err(bad_table(&one.refrigerant, "one table", "two of them"));
            }
            known.push(&one.refrigerant);
            table = table.with(one)?;
        }
        let again = |_| bad_table("the program", "tables once, at its start", "more of them");
        ADDED.set(table).map_err(again)
    }

    /// Reads tables in the form of the shipped ones.
    ///
    /// # Errors
    /// [`ProblemCode::BadTable`].
    pub fn read(saturation: &[u8], fluids: &[u8]) -> Result<SaturationTable, Problem> {
        let mut points: HashMap<String, Vec<Point>> = HashMap::new();
        for line in reader(saturation).deserialize() {
            let line: PointLine = line.map_err(unreadable)?;
            points.entry(line.refrigerant).or_default().push(Point {
                kelvin: line.cel + 273.15,
                bubble_kpa: line.bubble_kpa,
                dew_kpa: line.dew_kpa,
                liquid_kg_m3: Some(line.liquid_kg_m3),
                vapour_kg_m3: Some(line.vapour_kg_m3),
            });
        }
        let mut table = SaturationTable {
            fluids: Vec::new(),
            by_designation: HashMap::new(),
        };
        for line in reader(fluids).deserialize() {
            let line: FluidLine = line.map_err(unreadable)?;
            let points = points.remove(&line.refrigerant).unwrap_or_default();
            check(&line.refrigerant, &points, line.critical_k)?;
            let mut fluid = Fluid::through(&line.refrigerant, line.critical_k, &points);
            fluid.source = format!("CoolProp 8.0.0, {}: {}", line.kind, line.composition);
            fluid.model_doubt_percent = line.model_doubt_percent;
            fluid.doubt_source = line.doubt_source;
            table.put(fluid);
        }
        match points.keys().next() {
            Some(name) => Err(bad_table(name, "what it was computed from", "points alone")),
            None => Ok(table),
        }
    }

    /// These tables and a manufacturer's, which takes the place of one for the same refrigerant.
    ///
    /// # Errors
    /// [`ProblemCode::BadTable`], [`ProblemCode::Missing`] without a source.
    pub fn with(&self, added: &ManufacturerTable) -> Result<SaturationTable, Problem> {
        let mut table = self.clone();
        table.put(added.fluid()?);
        Ok(table)
    }

    /// All refrigerants, in the order of the file.
    pub fn fluids(&self) -> impl Iterator<Item = &Fluid> {
        self.fluids.iter().map(AsRef::as_ref)
    }

    /// The refrigerant a person means: also `R410A` or `ammonia`.
    ///
    /// # Errors
    /// [`ProblemCode::UnknownRefrigerant`]; [`ProblemCode::NoTable`] for one whose saturation is not
    /// known, among them blends that no equation covers.
    pub fn fluid(&self, text: &str) -> Result<&Fluid, Problem> {
        let known = refrigerant::Table::shipped().understood(text);
        let designation = known.map_or(text, |row| row.designation.as_str());
        if let Some(at) = self.by_designation.get(designation) {
            return Ok(&self.fluids[*at]);
        }
        Err(match known {
            None => Problem::new(
                ProblemCode::UnknownRefrigerant,
                "refrigerant",
                "a designation such as R-410A",
                format!("\"{text}\""),
                "Write the designation from the nameplate or the label.",
            ),
            Some(row) => Problem::new(
                ProblemCode::NoTable,
                "refrigerant",
                "a refrigerant with a saturation table",
                row.designation.clone(),
                "No equation of state covers it: add the manufacturer's table with its source.",
            ),
        })
    }

    fn put(&mut self, fluid: Fluid) {
        let fluid = Arc::new(fluid);
        match self.by_designation.get(&fluid.designation) {
            Some(at) => self.fluids[*at] = fluid,
            None => {
                let at = self.fluids.len();
                self.by_designation.insert(fluid.designation.clone(), at);
                self.fluids.push(fluid);
            }
        }
    }
}

/// A manufacturer's saturation table.
#[derive(Clone, Debug, PartialEq)]
pub struct ManufacturerTable {
    /// The designation of the refrigerant.
    pub refrigerant: String,
    /// Who published it, under which title, when.
    pub source: String,
    /// How far it is to be doubted, in percent of the pressure.
    pub model_doubt_percent: f64,
    /// Its rows in rising temperature, three at least; densities in all of them or in none.
    pub points: Vec<Point>,
}

impl ManufacturerTable {
    /// Refuses what no table of a real fluid can be.
    pub(super) fn is_sound(&self) -> Result<(), Problem> {
        self.fluid().map(|_| ())
    }

    fn fluid(&self) -> Result<Fluid, Problem> {
        if self.source.trim().is_empty() {
            return Err(Problem::missing(
                "source",
                "who published the table, under which title and when",
                "Write it from the sheet: it stands beside every number from this table.",
            ));
        }
        if !(0.0..=50.0).contains(&self.model_doubt_percent) {
            let came = self.model_doubt_percent.to_string();
            return Err(bad_table(
                &self.refrigerant,
                "a doubt of 0 to 50 percent",
                &came,
            ));
        }
        check(&self.refrigerant, &self.points, None)?;
        let mut fluid = Fluid::through(&self.refrigerant, None, &self.points);
        fluid.source.clone_from(&self.source);
        fluid.doubt_source.clone_from(&self.source);
        fluid.model_doubt_percent = self.model_doubt_percent;
        fluid.is_makers = true;
        Ok(fluid)
    }
}

/// What no table of a real fluid can be.
fn check(name: &str, points: &[Point], critical: Option<f64>) -> Result<(), Problem> {
    if points.len() < 3 {
        let came = format!("{} rows", points.len());
        return Err(bad_table(name, "three rows at least", &came));
    }
    for point in points {
        let densities = [point.liquid_kg_m3, point.vapour_kg_m3];
        let mut numbers = vec![point.kelvin, point.bubble_kpa, point.dew_kpa];
        numbers.extend(densities.iter().flatten());
        let at = format!("{point:?}");
        if !numbers
            .iter()
            .all(|number| number.is_finite() && *number > 0.0)
        {
            return Err(bad_table(name, "numbers above zero", &at));
        }
        // Azeotropes are computed with a hair's breadth between the two, on either side.
        if point.dew_kpa > point.bubble_kpa * 1.0005 {
            return Err(bad_table(
                name,
                "a dew pressure not above the bubble pressure",
                &at,
            ));
        }
        if critical.is_some_and(|critical| point.kelvin >= critical) {
            return Err(bad_table(name, "temperatures below the critical one", &at));
        }
    }
    for pair in points.windows(2) {
        let rising = pair[0].kelvin < pair[1].kelvin
            && pair[0].bubble_kpa < pair[1].bubble_kpa
            && pair[0].dew_kpa < pair[1].dew_kpa;
        let alike = pair[0].liquid_kg_m3.is_some() == pair[1].liquid_kg_m3.is_some()
            && pair[0].vapour_kg_m3.is_some() == pair[1].vapour_kg_m3.is_some();
        if !rising || !alike {
            let expected =
                "temperature and pressures that rise from row to row, and the same columns";
            return Err(bad_table(name, expected, &format!("{pair:?}")));
        }
    }
    Ok(())
}

fn reader(bytes: &[u8]) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(bytes)
}

fn unreadable(error: csv::Error) -> Problem {
    bad_table("the file", "a saturation table", &error.to_string())
}

fn bad_table(name: &str, expected: &str, came: &str) -> Problem {
    Problem::new(
        ProblemCode::BadTable,
        "table",
        format!("{expected}, for {name}"),
        came,
        "Compare the row with the published table: a digit or a unit may be wrong.",
    )
}
