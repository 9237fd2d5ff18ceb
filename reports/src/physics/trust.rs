//! How far a mass of several weighings can be trusted, and a leak rate that rests on it.
//!
//! The steps of a scale are independent from reading to reading and add up as squares: r²/6 for the
//! difference of two. How far a scale is off by its check weights is the same in each of its weighings
//! and counts for what it weighed in all, what came out against what went in; two scales are
//! independent. These figures are shown beside the exact ones and decide nothing.

use super::problem::{Problem, ProblemCode};
use super::weighing::{ScaleFacts, Weighing, mass_uncertainty};
use crate::mass::Mass;

/// One weighing of a mass that went in, or came out.
#[derive(Clone, Debug)]
pub struct WeighedPart<'a> {
    /// The scale.
    pub scale: &'a ScaleFacts,
    /// What tells it from another scale.
    pub name: &'a str,
    /// The difference of its two readings.
    pub mass: Mass,
    /// Did it come out again?
    pub came_out: bool,
}

/// How far a mass can be trusted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trust {
    standard_g: f64,
    mass_g: f64,
}

impl Trust {
    /// Of a mass that is the sum of weighings.
    ///
    /// # Errors
    /// [`ProblemCode::Missing`] without any; as [`mass_uncertainty`] for one that is not above zero.
    pub fn of(parts: &[WeighedPart<'_>]) -> Result<Trust, Problem> {
        let mut squares = 0.0;
        let mut net: Vec<(&str, f64, f64)> = Vec::new();
        for part in parts {
            let of_one = mass_uncertainty(part.scale, Weighing::Difference, part.mass)?;
            let of_steps = of_one.smallest_significant_g / 2.0;
            squares += of_steps * of_steps;
            let grams = part.mass.steps() as f64 / Mass::GRAM as f64;
            let grams = if part.came_out { -grams } else { grams };
            match net.iter_mut().find(|(name, ..)| *name == part.name) {
                Some((_, sum, _)) => *sum += grams,
                None => net.push((part.name, grams, of_one.check_deviation.unwrap_or(0.0))),
            }
        }
        if net.is_empty() {
            return Err(Problem::missing(
                "weighings",
                "one mass at least that a registered scale weighed",
                "Name the scale with its readings.",
            ));
        }
        squares += (net.iter())
            .map(|(_, grams, deviation)| (grams * deviation).powi(2))
            .sum::<f64>();
        Ok(Trust {
            standard_g: squares.sqrt(),
            mass_g: net.iter().map(|(_, grams, _)| grams).sum(),
        })
    }

    /// Expanded uncertainty (k = 2) in grams, with one decimal.
    pub fn grams_text(self) -> String {
        format!("{:.1}", 2.0 * self.standard_g)
    }

    /// Expanded uncertainty (k = 2) of a rate in percentage points, with two decimals:
    /// (U/L)² = 4 [(u_m/m)² + (u_C/C)²]. `percent`: the rate as it is printed;
    /// `full_charge_doubt`: relative standard uncertainty of the full charge.
    ///
    /// # Errors
    /// [`ProblemCode::OutOfRange`] where nothing was added, or for a doubt outside 0 to 1.
    pub fn points_text(self, percent: &str, full_charge_doubt: f64) -> Result<String, Problem> {
        let rate: Option<f64> = percent.parse().ok().filter(|rate: &f64| rate.is_finite());
        let usable = self.mass_g > 0.0 && (0.0..=1.0).contains(&full_charge_doubt);
        let Some(rate) = rate.filter(|_| usable) else {
            return Err(Problem::new(
                ProblemCode::OutOfRange,
                "rate",
                "a rate of an added mass above zero, and a doubt from 0 to 1",
                format!("{percent} percent, {full_charge_doubt}"),
                "A loss that was not weighed has no uncertainty of weighing.",
            ));
        };
        let relative = (self.standard_g / self.mass_g).hypot(full_charge_doubt);
        Ok(format!("{:.2}", 2.0 * rate * relative))
    }
}

/// The doubt of a full charge that a range gives: anything between its ends is as likely, so half its
/// width over √3 is the standard uncertainty of the midpoint.
pub fn range_doubt(low: Mass, high: Mass) -> f64 {
    let (low, high) = (low.steps() as f64, high.steps() as f64);
    let middle = low + high;
    if middle > 0.0 && high >= low {
        (high - low) / middle / 3.0_f64.sqrt()
    } else {
        0.0
    }
}
