//! One refrigerant's saturation curve, and what it answers.
//!
//! Between the points of the table ln p is a monotone cubic of 1/T, bubble and dew apart; the
//! densities are cubics over (1 - T/Tc)^0.35 where there is one critical temperature, which keeps
//! them straight up to it, and over T for blends. The vapour's density follows from p / (rho T),
//! which varies less than the density itself. Nothing is extrapolated.

use super::curve::Curve;
use super::problem::{Problem, ProblemCode};
use serde::Serialize;

/// A refrigerant with its saturation curve.
#[derive(Clone, Debug)]
pub struct Fluid {
    /// Its designation: `R-410A`.
    pub designation: String,
    /// Where its numbers come from: the equation and the composition, or a manufacturer's table.
    pub source: String,
    /// How far they may be from nature, in percent of the pressure.
    pub model_doubt_percent: f64,
    /// Why so far.
    pub doubt_source: String,
    /// Is it a manufacturer's table, and not one that is compiled in?
    pub is_makers: bool,
    /// The critical temperature in kelvin; `None` where it is not known (blends).
    pub critical_kelvin: Option<f64>,
    lowest_kelvin: f64,
    highest_kelvin: f64,
    ln_bubble: Curve,
    ln_dew: Curve,
    liquid: Option<Curve>,
    vapour: Option<Curve>,
}

/// A row of a saturation table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Temperature in kelvin.
    pub kelvin: f64,
    /// Absolute pressure at the bubble point in kilopascal.
    pub bubble_kpa: f64,
    /// Absolute pressure at the dew point in kilopascal.
    pub dew_kpa: f64,
    /// Density of the saturated liquid in kg/m³, where the table has it.
    pub liquid_kg_m3: Option<f64>,
    /// Density of the saturated vapour in kg/m³, where the table has it.
    pub vapour_kg_m3: Option<f64>,
}

/// What saturation is at a temperature.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Saturated {
    /// Absolute pressure over resting liquid (bubble point) in kilopascal.
    pub bubble_kpa: f64,
    /// Absolute pressure at which the last liquid has gone (dew point) in kilopascal.
    pub dew_kpa: f64,
    /// Density of the liquid at the bubble point in kg/m³; absent where a manufacturer's table has
    /// none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub liquid_density_kg_m3: Option<f64>,
    /// Density of the vapour at the dew point in kg/m³; absent where a manufacturer's table has
    /// none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub vapour_density_kg_m3: Option<f64>,
    /// How far these may be from nature, in percent of the pressure.
    pub model_doubt_percent: f64,
}

impl Fluid {
    /// A curve through points in rising temperature; two at least.
    pub(super) fn through(
        designation: &str,
        critical_kelvin: Option<f64>,
        points: &[Point],
    ) -> Fluid {
        let of = |value: fn(&Point) -> f64| points.iter().map(value).collect::<Vec<f64>>();
        let inverse = of(|point| -1.0 / point.kelvin);
        let place = |point: &Point| density_place(critical_kelvin, point.kelvin);
        let density = |value: fn(&Point) -> Option<f64>| {
            let y: Option<Vec<f64>> = points.iter().map(value).collect();
            y.map(|y| Curve::through(points.iter().map(place).collect(), y))
        };
        Fluid {
            designation: designation.to_owned(),
            source: String::new(),
            model_doubt_percent: 0.0,
            doubt_source: String::new(),
            is_makers: false,
            critical_kelvin,
            lowest_kelvin: points.first().map_or(f64::NAN, |point| point.kelvin),
            highest_kelvin: points.last().map_or(f64::NAN, |point| point.kelvin),
            ln_bubble: Curve::through(inverse.clone(), of(|point| point.bubble_kpa.ln())),
            ln_dew: Curve::through(inverse, of(|point| point.dew_kpa.ln())),
            liquid: density(|point| point.liquid_kg_m3),
            vapour: density(|point| {
                let ratio = |density: f64| point.dew_kpa / (density * point.kelvin);
                point.vapour_kg_m3.map(ratio)
            }),
        }
    }

    /// The temperatures of the table in kelvin: from the lowest to the highest.
    pub fn range_kelvin(&self) -> (f64, f64) {
        (self.lowest_kelvin, self.highest_kelvin)
    }

