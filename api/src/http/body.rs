//! Reading a body: within its size and time, and as JSON that says one thing only.
//!
//! A member that is written twice is refused, because two readers could take two values for it; so
//! is nesting deeper than 32 levels. Everything else about members is said where they are read.

use super::problem::Problem;
use super::{LARGEST_BODY, MOST_WAITING};
use actix_web::http::header::{CONTENT_ENCODING, CONTENT_LENGTH, CONTENT_TYPE};
use actix_web::{HttpRequest, web};
use futures_util::StreamExt;
use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};
use std::fmt;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

/// A whole request arrives within this time.
const PATIENCE: Duration = Duration::from_secs(30);
/// Deepest nesting (promise A3).
const DEEPEST: usize = 32;

/// A body that was read, and its weight among all that wait.
pub struct Body<'s> {
    /// The JSON.
    pub value: Value,
    _weight: Weight<'s>,
}

/// Bytes that count as waiting until this is dropped.
struct Weight<'s> {
    waiting: &'s AtomicUsize,
    bytes: usize,
}

impl Drop for Weight<'_> {
    fn drop(&mut self) {
        self.waiting.fetch_sub(self.bytes, Ordering::Relaxed);
    }
}

/// Reads the JSON of a request.
pub async fn read<'s>(
    request: &HttpRequest,
    payload: web::Payload,
    waiting: &'s AtomicUsize,
) -> Result<Body<'s>, Problem> {
    refuse_encoding(request)?;
    refuse_type(request)?;
    let length = request.headers().get(CONTENT_LENGTH);
    let length = length.and_then(|text| text.to_str().ok()?.parse::<usize>().ok());
    if length.is_some_and(|length| length > LARGEST_BODY) {
        return Err(too_large(length));
    }
    let bytes = LARGEST_BODY.min(length.unwrap_or(LARGEST_BODY));
    let weight = Weight { waiting, bytes };
    if waiting.fetch_add(bytes, Ordering::Relaxed) + bytes > MOST_WAITING {
        return Err(Problem::unavailable(
            "too many bytes of bodies wait already",
        ));
    }
    let read = tokio::time::timeout(PATIENCE, gather(payload)).await;
    let bytes = read.map_err(|_| {
        let detail = "Expected the whole request within 30 seconds, got part of it. Send it again.";
        Problem::new("timed-out", detail)
    })??;
    Ok(Body {
        value: json(&bytes)?,
        _weight: weight,
    })
}

async fn gather(mut payload: web::Payload) -> Result<web::BytesMut, Problem> {
    let mut bytes = web::BytesMut::new();
    while let Some(chunk) = payload.next().await {
        let chunk = chunk.map_err(|error| {
            let problem = Problem::new("malformed", "The body ended before its announced length.");
            Problem {
                cause: Some(error.to_string()),
                ..problem
            }
        })?;
        if bytes.len() + chunk.len() > LARGEST_BODY {
            return Err(too_large(None));
        }
        bytes.extend_from_slice(&chunk);
    }
    Ok(bytes)
}

fn too_large(length: Option<usize>) -> Problem {
    let came = length.map_or("more".to_string(), |length| format!("{length} bytes"));
    let detail = format!(
        "Expected a body of at most {LARGEST_BODY} bytes, got {came}. Divide the list into several."
    );
    Problem::new("too-large", detail)
}

/// Compressed bodies are refused: a small one could unpack into a very large one.
pub fn refuse_encoding(request: &HttpRequest) -> Result<(), Problem> {
    let encoding = request.headers().get(CONTENT_ENCODING);
    let encoding = encoding.map(|encoding| String::from_utf8_lossy(encoding.as_bytes()));
    match encoding {
        Some(encoding) if !encoding.eq_ignore_ascii_case("identity") => {
            let came = crate::actions::refusal::shown(&encoding);
            let detail =
                format!("Expected a body without Content-Encoding, got {came}. Send it as it is.");
            Err(Problem::new("unsupported-encoding", detail))
        }
        _ => Ok(()),
    }
}

