//! Directions between the rooms of `api`, and who may name which outside crate.
//!
//! The table is the one of DEVELOPERS.md: a room may name the rooms listed beside it and itself.
//! Comments and documentation may name anything.

use crate::{Source, report, sources};

/// Room, and the rooms it may use. `main` only hands the command line to `cli`.
const MAY_USE: &[(&str, &[&str])] = &[
    ("ledger", &[]),
    // On SQLite the writer dates entries by the host's clock; `clock` itself uses no room.
    ("store", &["ledger", "clock"]),
    ("actions", &["store", "ledger"]),
    ("auth", &["store", "ledger"]),
    ("demo", &["actions", "store", "ledger"]),
    ("pictures", &[]),
    ("http", &["actions", "auth", "ledger"]),
    // A page is asked the way everything is asked: the same session, state and brakes.
    ("pages", &["http", "actions", "auth", "ledger", "pictures"]),
    ("config", &[]),
    ("clock", &[]),
    (
        "service",
        &[
            "config", "clock", "http", "pages", "auth", "actions", "store", "ledger",
        ],
    ),
    (
        "cli",
        &[
            "service", "demo", "config", "clock", "http", "pages", "auth", "actions", "store",
            "ledger",
        ],
    ),
];

/// Words of outside crates and the places that may name them.
const ONLY_IN: &[(&str, &[&str])] = &[
    ("diesel::", &["api/src/store"]),
    ("diesel_migrations::", &["api/src/store"]),
    (
        "actix_web::",
        &[
            "api/src/http",
            "api/src/pages",
            "api/src/auth.rs",
            "api/src/service.rs",
        ],
    ),
    ("lettre::", &["api/src/service/mail"]),
    ("SystemTime::now", &["api/src/clock.rs"]),
    ("Timestamp::now", &["api/src/clock.rs"]),
    ("Zoned::now", &["api/src/clock.rs"]),
];

#[test]
fn rooms_are_used_in_one_direction() {
    let faults: Vec<String> = sources().iter().flat_map(wrong_arrows).collect();
    report(
        "A room may only use the rooms below it (tests/tidy/rooms.rs holds the table):",
        &faults,
    );
}

#[test]
fn outside_crates_stay_in_their_rooms() {
    let faults: Vec<String> = sources().iter().flat_map(strays).collect();
    report(
        "These words belong to one room (tests/tidy/rooms.rs says which):",
        &faults,
    );
}

fn wrong_arrows(source: &Source) -> Vec<String> {
    let Some(room) = room_of(&source.path) else {
        return Vec::new();
    };
    let Some((_, allowed)) = MAY_USE.iter().find(|(name, _)| *name == room) else {
        return vec![format!(
            "{}: the room `{room}` is not in the table",
            source.path
        )];
    };
    let mut faults = Vec::new();
    for (number, line) in code_lines(&source.text) {
        for used in named_after(line, "crate::") {
            if used != room && is_room(&used) && !allowed.contains(&used.as_str()) {
                faults.push(format!("{}:{number}: {room} uses {used}", source.path));
            }
        }
    }
    faults
}

fn strays(source: &Source) -> Vec<String> {
    if !source.path.starts_with("api/src/") || !source.path.ends_with(".rs") {
        return Vec::new();
    }
    let mut faults = Vec::new();
    for (number, line) in code_lines(&source.text) {
        for (word, places) in ONLY_IN {
            if line.contains(word) && !places.iter().any(|place| source.path.starts_with(place)) {
                faults.push(format!("{}:{number}: `{word}`", source.path));
            }
        }
    }
    faults
}

/// `api/src/store/db.rs` and `api/src/store.rs` belong to `store`; `lib.rs`, `main.rs` to nobody.
fn room_of(path: &str) -> Option<String> {
    let rest = path.strip_prefix("api/src/")?.strip_suffix(".rs")?;
    let room = rest.split('/').next()?;
    (room != "lib" && room != "main").then(|| room.to_owned())
}

fn is_room(name: &str) -> bool {
    MAY_USE.iter().any(|(room, _)| *room == name)
}

/// Lines with their numbers, without those that are only comment.
fn code_lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let numbered = text
        .lines()
        .enumerate()
        .map(|(index, line)| (index + 1, line));
    numbered.filter(|(_, line)| !line.trim_start().starts_with("//"))
}

/// The words directly after `prefix`, those of a braced list included.
fn named_after(line: &str, prefix: &str) -> Vec<String> {
    let mut names = Vec::new();
    for (at, _) in line.match_indices(prefix) {
        let rest = &line[at + prefix.len()..];
        match rest.strip_prefix('{') {
            Some(list) => names.extend(list.split(['{', ',', '}']).map(first_word)),
            None => names.push(first_word(rest)),
        }
    }
    names
}

fn first_word(text: &str) -> String {
    text.trim_start()
        .chars()
        .take_while(|c| c.is_alphanumeric() || *c == '_')
        .collect()
}

#[test]
fn a_planted_wrong_arrow_is_found() {
    let plant = |path: &str, text: &str| {
        wrong_arrows(&Source {
            path: path.to_owned(),
            text: text.to_owned(),
        })
    };
    assert_eq!(
        plant("api/src/store/db.rs", "use crate::actions::post;").len(),
        1
    );
    assert_eq!(
        plant("api/src/store.rs", "use crate::{ledger, http};").len(),
        1
    );
    assert_eq!(plant("api/src/attic.rs", "").len(), 1);
    assert!(
        plant(
            "api/src/store/db.rs",
            "// crate::actions\nuse crate::ledger::tree;"
        )
        .is_empty()
    );
    assert!(
        plant(
            "api/src/cli/import.rs",
            "use crate::actions::{post, import};"
        )
        .is_empty()
    );
}

#[test]
fn a_planted_stray_is_found() {
    let text = "use diesel::prelude::*;".to_owned();
    assert_eq!(
        strays(&Source {
            path: "api/src/actions/post.rs".to_owned(),
            text
        })
        .len(),
        1
    );
    let text = "use diesel::prelude::*;".to_owned();
    assert!(
        strays(&Source {
            path: "api/src/store/db.rs".to_owned(),
            text
        })
        .is_empty()
    );
}
