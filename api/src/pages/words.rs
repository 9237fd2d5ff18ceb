//! Words of the wire as people read them: kinds, reasons, roles, facts.
//!
//! Closed lists have their words here; a word that is not known is shown as it is, with spaces, so
//! that a newer book stays readable.

use crate::ledger::actor::Role;

/// A word with spaces for its underscores.
pub fn plain(word: &str) -> String {
    word.replace('_', " ")
}

/// The text with a capital first letter.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// What an entry of a kind did, in the past tense.
pub fn deed(kind: &str) -> String {
    let known = match kind {
        "genesis" => "The book was begun",
        "engine" => "Another version of the program began to book",
        "setting" => "A setting was made",
        "method" => "A method was chosen",
        "rule_set" => "A rule set was adopted",
        "import" => "A file was imported",
        "site" | "appliance" | "cylinder" | "counterparty" | "person" | "scale" => {
            "Registered or changed"
        }
        "opening" => "Opened with",
        "purchase" => "Bought",
        "charge" => "Charged",
        "outside_charge" => "Charged by somebody else",
        "recover" => "Recovered",
        "transfer" => "Transferred",
        "send_to_reclaim" => "Sent to reclaim",
        "send_to_destruction" => "Sent to destruction",
        "return" => "Returned",
        "loss" => "Lost",
        "redesignate" => "Named otherwise",
        "count" => "Counted on the scale",
        "statement" => "Statement of weights",
        "correction" => "Taken back",
        "link" => "Entries were linked",
        "settle" => "A finding was settled",
        "leak_found" => "A leak was found",
        "repair" => "Repaired",
        "inspection" => "Inspected for leaks",
        "verification_test" => "Tested after a repair",
        "pressure_test" => "Tested with nitrogen",
        "vacuum_test" => "Tested under vacuum",
        "run_check" => "Checked while running",
        "observation" => "Content was checked",
        "shutdown" => "Shut down",
        "isolate" => "Isolated",
        "purge_destroyed" => "Purged refrigerant was destroyed",
        "plan" => "A plan was made",
        "extension" => "An extension was asked for",
        "decision" => "The manager decided",
        "notice" => "A report was handed in",
        "mothball" => "Mothballed",
        "back_in_operation" => "Back in operation",
        "retrofit" => "Retrofitted",
        "retire" => "Retired",
        other => return capital(&plain(other)),
    };
    known.to_string()
}

/// Why refrigerant was charged or recovered.
pub fn reason(word: &str) -> String {
    let known = match word {
        "leak_top_up" => "top-up after a leak",
        "after_repair" => "after a repair",
        "installation" => "installation",
        "after_retrofit" => "after a retrofit",
        "seasonal" => "seasonal",
        "emergency" => "emergency",
        "immediate_danger" => "immediate danger",
        "repair" => "for a repair",
        "retrofit" => "for a retrofit",
        "disposal" => "for disposal",
        other => return plain(other),
    };
    known.to_string()
}

/// What was wrong with a corrected entry.
pub fn wrong(word: &str) -> String {
    let known = match word {
        "misread" => "the scale was misread",
        "wrong_unit" => "pounds, ounces or kilograms were mixed up",
        "wrong_appliance" => "it was another appliance",
        "wrong_cylinder" => "it was another cylinder",
        "wrong_refrigerant" => "it was another refrigerant",
        "wrong_day" => "it was another day",
        "wrong_person" => "somebody else did it",
        "duplicate" => "it was booked twice",
        "did_not_happen" => "it did not happen",
        "other" => "something else",
        other => return plain(other),
    };
    known.to_string()
}

/// Condition of what was recovered.
pub fn class(word: &str) -> String {
    let known = match word {
        "clean" => "clean",
        "suspect" => "suspect",
        "burn_out" => "from a burn-out",
        "mixed" => "mixed",
        "unknown" => "not known",
        other => return plain(other),
    };
    known.to_string()
}

/// A role as it stands behind a name.
pub fn role(role: Role) -> &'static str {
    match role {
        Role::Technician => "technician",
        Role::ComplianceManager => "compliance manager",
        Role::Auditor => "auditor",
        Role::Administrator => "administrator",
        Role::Device => "device",
        Role::Operator => "operator",
        Role::System => "the program",
    }
}

/// A fact that nobody recorded, as something to be found.
pub fn fact(name: &str) -> String {
    let known = match name {
        "full_charge" => "the full charge",
        "category" => "what it is used for",
        "refrigerant" => "its refrigerant",
        "installed" => "the day it was installed",
        "owner_class" => "what kind of owner it has",
        "region" => "its region",
        other => return format!("the fact \"{}\"", plain(other)),
    };
    known.to_string()
}

/// Several facts as a list: `the full charge and its region`.
pub fn facts(names: &[&str]) -> String {
    let words: Vec<String> = names.iter().map(|name| fact(name)).collect();
    match words.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
        None => String::new(),
    }
}

/// How a full charge was established.
pub fn charge_method(word: &str) -> String {
    let known = match word {
        "maker_data" => "from the maker's data",
        "calculation" => "by calculation",
        "measurement" => "by measurement",
        "range" => "midpoint of a range",
        other => return plain(other),
    };
    known.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::entry::EntryKind;

    #[test]
    fn every_kind_that_is_booked_has_its_words() {
        for kind in EntryKind::ALL {
            let shown = deed(kind.word());
            let first = shown.chars().next().unwrap();
            assert!(first.is_uppercase() && !shown.contains('_'), "{shown}");
        }
        assert_eq!(
            deed("period_close"),
            "Period close",
            "a kind of a newer book stays readable"
        );
    }

    #[test]
    fn missing_facts_are_a_list_to_find() {
        assert_eq!(facts(&["full_charge"]), "the full charge");
        let two = facts(&["full_charge", "hermetic"]);
        assert_eq!(two, "the full charge and the fact \"hermetic\"");
        assert_eq!(facts(&[]), "");
    }
}
