//! A manufacturer's saturation table as a file: typed from the published sheet, checked line by line.
//!
//! Above the rows stand lines such as `# source: ...` that say what it is, whose, and in which units.
//! A digit or a unit that was mistyped shows in a curve that no refrigerant has: it falls, its dew
//! pressure lies above its bubble pressure, or it rises as no vapour pressure does. The first such line
//! is named and the whole file refused.

mod plausible;

use super::air::{GaugeKind, LocalAir};
use super::fluid::Point;
use super::pressure::PressureUnit;
use super::problem::{Problem, ProblemCode};
use super::quantity::{Quantity, Unit};
use super::table::ManufacturerTable;
use super::temperature::TemperatureUnit;
use super::volume::DensityUnit;
use crate::refrigerant;

/// The line above the rows; the densities may be left out.
const WITHOUT_DENSITIES: [&str; 3] = ["temperature", "bubble", "dew"];
const WITH_DENSITIES: [&str; 5] = ["temperature", "bubble", "dew", "liquid", "vapour"];

/// How steeply ln p falls over 1/T, in kelvin: the heat of vaporisation over the gas constant. Every
/// shipped refrigerant lies between (a test looks); a table with its degrees or pressures in another
/// unit does not.
const STEEPNESS: (f64, f64) = (1_750.0, 4_000.0);

/// Temperatures a cage, a van or a plant ever sees, in kelvin (common practice, no source).
const KELVIN: (f64, f64) = (173.15, 423.15);

/// What stands above the rows.
#[derive(Default)]
struct Head<'t> {
    refrigerant: &'t str,
    source: &'t str,
    doubt: &'t str,
    temperature: Option<TemperatureUnit>,
    pressure: Option<PressureUnit>,
    density: Option<DensityUnit>,
}

impl ManufacturerTable {
    /// Reads a file; an error names its line.
    ///
    /// # Errors
    /// [`ProblemCode::BadTable`], [`ProblemCode::Missing`], [`ProblemCode::UnknownUnit`],
    /// [`ProblemCode::UnknownRefrigerant`], [`ProblemCode::NotANumber`].
    pub fn read(file: &str) -> Result<ManufacturerTable, Problem> {
        let mut head = Head::default();
        let mut columns = 0;
        let mut rows: Vec<(usize, &str, Point)> = Vec::new();
        for (at, line) in file.lines().enumerate() {
            let (at, line) = (at + 1, line.trim());
            match line.strip_prefix('#') {
                Some(said) => head.say(said, at)?,
                None if line.is_empty() => {}
                None if columns == 0 => columns = named_columns(line, at)?,
                None => {
                    let point = head.point(line, at, columns)?;
                    follows(rows.last().map(|row| &row.2), &point, line, at)?;
                    rows.push((at, line, point));
                }
            }
        }
        head.table(&rows)
    }
}

impl<'t> Head<'t> {
    fn say(&mut self, said: &'t str, at: usize) -> Result<(), Problem> {
        let Some((name, value)) = said.split_once(':') else {
            return Ok(());
        };
        let value = value.trim();
        match name.trim() {
            "refrigerant" => self.refrigerant = value,
            "source" => self.source = value,
            "doubt_percent" => self.doubt = value,
            "temperature" => self.temperature = Some(unit(value, at)?),
            "pressure" => self.pressure = Some(unit(value, at)?),
            "density" => self.density = Some(unit(value, at)?),
            // Any other line is a remark.
            _ => {}
        }
        Ok(())
    }

    fn point(&self, line: &str, at: usize, columns: usize) -> Result<Point, Problem> {
        let cells: Vec<&str> = line.split(',').map(str::trim).collect();
        if cells.len() != columns {
            let came = format!("{} of them", cells.len());
            return Err(bad(
                at,
                &format!("{columns} numbers with commas between"),
                &came,
            ));
        }
        let temperature = needed(self.temperature, "temperature", "[degF] or Cel")?;
        let pressure = needed(self.pressure, "pressure", "psig, [psi], kPa or bar{gauge}")?;
        let in_line = |mut problem: Problem| {
            problem.came = format!("{} in line {at}", problem.came);
            problem
        };
        // Sheets print what a gauge shows at sea level.
        let kpa = |name, cell: &str| {
            let typed = Quantity::read(name, cell, pressure.code())?;
            typed.absolute_kpa(name, GaugeKind::Sealed, LocalAir::SEA_LEVEL)
        };
        let density = |name, cell: Option<&&str>| -> Result<Option<f64>, Problem> {
            let Some(cell) = cell else { return Ok(None) };
            let unit = needed(self.density, "density", "kg/m3 or [lb_av]/[cft_i]")?;
            let typed: Quantity<DensityUnit> = Quantity::read(name, cell, unit.code())?;
            let size = super::exact::float_of(unit.kilogram_per_cubic_metre());
            Ok(Some(typed.number() * size))
        };
        let kelvin = Quantity::read("temperature", cells[0], temperature.code())
            .and_then(|typed| typed.kelvin("temperature"))
            .map_err(in_line)?;
        Ok(Point {
            kelvin,
            bubble_kpa: kpa("bubble", cells[1]).map_err(in_line)?,
            dew_kpa: kpa("dew", cells[2]).map_err(in_line)?,
            liquid_kg_m3: density("liquid", cells.get(3)).map_err(in_line)?,
            vapour_kg_m3: density("vapour", cells.get(4)).map_err(in_line)?,
        })
    }

