//! How far weighed masses and leak rates can be trusted, beside the figures that decide.
//!
//! It is worked out when somebody looks, from the scales that the entries name. `assess` knows nothing
//! of it, so no limit can be softened by it. Where a part of an addition was not weighed on a
//! registered scale, or does not add up to the figure, nothing is said.

use super::scales::Scales;
use crate::ledger::entry::{Body, Leaf, Moved};
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::store::dossier::{Dossier, mass_of};
use crate::store::listing;
use crate::store::open::Organisation;
use crate::store::{Db, StoreError};
use reports::day::Day;
use reports::mass::Mass;
use reports::number::Fraction;
use reports::physics::{ScaleFacts, Trust, WeighedPart, range_doubt};
use reports::standing::{AdditionShown, RateShown, Standing, UncertaintyShown};

/// Additions of a standing that are looked at, the newest first; far more than a year has.
const MOST: usize = 24;

/// One weighing of an appliance.
struct Part {
    scale: ScaleFacts,
    name: String,
    mass: Mass,
    came_out: bool,
}

/// Puts beside the newest additions of an appliance how far they can be trusted.
pub fn beside(
    db: &mut Db,
    of: &Organisation,
    appliance: Id,
    dossier: &Dossier,
    standing: &mut Standing,
) -> Result<(), StoreError> {
    let mut scales = Scales::default();
    let from = standing.additions.len().saturating_sub(MOST);
    let mut weighed: Vec<Option<Vec<Part>>> = Vec::new();
    for addition in &standing.additions[from..] {
        let parts = parts(db, of, appliance, addition, &mut scales)?;
        weighed.push(parts.filter(|parts| net(parts) == steps(&addition.mass.g)));
    }
    let full = standing
        .full_charge
        .as_ref()
        .and_then(|full| steps(&full.g));
    for at in (from..standing.additions.len()).rev() {
        let addition = &standing.additions[at];
        let Some(own) = &weighed[at - from] else {
            continue;
        };
        let day = Day::parse(&addition.day);
        let doubt = day.and_then(|day| full_charge_doubt(dossier, day));
        let annualising = full.and_then(|full| {
            let rate = addition.rates.annualising.as_ref()?;
            let (added, days) = (net(own)?, i128::from(addition.days));
            is_exactly(rate, added * 365, full.checked_mul(days)?)
                .then(|| points(own, rate, doubt))
                .flatten()
        });
        let rolling = full.and_then(|full| {
            let rate = addition.rates.rolling.as_ref()?;
            let mut window: Vec<&Part> = Vec::new();
            for earlier in weighed[..=at - from].iter().rev() {
                window.extend(earlier.as_ref()?);
                if is_exactly(rate, net_of(&window)?, full) {
                    return points_of(&window, rate, doubt);
                }
            }
            None
        });
        let Some(added) = trust(own) else { continue };
        let uncertainty = UncertaintyShown {
            added_g: added.grams_text(),
            annualising_points: annualising,
            rolling_points: rolling,
            k: "2",
            basis: basis(own, doubt.is_some()),
        };
        standing.additions[at].uncertainty = Some(uncertainty);
    }
    Ok(())
}

/// How far each movement of an entry can be trusted, in grams (k = 2), in the order of its movements.
pub fn of_movements(
    db: &mut Db,
    of: &Organisation,
    leaf: &Leaf<'_>,
) -> Result<Vec<Option<String>>, StoreError> {
    let mut scales = Scales::default();
    let (day, body) = in_force(leaf);
    let mut texts = Vec::new();
    for moved in body.movements.iter().flatten() {
        let scale = scale_of(db, of, moved, day, &mut scales)?;
        texts.push(scale.and_then(|(scale, name)| {
            let part = Part {
                scale,
                name,
                mass: moved.g,
                came_out: false,
            };
            Some(trust(&[part])?.grams_text())
        }));
    }
    Ok(texts)
}

/// What is known of the registered scale that a movement was weighed on, on its day.
pub fn scale_of(
    db: &mut Db,
    of: &Organisation,
    moved: &Moved<'_>,
    day: Day,
    scales: &mut Scales,
) -> Result<Option<(ScaleFacts, String)>, StoreError> {
    let Some(scale) = moved.readings.as_ref().and_then(|readings| readings.scale) else {
        return Ok(None);
    };
    let name = scale.to_string();
    let known = scales.known(db, of, &name)?.on(day);
    Ok(known.map(|known| (known, name)))
}

