//! How far a weighed mass, and the leak rate from it, can be trusted.
//!
//! A scale that shows steps of r is off by up to half a step, evenly: u = r/√12 for one reading and
//! r/√6 for the difference of two. Check weights show how far it is off besides. What is lost from hoses
//! is a bias, not noise, and is no part of this. These figures stand beside a mass or a rate; they never
//! soften a threshold, which the computed figure decides as the law says.

use super::problem::{Problem, ProblemCode};
use crate::mass::Mass;
use serde::Serialize;

/// A check weight on a scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WeightCheck {
    /// What the weight is.
    pub nominal: Mass,
    /// What the scale showed.
    pub shown: Mass,
}

/// A scale as it is known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScaleFacts {
    /// The smallest step it shows.
    pub resolution: Mass,
    /// Check weights since its last adjustment; without any, only the resolution counts.
    pub checks: Vec<WeightCheck>,
}

/// How a mass was weighed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Weighing {
    /// One reading against a known tare.
    OneReading,
    /// The difference of two readings.
    Difference,
}

/// How far a mass can be trusted, in grams.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MassUncertainty {
    /// Standard uncertainty (k = 1).
    pub standard_g: f64,
    /// Expanded uncertainty (k = 2).
    pub expanded_g: f64,
    /// The smallest mass that differs from nothing (k = 2), by the resolution alone.
    pub smallest_significant_g: f64,
    /// How far check weights were off, relative (root mean square); absent without any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub check_deviation: Option<f64>,
}

/// How far an annualised leak rate can be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RateUncertainty {
    /// The rate in percent a year, for showing beside: the exact one decides.
    pub rate_percent: f64,
    /// Expanded uncertainty (k = 2) in percentage points.
    pub expanded_percent_points: f64,
    /// Of the added mass.
    pub added: MassUncertainty,
    /// Whether the doubt about the full charge is the larger part.
    pub full_charge_dominates: bool,
}

/// How far a weighed mass can be trusted.
///
/// # Errors
/// [`ProblemCode::OutOfRange`] for a resolution, a mass or a check weight that is not above zero.
pub fn mass_uncertainty(
    scale: &ScaleFacts,
    weighing: Weighing,
    mass: Mass,
) -> Result<MassUncertainty, Problem> {
    let step = above_zero("resolution", scale.resolution)?;
    let grams = above_zero("mass", mass)?;
    let readings = match weighing {
        Weighing::OneReading => 12.0_f64,
        Weighing::Difference => 6.0,
    };
    let of_steps = step / readings.sqrt();
    let check_deviation = check_deviation(&scale.checks)?;
    let of_checks = check_deviation.unwrap_or(0.0) * grams;
    let standard_g = of_steps.hypot(of_checks);
    Ok(MassUncertainty {
        standard_g,
        expanded_g: 2.0 * standard_g,
        smallest_significant_g: 2.0 * of_steps,
        check_deviation,
    })
}

/// How far a leak rate can be trusted: L = m/C × 365/min(days, 365), and
/// (U_L/L)² = 4 [(u_m/m)² + (u_C/C)²] with the added mass m and the full charge C.
///
/// `full_charge_doubt` is the relative standard uncertainty of the full charge: 0.05 where it is known
/// to 5 %.
///
/// # Errors
/// [`ProblemCode::OutOfRange`] for masses or days that are not above zero, or a doubt outside 0 to 1.
pub fn rate_uncertainty(
    scale: &ScaleFacts,
    added: Mass,
    full_charge: Mass,
    days: u32,
    full_charge_doubt: f64,
) -> Result<RateUncertainty, Problem> {
    let of_added = mass_uncertainty(scale, Weighing::Difference, added)?;
    let (grams, charge) = (
        above_zero("added", added)?,
        above_zero("full_charge", full_charge)?,
    );
    if days == 0 {
        return Err(Problem::new(
            ProblemCode::OutOfRange,
            "days",
            "one day at least since the last addition",
            "0 days",
            "Two additions on one day are one.",
        ));
    }
    if !(0.0..=1.0).contains(&full_charge_doubt) {
        return Err(Problem::new(
            ProblemCode::OutOfRange,
            "full_charge_doubt",
            "a share from 0 to 1",
            full_charge_doubt.to_string(),
            "Give 0.05 for a full charge that is known to 5 percent.",
        ));
    }
    let rate_percent = grams / charge * 365.0 / f64::from(days.min(365)) * 100.0;
    let of_mass = of_added.standard_g / grams;
    Ok(RateUncertainty {
        rate_percent,
        expanded_percent_points: 2.0 * rate_percent * of_mass.hypot(full_charge_doubt),
        added: of_added,
        full_charge_dominates: full_charge_doubt > of_mass,
    })
}

/// Root mean square of the relative deviations (common practice, no source).
fn check_deviation(checks: &[WeightCheck]) -> Result<Option<f64>, Problem> {
    let mut sum = 0.0;
    for check in checks {
        let nominal = above_zero("checks", check.nominal)?;
        let off = grams(check.shown) / nominal - 1.0;
        sum += off * off;
    }
    Ok((!checks.is_empty()).then(|| (sum / checks.len() as f64).sqrt()))
}

fn grams(mass: Mass) -> f64 {
    mass.steps() as f64 / Mass::GRAM as f64
}

fn above_zero(field: &str, mass: Mass) -> Result<f64, Problem> {
    if mass > Mass::ZERO {
        return Ok(grams(mass));
    }
    Err(Problem::new(
        ProblemCode::OutOfRange,
        field,
        "a mass above zero",
        format!("{mass} g"),
        "Give it as the scale or the label shows it.",
    ))
}
