//! Migrations come in pairs: the same names for both engines, each with a way up and a way down.
//!
//! Whether they also work is shown by migrations.py beside this file, on both engines.

use crate::{report, top};

#[test]
fn migrations_come_in_pairs() {
    let sqlite = names("sqlite");
    let postgres = names("postgres");
    assert!(!sqlite.is_empty(), "migrations/sqlite holds no migration");
    assert_eq!(
        sqlite, postgres,
        "migrations/sqlite and migrations/postgres differ in names"
    );
}

#[test]
fn every_migration_has_a_way_up_and_a_way_down() {
    let mut faults = Vec::new();
    for engine in ["sqlite", "postgres"] {
        for name in names(engine) {
            for file in ["up.sql", "down.sql"] {
                let path = top().join("migrations").join(engine).join(&name).join(file);
                let text = std::fs::read_to_string(&path).unwrap_or_default();
                let says_something = text
                    .lines()
                    .any(|line| !line.trim().is_empty() && !line.trim_start().starts_with("--"));
                if !says_something {
                    faults.push(format!("migrations/{engine}/{name}/{file}"));
                }
            }
        }
    }
    report("These are missing or hold no statement:", &faults);
}

fn names(engine: &str) -> Vec<String> {
    let folder = top().join("migrations").join(engine);
    let mut names: Vec<String> = std::fs::read_dir(&folder)
        .unwrap_or_else(|error| panic!("{}: {error}", folder.display()))
        .map(|entry| entry.expect("a readable entry"))
        .filter(|entry| entry.path().is_dir())
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}
