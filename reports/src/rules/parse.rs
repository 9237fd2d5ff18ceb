//! TOML or JSON text to a rule set or a local layer; refuses with line, column, caret and the
//! allowed words.

use super::file::{Overlay, RuleSet};
use super::problem::{Position, Problem, unknown_word};
use super::situation::SituationFile;
use serde::de::DeserializeOwned;

/// Most bytes of a rule file.
pub const LARGEST: usize = 128 * 1024;

/// What a rule file holds.
#[derive(Clone, Debug, PartialEq)]
pub enum RuleFile {
    /// The rules of an act.
    Set(Box<RuleSet>),
    /// Other numbers for a base set, somewhere.
    Overlay(Box<Overlay>),
}

impl RuleFile {
    /// Reads TOML; a text with a line `overlays = ...` before its first table is a local layer.
    pub fn from_toml(file: &str, text: &str) -> Result<RuleFile, Vec<Problem>> {
        if text.len() > LARGEST {
            let message = format!(
                "expected a rule file of at most {LARGEST} bytes (128 KiB), found {}; an act needs \
                 some tens of thousands. Is it the right file?",
                text.len()
            );
            return Err(vec![Problem::new(file, "", message)]);
        }
        if names_a_base(text) {
            return Overlay::from_toml(file, text).map(|layer| RuleFile::Overlay(Box::new(layer)));
        }
        RuleSet::from_toml(file, text).map(|set| RuleFile::Set(Box::new(set)))
    }

    /// Reads JSON; an object with a member `overlays` is a local layer.
    pub fn from_json(file: &str, text: &str) -> Result<RuleFile, Vec<Problem>> {
        let value: serde_json::Value = json(file, text)?;
        if value.get("overlays").is_some() {
            return json(file, text).map(|layer| RuleFile::Overlay(Box::new(layer)));
        }
        RuleSet::from_json(file, text).map(|set| RuleFile::Set(Box::new(set)))
    }
}

impl RuleSet {
    /// Reads the TOML of a set. Names and numbers are judged by `check`, words are judged here.
    pub fn from_toml(file: &str, text: &str) -> Result<RuleSet, Vec<Problem>> {
        toml(file, text)
    }

    /// Reads the JSON of a set: the same types, the same words.
    pub fn from_json(file: &str, text: &str) -> Result<RuleSet, Vec<Problem>> {
        json(file, text)
    }

    /// The set as JSON, absent members left out.
    pub fn to_json(&self) -> serde_json::Value {
        without_absent(serde_json::to_value(self).unwrap_or_default())
    }
}

impl Overlay {
    /// Reads the TOML of a local layer.
    pub fn from_toml(file: &str, text: &str) -> Result<Overlay, Vec<Problem>> {
        toml(file, text)
    }

    /// The layer as JSON, absent members left out.
    pub fn to_json(&self) -> serde_json::Value {
        without_absent(serde_json::to_value(self).unwrap_or_default())
    }
}

impl SituationFile {
    /// Reads a file of situations.
    pub fn from_json(file: &str, text: &str) -> Result<SituationFile, Vec<Problem>> {
        let read: SituationFile = json(file, text)?;
        if read.schema != super::situation::SCHEMA {
            let expected = super::situation::SCHEMA;
            let message = format!("expected the schema '{expected}', found '{}'", read.schema);
            return Err(vec![Problem::new(file, "schema", message)]);
        }
        Ok(read)
    }
}

fn names_a_base(text: &str) -> bool {
    text.lines()
        .map(str::trim_start)
        .take_while(|line| !line.starts_with('['))
        .any(|line| {
            line.strip_prefix("overlays")
                .is_some_and(|l| l.trim_start().starts_with('='))
        })
}