fn refuse_type(request: &HttpRequest) -> Result<(), Problem> {
    let stated = request.headers().get(CONTENT_TYPE);
    let stated = stated.map(|stated| String::from_utf8_lossy(stated.as_bytes()));
    let mut parts = stated.as_deref().unwrap_or("").split(';').map(str::trim);
    let json = parts
        .next()
        .is_some_and(|word| word.eq_ignore_ascii_case("application/json"));
    let utf8 = parts.all(|parameter| {
        let parameter = parameter.to_ascii_lowercase().replace('"', "");
        parameter.is_empty() || parameter == "charset=utf-8"
    });
    if json && utf8 {
        return Ok(());
    }
    let came = match stated.as_deref() {
        Some(stated) => crate::actions::refusal::shown(stated),
        None => "no Content-Type".to_string(),
    };
    let detail =
        format!("Expected Content-Type: application/json, got {came}. Send JSON in UTF-8.");
    Err(Problem::new("unsupported-encoding", detail))
}

/// The JSON of a body.
fn json(bytes: &[u8]) -> Result<Value, Problem> {
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let read = Level(0).deserialize(&mut reader).and_then(|value| {
        reader.end()?;
        Ok(value)
    });
    read.map_err(|error| {
        let came = match bytes.is_empty() {
            true => "an empty body".to_string(),
            false => error.to_string(),
        };
        Problem::at(
            "malformed",
            "",
            format!("Expected JSON, got: {came}. Compare it with the description."),
        )
    })
}

/// Reads a value at so many levels below the top.
#[derive(Clone, Copy)]
struct Level(usize);

impl Level {
    fn below<E: Error>(self) -> Result<Level, E> {
        if self.0 >= DEEPEST {
            return Err(E::custom(format!("nested deeper than {DEEPEST} levels")));
        }
        Ok(Level(self.0 + 1))
    }
}

impl<'de> DeserializeSeed<'de> for Level {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Level {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("JSON")
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_f64<E>(self, value: f64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_string<E>(self, value: String) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Value, A::Error> {
        let below = self.below()?;
        let mut items = Vec::new();
        while let Some(item) = list.next_element_seed(below)? {
            items.push(item);
        }
        Ok(Value::Array(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Value, A::Error> {
        let below = self.below()?;
        let mut members = Map::new();
        while let Some(name) = map.next_key::<String>()? {
            let value = map.next_value_seed(below)?;
            if members.contains_key(&name) {
                let name = crate::actions::refusal::shown(&name);
                return Err(A::Error::custom(format!("the member {name} twice")));
            }
            members.insert(name, value);
        }
        Ok(Value::Object(members))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nested(levels: usize) -> String {
        format!("{}{}", "[".repeat(levels), "]".repeat(levels))
    }

    #[test]
    fn a3_nesting_ends_at_32_levels() {
        assert!(json(nested(32).as_bytes()).is_ok());
        for levels in [33, 1_000, 200_000] {
            let problem = json(nested(levels).as_bytes()).expect_err("too deep");
            assert_eq!(problem.kind.slug, "malformed");
            assert!(
                problem.detail.contains("deeper than 32 levels"),
                "{}",
                problem.detail
            );
        }
    }

    #[test]
    fn json_says_one_thing_only() {
        for bad in [
            "",
            "{",
            "{\"a\":1}x",
            "{\"a\":1,\"a\":1}",
            "[1e999]",
            "NaN",
            "\"\u{1}\"",
        ] {
            assert!(json(bad.as_bytes()).is_err(), "{bad:?}");
        }
        let good = json(br#" {"a": [1, -2, "x", null, true, 1.5]} "#).expect("JSON");
        assert_eq!(
            good,
            serde_json::json!({"a": [1, -2, "x", null, true, 1.5]})
        );
    }
}
