//! What a request may say, word for word.
//!
//! These shapes are the contract of the one door for facts. Unknown members are refused by name;
//! numbers travel as text, so that no float ever stands between a scale and the book.

use super::refusal::{ActionError, Refusal};
use serde::de::{DeserializeOwned, Error};
use serde::{Deserialize, Deserializer};
use serde_json::Value;
use std::collections::BTreeMap;

/// One entry as a client asks for it.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EntryRequest {
    /// UUID made by the client.
    #[serde(default)]
    pub entry_id: Option<String>,
    /// Kind of entry.
    pub kind: String,
    /// When it happened.
    #[serde(default, deserialize_with = "an_object")]
    pub happened: Option<HappenedRequest>,
    /// Who did the work; the poster by default. An id or a tag.
    #[serde(default)]
    pub did: Option<String>,
    /// The visit, a UUID.
    #[serde(default)]
    pub visit: Option<String>,
    /// Free text.
    #[serde(default)]
    pub note: Option<String>,
    /// Why a stop is lifted or a correction made, in words.
    #[serde(default)]
    pub reason_text: Option<String>,
    /// Answers to questions.
    #[serde(default)]
    pub answers: BTreeMap<String, String>,
    /// Captured on a device without signal.
    #[serde(default)]
    pub captured_offline: bool,
    /// What the kind carries.
    #[serde(default)]
    pub body: Value,
    /// The clock of the device that sends it disagrees with the book's.
    #[serde(skip)]
    pub clock_skew: bool,
}

/// When it happened: a local day with or without a time, or an instant.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HappenedRequest {
    /// `YYYY-MM-DD`.
    #[serde(default)]
    pub day: Option<String>,
    /// `HH:MM` or `HH:MM:SS`.
    #[serde(default)]
    pub time: Option<String>,
    /// `+hh:mm`, to say which of two equal wall times is meant.
    #[serde(default)]
    pub offset: Option<String>,
    /// IANA zone; the site's by default.
    #[serde(default)]
    pub zone: Option<String>,
    /// RFC 3339 instant, instead of day and time.
    #[serde(default)]
    pub at: Option<String>,
}

/// A mass: text, or value and unit.
#[derive(Clone, Debug)]
pub enum MassRequest {
    /// `"14 lb 8 oz"`.
    Text(String),
    /// `{value, unit}` or `{text, unit}`.
    Parts(MassParts),
}

impl<'de> Deserialize<'de> for MassRequest {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<MassRequest, D::Error> {
        match Value::deserialize(deserializer)? {
            Value::String(text) => Ok(MassRequest::Text(text)),
            parts @ Value::Object(_) => MassParts::deserialize(parts)
                .map(MassRequest::Parts)
                .map_err(D::Error::custom),
            other => Err(D::Error::custom(format!(
                "invalid type: `{other}`, expected a mass as text such as \"14 lb 8 oz\", or \
                 {{value, unit}} with both as text"
            ))),
        }
    }
}

/// A mass in parts.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MassParts {
    /// A decimal, as text.
    #[serde(default)]
    pub value: Option<String>,
    /// As typed.
    #[serde(default)]
    pub text: Option<String>,
    /// UCUM code or word of the unit of a number that names none.
    #[serde(default)]
    pub unit: Option<String>,
    /// Ignored: what an answer of ours carries may be sent back.
    #[serde(default, rename = "g")]
    _grams: Option<String>,
}

/// Two readings of a scale.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReadingsRequest {
    /// Gross before.
    pub before: String,
    /// Gross after.
    pub after: String,
    /// The scale, by id or tag; an unknown one is kept as text.
    #[serde(default)]
    pub scale: Option<String>,
    /// UCUM code or word of the unit of numbers that name none.
    #[serde(default)]
    pub unit: Option<String>,
}

/// One movement of a request: the members every kind that moves refrigerant shares.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MovementRequest {
    /// `word:ID` or `word:TAG`.
    #[serde(default)]
    pub from: Option<String>,
    /// `word:ID` or `word:TAG`.
    #[serde(default)]
    pub to: Option<String>,
    /// Designation.
    #[serde(default)]
    pub refrigerant: Option<String>,
    /// Net mass, where only that is known: a [`MassRequest`].
    #[serde(default)]
    pub mass: Option<Value>,
    /// Two readings: a [`ReadingsRequest`].
    #[serde(default)]
    pub readings: Option<Value>,
    /// Number of small appliances, from `unregistered`.
    #[serde(default)]
    pub number: Option<u32>,
    /// Number of the document that went with it.
    #[serde(default)]
    pub document: Option<String>,
}

