//! A rule file as text again: what was adopted lies in the book as JSON, and people edit TOML.
//!
//! A layer is written as a person would write it, a row to a line. A set is written table by table.
//! Reading the text gives the same file back; comments are not kept, they are no rules.

use super::file::{Overlay, Row, RuleSet};
use super::parse::RuleFile;
use serde_json::Value;
use std::fmt::Write;

impl RuleFile {
    /// The file as TOML; `Err`: it says something that TOML cannot say, and which.
    pub fn to_toml(&self) -> Result<String, String> {
        match self {
            RuleFile::Set(set) => set.to_toml(),
            RuleFile::Overlay(layer) => layer.to_toml(),
        }
    }
}

impl RuleSet {
    fn to_toml(&self) -> Result<String, String> {
        let told = |error: toml::ser::Error| format!("the set {}: {error}", self.id);
        toml::to_string(&self.to_json()).map_err(told)
    }
}

impl Overlay {
    fn to_toml(&self) -> Result<String, String> {
        let mut text = String::new();
        let layer = plain(&serde_json::to_value(self.layer).unwrap_or_default());
        for (name, value) in [
            ("id", &self.id),
            ("overlays", &self.overlays),
            ("layer", &layer),
            ("title", &self.title),
            ("reason", &self.reason),
        ] {
            let _ = writeln!(text, "{name:<8} = {}", quoted(value));
        }
        if let Some(place) = self.to_json().get("where") {
            let told = |error: toml::ser::Error| format!("the layer {}: {error}", self.id);
            let place = toml::Value::try_from(place).map_err(told)?;
            let _ = writeln!(text, "where    = {place}");
        }
        for (name, over) in &self.values {
            let rows: Vec<String> = over.rows.iter().map(row).collect();
            let _ = writeln!(
                text,
                "\n[values.{name}]\nrows = [\n  {},\n]",
                rows.join(",\n  ")
            );
        }
        Ok(text)
    }
}

/// A row on one line, in the order in which it is read.
fn row(row: &Row) -> String {
    let from = row.from.to_string();
    let mut parts = vec![
        format!("from = {}", quoted(&from)),
        format!("is = {}", quoted(&row.is)),
    ];
    if let Some(bands) = &row.bands {
        let bands: Vec<String> = bands.iter().map(|band| quoted(band)).collect();
        parts.insert(1, format!("for = [{}]", bands.join(", ")));
    }
    let published = row.published.map(|day| day.to_string());
    let confidence = row.confidence.map(|word| word.word().to_string());
    for (name, text) in [
        ("clause", &row.clause),
        ("published", &published),
        ("confidence", &confidence),
        ("source", &row.source),
    ] {
        parts.extend(
            text.as_ref()
                .map(|text| format!("{name} = {}", quoted(text))),
        );
    }
    if row.loosens {
        parts.push("loosens = true".to_string());
    }
    parts.extend((row.reason.as_ref()).map(|text| format!("reason = {}", quoted(text))));
    format!("{{ {} }}", parts.join(", "))
}

fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}

fn plain(word: &Value) -> String {
    word.as_str().unwrap_or_default().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn comes_back(file: &RuleFile) {
        let text = file.to_toml().expect("text");
        let read = RuleFile::from_toml("again", &text);
        let read = read.unwrap_or_else(|problems| panic!("{}\n{text}", problems[0]));
        assert!(read == *file, "{text}");
    }

    #[test]
    fn every_shipped_set_comes_back_the_same() {
        for set in crate::rules::shipped() {
            comes_back(&RuleFile::Set(Box::new(set)));
        }
    }

    /// Quotes, a line break and other scripts in the texts of a layer.
    #[test]
    fn a_layer_comes_back_the_same_and_a_row_is_a_line() {
        let text = "id = \"county\"\noverlays = \"us-federal-hfc\"\nlayer = \"local\"\n\
                    title = \"A \\\"lower\\\" rate\\nfor Žďár\"\nreason = 'ordinance \"12\"'\n\
                    where = { region = { is = [\"US-CO-101\"] }, hermetic = \"no\" }\n\
                    [values.trigger]\nrows = [{ from = \"2026-01-01\", for = [\"commercial\"], \
                    is = \"15\", clause = \"s. 3\", loosens = true, reason = \"why\" }]\n";
        let file = RuleFile::from_toml("county", text).expect("a layer");
        comes_back(&file);
        let written = file.to_toml().expect("text");
        let line = "  { from = \"2026-01-01\", for = [\"commercial\"], is = \"15\", \
                    clause = \"s. 3\", loosens = true, reason = \"why\" },";
        assert!(written.lines().any(|one| one == line), "{written}");
    }
}
