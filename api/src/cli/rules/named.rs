//! A rule file as a command names it: a file, or the id of a set that comes with the program.

use crate::cli::failure::Failure;
use reports::rules::{RuleFile, shipped_texts};

/// The text of a shipped set, else of a file.
pub(super) fn text(set: &str) -> Result<String, Failure> {
    let shipped = |(name, _): &&(&str, &str)| name.strip_suffix(".toml") == Some(set);
    if let Some((_, text)) = shipped_texts().iter().find(shipped) {
        return Ok((*text).to_string());
    }
    std::fs::read_to_string(set).map_err(|error| {
        let known: Vec<&str> = shipped_texts()
            .iter()
            .filter_map(|(name, _)| name.strip_suffix(".toml"))
            .collect();
        Failure::failed(format!(
            "expected a rule file (TOML) or one of {}, came '{set}': {error}.",
            known.join(", ")
        ))
    })
}

/// The same, read.
pub(super) fn file(set: &str) -> Result<RuleFile, Failure> {
    RuleFile::from_toml(set, &text(set)?).map_err(|problems| super::told(&problems))
}
