//! Can these be the pressures and densities of a refrigerant, in the unit that the file names?
//!
//! A unit that is wrong in all rows leaves a curve of the right shape. A refrigerant that ships with a
//! table is compared with it; any other must lie where refrigerants lie.

use super::bad;
use crate::physics::fluid::{Fluid, Point};
use crate::physics::problem::Problem;
use crate::physics::table::SaturationTable;

/// How far a sheet may be from the shipped table, as a share. Sheets and equations of state differ by
/// one or two percent, units by more than this (common practice, no source).
const APART: f64 = 0.05;

/// Around the lowest and highest pressure of the shipped refrigerants at the same temperature, as a
/// factor (common practice, no source).
const AROUND: f64 = 2.0;

/// Absolute pressures in kPa where no shipped refrigerant has liquid (common practice, no source).
const KPA: (f64, f64) = (1.0, 10_000.0);

/// Densities in kg/m³: liquids and vapours that are charged by weight (common practice, no source).
const LIQUID: (f64, f64) = (250.0, 2_200.0);
const VAPOUR: (f64, f64) = (0.01, 800.0);

/// Looks at the rows, each with the number of its line and the line.
pub(super) fn look(designation: &str, rows: &[(usize, &str, Point)]) -> Result<(), Problem> {
    let shipped = SaturationTable::shipped();
    match shipped.fluid(designation) {
        Ok(fluid) => rows.iter().try_for_each(|row| agrees(fluid, row)),
        Err(_) => rows.iter().try_for_each(|row| lies_among(shipped, row)),
    }
}

/// Is it within five percent of the shipped table, wherever both know it?
fn agrees(fluid: &Fluid, (at, line, point): &(usize, &str, Point)) -> Result<(), Problem> {
    let Ok(known) = fluid.at_kelvin(point.kelvin) else {
        return Ok(());
    };
    for (what, came, known, unit) in [
        (
            "bubble pressure",
            Some(point.bubble_kpa),
            Some(known.bubble_kpa),
            "kPa absolute",
        ),
        (
            "dew pressure",
            Some(point.dew_kpa),
            Some(known.dew_kpa),
            "kPa absolute",
        ),
        (
            "density of the liquid",
            point.liquid_kg_m3,
            known.liquid_density_kg_m3,
            "kg/m3",
        ),
        (
            "density of the vapour",
            point.vapour_kg_m3,
            known.vapour_density_kg_m3,
            "kg/m3",
        ),
    ] {
        if let Some((came, known)) = came.zip(known)
            && (came / known - 1.0).abs() > APART
        {
            let expected = format!(
                "a {what} within 5 % of {known:.1} {unit}, as the shipped table of {} has it (is the \
                 unit right?)",
                fluid.designation
            );
            return Err(bad(*at, &expected, &format!("{line} ({came:.1} {unit})")));
        }
    }
    Ok(())
}

fn lies_among(
    shipped: &SaturationTable,
    (at, line, point): &(usize, &str, Point),
) -> Result<(), Problem> {
    let (low, high) = pressures(shipped, point.kelvin);
    for (what, came, (low, high), unit) in [
        (
            "bubble pressure",
            Some(point.bubble_kpa),
            (low, high),
            "kPa absolute",
        ),
        (
            "dew pressure",
            Some(point.dew_kpa),
            (low, high),
            "kPa absolute",
        ),
        ("density of the liquid", point.liquid_kg_m3, LIQUID, "kg/m3"),
        ("density of the vapour", point.vapour_kg_m3, VAPOUR, "kg/m3"),
    ] {
        if let Some(came) = came.filter(|came| !(low..=high).contains(came)) {
            let expected = format!(
                "a {what} from {low:.2} to {high:.1} {unit}, as refrigerants have (is the unit right?)"
            );
            return Err(bad(*at, &expected, &format!("{line} ({came:.1} {unit})")));
        }
    }
    Ok(())
}

/// From half the lowest to twice the highest pressure of the shipped refrigerants at a temperature.
fn pressures(shipped: &SaturationTable, kelvin: f64) -> (f64, f64) {
    let known = shipped
        .fluids()
        .filter_map(|fluid| fluid.at_kelvin(kelvin).ok());
    let around = known.fold(None, |found: Option<(f64, f64)>, at| {
        let (low, high) = found.unwrap_or((at.dew_kpa, at.bubble_kpa));
        Some((low.min(at.dew_kpa), high.max(at.bubble_kpa)))
    });
    around.map_or(KPA, |(low, high)| (low / AROUND, high * AROUND))
}
