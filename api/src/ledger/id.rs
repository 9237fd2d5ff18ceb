//! Identifiers: 128 bits, written as lower-case UUID text.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// The id of an entry or of a registered thing: a UUID, unique for ever in its book.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Id(u128);

impl Id {
    /// The id with these 128 bits.
    pub const fn from_bits(bits: u128) -> Id {
        Id(bits)
    }

    /// The 128 bits.
    pub const fn bits(self) -> u128 {
        self.0
    }

    /// The id kept in 16 bytes, most significant first.
    pub fn from_bytes(bytes: &[u8]) -> Option<Id> {
        bytes
            .try_into()
            .ok()
            .map(|bytes| Id(u128::from_be_bytes(bytes)))
    }

    /// 16 bytes, most significant first.
    pub const fn bytes(self) -> [u8; 16] {
        self.0.to_be_bytes()
    }

    /// Reads UUID text as a person or program may write it (upper case is accepted).
    pub fn parse(text: &str) -> Option<Id> {
        if text.len() != 36 {
            return None;
        }
        uuid::Uuid::try_parse(text).ok().map(|id| Id(id.as_u128()))
    }

    /// Reads the one spelling a leaf uses: 36 bytes, lower case, hyphens.
    pub fn parse_strict(text: &str) -> Option<Id> {
        Id::parse(text).filter(|_| !text.bytes().any(|b| b.is_ascii_uppercase()))
    }

    /// A random id (UUID version 4), for things that are registered.
    pub fn random() -> Id {
        Id(uuid::Uuid::new_v4().as_u128())
    }

    /// An id that sorts by the time it was made (UUID version 7), for entries.
    pub fn at(unix_milliseconds: u64) -> Id {
        let random = Id::random().0;
        let low = random & 0x0000_0000_0000_0fff_3fff_ffff_ffff_ffff;
        let time = u128::from(unix_milliseconds & 0xffff_ffff_ffff) << 80;
        Id(time | low | 0x7000_8000_0000_0000_0000)
    }

    /// Calls `with` with the text, without allocating.
    pub fn with_text<T>(self, with: impl FnOnce(&str) -> T) -> T {
        let mut buffer = [0_u8; 36];
        with(
            uuid::Uuid::from_u128(self.0)
                .hyphenated()
                .encode_lower(&mut buffer),
        )
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.with_text(|text| f.write_str(text))
    }
}

impl fmt::Debug for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl Serialize for Id {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.with_text(|text| serializer.serialize_str(text))
    }
}

impl<'de> Deserialize<'de> for Id {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Id, D::Error> {
        struct Visitor;
        impl serde::de::Visitor<'_> for Visitor {
            type Value = Id;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a UUID in lower case with hyphens")
            }
            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Id, E> {
                Id::parse_strict(text)
                    .ok_or_else(|| E::invalid_value(serde::de::Unexpected::Str(text), &self))
            }
        }
        deserializer.deserialize_str(Visitor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn version_7_ids_carry_their_time_version_and_variant() {
        let id = Id::at(0x019b_8eac_1180);
        let text = id.to_string();
        assert!(text.starts_with("019b8eac-1180-7"), "{text}");
        assert!(matches!(&text[19..20], "8" | "9" | "a" | "b"), "{text}");
        assert_ne!(Id::at(1), Id::at(1), "the rest is random");
        assert_eq!(Id::parse(&text.to_uppercase()), Some(id));
        assert_eq!(Id::parse_strict(&text.to_uppercase()), None);
    }
}