/// Reads an object that may be left out. The derived reader would take a list for it, member by
/// member in an order that nobody wrote down.
pub fn an_object<'de, D: Deserializer<'de>, T: DeserializeOwned>(
    deserializer: D,
) -> Result<Option<T>, D::Error> {
    match Value::deserialize(deserializer)? {
        Value::Null => Ok(None),
        object @ Value::Object(_) => T::deserialize(object).map(Some).map_err(D::Error::custom),
        other => Err(D::Error::custom(format!(
            "invalid type: `{other}`, expected a map"
        ))),
    }
}

/// Reads the typed form of a JSON value; what is wrong is said with its place.
pub fn read<T: DeserializeOwned>(value: &Value, pointer: &str) -> Result<T, ActionError> {
    if value.is_array() {
        return Err(refuse("invalid type: a list, expected a map", pointer).into());
    }
    T::deserialize(value).map_err(|error| refuse(&error.to_string(), pointer).into())
}

/// Turns a reader's message into a refusal; unknown members get their own.
fn refuse(message: &str, pointer: &str) -> Refusal {
    let quoted = |text: &str| text.split('`').nth(1).map(str::to_string);
    if let Some(rest) = message.strip_prefix("unknown field ") {
        let name = quoted(rest).unwrap_or_default();
        let known: Vec<&str> = rest.split('`').skip(3).step_by(2).collect();
        let pointer = format!("{pointer}/{name}");
        return Refusal::UnknownField {
            pointer,
            name,
            known: known.join(", "),
        };
    }
    if let Some(rest) = message.strip_prefix("missing field ") {
        let name = quoted(rest).unwrap_or_default();
        return Refusal::Malformed {
            pointer: pointer.to_string(),
            detail: format!("Expected a member \"{name}\", got none. Add it."),
        };
    }
    Refusal::Malformed {
        pointer: pointer.to_string(),
        detail: shape(message),
    }
}

/// The reader's words for a value of another type, as a sentence.
fn shape(message: &str) -> String {
    let known = (message.strip_prefix("invalid type: "))
        .or(message.strip_prefix("invalid value: "))
        .and_then(|rest| rest.rsplit_once(", expected "));
    let Some((came, expected)) = known else {
        return format!("Expected another shape: {message}. Compare it with the description.");
    };
    // The names of our own types say nothing to a client.
    let expected = match expected {
        "a string" => "text in quotes",
        expected if expected.starts_with("struct ") || expected == "a map" => "an object",
        "a sequence" => "a list",
        "u64" | "u32" => "a whole number",
        expected => expected,
    };
    let came: String = came.chars().take(80).collect();
    format!("Expected {expected}, got {came}. Numbers that are measured travel as text in quotes.")
}

/// The members of a body that a kind reads itself, and the ones its movements share, apart.
pub fn split(body: &Value, own: &[&str]) -> Result<(Value, Vec<Value>), ActionError> {
    let Value::Object(members) = body else {
        return Err(Refusal::Malformed {
            pointer: "/body".to_string(),
            detail: "Expected an object with the members of this kind.".to_string(),
        }
        .into());
    };
    let mut kept = serde_json::Map::new();
    let mut shared = serde_json::Map::new();
    let mut movements = None;
    for (name, value) in members {
        if own.contains(&name.as_str()) {
            kept.insert(name.clone(), value.clone());
        } else if name == "movements" {
            movements = Some(value.clone());
        } else {
            shared.insert(name.clone(), value.clone());
        }
    }
    let movements = match movements {
        None => vec![Value::Object(shared)],
        Some(Value::Array(list)) if shared.is_empty() && !list.is_empty() => list,
        Some(_) => {
            return Err(Refusal::Malformed {
                pointer: "/body/movements".to_string(),
                detail: "Expected a list with at least one movement and no movement beside it."
                    .to_string(),
            }
            .into());
        }
    };
    Ok((Value::Object(kept), movements))
}