    /// Saturation at a temperature in kelvin.
    ///
    /// # Errors
    /// [`ProblemCode::AboveCritical`], [`ProblemCode::OutsideTable`].
    pub fn at_kelvin(&self, kelvin: f64) -> Result<Saturated, Problem> {
        if !self.covers(kelvin) {
            return Err(self.outside(kelvin));
        }
        let inverse = -1.0 / kelvin;
        let dew_kpa = self.ln_dew.at(inverse).exp();
        let place = density_place(self.critical_kelvin, kelvin);
        let vapour = |curve: &Curve| dew_kpa / (curve.at(place) * kelvin);
        Ok(Saturated {
            bubble_kpa: self.ln_bubble.at(inverse).exp(),
            dew_kpa,
            liquid_density_kg_m3: self.liquid.as_ref().map(|curve| curve.at(place)),
            vapour_density_kg_m3: self.vapour.as_ref().map(vapour),
            model_doubt_percent: self.model_doubt_percent,
        })
    }

    /// Whether the table holds this temperature.
    pub fn covers(&self, kelvin: f64) -> bool {
        (self.lowest_kelvin..=self.highest_kelvin).contains(&kelvin)
    }

    /// Whether there is no liquid at this temperature, as far as is known.
    pub fn is_above_critical(&self, kelvin: f64) -> bool {
        self.critical_kelvin
            .is_some_and(|critical| kelvin >= critical)
    }

    /// How fast the bubble pressure rises with temperature, in kPa per kelvin.
    ///
    /// # Errors
    /// As for [`Fluid::at_kelvin`].
    pub fn bubble_slope(&self, kelvin: f64) -> Result<f64, Problem> {
        if !self.covers(kelvin) {
            return Err(self.outside(kelvin));
        }
        let inverse = -1.0 / kelvin;
        // d p / d T = p × d ln p / d(-1/T) × 1/T².
        let by_inverse = self.ln_bubble.slope_at(inverse);
        Ok(self.ln_bubble.at(inverse).exp() * by_inverse * inverse * inverse)
    }

    /// The temperature in kelvin at which the bubble pressure is this many kilopascal, absolute.
    ///
    /// # Errors
    /// [`ProblemCode::OutsideTable`].
    pub fn bubble_kelvin(&self, kpa: f64) -> Result<f64, Problem> {
        self.kelvin_on(&self.ln_bubble, kpa)
    }

    /// The temperature in kelvin at which the dew pressure is this many kilopascal, absolute.
    ///
    /// # Errors
    /// [`ProblemCode::OutsideTable`].
    pub fn dew_kelvin(&self, kpa: f64) -> Result<f64, Problem> {
        self.kelvin_on(&self.ln_dew, kpa)
    }

    /// Lowest dew and highest bubble pressure of the table in kilopascal.
    pub fn range_kpa(&self) -> (f64, f64) {
        let low = self.ln_dew.at(-1.0 / self.lowest_kelvin).exp();
        (low, self.ln_bubble.at(-1.0 / self.highest_kelvin).exp())
    }

    fn kelvin_on(&self, curve: &Curve, kpa: f64) -> Result<f64, Problem> {
        curve
            .place_of(kpa.ln())
            .map(|inverse| -1.0 / inverse)
            .ok_or_else(|| {
                let (low, high) = self.range_kpa();
                Problem::new(
                    ProblemCode::OutsideTable,
                    "pressure",
                    format!(
                        "{low:.1} to {high:.1} kPa absolute, the table of {}",
                        self.designation
                    ),
                    format!("{kpa:.1} kPa absolute"),
                    "Check the unit, and whether the gauge reads against the air. Nothing is \
                 extrapolated beyond the table.",
                )
            })
    }

    fn outside(&self, kelvin: f64) -> Problem {
        let came = format!("{:.2} Cel", kelvin - 273.15);
        if let Some(critical) = self.critical_kelvin.filter(|critical| kelvin >= *critical) {
            return Problem::new(
                ProblemCode::AboveCritical,
                "temperature",
                format!(
                    "a temperature below the critical one of {}, {:.2} Cel",
                    self.designation,
                    critical - 273.15
                ),
                came,
                "There is no liquid above it: pressure depends on how much is in the cylinder. \
                 Cool the cylinder, or weigh it.",
            );
        }
        Problem::new(
            ProblemCode::OutsideTable,
            "temperature",
            format!(
                "{:.1} to {:.1} Cel, the table of {}",
                self.lowest_kelvin - 273.15,
                self.highest_kelvin - 273.15,
                self.designation
            ),
            came,
            "Nothing is extrapolated beyond the table.",
        )
    }
}

/// Where densities are nearly straight; rising with temperature.
fn density_place(critical_kelvin: Option<f64>, kelvin: f64) -> f64 {
    match critical_kelvin {
        Some(critical) => -(1.0 - kelvin / critical).powf(0.35),
        None => kelvin,
    }
}
