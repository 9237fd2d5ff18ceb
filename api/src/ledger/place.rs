//! Places: where refrigerant can be.
//!
//! The grammar, `word` or `word:ID`, is fixed for ever. Words may be added; a reader treats an
//! unknown one as [`Place::Other`].

use super::id::Id;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// Where refrigerant can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Place {
    /// In an appliance: one independent refrigerant circuit.
    Appliance(Id),
    /// In a cylinder.
    Cylinder(Id),
    /// With a supplier, reclaimer, destruction facility or other holder.
    Counterparty(Id),
    /// Lost to the atmosphere, as somebody stated.
    Atmosphere,
    /// The difference a count showed.
    Unexplained,
    /// Before the book began.
    Opening,
    /// Through here a mass changes its designation.
    Redesignation,
    /// Somebody else's refrigerant.
    Outside,
    /// Small appliances emptied in bulk.
    Unregistered,
    /// Oil, water and air, found by statement or analysis.
    Residue,
    /// A place this program does not know yet.
    Other,
}

impl Place {
    /// The word before the colon.
    pub fn word(self) -> &'static str {
        match self {
            Place::Appliance(_) => "appliance",
            Place::Cylinder(_) => "cylinder",
            Place::Counterparty(_) => "counterparty",
            Place::Atmosphere => "atmosphere",
            Place::Unexplained => "unexplained",
            Place::Opening => "opening",
            Place::Redesignation => "redesignation",
            Place::Outside => "outside",
            Place::Unregistered => "unregistered",
            Place::Residue => "residue",
            Place::Other => "other",
        }
    }

    /// The id behind the colon.
    pub fn id(self) -> Option<Id> {
        match self {
            Place::Appliance(id) | Place::Cylinder(id) | Place::Counterparty(id) => Some(id),
            _ => None,
        }
    }

    /// Reads `word` or `word:ID`; a known word without its id, or an id that is none, is `None`.
    pub fn parse(text: &str) -> Option<Place> {
        let (word, id) = match text.split_once(':') {
            Some((word, id)) => (word, Some(Id::parse_strict(id)?)),
            None => (text, None),
        };
        Some(match (word, id) {
            ("appliance", Some(id)) => Place::Appliance(id),
            ("cylinder", Some(id)) => Place::Cylinder(id),
            ("counterparty", Some(id)) => Place::Counterparty(id),
            ("atmosphere", None) => Place::Atmosphere,
            ("unexplained", None) => Place::Unexplained,
            ("opening", None) => Place::Opening,
            ("redesignation", None) => Place::Redesignation,
            ("outside", None) => Place::Outside,
            ("unregistered", None) => Place::Unregistered,
            ("residue", None) => Place::Residue,
            ("appliance" | "cylinder" | "counterparty", None) | ("", _) => return None,
            _ => Place::Other,
        })
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())?;
        match self.id() {
            Some(id) => write!(f, ":{id}"),
            None => Ok(()),
        }
    }
}

impl Serialize for Place {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Some(id) = self.id() else {
            return serializer.serialize_str(self.word());
        };
        let mut buffer = [0_u8; 64];
        let word = self.word().as_bytes();
        let end = word.len() + 37;
        buffer[..word.len()].copy_from_slice(word);
        buffer[word.len()] = b':';
        id.with_text(|text| buffer[word.len() + 1..end].copy_from_slice(text.as_bytes()));
        serializer.serialize_str(std::str::from_utf8(&buffer[..end]).unwrap_or_default())
    }
}

impl<'de> Deserialize<'de> for Place {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Place, D::Error> {
        struct Visitor;
        impl serde::de::Visitor<'_> for Visitor {
            type Value = Place;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a place: word or word:UUID")
            }
            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Place, E> {
                Place::parse(text)
                    .ok_or_else(|| E::invalid_value(serde::de::Unexpected::Str(text), &self))
            }
        }
        deserializer.deserialize_str(Visitor)
    }
}
