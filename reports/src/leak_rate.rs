//! Additions and the two leak-rate methods (to come: see `additions`).

use crate::day::Day;
use crate::mass::Mass;
use crate::number::Fraction;

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
    /// Days since the appliance was installed, at most 365.
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

/// Where the count of days of an addition began.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Baseline {
    /// The previous addition, on this day.
    Addition(Day),
    /// The installation, on this day.
    Installed(Day),
    /// The retrofit that began a new life, on this day.
    Retrofit(Day),
    /// Nothing known: 365 days.
    NoneKnown,
}

/// One judged step of an addition. A later step of the same addition supersedes the figure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Addition {
    /// The day it is dated.
    pub day: Day,
    /// Numbers of the entries whose masses count, ascending.
    pub entries: Vec<u64>,
    /// Steps with the same group are one addition; the last one of a group is what stands.
    pub group: usize,
    /// Net mass of this step by itself (what it adds to the rolling window), in steps of 10⁻¹¹ g.
    pub mass: i128,
    /// Numerator of the annualising method: the sum of the group (visit, day, leak event) so far.
    pub annualised_mass: i128,
    /// Days from the baseline, 1 to 365.
    pub days: i32,
    /// Where the days were counted from.
    pub baseline: Baseline,
    /// Sum of the rolling window at this step.
    pub rolling_mass: i128,
    /// Full charge in force that day, if known.
    pub full_charge: Option<Mass>,
}

impl Addition {
    /// Percent a year by the annualising method; `None` when the full charge is unknown.
    pub fn annualised(&self) -> Option<Fraction> {
        let full = i128::from(self.full_charge?.steps());
        Some(Fraction::new(
            self.annualised_mass * 36_500,
            full * i128::from(self.days),
        ))
    }

    /// Percent by the rolling average method; `None` when the full charge is unknown.
    pub fn rolling(&self) -> Option<Fraction> {
        let full = i128::from(self.full_charge?.steps());
        Some(Fraction::new(self.rolling_mass * 100, full))
    }
}
