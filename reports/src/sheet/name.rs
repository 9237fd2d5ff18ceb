//! The list of reports: what each is called, what stands in a row of it, what it is for and who
//! asks for it. The command line, the interface and the page of reports read this one table, so
//! that a report which is added here can be had everywhere.

use super::{
    Column, additions, appliance_year, disposals, follow_ups, inspections_due, mass_balance,
    releases, yearly_co2e, yearly_loss,
};
use crate::mass::Unit;

/// Reports this program makes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Report {
    /// One row per appliance and refrigerant held in the year.
    ApplianceYear,
    /// One row per addition of the year.
    Additions,
    /// One row per step of a follow-up.
    FollowUps,
    /// One row per inspection that is owed.
    InspectionsDue,
    /// One row per appliance and yearly limit of what it lost.
    YearlyLoss,
    /// Disposals, their monthly totals, and what was sent on.
    DisposalsByMonth,
    /// Stated losses by jurisdiction and site.
    Releases,
    /// What was lost at service, in tonnes of CO2 equivalent.
    YearlyCo2e,
    /// What came into the cylinders, where it went, what is left.
    MassBalance,
}

/// What is said of a report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct About {
    /// Its name in addresses and commands.
    pub word: &'static str,
    /// What it is called.
    pub title: &'static str,
    /// What stands in a row of it.
    pub row: &'static str,
    /// What it is for.
    pub purpose: &'static str,
    /// Who asks for it.
    pub asked_by: &'static str,
}

impl Report {
    /// All of them, in the order in which they are offered.
    pub const ALL: [Report; 9] = [
        Report::ApplianceYear,
        Report::Additions,
        Report::FollowUps,
        Report::InspectionsDue,
        Report::YearlyLoss,
        Report::DisposalsByMonth,
        Report::Releases,
        Report::YearlyCo2e,
        Report::MassBalance,
    ];

    /// The report of a name.
    pub fn named(word: &str) -> Option<Report> {
        Report::ALL
            .into_iter()
            .find(|report| report.about().word == word)
    }

    /// Its name in addresses and commands.
    pub fn word(self) -> &'static str {
        self.about().word
    }

    /// Whether it says how things stand on a day, and not only what happened by the end of the
    /// year: without a day that is asked for it then stops at the day of the newest entry.
    pub fn is_of_a_day(self) -> bool {
        matches!(
            self,
            Report::FollowUps | Report::InspectionsDue | Report::YearlyLoss | Report::Releases
        )
    }

    /// Its columns, in their order.
    pub fn header(self, unit: Unit) -> Vec<Column> {
        match self {
            Report::ApplianceYear => appliance_year::header(unit),
            Report::Additions => additions::header(unit),
            Report::FollowUps => follow_ups::header(unit),
            Report::InspectionsDue => inspections_due::header(unit),
            Report::YearlyLoss => yearly_loss::header(unit),
            Report::DisposalsByMonth => disposals::header(unit),
            Report::Releases => releases::header(unit),
            Report::YearlyCo2e => yearly_co2e::header(unit),
            Report::MassBalance => mass_balance::header(unit),
        }
    }

    /// The columns that tell its rows apart, where there are any.
    pub fn key(self) -> &'static [&'static str] {
        match self {
            Report::ApplianceYear => &["appliance", "refrigerant"],
            Report::MassBalance => &["refrigerant", "line", "cylinders"],
            _ => &[],
        }
    }

    /// What is said of it.
    pub fn about(self) -> About {
        // The numbers of the enumeration are those of the list.
        ABOUT[self as usize]
    }
}

