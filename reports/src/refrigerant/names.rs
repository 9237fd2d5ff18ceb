//! What people write for a designation.
//!
//! Only input is read so loosely; everything the program writes has the one spelling of the table.
//! `R410A`, `r-410a`, `410A`, `HFC-134a` and `ammonia` are understood. A class prefix must be the
//! class of the substance, so that `HFC-22` is a question for the person and not R-22.

use super::Refrigerant;

/// Letters and digits of a text in capitals, without the `R` before a number: the part of a
/// designation that tells refrigerants apart.
fn key(text: &str) -> String {
    let letters = text.chars().filter(char::is_ascii_alphanumeric);
    let capitals: String = letters.map(|c| c.to_ascii_uppercase()).collect();
    match capitals.strip_prefix('R') {
        Some(rest) if !rest.is_empty() => rest.to_string(),
        _ => capitals,
    }
}

/// The keys under which a refrigerant is found, its own first.
pub(super) fn keys(row: &Refrigerant) -> Vec<String> {
    let own = key(&row.designation);
    if row.is_blend() {
        return vec![own];
    }
    let class = row.class.split(' ').next().unwrap_or_default();
    let prefixed = match class {
        "natural" if row.class.contains("HC") => format!("HC{own}"),
        "natural" => row.name.to_ascii_uppercase(),
        class => format!("{class}{own}"),
    };
    vec![prefixed, words(&row.name), own]
}

/// The key of what a person wrote; `None` for what cannot be a designation or a name.
pub(super) fn asked(text: &str) -> [String; 2] {
    let sane = |c: char| c.is_ascii_alphanumeric() || " -()_,".contains(c);
    if text.len() > 60 || !text.chars().all(sane) {
        return [String::new(), String::new()];
    }
    [key(text), words(text)]
}

fn words(name: &str) -> String {
    format!("name:{}", name.trim().to_ascii_lowercase())
}
