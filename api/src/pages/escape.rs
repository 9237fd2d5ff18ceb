//! How every text of a page becomes HTML.
//!
//! Markup stays text, as usual. Beyond that, marks that turn the direction of writing (Unicode
//! Standard Annex 9) are shown as their numbers, such as [U+202E]: the door refuses them today, but
//! a book keeps for ever what it took before, and one such mark would turn the sentence around it.

use crate::actions::post::turns_writing;
use askama::filters::Escaper;
use std::fmt::{self, Write};

/// The escaper of the templates (named in `askama.toml`).
#[derive(Clone, Copy, Debug, Default)]
pub struct Shown;

impl Escaper for Shown {
    fn write_escaped_str<W: Write>(&self, mut out: W, text: &str) -> fmt::Result {
        let mut rest = text;
        while let Some(at) = rest.find(turns_writing) {
            let (before, mark) = rest.split_at(at);
            askama::filters::Html.write_escaped_str(&mut out, before)?;
            let mut letters = mark.chars();
            if let Some(letter) = letters.next() {
                write!(out, "[U+{:04X}]", u32::from(letter))?;
            }
            rest = letters.as_str();
        }
        askama::filters::Html.write_escaped_str(&mut out, rest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> String {
        let mut out = String::new();
        Shown.write_escaped_str(&mut out, text).unwrap();
        out
    }

    /// U+202E is RIGHT-TO-LEFT OVERRIDE, U+2066 LEFT-TO-RIGHT ISOLATE (Unicode Standard Annex 9).
    #[test]
    fn marks_that_turn_the_writing_are_numbers_and_markup_is_text() {
        assert_eq!(shown("HG-\u{202e}A"), "HG-[U+202E]A");
        assert_eq!(shown("\u{2066}<b>"), "[U+2066]&#60;b&#62;");
        assert_eq!(shown("שלום & co"), "שלום &#38; co");
    }
}