/// What is said of each, in the order of [`Report::ALL`].
const ABOUT: [About; 9] = [
    About {
        word: "appliance-year",
        title: "Appliances in the year",
        row: "An appliance and a refrigerant it held: full charge, opening, charged, \
              recovered, closing, additions, worst rates, limits passed",
        purpose: "The yearly file of the fleet; every other figure can be traced from it.",
        asked_by: "The owner, the auditor, state registries of large systems",
    },
    About {
        word: "additions",
        title: "Additions",
        row: "An addition: day, mass, days since the one before, both rates, whether a \
              limit was passed",
        purpose: "Shows that a leak rate was worked out each time refrigerant was added.",
        asked_by: "An inspector: 40 CFR 82.157(b) and (l)(2), 84.106",
    },
    About {
        word: "follow-ups",
        title: "Follow-ups",
        row: "A step of a follow-up: what opened it, what is owed under which clause, when \
              it was due, how it stands, when it was done",
        purpose: "Shows that each limit that was passed had its repair, tests, plan and \
                  notices in time, and which have not.",
        asked_by: "An inspector: 40 CFR 82.157(d) to (j) and (m); the manager every week",
    },
    About {
        word: "inspections-due",
        title: "Inspections due",
        row: "An inspection that is owed: of what, by whom, under which clause, when it was \
              made last, when it is due",
        purpose: "Plans the rounds, and shows that no interval was missed.",
        asked_by: "The manager every week; inspectors under 40 CFR 82.157(g) and Regulation \
                   (EU) 2024/573, Article 5",
    },
    About {
        word: "yearly-loss",
        title: "Yearly loss",
        row: "An appliance and a yearly limit: what was added in the year as a share of the \
              full charge, where it ends at the same pace, when the report is due",
        purpose: "Finds the appliances that lost 125 % of their charge, while something can \
                  still be done about it.",
        asked_by: "The agency by 1 March: 40 CFR 82.157(j) and (m)(4), 84.106(j)",
    },
    About {
        word: "disposals-by-month",
        title: "Disposals by month",
        row: "An appliance that was emptied for good; the total of a month by refrigerant; \
              what was sent to reclaim or destruction, and to whom",
        purpose: "The log of appliances with more than 5 and less than 50 lb.",
        asked_by: "An inspector, of the technician's company: 40 CFR 82.156(a)(3)",
    },
    About {
        word: "releases",
        title: "Releases",
        row: "A stated loss: where, what, how much, which limit it passed, what must be \
              handed in when; and the totals of each site",
        purpose: "The reports of single releases, and the sums of a site or jurisdiction.",
        asked_by: "The authority of the place: in Canada SOR/2022-110, sections 24 and 25",
    },
    About {
        word: "yearly-co2e",
        title: "Yearly CO2 equivalent",
        row: "A site and a refrigerant: charged less recovered at service, its GWP under a \
              named basis, tonnes of CO2 equivalent; sums of sites and of the organisation",
        purpose: "The yearly sum of what was lost, for climate reports.",
        asked_by: "In Japan the minister of the trade by 31 July; climate inventories",
    },
    About {
        word: "mass-balance",
        title: "Mass balance",
        row: "A refrigerant, and the kind of cylinder it stood in: what was there, what came in, \
              where it went, what is left; what nobody could explain, and what is presumed leaked",
        purpose: "Shows that what was bought and recovered is what was charged, sent on, lost and \
                  is still there.",
        asked_by: "The shop owner each month; the owner, the auditor",
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_report_is_offered_once_with_what_is_said_of_it() {
        for (at, report) in Report::ALL.into_iter().enumerate() {
            assert_eq!(report as usize, at, "{}", report.word());
            assert_eq!(Report::named(report.word()), Some(report));
            let columns = report.header(Unit::Kilogram);
            let has = |name: &&str| columns.iter().any(|column| column.name == *name);
            assert!(report.key().iter().all(has), "{}", report.word());
        }
        assert_eq!(Report::named("monthly"), None);
        assert_eq!(Report::YearlyCo2e.word(), "yearly-co2e");
        assert_eq!(Report::DisposalsByMonth.word(), "disposals-by-month");
        assert_eq!(Report::MassBalance.word(), "mass-balance");
    }
}
