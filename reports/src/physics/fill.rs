//! How much may be in a cylinder, before anybody opens a valve.
//!
//! No single formula is safe for every refrigerant: 80 % of the water capacity overfills liquids
//! lighter than water, 80 % of the volume at 25 °C leaves R-125 full of liquid at 54.5 °C. So the
//! limit is the lowest of all rules that apply to the refrigerant, the water capacity and the
//! marking; the rules are rows of a table with their sources. Unknown or mixed content takes the
//! lowest limit of everything that is not excluded. All of it is exact: decimals and fractions, cut
//! to whole steps of mass, never rounded up.

// No float decides a stop.
#![deny(clippy::float_arithmetic)]

mod densities;
mod limit;
mod permit;
mod room;
mod rules;
mod work;

pub use densities::{AddedDensities, FILL_DENSITIES_BYTES, FillDensities, FillTemperature};
pub use limit::{Content, FillLimit, FillRequest, MassText, RuleLimit, fill_limit};
pub use permit::{CylinderFacts, may_be_filled};
pub use room::{FillVerdict, Room, RoomState, judge_fill, room};
pub use rules::{Applies, FILL_LISTED_BYTES, FILL_RULES_BYTES, FillRules, RuleKind, Term};
pub(super) use work::Work;

/// What stands beside every limit.
pub const FILL_CAUTION: &str = "Limit is by weight for the named refrigerant, liquid only. Wrong \
     refrigerant, oil or wrong tare makes it unsafe. Weigh after disconnecting. Never fill a \
     non-refillable (DOT 39) or out-of-date cylinder.";
