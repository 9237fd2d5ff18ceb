//! The scale against the book: what a weighing says of a cylinder beside what is booked in it.
//!
//! Nobody is asked: a difference beyond what the scale can show is a finding with a likely reason,
//! which the office looks into and a count settles.

// A difference is a finding: no float decides it.
#![deny(clippy::float_arithmetic)]

use super::{Case, Judged, Lens};
use crate::actions::moves::Moving;
use crate::store::StoreError;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use reports::mass::{Mass, Reading, Unit, read_scale};

/// Looks at the first reading of a weighed movement.
pub fn look(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    moving: &Moving,
    lens: &Lens,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let place = match (moving.src.sort(), moving.dst.sort()) {
        // Of two cylinders nobody says which one stood on the scale.
        (Sort::Cylinder, Sort::Cylinder) => return Ok(()),
        (Sort::Cylinder, _) => moving.src,
        (_, Sort::Cylinder) => moving.dst,
        _ => return Ok(()),
    };
    let (Some(readings), Some(step)) = (&moving.moved.readings, moving.resolution) else {
        return Ok(());
    };
    if case.imported {
        return Ok(());
    }
    let unit = Unit::from_code(&readings.unit);
    let Reading::Mass(gross) = read_scale(&readings.before, unit, None) else {
        return Ok(());
    };
    judged
        .findings
        .extend(difference(tx, lens, place, gross, step)?.map(|code| (code, place)));
    Ok(())
}

/// The likely reason of a difference beyond the step of the scale.
fn difference(
    tx: &mut Tx<'_>,
    lens: &Lens,
    place: PlaceNumber,
    gross: Mass,
    step: Mass,
) -> Result<Option<&'static str>, StoreError> {
    let cylinder = tx.subject(place)?;
    let Some(tare) = cylinder.brief.tare else {
        return Ok(None);
    };
    let steps = |mass: Mass| i128::from(mass.steps());
    let (net, book) = (steps(gross) - steps(tare), lens.total(place, cylinder));
    let off = net - book;
    // One reading may be off by its step (common practice, no source; half a step by its rounding alone).
    if off.abs() <= steps(step) {
        return Ok(None);
    }
    // Common practice, no source: a new valve or paint weighs a pound at most, and another cylinder on
    // the scale differs by more than half of the content.
    let a_valve = i128::from(Mass::POUND);
    Ok(Some(
        if net < -steps(step) || (off < 0 && off.abs() <= a_valve) {
            "scale_tare"
        } else if 2 * off.abs() > book.max(net) {
            "scale_exchange"
        } else {
            "scale_unposted"
        },
    ))
}
