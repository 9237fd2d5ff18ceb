//! What the shape of a vacuum rise says (common practice, no source).

use super::VacuumReading;
use crate::physics::exact;
use serde::{Deserialize, Serialize};

/// How the pressure came back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VacuumShape {
    /// It rises quickly and then hardly: moisture or outgassing.
    LevelsOff,
    /// It rises on and on: a leak.
    Steady,
    /// Neither one nor the other.
    Unclear,
    /// Fewer than three readings say nothing of a shape.
    TooFewReadings,
    /// It did not rise.
    NoRise,
}

/// Compares the rate of the second half of the time with that of the first: up to a third of it is
/// levelling off, from two thirds on it is steady.
pub(super) fn shape_of(readings: &[VacuumReading]) -> VacuumShape {
    let points: Vec<(f64, f64)> = readings.iter().map(place).collect();
    let [first, .., last] = points[..] else {
        return VacuumShape::TooFewReadings;
    };
    if points.len() < 3 {
        return VacuumShape::TooFewReadings;
    }
    if last.1 <= first.1 {
        return VacuumShape::NoRise;
    }
    let middle = (
        0.5 * (first.0 + last.0),
        value_at(&points, 0.5 * (first.0 + last.0)),
    );
    let (early, late) = (middle.1 - first.1, last.1 - middle.1);
    if 3.0 * late <= early {
        VacuumShape::LevelsOff
    } else if 3.0 * late >= 2.0 * early {
        VacuumShape::Steady
    } else {
        VacuumShape::Unclear
    }
}

fn place(reading: &VacuumReading) -> (f64, f64) {
    (exact::float(reading.minute), reading.pressure.size_kpa())
}

/// Straight between the readings on either side.
fn value_at(points: &[(f64, f64)], minute: f64) -> f64 {
    let after = points.partition_point(|point| point.0 <= minute);
    let after = after.clamp(1, points.len() - 1);
    let (left, right) = (points[after - 1], points[after]);
    left.1 + (right.1 - left.1) * (minute - left.0) / (right.0 - left.0)
}
