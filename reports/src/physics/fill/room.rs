//! Room left, and whether a fill may begin.
//!
//! From 90 % of the limit on a person is warned, above 100 % he is stopped; a fill to exactly the
//! limit is allowed. Gross and tare come from the scale and the collar, net is their difference.

use super::limit::{FillLimit, MassText};
use crate::mass::Mass;
use crate::number::Fraction;
use crate::physics::problem::{Problem, ProblemCode};
use serde::Serialize;

/// How full a cylinder is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RoomState {
    /// Below 90 % of the limit.
    Open,
    /// From 90 % of the limit to below it.
    NearlyFull,
    /// At the limit: nothing more goes in.
    Full,
    /// Above the limit.
    OverFull,
}

/// What a cylinder holds and what it has room for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Room {
    /// Net mass now.
    pub net: MassText,
    /// What may still go in; nothing where it is over-full.
    pub room_left: MassText,
    /// The reading of the scale at which the limit is reached.
    pub max_gross: MassText,
    /// Net mass in percent of the limit, cut to one decimal.
    pub used_percent: String,
    /// How full it is.
    pub state: RoomState,
    #[serde(skip)]
    net_mass: Mass,
    #[serde(skip)]
    limit: Mass,
}

/// What comes of a fill that is about to begin.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "verdict", rename_all = "snake_case")]
pub enum FillVerdict {
    /// It stays below 90 % of the limit.
    Accepted,
    /// It reaches 90 % of the limit: go on, and look at the scale.
    Warned {
        /// What is left after it.
        room_after: MassText,
    },
    /// It would pass the limit.
    Stopped {
        /// By how much.
        over_by: MassText,
        /// The most that may go in.
        room_left: MassText,
    },
}

/// What a cylinder has room for.
///
/// # Errors
/// [`ProblemCode::Missing`] without a tare; [`ProblemCode::Contradiction`] for a gross mass below
/// it; [`ProblemCode::OutOfRange`] beyond 92 t.
pub fn room(limit: &FillLimit, tare: Option<Mass>, gross: Mass) -> Result<Room, Problem> {
    let Some(tare) = tare else {
        return Err(Problem::missing(
            "tare",
            "the tare of the cylinder (TW on the collar)",
            "Read it off the collar, or weigh the cylinder empty and record who did and when.",
        ));
    };
    let Some(net) = gross.checked_sub(tare) else {
        return Err(Problem::new(
            ProblemCode::Contradiction,
            "gross",
            format!("a mass not below the tare of {}", MassText::of(tare).lb_oz),
            MassText::of(gross).lb_oz,
            "Weigh again; check the unit of the scale and whether this is the right cylinder.",
        ));
    };
    let Some(max_gross) = limit.limit.checked_add(tare) else {
        return Err(Problem::new(
            ProblemCode::OutOfRange,
            "tare",
            "a tare below 92 t",
            MassText::of(tare).kg,
            "Check the unit of the tare.",
        ));
    };
    let left = limit.limit.checked_sub(net).unwrap_or(Mass::ZERO);
    Ok(Room {
        net: MassText::of(net),
        room_left: MassText::of(left),
        max_gross: MassText::of(max_gross),
        used_percent: used_percent(net, limit.limit),
        state: state(net, limit.limit),
        net_mass: net,
        limit: limit.limit,
    })
}

/// Whether so much more may go into a cylinder.
///
/// # Errors
/// [`ProblemCode::OutOfRange`] beyond 92 t.
pub fn judge_fill(room: &Room, adding: Mass) -> Result<FillVerdict, Problem> {
    let Some(after) = room.net_mass.checked_add(adding) else {
        return Err(Problem::new(
            ProblemCode::OutOfRange,
            "adding",
            "a mass below 92 t",
            MassText::of(adding).kg,
            "Check the unit of the mass.",
        ));
    };
    Ok(match state(after, room.limit) {
        RoomState::Open => FillVerdict::Accepted,
        RoomState::NearlyFull | RoomState::Full => FillVerdict::Warned {
            room_after: MassText::of(room.limit.checked_sub(after).unwrap_or(Mass::ZERO)),
        },
        RoomState::OverFull => FillVerdict::Stopped {
            over_by: MassText::of(after.checked_sub(room.limit).unwrap_or(Mass::ZERO)),
            room_left: room.room_left.clone(),
        },
    })
}

fn state(net: Mass, limit: Mass) -> RoomState {
    let tenths = |mass: Mass, count: i128| i128::from(mass.steps()) * count;
    if net > limit {
        RoomState::OverFull
    } else if net == limit {
        RoomState::Full
    } else if tenths(net, 10) >= tenths(limit, 9) {
        RoomState::NearlyFull
    } else {
        RoomState::Open
    }
}

fn used_percent(net: Mass, limit: Mass) -> String {
    let (net, limit) = (i128::from(net.steps()), i128::from(limit.steps()));
    if limit == 0 {
        return "0.0".to_owned();
    }
    Fraction::new(net * 100, limit).cut(1)
}
