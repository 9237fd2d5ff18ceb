//! What a person typed freely: note, reason, and every other text, as it is kept.

use super::Intention;
use crate::actions::refusal::{ActionError, Refusal};
use crate::actions::request::EntryRequest;

/// Most characters a person may type into one member.
const LONGEST_TEXT: usize = 2_000;

/// Adds note and reason text, and checks what a person typed.
pub fn texts(request: &EntryRequest, what: &mut Intention) -> Result<(), ActionError> {
    for (name, text) in [
        ("note", &request.note),
        ("reason_text", &request.reason_text),
    ] {
        if let Some(text) = text
            .as_deref()
            .map(str::trim)
            .filter(|text| !text.is_empty())
        {
            what.secrets.push((name.to_string(), text.to_string()));
        }
    }
    for (path, text) in &mut what.secrets {
        *text = typed_text(text, path)?;
    }
    Ok(())
}

/// A typed text as it is kept: NFC, without blanks at its ends, without control characters.
pub fn typed_text(text: &str, pointer: &str) -> Result<String, ActionError> {
    use unicode_normalization::UnicodeNormalization;
    let text: String = text.trim().nfc().collect();
    let wrong = |expected: &str| {
        let pointer = format!("/{}", pointer.replace('.', "/"));
        Refusal::invalid(&pointer, expected, &text, "Shorten or retype it.")
    };
    if text.chars().count() > LONGEST_TEXT {
        return Err(wrong("at most 2000 characters").into());
    }
    // Only what is written in sentences may have lines.
    let lines = pointer.ends_with("note") || pointer.ends_with("reason_text");
    if text
        .chars()
        .any(|c| c.is_control() && !(lines && c == '\n'))
    {
        return Err(wrong("text without control characters").into());
    }
    if text.chars().any(turns_writing) {
        return Err(wrong("text without marks that turn the direction of writing").into());
    }
    Ok(text)
}

/// Marks after which letters run the other way, in the sentences around a text as well (Unicode
/// Standard Annex 9, explicit formatting and isolates).
pub fn turns_writing(letter: char) -> bool {
    matches!(letter, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Letters nobody sees: two tags that differ only by them look the same.
pub fn is_unseen(letter: char) -> bool {
    turns_writing(letter)
        || matches!(letter, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{2028}' | '\u{2029}'
            | '\u{2060}'..='\u{2064}' | '\u{feff}')
}
