//! The dated facts of a registered thing, with the entries that said them.
//!
//! Every value keeps the number of the entry it came from and, once a correction took it back,
//! the number of that correction. So the facts *as known at entry n* are a filter, and a corrected
//! value uncovers what it had covered.

use reports::appliance::{FactValue, Facts};
use reports::day::Day;
use reports::mass::Mass;
use reports::number::Decimal;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// One value of one fact: name, first day, value, entry, and the correction that took it back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Known(
    /// Name of the fact.
    pub String,
    /// First day it holds (days since 1970).
    pub i32,
    /// The value; a committed one stands here as it was disclosed.
    pub Value,
    /// The entry that said it.
    pub u64,
    /// The correction that took it back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub Option<u64>,
);

/// All that was ever said of a thing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Dossier(Vec<Known>);

impl Dossier {
    /// Reads the stored form.
    pub fn parse(text: &str) -> Option<Dossier> {
        serde_json::from_str(text).ok()
    }

    /// The stored form.
    pub fn text(&self) -> String {
        serde_json::to_string(self).unwrap_or_default()
    }

    /// Adds what an entry says.
    pub fn say(&mut self, name: &str, from: Day, is: Value, seq: u64) {
        self.0
            .push(Known(name.to_string(), from.count(), is, seq, None));
    }

    /// Takes back what an entry said.
    pub fn take_back(&mut self, said_by: u64, correction: u64) {
        for known in self
            .0
            .iter_mut()
            .filter(|known| known.3 == said_by && known.4.is_none())
        {
            known.4 = Some(correction);
        }
    }

    /// The values in force as known at entry `cut`, those of one fact by first day; where two
    /// begin on one day, the entry booked later has the last word.
    pub fn in_force(&self, cut: u64) -> impl Iterator<Item = &Known> {
        let seen = move |known: &&Known| {
            known.3 <= cut && known.4.is_none_or(|correction| correction > cut)
        };
        self.0.iter().filter(seen)
    }

    /// The value of a fact in force on a day, as known at entry `cut`.
    pub fn on(&self, name: &str, day: Day, cut: u64) -> Option<&Value> {
        self.in_force(cut)
            .filter(|known| known.0 == name && known.1 <= day.count())
            .max_by_key(|known| (known.1, known.3))
            .map(|known| &known.2)
    }

    /// The newest value of a fact, whatever day it begins (what a label or a list shows).
    pub fn newest(&self, name: &str) -> Option<&Value> {
        self.in_force(u64::MAX)
            .filter(|known| known.0 == name)
            .max_by_key(|known| (known.1, known.3))
            .map(|known| &known.2)
    }

    /// Folds the facts into the form the rules read.
    pub fn fold_into(&self, facts: &mut Facts, cut: u64) {
        for Known(name, from, is, ..) in self.in_force(cut) {
            if let Some(value) = fact_value(name, is) {
                facts.set(name, Day::from_count(*from), value);
            }
        }
    }
}

/// What sort of value a fact has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FactType {
    /// `{g, typed}`: what is weighed.
    Mass,
    /// `{nominal, shown}`, both `{g, typed}`: a known weight, and what a scale showed for it.
    Checked,
    /// A calendar day.
    Day,
    /// A decimal.
    Number,
    /// A word of a closed list, a designation, a code.
    Word,
    /// An id of something registered.
    Reference,
    /// Text that a person typed: a commitment in the leaf.
    Text,
}

/// The facts a register entry may carry, with the type of each: those of the rule vocabulary, and
/// those of the registers themselves.
pub const FACTS: &[(&str, FactType)] = &[
    ("capacity", FactType::Mass),
    ("category", FactType::Word),
    ("certificate_class", FactType::Word),
    ("certificate_from", FactType::Day),
    ("certificate_until", FactType::Day),
    ("check_weight", FactType::Checked),
    ("class", FactType::Word),
    ("condition", FactType::Word),
    ("detector", FactType::Word),
    ("email", FactType::Text),
    ("equipment", FactType::Word),
    ("equipment_tag", FactType::Text),
    ("evacuated", FactType::Word),
    ("full_charge", FactType::Mass),
    ("ghg_reporter", FactType::Word),
    ("held_by", FactType::Text),
    ("hermetic", FactType::Word),
    ("indoors", FactType::Word),
    ("installed", FactType::Day),
    ("land", FactType::Word),
    ("mobile", FactType::Word),
    ("motor_kw", FactType::Number),
    ("name", FactType::Text),
    ("owner", FactType::Reference),
    ("owner_class", FactType::Word),
    ("place", FactType::Text),
    ("process_shutdown", FactType::Word),
    ("refrigerant", FactType::Word),
    ("region", FactType::Word),
    ("residential", FactType::Word),
    ("resolution", FactType::Mass),
    ("retest_on", FactType::Day),
    ("retest_years", FactType::Number),
    ("same_as", FactType::Reference),
    ("serial", FactType::Text),
    ("site", FactType::Reference),
    ("specification", FactType::Text),
    ("tag", FactType::Text),
    ("tare", FactType::Mass),
    ("type", FactType::Word),
    ("use", FactType::Word),
    ("water_capacity", FactType::Mass),
    ("year_round", FactType::Word),
    ("zone", FactType::Word),
];

/// The type of a fact, if there is such a fact.
pub fn fact_type(name: &str) -> Option<FactType> {
    FACTS
        .binary_search_by_key(&name, |(known, _)| *known)
        .ok()
        .map(|at| FACTS[at].1)
}

pub(super) fn fact_value(name: &str, is: &Value) -> Option<FactValue> {
    if is.as_str() == Some("unknown") {
        return Some(FactValue::Unknown);
    }
    Some(match fact_type(name)? {
        FactType::Mass => FactValue::Mass(mass_of(is)?),
        FactType::Day => FactValue::Day(Day::parse(is.as_str()?)?),
        FactType::Number => FactValue::Number(Decimal::parse(is.as_str()?)?),
        FactType::Word | FactType::Reference | FactType::Text => {
            FactValue::Word(is.as_str()?.to_string())
        }
        // No rule reads how a scale was checked.
        FactType::Checked => return None,
    })
}

/// The mass of a `{g, typed}` value.
pub fn mass_of(is: &Value) -> Option<Mass> {
    Mass::from_grams_text(is.get("g")?.as_str()?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn facts_are_listed_in_order() {
        assert!(FACTS.is_sorted_by(|a, b| a.0 < b.0));
    }

    #[test]
    fn a_correction_uncovers_what_was_covered_and_the_past_stays_known() {
        let day = |text| Day::parse(text).unwrap();
        let mut dossier = Dossier::default();
        dossier.say("category", day("2020-01-01"), json!("comfort_cooling"), 5);
        dossier.say(
            "category",
            day("2020-01-01"),
            json!("industrial_process"),
            9,
        );
        let on = |d: &Dossier, cut| d.on("category", day("2021-01-01"), cut).cloned();
        assert_eq!(on(&dossier, 8), Some(json!("comfort_cooling")));
        assert_eq!(on(&dossier, 9), Some(json!("industrial_process")));
        dossier.take_back(9, 12);
        assert_eq!(
            on(&dossier, 11),
            Some(json!("industrial_process")),
            "as known then"
        );
        assert_eq!(on(&dossier, 12), Some(json!("comfort_cooling")));
        let copy = Dossier::parse(&dossier.text()).unwrap();
        assert_eq!(copy, dossier);
        assert_eq!(on(&dossier, 4), None);
    }
}
