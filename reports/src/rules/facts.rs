//! The facts that tests read: their names, their defaults, their categories.
//!
//! Claims of relief count as *no* until recorded, and `year_round` and `indoors` as *yes* (the
//! stricter): an unrecorded detector must not hide an inspection. Facts of scope have no default:
//! an unrecorded full charge must not hide the law.

use crate::appliance::{FactValue, Facts};
use crate::day::Day;

/// Defines the facts with the name each is recorded under.
macro_rules! facts {
    ($($variant:ident = $name:literal),+ $(,)?) => {
        /// A fact that rules read, as a small number.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub(super) enum Fact { $($variant),+ }

        impl Fact {
            pub(super) const ALL: &[Fact] = &[$(Fact::$variant),+];

            pub(super) const fn name(self) -> &'static str {
                match self { $(Fact::$variant => $name),+ }
            }
        }
    };
}

facts! {
    FullCharge = "full_charge", MotorKw = "motor_kw", Category = "category", Region = "region",
    OwnerClass = "owner_class", Land = "land", Equipment = "equipment",
    Refrigerant = "refrigerant", Hermetic = "hermetic", Residential = "residential",
    Detector = "detector", Mobile = "mobile", ProcessShutdown = "process_shutdown",
    Evacuated = "evacuated", GhgReporter = "ghg_reporter", YearRound = "year_round",
    Indoors = "indoors", Installed = "installed", Gwp = "gwp",
}

impl Fact {
    /// The fact with this name, `gwp` excepted: it comes from the table.
    pub(super) fn named(name: &str) -> Option<Fact> {
        Fact::ALL
            .iter()
            .copied()
            .find(|fact| fact.name() == name && *fact != Fact::Gwp)
    }

    /// What an unrecorded fact counts as; `None`: it cannot be judged.
    pub(super) fn default_word(self) -> Option<&'static str> {
        match self {
            Fact::Hermetic
            | Fact::Residential
            | Fact::Detector
            | Fact::Mobile
            | Fact::ProcessShutdown
            | Fact::Evacuated
            | Fact::GhgReporter => Some("no"),
            Fact::YearRound | Fact::Indoors => Some("yes"),
            Fact::Equipment => Some("other"),
            _ => None,
        }
    }
}

/// Names of every fact that may be recorded. `band`, `gwp` and `co2e` are worked out.
pub fn recorded_facts() -> Vec<&'static str> {
    Fact::ALL
        .iter()
        .filter(|fact| **fact != Fact::Gwp)
        .map(|fact| fact.name())
        .collect()
}

/// The words of the fact `category`.
pub const CATEGORIES: &[&str] = &[
    "commercial_refrigeration",
    "industrial_process",
    "comfort_cooling",
    "refrigerated_transport",
    "other_refrigeration",
    "residential_light_commercial_ac",
    "other",
];

/// The member states of the European Union since 2020-02-01, by ISO 3166-1 code (Treaty on European
/// Union, Art. 52, as it stands after the withdrawal agreement, OJ L 29, 31.1.2020; from memory).
const EU_MEMBERS: [&str; 27] = [
    "AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU", "IE", "IT",
    "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK",
];

/// Whether a region code holds another: `US` holds `US-CO-101`, and `EU` holds `DE` and `DE-BY`.
/// Inside the Union `EU-DE` is the same as `DE`.
pub fn holds(code: &str, region: &str) -> bool {
    let within = |code: &str, region: &str| {
        let rest = region.strip_prefix(code);
        rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
    };
    let of_union = |region: &str| EU_MEMBERS.iter().any(|member| within(member, region));
    let plain = |code: &'_ str| match code.strip_prefix("EU-") {
        Some(member) if of_union(member) => code.len() - member.len(),
        _ => 0,
    };
    let (own, other) = (&code[plain(code)..], &region[plain(region)..]);
    within(own, other) || own == "EU" && of_union(other)
}

/// Facts that are missing, as a set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct FactSet(u32);

impl FactSet {
    pub(super) const NONE: FactSet = FactSet(0);

