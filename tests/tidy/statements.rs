//! Promise S2, for the engine without row security: every statement of the store names the
//! organisation whose rows it is about, except those listed here with the reason.

use crate::{report, top};

/// Statements that name no organisation.
const WITHOUT: &[(&str, &str)] = &[
    ("OrganisationNamed", "narrow: one organisation by its name"),
    ("Organisations", "for the operator's commands"),
    ("NewestOrganisation", "makes the number of a new one"),
    (
        "OrganisationsOfEmail",
        "narrow: numbers of organisations by an address",
    ),
    ("SessionBySecret", "narrow: one session by its secret"),
    ("TokenBySecret", "narrow: one token by its secret"),
    (
        "HalfBySecret",
        "narrow: one sign-in that waits for its code, by its secret",
    ),
    ("CalendarBySecret", "narrow: one calendar by its secret"),
    (
        "MailStopBySecret",
        "narrow: one address that stops mail, by its secret",
    ),
    ("MailBooks", "narrow: which books have mail to make or send"),
    (
        "AccessBooks",
        "narrow: which books have access records from before a moment",
    ),
    ("MailCounts", "narrow: how many messages wait or failed"),
    (
        "FailuresOf",
        "counts of what was typed belong to no organisation",
    ),
    ("LockFailures", "the same"),
    ("CountFailure", "the same"),
    ("DateFailure", "the same"),
    ("ForgetFailures", "the same"),
    ("ForgetLeastFailures", "the same"),
    ("Unsigned", "narrow: which books wait for a checkpoint"),
    ("NewestBooking", "narrow: one moment"),
    ("IsUnguarded", "about the role of the connection"),
    ("IsReadOnly", "about the server and the connection"),
    ("AppliedMigrations", "about the tables"),
    ("HasMigrationsOnSqlite", "about the tables"),
    ("HasMigrationsOnPostgres", "about the tables"),
];

/// Names and texts of all statements of the store.
pub fn declared() -> Vec<(String, String)> {
    let folder = top().join("api/src/store");
    let mut all = Vec::new();
    for file in std::fs::read_dir(folder).expect("the store is readable") {
        let path = file.expect("readable").path();
        // The macro's own file shows one in its description.
        if path.is_file() && !path.ends_with("statement.rs") {
            let text = std::fs::read_to_string(path).expect("a source is readable");
            // A declaration stands in a block of its own; other texts are none.
            let blocks = text.split("statement! {").skip(1);
            let blocks = blocks.map(|block| block.split("\n}").next().unwrap_or_default());
            all.extend(blocks.flat_map(statements));
        }
    }
    assert!(all.len() > 100, "only {} statements were found", all.len());
    all
}

#[test]
fn s2_every_statement_names_its_organisation() {
    let all = declared();
    report(
        "These statements name no organisation (tests/tidy/statements.rs lists who need not):",
        &faults(&all),
    );
    let gone: Vec<String> = (WITHOUT.iter())
        .filter(|(name, _)| !all.iter().any(|(known, _)| known == name))
        .map(|(name, _)| (*name).to_string())
        .collect();
    report("These are listed and are no statements any more:", &gone);
}

fn faults(all: &[(String, String)]) -> Vec<String> {
    let listed = |name: &str| WITHOUT.iter().any(|(known, _)| *known == name);
    let wrong = all
        .iter()
        .filter(|(name, text)| names_it(text) == listed(name));
    wrong
        .map(|(name, text)| format!("{name}: {text}"))
        .collect()
}

/// Does every table of a statement say of which organisation?
fn names_it(text: &str) -> bool {
    if let Some(insert) = text.strip_prefix("INSERT INTO ") {
        return insert
            .split_once(" (")
            .is_some_and(|(_, columns)| columns.starts_with("org"));
    }
    let compared = ["org = ?", "org = ANY(?)", "org = asked.org"];
    compared.iter().any(|words| text.contains(words))
}

/// Names and texts of the declared statements.
fn statements(source: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for (at, _) in source.match_indices(": \"") {
        let name: String = (source[..at].chars().rev())
            .take_while(|c| c.is_alphanumeric())
            .collect();
        let name: String = name.chars().rev().collect();
        let rest = &source[at + 3..];
        let text = rest.split('"').next().unwrap_or_default();
        let lines: Vec<&str> = text.split("\\\n").map(str::trim_start).collect();
        found.push((name, lines.concat()));
    }
    found
}

#[test]
fn a_planted_statement_without_its_organisation_is_found() {
    let plant = |text: &str| faults(&statements(text));
    assert_eq!(
        plant("Plant: \"SELECT leaf FROM entries WHERE seq = ?\" => Binary;").len(),
        1
    );
    assert_eq!(plant("Plant: \"DELETE FROM tiles\";").len(), 1);
    assert_eq!(
        plant("Plant: \"INSERT INTO tiles (level, idx) VALUES (?, ?)\";").len(),
        1
    );
    // A listed one that names its organisation need not be listed.
    assert_eq!(
        plant("Organisations: \"SELECT x FROM t WHERE org = ?\" => Text;").len(),
        1
    );
    assert!(plant("Good: \"SELECT leaf FROM entries \\\n   WHERE org = ?\" => Binary;").is_empty());
    assert!(plant("Good: \"INSERT INTO tiles (org, level) VALUES (?, ?)\";").is_empty());
}