fn toml<T: DeserializeOwned>(file: &str, text: &str) -> Result<T, Vec<Problem>> {
    toml::from_str(text).map_err(|error| {
        let mut problem = Problem::new(file, "", reworded(error.message()));
        if let Some(range) = error.span() {
            problem.place = table_of(text, range.start);
            problem.position = Some(Position::of(text, range));
        }
        vec![problem]
    })
}

fn json<T: DeserializeOwned>(file: &str, text: &str) -> Result<T, Vec<Problem>> {
    serde_json::from_str(text).map_err(|error| {
        let whole = error.to_string();
        let message = whole.split(" at line ").next().unwrap_or(&whole);
        let mut problem = Problem::new(file, "", reworded(message));
        if error.line() > 0 {
            let begin: usize = text
                .split_inclusive('\n')
                .take(error.line() - 1)
                .map(str::len)
                .sum();
            let at = begin + error.column().saturating_sub(1);
            problem.position = Some(Position::of(text, at..at + 1));
        }
        vec![problem]
    })
}

/// The table a byte of a TOML text stands in: `values.trigger`, `limits.chronic`, `leak_rate`.
fn table_of(text: &str, at: usize) -> String {
    let mut header = None;
    let mut begin = 0;
    for line in text.split_inclusive('\n') {
        if begin > at {
            break;
        }
        if line.trim_start().starts_with('[') {
            header = Some((begin, line));
        }
        begin += line.len();
    }
    let Some((begin, line)) = header else {
        return String::new();
    };
    let name = line
        .split('#')
        .next()
        .unwrap_or(line)
        .trim()
        .trim_matches(['[', ']'])
        .trim();
    if !line.trim_start().starts_with("[[") {
        return name.to_string();
    }
    let block = text[begin + line.len()..].split("\n[").next().unwrap_or("");
    let given = block.lines().find_map(|line| {
        let rest = line
            .trim_start()
            .strip_prefix("name")?
            .trim_start()
            .strip_prefix('=')?;
        rest.split('"').nth(1)
    });
    given.map_or(name.to_string(), |given| format!("{name}.{given}"))
}

/// The deserializer's sentence in the words of this vocabulary.
fn reworded(message: &str) -> String {
    for unknown in ["unknown field `", "unknown variant `"] {
        let Some(rest) = message.strip_prefix(unknown) else {
            continue;
        };
        let mut parts = rest.split('`');
        let word = parts.next().unwrap_or("");
        let allowed: Vec<&str> = parts.skip(1).step_by(2).collect();
        return unknown_word(word, &allowed);
    }
    if let Some(name) = message.strip_prefix("missing field `") {
        return format!("the word '{}' is missing", name.trim_end_matches('`'));
    }
    if let Some((found, expected)) = message
        .strip_prefix("invalid type: ")
        .and_then(|rest| rest.split_once(", expected "))
    {
        let number = found.starts_with("floating point") || found.starts_with("integer");
        let hint = if number && expected.contains("string") {
            "; numbers are written as text, such as \"7.5\""
        } else {
            ""
        };
        return format!("expected {expected}, found {found}{hint}");
    }
    message.to_string()
}

/// Absent, never empty: members that were not written are not sent. What an example expects is
/// left alone, for there *nothing* is an expectation (`band: null`); so is a written, empty `has`.
fn without_absent(value: serde_json::Value) -> serde_json::Value {
    use serde_json::Value;
    let absent = |value: &Value| match value {
        Value::Null | Value::Bool(false) => true,
        Value::Array(list) => list.is_empty(),
        Value::Object(map) => map.is_empty(),
        _ => false,
    };
    match value {
        Value::Object(map) => Value::Object(
            map.into_iter()
                .map(|(k, v)| {
                    if k == "expect" {
                        (k, v)
                    } else {
                        (k, without_absent(v))
                    }
                })
                .filter(|(k, v)| k == "expect" || !absent(v) || (k == "has" && !v.is_null()))
                .collect(),
        ),
        Value::Array(list) => Value::Array(list.into_iter().map(without_absent).collect()),
        other => other,
    }
}