    pub(super) fn of(fact: Fact) -> FactSet {
        FactSet(1 << fact as u32)
    }

    pub(super) fn and(self, other: FactSet) -> FactSet {
        FactSet(self.0 | other.0)
    }

    pub(super) fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The names, sorted.
    pub(super) fn names(self) -> Vec<&'static str> {
        let held = Fact::ALL
            .iter()
            .filter(|fact| self.0 & (1 << **fact as u32) != 0);
        let mut names: Vec<&str> = held.map(|fact| fact.name()).collect();
        names.sort_unstable();
        names
    }
}

/// The facts of one appliance, looked up once by name so that a day's question is cheap.
#[derive(Clone)]
pub(super) struct Subject<'f> {
    series: [&'f [(Day, FactValue)]; Fact::ALL.len()],
}

impl<'f> Subject<'f> {
    pub(super) fn of(facts: &'f Facts) -> Subject<'f> {
        let mut series: [&[(Day, FactValue)]; Fact::ALL.len()] = [&[]; Fact::ALL.len()];
        for name in facts.names() {
            if let Some(fact) = Fact::named(name) {
                series[fact as usize] = facts.series(name);
            }
        }
        Subject { series }
    }

    /// The value in force on a day.
    pub(super) fn on(&self, fact: Fact, day: Day) -> Option<&'f FactValue> {
        let series = self.series[fact as usize];
        let after = series.partition_point(|(from, _)| *from <= day);
        after.checked_sub(1).map(|at| &series[at].1)
    }

    /// The word in force on a day, or what an unrecorded one counts as.
    pub(super) fn word(&self, fact: Fact, day: Day) -> Option<&'f str> {
        match self.on(fact, day) {
            Some(FactValue::Word(word)) => Some(word),
            Some(_) => None,
            None => fact.default_word(),
        }
    }

    /// The full charge in force on a day, in steps.
    pub(super) fn full_charge(&self, day: Day) -> Option<i64> {
        match self.on(Fact::FullCharge, day) {
            Some(FactValue::Mass(mass)) => Some(mass.steps()),
            _ => None,
        }
    }

    /// The day it was installed, as recorded by that day.
    pub(super) fn installed(&self, day: Day) -> Option<Day> {
        match self.on(Fact::Installed, day) {
            Some(FactValue::Day(installed)) => Some(*installed),
            _ => None,
        }
    }

    /// Days on which any fact changes.
    pub(super) fn change_days(&self, days: &mut Vec<Day>) {
        days.extend(self.series.iter().copied().flatten().map(|(day, _)| *day));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_region_holds_itself_and_its_parts_only() {
        assert!(holds("US", "US") && holds("US", "US-CO-101") && holds("US-CO", "US-CO-101"));
        assert!(!holds("US-CO", "US") && !holds("US-C", "US-CO") && !holds("U", "US"));
    }

    /// A site in Bavaria is written `DE-BY` (ISO 3166-2); the Union's rules hold there.
    #[test]
    fn the_union_holds_its_member_states() {
        for region in ["EU", "EU-DE", "DE", "DE-BY", "EU-DE-BY", "FR", "GR"] {
            assert!(holds("EU", region), "{region}");
        }
        for region in ["GB", "GB-NIR", "CH", "NO", "US", "D", "DEU", "EUR"] {
            assert!(!holds("EU", region), "{region}");
        }
        assert!(holds("DE", "EU-DE") && holds("EU-DE", "DE-BY") && !holds("DE", "EU"));
    }

    #[test]
    fn reliefs_count_as_no_and_scope_has_no_default() {
        let facts = Facts::default();
        let subject = Subject::of(&facts);
        let day = Day::from_count(0);
        assert_eq!(subject.word(Fact::Detector, day), Some("no"));
        assert_eq!(subject.word(Fact::Indoors, day), Some("yes"));
        assert_eq!(subject.word(Fact::Category, day), None);
        assert_eq!(
            FactSet::of(Fact::Region)
                .and(FactSet::of(Fact::Land))
                .names(),
            ["land", "region"]
        );
    }
}