/// The day and the body that stand: of a correction those of what it puts in place.
fn in_force<'l, 'a>(leaf: &'l Leaf<'a>) -> (Day, &'l Body<'a>) {
    match leaf.body.replace.as_deref() {
        Some(new) => (new.happened.day, &new.body),
        None => (leaf.happened.day, &leaf.body),
    }
}

/// The weighings of an addition; `None`: a mass of it was not weighed on a registered scale.
fn parts(
    db: &mut Db,
    of: &Organisation,
    appliance: Id,
    addition: &AdditionShown,
    scales: &mut Scales,
) -> Result<Option<Vec<Part>>, StoreError> {
    let mut parts = Vec::new();
    let it = Place::Appliance(appliance);
    for seq in &addition.entries {
        let Some(row) = listing::entry(db, of.org, *seq)? else {
            return Ok(None);
        };
        let damaged = |_| StoreError::Broken(format!("entry no. {seq} is unreadable"));
        let leaf = Leaf::parse(&row.leaf).map_err(damaged)?;
        let (day, body) = in_force(&leaf);
        let own = body.movements.iter().flatten();
        for moved in own.filter(|moved| moved.from == it || moved.to == it) {
            let Some((scale, name)) = scale_of(db, of, moved, day, scales)? else {
                return Ok(None);
            };
            parts.push(Part {
                scale,
                name,
                mass: moved.g,
                came_out: moved.from == it,
            });
        }
    }
    Ok((!parts.is_empty()).then_some(parts))
}

fn steps(grams: &str) -> Option<i128> {
    Some(i128::from(Mass::from_grams_text(grams)?.steps()))
}

fn net(parts: &[Part]) -> Option<i128> {
    net_of(&parts.iter().collect::<Vec<_>>())
}

fn net_of(parts: &[&Part]) -> Option<i128> {
    let signed = |part: &&Part| {
        let steps = i128::from(part.mass.steps());
        if part.came_out { -steps } else { steps }
    };
    Some(parts.iter().map(signed).sum()).filter(|sum| *sum > 0)
}

/// Is the rate exactly this share of the full charge?
fn is_exactly(rate: &RateShown, added: i128, full: i128) -> bool {
    let number = |text: &str| text.parse::<i128>().ok();
    let (Some(numerator), Some(denominator)) = (number(&rate.numerator), number(&rate.denominator))
    else {
        return false;
    };
    full > 0
        && denominator > 0
        && added.checked_mul(100).is_some_and(|added| {
            Fraction::new(added, full) == Fraction::new(numerator, denominator)
        })
}

fn trust(parts: &[Part]) -> Option<Trust> {
    trust_of(&parts.iter().collect::<Vec<_>>())
}

fn trust_of(parts: &[&Part]) -> Option<Trust> {
    let weighed: Vec<WeighedPart<'_>> = (parts.iter())
        .map(|part| WeighedPart {
            scale: &part.scale,
            name: &part.name,
            mass: part.mass,
            came_out: part.came_out,
        })
        .collect();
    Trust::of(&weighed).ok()
}

fn points(parts: &[Part], rate: &RateShown, doubt: Option<f64>) -> Option<String> {
    points_of(&parts.iter().collect::<Vec<_>>(), rate, doubt)
}

fn points_of(parts: &[&Part], rate: &RateShown, doubt: Option<f64>) -> Option<String> {
    let trust = trust_of(parts)?;
    trust
        .points_text(&rate.percent, doubt.unwrap_or_default())
        .ok()
}

/// The doubt of a full charge that was established as a range; none of one that was stated.
fn full_charge_doubt(dossier: &Dossier, day: Day) -> Option<f64> {
    let is = dossier.on("full_charge", day, u64::MAX)?;
    let end = |name: &str| mass_of(is.get(name)?);
    Some(range_doubt(end("low")?, end("high")?))
}

fn basis(parts: &[Part], by_range: bool) -> String {
    let unchecked = parts.iter().any(|part| part.scale.checks.is_empty());
    let scales = match unchecked {
        true => "the steps of the scale alone: no known weight was put on it within a year",
        false => "the steps of the scale and its check weights",
    };
    let charge = match by_range {
        true => "the range of the full charge",
        false => "a full charge taken as stated",
    };
    format!("By {scales}; {charge}.")
}
