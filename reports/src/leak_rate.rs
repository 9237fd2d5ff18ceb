//! Additions and the two leak-rate methods.
//!
//! An *addition* is what one visit (or, without a visit, one local day) put into an appliance and
//! did not take out again. Its leak rate is worked out by both methods of 40 CFR 82.152, always
//! exactly: a rate is a fraction until it is printed. `Reader` walks the history of an appliance
//! once, in the order of [`Event::sort`], and judges each addition at each of its charges.
//! Corrections must already be applied; nothing here knows a rule set, only the [`Reading`] that
//! one asks for.

mod addition;
mod annualising;
mod pool;
mod rate;
mod reader;
mod unit;
mod window;

pub use addition::{Addition, Baseline, Contribution, SplitVisit};
pub use rate::Rate;
pub use reader::Reader;
pub(crate) use reader::shows_all_leaks_repaired;

use crate::appliance::Facts;
use crate::day::Day;
use crate::event::Event;

/// The additions of one appliance, in the order in which they were judged.
///
/// `events` are in the order of [`Event::sort`]. Who asks for many appliances keeps one
/// [`Reader`] and its buffers instead.
pub fn additions(events: &[Event], facts: &Facts, reading: &Reading) -> Vec<Addition> {
    let mut reader = Reader::default();
    reader.read(events, facts, reading);
    reader.take_additions()
}

/// What of an appliance's charges counts as lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Netting {
    /// Charged less recovered in the same visit (or, without a visit, the same local day).
    Visit,
    /// Everything charged counts.
    Gross,
    /// What was recovered within 12 months and is put back does not count.
    Returned,
}

/// How a leak rate is worked out; a dated choice of the facility, never of an entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// One addition, scaled to a year.
    Annualising,
    /// The sum of a year's additions.
    Rolling,
}

/// Days when no earlier addition is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FirstDays {
    /// Days since the appliance was installed (or retrofitted), at most 365.
    SinceInstalled,
    /// Always 365.
    Year,
}

/// How additions are read from a history: the `[leak_rate]` table of a rule set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// What counts as lost.
    pub netting: Netting,
    /// Charges for installation are no additions.
    pub leaves_out_installation: bool,
    /// Charges directly after a retrofit are no additions.
    pub leaves_out_after_retrofit: bool,
    /// What was taken out for a season and put back within 12 months is no addition.
    pub leaves_out_seasonal: bool,
    /// Days when no earlier addition is known.
    pub first_days: FirstDays,
    /// Additions before this day neither count nor reset the days.
    pub counts_from: Option<Day>,
}

impl Default for Reading {
    /// The reading of 40 CFR 82.152 and 82.157(b), used where no rule set says another.
    fn default() -> Reading {
        Reading {
            netting: Netting::Visit,
            leaves_out_installation: true,
            leaves_out_after_retrofit: true,
            leaves_out_seasonal: true,
            first_days: FirstDays::SinceInstalled,
            counts_from: None,
        }
    }
}
