//! The closed words of the rule vocabulary.
//!
//! A rule file may use these words and no others; the parser answers an unknown one with the
//! list of its enum. The spelling in TOML and JSON is the snake case of the variant unless a
//! `rename` says otherwise.

use crate::event::{Kind, Reason};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Defines an enum of words with its spelling, so that messages can list and print them.
macro_rules! words {
    ($(#[$about:meta])* $name:ident { $($variant:ident = $text:literal),+ $(,)? }) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[derive(Serialize, Deserialize, JsonSchema)]
        #[allow(missing_docs)]
        pub enum $name { $(#[serde(rename = $text)] $variant),+ }

        impl $name {
            /// Every word, in the order of the enum.
            pub const ALL: &[$name] = &[$($name::$variant),+];

            /// The word as files spell it.
            pub const fn word(self) -> &'static str {
                match self { $($name::$variant => $text),+ }
            }

            /// The word with this spelling.
            pub fn named(text: &str) -> Option<$name> {
                match text { $($text => Some($name::$variant),)+ _ => None }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }
    };
}

words! {
    /// Order of layers: the highest one in force gives the number.
    Layer { National = "national", State = "state", Local = "local", Site = "site" }
}
words! {
    /// What 31 January and one month is: the last day of February, or the day after it.
    MonthEnd { LastDay = "last_day", NextDay = "next_day" }
}
words! {
    /// Which GWP column `gwp` and `co2e` use.
    GwpBasis { Ar4 = "AR4", Ar5 = "AR5", Eu = "EU-2024/573", Us = "US-84.64" }
}
words! {
    /// Units of values (rules.md section 4).
    Unit {
        Pound = "lb", Kilogram = "kg", TonneCo2e = "t_co2e", Gwp = "gwp", Kilowatt = "kW",
        Percent = "percent", PercentPerYear = "percent_per_year",
        PercentOfFullCharge = "percent_of_full_charge", Dollar = "USD",
        Days = "days", Weeks = "weeks", Months = "months", Years = "years", Hours = "hours",
        OperatingHours = "operating_hours", CalendarMonths = "calendar_months",
        CalendarQuarters = "calendar_quarters", CalendarHalfYears = "calendar_half_years",
        CalendarYears = "calendar_years", MonthDay = "month_day", Date = "date",
    }
}
words! {
    /// Which way is stricter: layers and the difference view need it.
    Stricter { Lower = "lower", Higher = "higher" }
}
words! {
    /// Marks a number or clause whose text was not read.
    Confidence { Unconfirmed = "unconfirmed" }
}
words! {
    /// What happens to open duties when a covers block's time is over.
    AtEnd { Lapse = "lapse" }
}
words! {
    /// Yes or no.
    YesNo { Yes = "yes", No = "no" }
}
words! {
    /// What of an appliance's charges counts as lost.
    NettingWord { Visit = "visit", Gross = "gross", Returned = "returned" }
}
words! {
    /// Charge reasons that are no addition.
    LeavesOut {
        Installation = "installation", AfterRetrofit = "after_retrofit", Seasonal = "seasonal",
    }
}
words! {
    /// Days when no earlier addition is known.
    FirstDaysWord { SinceInstalled = "since_installed", Year = "365" }
}
words! {
    /// How leak rates are annualised; a dated setting of the site, not of the rule.
    MethodWord { Annualising = "annualising", Rolling = "rolling" }
}
words! {
    /// What a limit measures.
    Measure {
        LeakRate = "leak_rate", LossOfPeriod = "loss_of_period", Added = "added",
        NetGain = "net_gain", Released = "released", Co2eLost = "co2e_lost",
    }
}
words! {
    /// Periods over which sums are taken.
    Period {
        CalendarMonth = "calendar_month", CalendarQuarter = "calendar_quarter",
        CalendarHalfYear = "calendar_half_year", CalendarYear = "calendar_year",
        FiscalYear = "fiscal_year",
    }
}
words! {
    /// Who owes a duty when it is not the owner of one appliance.
    Subject { Appliance = "appliance", Organisation = "organisation" }
}
words! {
    /// Parts of an organisation that a sum lists apart.
    Each { Site = "site" }
}
words! {
    /// What pauses a duty's clock.
    PausedBy { Mothball = "mothball" }
}
words! {
    /// From when a record is kept.
    KeepAfter {
        Entry = "entry", Submission = "submission", Retirement = "retirement",
        RecoveryAtDisposal = "recovery_at_disposal",
    }
}
words! {
    /// From when a due line counts: a named point, or the last event of a kind in the case.
    Anchor {
        Start = "start", Root = "root", PreviousStart = "previous_start", Last = "last",
        Delivered = "delivered", LastExtension = "last_extension", Installed = "installed",
        PeriodEnd = "period_end", QuarterEnd = "quarter_end", HalfYearEnd = "half_year_end",
        YearEnd = "year_end",
        BackInOperation = "back_in_operation", Charge = "charge", Recover = "recover",
        LeakFound = "leak_found", Repair = "repair", Inspection = "inspection",
        VerificationTest = "verification_test", Plan = "plan", Retrofit = "retrofit",
        Retire = "retire", Mothball = "mothball", Shutdown = "shutdown", Isolate = "isolate",
        Notice = "notice", Decision = "decision", Loss = "loss",
    }
}
words! {
    /// Kinds of entry that rules read (model.md section 4); `correction` only in situations.
    EventKind {
        Opening = "opening", Purchase = "purchase", Recover = "recover", Retrofit = "retrofit",
        BackInOperation = "back_in_operation", Transfer = "transfer", LeakFound = "leak_found",
        Repair = "repair", Inspection = "inspection", VerificationTest = "verification_test",
        PressureTest = "pressure_test", VacuumTest = "vacuum_test", Charge = "charge",
        OutsideCharge = "outside_charge", SendToReclaim = "send_to_reclaim",
        SendToDestruction = "send_to_destruction", Return = "return", Loss = "loss",
        Redesignate = "redesignate", Count = "count", Statement = "statement",
        RunCheck = "run_check", Shutdown = "shutdown", Isolate = "isolate",
        PurgeDestroyed = "purge_destroyed", Plan = "plan", Extension = "extension",
        Decision = "decision", Notice = "notice", Mothball = "mothball", Retire = "retire",
        Correction = "correction",
    }
}
words! {
    /// Reasons of charges and recoveries (the closed lists of the entry door).
    ReasonWord {
        LeakTopUp = "leak_top_up", AfterRepair = "after_repair", Installation = "installation",
        AfterRetrofit = "after_retrofit", Seasonal = "seasonal", Emergency = "emergency",
        ImmediateDanger = "immediate_danger", Repair = "repair", Retrofit = "retrofit",
        Disposal = "disposal",
    }
}

impl EventKind {
    /// The kind as the arithmetic knows it; a correction is no event of its own.
    pub fn kind(self) -> Option<Kind> {
        use EventKind as W;
        Some(match self {
            W::Opening => Kind::Opening,
            W::Purchase => Kind::Purchase,
            W::Recover => Kind::Recover,
            W::Retrofit => Kind::Retrofit,
            W::BackInOperation => Kind::BackInOperation,
            W::Transfer => Kind::Transfer,
            W::LeakFound => Kind::LeakFound,
            W::Repair => Kind::Repair,
            W::Inspection => Kind::Inspection,
            W::VerificationTest => Kind::VerificationTest,
            W::PressureTest => Kind::PressureTest,
            W::VacuumTest => Kind::VacuumTest,
            W::Charge => Kind::Charge,
            W::OutsideCharge => Kind::OutsideCharge,
            W::SendToReclaim => Kind::SendToReclaim,
            W::SendToDestruction => Kind::SendToDestruction,
            W::Return => Kind::Return,
            W::Loss => Kind::Loss,
            W::Redesignate => Kind::Redesignate,
            W::Count => Kind::Count,
            W::Statement => Kind::Statement,
            W::RunCheck => Kind::RunCheck,
            W::Shutdown => Kind::Shutdown,
            W::Isolate => Kind::Isolate,
            W::PurgeDestroyed => Kind::PurgeDestroyed,
            W::Plan => Kind::Plan,
            W::Extension => Kind::Extension,
            W::Decision => Kind::Decision,
            W::Notice => Kind::Notice,
            W::Mothball => Kind::Mothball,
            W::Retire => Kind::Retire,
            W::Correction => return None,
        })
    }
}

impl ReasonWord {
    /// The reason as the arithmetic knows it.
    pub fn reason(self) -> Reason {
        use ReasonWord as W;
        match self {
            W::LeakTopUp => Reason::LeakTopUp,
            W::AfterRepair => Reason::AfterRepair,
            W::Installation => Reason::Installation,
            W::AfterRetrofit => Reason::AfterRetrofit,
            W::Seasonal => Reason::Seasonal,
            W::Emergency => Reason::Emergency,
            W::ImmediateDanger => Reason::ImmediateDanger,
            W::Repair => Reason::Repair,
            W::Retrofit => Reason::Retrofit,
            W::Disposal => Reason::Disposal,
        }
    }
}

impl Unit {
    /// Units that measure time from an anchor (the `within` of a line).
    pub fn is_time(self) -> bool {
        self.is_calendar()
            || matches!(
                self,
                Unit::Days
                    | Unit::Weeks
                    | Unit::Months
                    | Unit::Years
                    | Unit::Hours
                    | Unit::OperatingHours
            )
    }

    /// Units that count whole calendar periods.
    pub fn is_calendar(self) -> bool {
        matches!(
            self,
            Unit::CalendarMonths
                | Unit::CalendarQuarters
                | Unit::CalendarHalfYears
                | Unit::CalendarYears
        )
    }

    /// Units of a mass of refrigerant.
    pub fn is_mass(self) -> bool {
        matches!(self, Unit::Pound | Unit::Kilogram)
    }
}
