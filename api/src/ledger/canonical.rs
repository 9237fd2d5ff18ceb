//! The one spelling of a leaf: RFC 8785 canonical JSON, narrowed.
//!
//! Objects, arrays, strings, booleans and whole numbers up to 2^53 - 1; no fraction, no exponent,
//! no null, no name twice; strings in NFC and without control characters; at most 16 KiB. Narrowed
//! because RFC 8785 writes numbers by the rules of floating point, and because what cannot stand in
//! a leaf cannot be spelt in two ways. [`to_canonical`] writes the form, [`check()`] reads it without
//! allocating, and the two share no code but the list of what is not allowed.

mod check;

use super::id::Id;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::fmt;
use unicode_normalization::is_nfc;

pub use check::check;

/// The longest leaf.
pub const LONGEST: usize = 16 * 1024;
/// The largest whole number that every JSON reader keeps exactly: 2^53 - 1.
pub const LARGEST_NUMBER: u64 = (1 << 53) - 1;
/// Deeper nesting is refused; our deepest body has eight levels.
const DEEPEST: usize = 32;

/// Why a value or some bytes are not in the canonical form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotCanonical {
    /// A fraction or an exponent.
    Fraction,
    /// A whole number beyond 2^53 - 1.
    NumberTooLarge,
    /// Null; a member that says nothing is left out.
    Null,
    /// A string that is not in normalisation form C.
    NotNormalised,
    /// A control character in a string.
    ControlCharacter,
    /// More than 16 KiB.
    TooLong,
    /// More than 32 levels.
    TooDeep,
    /// The bytes are not what RFC 8785 would write.
    Spelling {
        /// The first byte that differs.
        at: usize,
    },
}

impl fmt::Display for NotCanonical {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            NotCanonical::Fraction => "a number has a fraction or an exponent; write it as text",
            NotCanonical::NumberTooLarge => "a number is beyond 2^53 - 1; write it as text",
            NotCanonical::Null => "a member is null; leave it out",
            NotCanonical::NotNormalised => "a string is not in Unicode normalisation form C",
            NotCanonical::ControlCharacter => "a string holds a control character",
            NotCanonical::TooLong => "more than 16 KiB; larger content is an attachment",
            NotCanonical::TooDeep => "more than 32 levels of nesting",
            NotCanonical::Spelling { at } => {
                return write!(f, "byte {at} is not what RFC 8785 would write");
            }
        })
    }
}

impl std::error::Error for NotCanonical {}

/// The canonical bytes of a value.
pub fn to_canonical(value: &Value) -> Result<Vec<u8>, NotCanonical> {
    let mut bytes = Vec::with_capacity(768);
    write_value(value, &mut bytes, 0)?;
    if bytes.len() > LONGEST {
        Err(NotCanonical::TooLong)
    } else {
        Ok(bytes)
    }
}

fn write_value(value: &Value, bytes: &mut Vec<u8>, depth: usize) -> Result<(), NotCanonical> {
    if depth > DEEPEST {
        return Err(NotCanonical::TooDeep);
    }
    match value {
        Value::Null => return Err(NotCanonical::Null),
        Value::Bool(yes) => bytes.extend(yes.to_string().bytes()),
        Value::Number(number) => {
            let size = number
                .as_u64()
                .or_else(|| number.as_i64().map(i64::unsigned_abs));
            if size.ok_or(NotCanonical::Fraction)? > LARGEST_NUMBER {
                return Err(NotCanonical::NumberTooLarge);
            }
            bytes.extend(number.to_string().bytes());
        }
        Value::String(text) => write_text(text, bytes)?,
        Value::Array(items) => {
            bytes.push(b'[');
            for (n, item) in items.iter().enumerate() {
                if n > 0 {
                    bytes.push(b',');
                }
                write_value(item, bytes, depth + 1)?;
            }
            bytes.push(b']');
        }
        Value::Object(members) => {
            // RFC 8785, 3.2.3: names are compared as UTF-16.
            let mut members: Vec<_> = members.iter().collect();
            members.sort_by(|a, b| a.0.encode_utf16().cmp(b.0.encode_utf16()));
            bytes.push(b'{');
            for (n, (name, member)) in members.into_iter().enumerate() {
                if n > 0 {
                    bytes.push(b',');
                }
                write_text(name, bytes)?;
                bytes.push(b':');
                write_value(member, bytes, depth + 1)?;
            }
            bytes.push(b'}');
        }
    }
    Ok(())
}

fn write_text(text: &str, bytes: &mut Vec<u8>) -> Result<(), NotCanonical> {
    check_text(text)?;
    bytes.push(b'"');
    for byte in text.bytes() {
        // Of all that RFC 8785 escapes only these two are left: control characters are refused.
        if matches!(byte, b'"' | b'\\') {
            bytes.push(b'\\');
        }
        bytes.push(byte);
    }
    bytes.push(b'"');
    Ok(())
}

/// What a string of a leaf may not hold.
fn check_text(text: &str) -> Result<(), NotCanonical> {
    if text.bytes().all(|b| (0x20..0x7f).contains(&b)) {
        return Ok(());
    }
    if text.chars().any(char::is_control) {
        return Err(NotCanonical::ControlCharacter);
    }
    if is_nfc(text) {
        Ok(())
    } else {
        Err(NotCanonical::NotNormalised)
    }
}

/// The commitment of an entry to a text that stands beside its leaf: base64 of the SHA-256 over the
/// label, the entry's id, the field, the salt and the text. The salt (32 random bytes) is another
/// for every field of every entry, so equal texts do not match; without it the text cannot be
/// guessed from the commitment.
pub fn commitment(entry_id: Id, field: &str, salt: &[u8; 32], value: &[u8]) -> String {
    let hash = entry_id.with_text(|id| {
        Sha256::new_with_prefix("tarebook/commit/v1\n")
            .chain_update(id)
            .chain_update("\n")
            .chain_update(field)
            .chain_update("\n")
            .chain_update(salt)
            .chain_update(value)
            .finalize()
    });
    STANDARD.encode(hash)
}

#[cfg(test)]
mod tests;
