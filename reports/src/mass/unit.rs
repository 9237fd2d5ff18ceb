//! The units a trade scale can show, and the codes they travel under.
//!
//! Codes are those of UCUM (the Unified Code for Units of Measure); words are those of CSV column
//! suffixes and command lines. Every unit is a whole number of steps, which is what lets a mass
//! be exact: one pound is 0.45359237 kg and one ounce a sixteenth of it (NIST SP 811, appendix B).

use super::Mass;

/// A unit of mass, or the way of writing that uses two of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Unit {
    /// Pounds, with decimals: `7.25`.
    Pound,
    /// Ounces alone: `116`.
    Ounce,
    /// Kilograms.
    Kilogram,
    /// Grams.
    Gram,
    /// Milligrams.
    Milligram,
    /// Micrograms.
    Microgram,
    /// Pounds and ounces side by side: `7 4`. Only a setting of the field, never of one number;
    /// it counts, and is stored, in pounds.
    PoundsAndOunces,
}

impl Unit {
    /// All units, in the order in which help texts list them.
    pub const ALL: [Unit; 7] = [
        Unit::PoundsAndOunces,
        Unit::Pound,
        Unit::Ounce,
        Unit::Kilogram,
        Unit::Gram,
        Unit::Milligram,
        Unit::Microgram,
    ];

    /// The UCUM code; pounds and ounces together go by the code of the pound.
    pub const fn code(self) -> &'static str {
        match self {
            Unit::Pound | Unit::PoundsAndOunces => "[lb_av]",
            Unit::Ounce => "[oz_av]",
            Unit::Kilogram => "kg",
            Unit::Gram => "g",
            Unit::Milligram => "mg",
            Unit::Microgram => "ug",
        }
    }

    /// The unit of a UCUM code; `[lb_av]` is the pound.
    pub fn from_code(code: &str) -> Option<Unit> {
        Unit::ALL
            .into_iter()
            .filter(|unit| *unit != Unit::PoundsAndOunces)
            .find(|u| u.code() == code)
    }

    /// The word of command lines and CSV columns.
    pub const fn word(self) -> &'static str {
        match self {
            Unit::Pound => "lb",
            Unit::Ounce => "oz",
            Unit::Kilogram => "kg",
            Unit::Gram => "g",
            Unit::Milligram => "mg",
            Unit::Microgram => "ug",
            Unit::PoundsAndOunces => "lb+oz",
        }
    }

    /// The unit of one of those words, spelt exactly so.
    pub fn from_word(word: &str) -> Option<Unit> {
        Unit::ALL.into_iter().find(|unit| unit.word() == word)
    }

    /// Steps of 10⁻¹¹ g in one of this unit.
    pub const fn steps(self) -> i64 {
        match self {
            Unit::Pound | Unit::PoundsAndOunces => Mass::POUND,
            Unit::Ounce => Mass::OUNCE,
            Unit::Kilogram => 1_000 * Mass::GRAM,
            Unit::Gram => Mass::GRAM,
            Unit::Milligram => Mass::GRAM / 1_000,
            Unit::Microgram => Mass::GRAM / 1_000_000,
        }
    }

    /// Decimals that a whole number of steps can need, where they are finite and few.
    pub(super) const fn exact_decimals(self) -> Option<u32> {
        match self {
            Unit::Kilogram => Some(14),
            Unit::Gram => Some(11),
            Unit::Milligram => Some(8),
            Unit::Microgram => Some(5),
            Unit::Pound | Unit::Ounce | Unit::PoundsAndOunces => None,
        }
    }

    /// A unit as a person writes it beside a number. Only `mg` and `ug` are read in lower case
    /// alone: `Mg` is a megagram, and a thousand million times too much.
    pub(super) fn from_typed(word: &str) -> Option<Unit> {
        let unit = match word {
            "mg" | "milligram" | "milligrams" => Unit::Milligram,
            "ug" | "µg" | "μg" | "microgram" | "micrograms" => Unit::Microgram,
            _ if word.len() > 12 => return None,
            _ => match word.to_ascii_lowercase().as_str() {
                "lb" | "lbs" | "pound" | "pounds" | "#" => Unit::Pound,
                "oz" | "ounce" | "ounces" => Unit::Ounce,
                "kg" | "kgs" | "kilo" | "kilos" => Unit::Kilogram,
                "kilogram" | "kilograms" | "kilogramme" | "kilogrammes" => Unit::Kilogram,
                "g" | "gram" | "grams" | "gramme" | "grammes" => Unit::Gram,
                _ => return None,
            },
        };
        Some(unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_and_words_come_back() {
        for unit in Unit::ALL {
            assert_eq!(Unit::from_word(unit.word()), Some(unit));
            let counted = if unit == Unit::PoundsAndOunces {
                Unit::Pound
            } else {
                unit
            };
            assert_eq!(Unit::from_code(unit.code()), Some(counted));
        }
        assert_eq!(Unit::from_code("lb"), None);
        assert_eq!(Unit::from_word("KG"), None);
    }

    #[test]
    fn a_megagram_is_not_a_milligram() {
        assert_eq!(Unit::from_typed("mg"), Some(Unit::Milligram));
        assert_eq!(Unit::from_typed("Mg"), None);
        assert_eq!(Unit::from_typed("MG"), None);
        assert_eq!(Unit::from_typed("KG"), Some(Unit::Kilogram));
    }
}
