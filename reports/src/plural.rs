//! Counts with their words: `1 day`, `2 days`, `12 operating hours`. One place decides which form a
//! word takes, so that no page, file or message speaks of *1 years*.

use std::fmt::Display;

/// The word as it stands behind a count: `noun(1, "entries")` is `entry`. Underscores of the wire
/// become spaces; a unit without a plural (`lb`, `percent`) stays as it is.
pub fn noun(count: impl Display, many: &str) -> String {
    let many = many.replace('_', " ");
    if count.to_string() != "1" {
        return many;
    }
    if let Some(stem) = many.strip_suffix("people") {
        return format!("{stem}person");
    }
    if let Some(stem) = many.strip_suffix("ies") {
        return format!("{stem}y");
    }
    many.strip_suffix('s').map_or(many.clone(), str::to_string)
}

/// A count with its word.
pub fn counted(count: impl Display, many: &str) -> String {
    let noun = noun(&count, many);
    format!("{count} {noun}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the spelling of English.
    #[test]
    fn one_is_singular_and_everything_else_plural() {
        for (count, many, text) in [
            ("1", "years", "1 year"),
            ("2", "years", "2 years"),
            ("0", "years", "0 years"),
            ("11", "days", "11 days"),
            ("1.5", "hours", "1.5 hours"),
            ("1", "calendar_half_years", "1 calendar half year"),
            ("3", "calendar_half_years", "3 calendar half years"),
            ("1", "entries", "1 entry"),
            ("1", "people", "1 person"),
            ("1", "lb", "1 lb"),
            ("1", "percent_of_full_charge", "1 percent of full charge"),
        ] {
            assert_eq!(counted(count, many), text);
        }
    }
}
