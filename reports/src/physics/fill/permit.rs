//! Whether a cylinder may be filled at all, whatever the mass.
//!
//! Disposable cylinders (DOT 39) are never refilled (49 CFR 178.65, from memory), condemned ones
//! never again, and one whose requalification is due not before it has been tested (49 CFR 180.205,
//! from memory; the intervals are in table 1 of 180.209). No answer lifts this.

use crate::day::Day;
use crate::physics::problem::{Problem, ProblemCode};

/// What is known of a cylinder besides its content.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct CylinderFacts {
    /// Not to be refilled (DOT 39).
    pub disposable: bool,
    /// Condemned by a requalifier or by its owner.
    pub condemned: bool,
    /// The last day before it has to be tested again; `None` where no date was read off the collar.
    pub requalification_due: Option<Day>,
}

/// Whether it may be filled on a day.
///
/// # Errors
/// [`ProblemCode::MayNotBeFilled`], or [`ProblemCode::Missing`] where the date of its last test is
/// not known.
pub fn may_be_filled(cylinder: CylinderFacts, on: Day) -> Result<(), Problem> {
    let never = |expected: &str, came: String, to_do: &str| {
        let code = ProblemCode::MayNotBeFilled;
        Err(Problem::new(code, "cylinder", expected, came, to_do))
    };
    if cylinder.disposable {
        return never(
            "a refillable cylinder",
            "a disposable one (DOT 39)".to_owned(),
            "Take a recovery cylinder. Empty the disposable one to the required level and scrap it.",
        );
    }
    if cylinder.condemned {
        return never(
            "a cylinder in service",
            "a condemned one".to_owned(),
            "Take another cylinder; send what is in it to reclaim or destruction.",
        );
    }
    match cylinder.requalification_due {
        None => Err(Problem::missing(
            "requalification_due",
            "the date of the last test stamped on the collar, and its interval",
            "Read the collar; a cylinder without a readable date goes to a requalifier.",
        )),
        Some(due) if due < on => never(
            "a cylinder whose test is not overdue",
            format!("one that was due on {due}"),
            "Take another cylinder; this one goes to a requalifier before it is filled again.",
        ),
        Some(_) => Ok(()),
    }
}
