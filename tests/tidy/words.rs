//! Words that must not be committed.
//!
//! Paths of one person's machine, hosts of package registries and unfinished work do not belong in
//! a repository that others build from. The words are put together here, so that this file does
//! not find itself.

use crate::{Source, report, sources};

fn forbidden() -> Vec<String> {
    let pieces: &[(&str, &str)] = &[
        ("todo", "!("),
        ("unimplemented", "!("),
        ("FIX", "ME"),
        ("/wo", "rk/"),
        ("/ro", "ot/"),
        ("/ho", "me/"),
        ("/tmp", "/h/"),
        ("seed", " document"),
        ("crates", ".io"),
        ("pypi", ".org"),
        ("registry", ".npmjs"),
        ("proxy.golang", ".org"),
        ("deb.debian", ".org"),
    ];
    pieces
        .iter()
        .map(|(left, right)| format!("{left}{right}"))
        .collect()
}

#[test]
fn no_forbidden_word_is_committed() {
    let faults: Vec<String> = sources().iter().flat_map(spoken).collect();
    report("Take these out:", &faults);
}

fn spoken(source: &Source) -> Vec<String> {
    let mut faults = Vec::new();
    for (number, line) in source.text.lines().enumerate() {
        for word in forbidden() {
            if line.contains(&word) {
                faults.push(format!("{}:{}: {word}", source.path, number + 1));
            }
        }
    }
    faults
}

#[test]
fn a_planted_word_is_found() {
    for word in forbidden() {
        let source = Source {
            path: "x".to_owned(),
            text: format!("a\nb {word} c"),
        };
        assert_eq!(spoken(&source).len(), 1, "{word}");
    }
}
