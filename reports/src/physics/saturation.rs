//! Saturation as a technician asks for it: this refrigerant, this temperature or this reading.
//!
//! Liquid rests in a cylinder or a liquid line: the bubble pressure counts. In a suction or vapour
//! line it is the dew pressure. Blends with glide have both, so both are always given.

use super::air::{GaugeKind, LocalAir};
use super::fluid::{Fluid, Saturated};
use super::hint;
use super::pressure::Pressure;
use super::problem::{Problem, ProblemCode};
use super::table::SaturationTable;
use super::temperature::Temperature;
use serde::Serialize;

/// What stands beside every saturation value.
pub const SATURATION_CAUTION: &str = "Saturation values from an equation of state for the nominal \
     composition; leaked or mixed blends differ. Not for safety-critical settings.";

/// What stands beside every value of a manufacturer's table.
pub const MAKERS_CAUTION: &str = "Saturation values as the manufacturer published them, interpolated; \
     leaked or mixed blends differ. Not for safety-critical settings.";

/// The caution that fits where a value comes from.
fn caution(fluid: &Fluid) -> &'static str {
    match fluid.is_makers {
        true => MAKERS_CAUTION,
        false => SATURATION_CAUTION,
    }
}

/// Saturation at a temperature, with what has to be said about it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SaturationAnswer {
    /// The refrigerant that was understood.
    pub refrigerant: String,
    /// The temperature in degrees Celsius.
    pub temperature_cel: f64,
    /// The values.
    #[serde(flatten)]
    pub saturated: Saturated,
    /// Where they come from.
    pub source: String,
    /// Why they are doubted so far.
    pub doubt_source: String,
    /// [`SATURATION_CAUTION`], or [`MAKERS_CAUTION`].
    pub caution: &'static str,
}

/// Saturation temperatures at a pressure, with what has to be said about them.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TemperatureAnswer {
    /// The refrigerant that was understood.
    pub refrigerant: String,
    /// The absolute pressure in kilopascal.
    pub pressure_kpa: f64,
    /// The temperature at which this is the bubble pressure (liquid lines, resting cylinders).
    pub bubble_cel: f64,
    /// The temperature at which this is the dew pressure (suction lines).
    pub dew_cel: f64,
    /// How far the pressures of the table may be from nature, in percent.
    pub model_doubt_percent: f64,
    /// Where the values come from.
    pub source: String,
    /// [`SATURATION_CAUTION`], or [`MAKERS_CAUTION`].
    pub caution: &'static str,
}

/// Saturation of a refrigerant at a temperature inside its table (mostly -40 to 65 °C).
///
/// # Errors
/// [`ProblemCode::UnknownRefrigerant`], [`ProblemCode::NoTable`], [`ProblemCode::AboveCritical`];
/// [`ProblemCode::OutsideTable`], which names the unit in which the number would fit.
pub fn saturation(
    table: &SaturationTable,
    refrigerant: &str,
    temperature: Temperature,
) -> Result<SaturationAnswer, Problem> {
    let fluid = table.fluid(refrigerant)?;
    let kelvin = temperature.kelvin("temperature")?;
    let saturated = at(fluid, temperature)?;
    Ok(SaturationAnswer {
        refrigerant: fluid.designation.clone(),
        temperature_cel: kelvin - 273.15,
        saturated,
        source: fluid.source.clone(),
        doubt_source: fluid.doubt_source.clone(),
        caution: caution(fluid),
    })
}

/// The temperatures at which a refrigerant has the pressure that an instrument shows.
///
/// # Errors
/// [`ProblemCode::UnknownRefrigerant`], [`ProblemCode::NoTable`], [`ProblemCode::BelowVacuum`];
/// [`ProblemCode::OutsideTable`], which names the unit in which the number would fit.
pub fn saturation_temperature(
    table: &SaturationTable,
    refrigerant: &str,
    pressure: Pressure,
    gauge: GaugeKind,
    air: LocalAir,
) -> Result<TemperatureAnswer, Problem> {
    let fluid = table.fluid(refrigerant)?;
    let kpa = pressure.absolute_kpa("pressure", gauge, air)?;
    let meant = |mut problem: Problem| {
        let fits = |other: Pressure| {
            let kpa = other.absolute_kpa("pressure", gauge, air);
            kpa.is_ok_and(|kpa| fluid.bubble_kelvin(kpa).is_ok() && fluid.dew_kelvin(kpa).is_ok())
        };
        problem.came = format!("{} ({})", pressure.text(), problem.came);
        if let Some(hint) = hint::other_units(pressure, fits) {
            problem.to_do = format!("{hint} {}", problem.to_do);
        }
        problem
    };
    Ok(TemperatureAnswer {
        refrigerant: fluid.designation.clone(),
        pressure_kpa: kpa,
        bubble_cel: fluid.bubble_kelvin(kpa).map_err(meant)? - 273.15,
        dew_cel: fluid.dew_kelvin(kpa).map_err(meant)? - 273.15,
        model_doubt_percent: fluid.model_doubt_percent,
        source: fluid.source.clone(),
        caution: caution(fluid),
    })
}

fn at(fluid: &Fluid, temperature: Temperature) -> Result<Saturated, Problem> {
    let kelvin = temperature.kelvin("temperature")?;
    fluid.at_kelvin(kelvin).map_err(|mut problem| {
        let fits = |other: Temperature| {
            let kelvin = other.kelvin("temperature");
            kelvin.is_ok_and(|kelvin| fluid.covers(kelvin))
        };
        let hint = hint::other_units(temperature, fits);
        if let Some(hint) = hint.filter(|_| problem.code == ProblemCode::OutsideTable) {
            problem.to_do = format!("{hint} {}", problem.to_do);
        }
        problem.came = temperature.text();
        problem
    })
}
