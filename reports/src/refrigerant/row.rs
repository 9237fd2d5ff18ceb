//! One refrigerant: a row of the table.

use super::{Basis, Gwp};
use crate::number::Decimal;

/// A refrigerant as the table has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refrigerant {
    /// Its number in the database; never changes.
    pub code: u16,
    /// Its designation, spelt as everywhere in the program: `R-410A`.
    pub designation: String,
    /// Chemical name, or `blend`.
    pub name: String,
    /// Class: `HFC`, `CFC`, `blend HFC/HFO`, `natural (HC)` and the like.
    pub class: String,
    /// Parts of a blend; a single substance has none.
    pub parts: Vec<Part>,
    /// Where the composition comes from.
    pub composition_source: String,
    /// Safety group, where one is known.
    pub safety: Safety,
    /// Ozone depletion potential.
    pub odp: Option<Decimal>,
    /// Where it comes from.
    pub odp_source: String,
    /// Whether it is or contains an ozone-depleting substance of 40 CFR part 82, subpart A.
    pub ods_40cfr82: bool,
    /// Whether it is or contains a hydrofluorocarbon regulated by 40 CFR part 84.
    pub hfc_40cfr84: bool,
    /// Annexes of the acts of the European Union its parts stand in: `I-1`, `I-2`, `II-1`,
    /// `ODS 2024/590`.
    pub eu_annexes: Vec<String>,
    /// Whether composition, ODP and every GWP were read at a source.
    pub verified: bool,
    /// What is peculiar about the row.
    pub note: String,
    pub(super) gwp: [Gwp; 5],
}

/// One part of a blend.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// Designation of the part.
    pub refrigerant: String,
    /// Its share of the mass, in percent.
    pub percent: Decimal,
}

/// What is known of the safety group.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Safety {
    /// The group of ASHRAE Standard 34; `None` where it is not known for certain.
    pub group: Option<SafetyGroup>,
    /// Whether it was read at a source, rather than remembered.
    pub verified: bool,
    /// The source.
    pub source: String,
}

/// Safety groups of ASHRAE Standard 34: toxicity A (lower) or B (higher), flammability 1 (none),
/// 2L, 2, 3.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum SafetyGroup {
    A1,
    A2L,
    A2,
    A3,
    B1,
    B2L,
    B2,
    B3,
}

impl SafetyGroup {
    const ALL: [SafetyGroup; 8] = [
        SafetyGroup::A1,
        SafetyGroup::A2L,
        SafetyGroup::A2,
        SafetyGroup::A3,
        SafetyGroup::B1,
        SafetyGroup::B2L,
        SafetyGroup::B2,
        SafetyGroup::B3,
    ];

    /// The group as it is printed: `A2L`.
    pub const fn word(self) -> &'static str {
        match self {
            SafetyGroup::A1 => "A1",
            SafetyGroup::A2L => "A2L",
            SafetyGroup::A2 => "A2",
            SafetyGroup::A3 => "A3",
            SafetyGroup::B1 => "B1",
            SafetyGroup::B2L => "B2L",
            SafetyGroup::B2 => "B2",
            SafetyGroup::B3 => "B3",
        }
    }

    /// The group of a word.
    pub fn from_word(word: &str) -> Option<SafetyGroup> {
        SafetyGroup::ALL
            .into_iter()
            .find(|group| group.word() == word)
    }

    /// Whether it can burn, be it slowly (2L).
    pub const fn is_flammable(self) -> bool {
        !matches!(self, SafetyGroup::A1 | SafetyGroup::B1)
    }

    /// Whether it is of the higher toxicity.
    pub const fn is_toxic(self) -> bool {
        matches!(
            self,
            SafetyGroup::B1 | SafetyGroup::B2L | SafetyGroup::B2 | SafetyGroup::B3
        )
    }
}

impl Refrigerant {
    /// Whether it is a blend.
    pub fn is_blend(&self) -> bool {
        !self.parts.is_empty()
    }

    /// What the table says of its GWP under a basis.
    pub fn gwp(&self, basis: Basis) -> &Gwp {
        &self.gwp[basis as usize]
    }

    /// Whether it can burn; `None` where the safety group is not known.
    pub fn is_flammable(&self) -> Option<bool> {
        self.safety.group.map(SafetyGroup::is_flammable)
    }

    /// Whether it is of the higher toxicity; `None` where the safety group is not known.
    pub fn is_toxic(&self) -> Option<bool> {
        self.safety.group.map(SafetyGroup::is_toxic)
    }
}
