//! Small shapes that rule files share: dates as text, and "a text or a list".
//!
//! Dates and decimals are text in TOML as in JSON, so that the same shape travels both ways and
//! no float can occur.

use crate::day::Day;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{Deserializer, Error, SeqAccess, Visitor};
use serde::{Deserialize, Serialize, Serializer};
use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;

/// A local day, spelt `"2019-01-01"`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date(pub Day);

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl Serialize for Date {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.0)
    }
}

impl<'de> Deserialize<'de> for Date {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Date, D::Error> {
        struct Text;
        impl Visitor<'_> for Text {
            type Value = Date;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a date as text, such as \"2019-01-01\"")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<Date, E> {
                Day::parse(text).map(Date).ok_or_else(|| {
                    E::custom(format!(
                        "'{text}' is no date; expected year, month and day such as \"2019-01-01\""
                    ))
                })
            }
        }
        deserializer.deserialize_str(Text)
    }
}

impl JsonSchema for Date {
    fn schema_name() -> Cow<'static, str> {
        "Date".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$" })
    }
}

/// One text, or a list of something.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TextOr<T> {
    /// The single text.
    Text(String),
    /// The list.
    List(Vec<T>),
}

impl<T: Serialize> Serialize for TextOr<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            TextOr::Text(text) => serializer.serialize_str(text),
            TextOr::List(list) => list.serialize(serializer),
        }
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for TextOr<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<TextOr<T>, D::Error> {
        struct Either<T>(PhantomData<T>);
        impl<'de, T: Deserialize<'de>> Visitor<'de> for Either<T> {
            type Value = TextOr<T>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a text or a list")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<TextOr<T>, E> {
                Ok(TextOr::Text(text.to_string()))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<TextOr<T>, A::Error> {
                let mut list = Vec::new();
                while let Some(item) = seq.next_element()? {
                    list.push(item);
                }
                Ok(TextOr::List(list))
            }
        }
        deserializer.deserialize_any(Either(PhantomData))
    }
}

impl<T: JsonSchema> JsonSchema for TextOr<T> {
    fn schema_name() -> Cow<'static, str> {
        format!("TextOr{}", T::schema_name()).into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let item = generator.subschema_for::<T>();
        json_schema!({ "anyOf": [{ "type": "string" }, { "type": "array", "items": item }] })
    }
}

impl TextOr<String> {
    /// The texts, one or many.
    pub fn texts(&self) -> &[String] {
        match self {
            TextOr::Text(text) => std::slice::from_ref(text),
            TextOr::List(list) => list,
        }
    }
}