    fn table(self, rows: &[(usize, &str, Point)]) -> Result<ManufacturerTable, Problem> {
        let line = "Write it in a line above the rows, after # and a colon.";
        if self.source.is_empty() {
            let expected = "who published the table, under which title and when";
            return Err(Problem::missing("source", expected, line));
        }
        let known = refrigerant::Table::shipped().understood(self.refrigerant);
        let Some(known) = known else {
            return Err(Problem::new(
                ProblemCode::UnknownRefrigerant,
                "refrigerant",
                "a designation such as R-438A",
                format!("\"{}\"", self.refrigerant),
                line,
            ));
        };
        let doubt: Option<f64> = self.doubt.parse().ok();
        let Some(model_doubt_percent) = doubt else {
            let expected = "doubt_percent, how far the table may be from nature, such as 1";
            return Err(Problem::missing("doubt_percent", expected, line));
        };
        let table = ManufacturerTable {
            refrigerant: known.designation.clone(),
            source: self.source.to_string(),
            model_doubt_percent,
            points: rows.iter().map(|row| row.2).collect(),
        };
        table.is_sound()?;
        plausible::look(&table.refrigerant, rows)?;
        Ok(table)
    }
}

fn named_columns(line: &str, at: usize) -> Result<usize, Problem> {
    let names: Vec<&str> = line.split(',').map(str::trim).collect();
    if names == WITH_DENSITIES || names == WITHOUT_DENSITIES {
        return Ok(names.len());
    }
    let expected = format!(
        "the names {} or {}",
        WITHOUT_DENSITIES.join(","),
        WITH_DENSITIES.join(",")
    );
    Err(bad(at, &expected, line))
}

/// Can a row stand below another?
fn follows(before: Option<&Point>, point: &Point, line: &str, at: usize) -> Result<(), Problem> {
    if !(KELVIN.0..=KELVIN.1).contains(&point.kelvin) {
        return Err(bad(at, "a temperature from -100 to 150 Cel", line));
    }
    if point.dew_kpa > point.bubble_kpa * 1.0005 {
        return Err(bad(
            at,
            "a dew pressure not above the bubble pressure",
            line,
        ));
    }
    if point
        .liquid_kg_m3
        .zip(point.vapour_kg_m3)
        .is_some_and(|(l, v)| l <= v || v <= 0.0)
    {
        return Err(bad(
            at,
            "a liquid denser than its vapour, both above zero",
            line,
        ));
    }
    let Some(before) = before else { return Ok(()) };
    if point.kelvin <= before.kelvin {
        return Err(bad(at, "a temperature above that of the row before", line));
    }
    let over = 1.0 / before.kelvin - 1.0 / point.kelvin;
    for (name, now, then) in [
        ("bubble", point.bubble_kpa, before.bubble_kpa),
        ("dew", point.dew_kpa, before.dew_kpa),
    ] {
        if now <= then {
            let expected = format!("a {name} pressure above that of the row before");
            return Err(bad(at, &expected, line));
        }
        let steepness = (now / then).ln() / over;
        if !(STEEPNESS.0..=STEEPNESS.1).contains(&steepness) {
            let expected = format!(
                "a {name} pressure that rises as vapour pressures do (a digit, or the unit of \
                 temperature or pressure, may be wrong)"
            );
            return Err(bad(at, &expected, line));
        }
    }
    let alike = point.liquid_kg_m3.zip(before.liquid_kg_m3);
    if alike.is_some_and(|(now, then)| now >= then) {
        return Err(bad(
            at,
            "a liquid that is lighter than in the row before",
            line,
        ));
    }
    Ok(())
}

fn unit<U: Unit>(code: &str, at: usize) -> Result<U, Problem> {
    let read: Result<Quantity<U>, Problem> = Quantity::read(U::QUANTITY, "1", code);
    read.map(|quantity| quantity.unit).map_err(|mut problem| {
        problem.came = format!("{} in line {at}", problem.came);
        problem
    })
}

fn needed<T>(value: Option<T>, name: &str, such_as: &str) -> Result<T, Problem> {
    value.ok_or_else(|| {
        let expected = format!("a line # {name}: with its unit, {such_as}");
        Problem::missing(name, expected, "Write it above the rows.")
    })
}

fn bad(at: usize, expected: &str, came: &str) -> Problem {
    Problem::new(
        ProblemCode::BadTable,
        "table",
        expected,
        format!("\"{came}\" in line {at}"),
        "Compare the line with the published table: a digit or a unit may be wrong.",
    )
}
