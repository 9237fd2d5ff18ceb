//! Licences of everything we build from, and dependencies that nobody uses.
//!
//! The list of licences is the one of deploy/deny.toml. Cargo itself says which crates there are,
//! so this needs no further tool; known advisories are cargo-deny's business.

use crate::{report, sources, top};
use std::process::Command;

/// What we accept. An expression passes when one of its `OR` branches holds only these.
const ACCEPTED: &[&str] = &[
    "MIT",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "MPL-2.0",
    "Unicode-3.0",
    "Unicode-DFS-2016",
];

/// Crates under a licence that is not on the list, each with the reason why it is taken.
const EXCEPTED: &[(&str, &str, &str)] = &[
    (
        "pq-src",
        "PostgreSQL",
        "the database's own client library, compiled in so that Rust and a C compiler are enough; \
         its licence is a BSD-like one. Without the feature `bundled-libpq` it is not used.",
    ),
    (
        "quoted_printable",
        "0BSD",
        "BSD without the duty to repeat the notice. The library that writes mail encodes its text \
         with it.",
    ),
    (
        "borrow-or-share",
        "MIT-0",
        "MIT without the duty to repeat the notice. Only tests need it (jsonschema reads its \
         addresses with it); no program that anybody runs holds it.",
    ),
];

/// Dependencies that no source names, with the reason why they are needed all the same.
const UNNAMED: &[(&str, &str)] = &[
    ("libsqlite3-sys", "turns on the bundled SQLite for diesel"),
    ("pq-sys", "turns on the bundled libpq for diesel"),
];

#[test]
fn every_licence_is_accepted() {
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned());
    let output = Command::new(cargo)
        .current_dir(top())
        .args(["metadata", "--locked", "--format-version", "1"])
        .args(["--filter-platform", "x86_64-unknown-linux-gnu"])
        .output()
        .expect("cargo runs");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let packages = metadata["packages"].as_array().expect("packages");
    assert!(packages.len() > 50, "only {} packages", packages.len());
    let mut faults = Vec::new();
    for package in packages {
        let licence = package["license"].as_str().unwrap_or("none");
        let excepted = EXCEPTED
            .iter()
            .any(|(name, its_licence, _)| package["name"] == *name && licence == *its_licence);
        if !excepted && !is_accepted(licence) {
            faults.push(format!("{}: {licence}", package["name"]));
        }
    }
    report("These licences are not on our list:", &faults);
}

#[test]
fn every_dependency_is_used() {
    let all = sources();
    let mut faults = Vec::new();
    for package in ["api", "reports", "tests"] {
        let manifest = std::fs::read_to_string(top().join(package).join("Cargo.toml"));
        let manifest: toml::Table = manifest.expect("a manifest").parse().expect("TOML");
        let folder = format!("{package}/");
        let of_package = all
            .iter()
            .filter(|s| s.path.starts_with(&folder) && s.path.ends_with(".rs"));
        let text: String = of_package.map(|s| s.text.as_str()).collect();
        for table in ["dependencies", "dev-dependencies"] {
            let names = manifest
                .get(table)
                .and_then(|t| t.as_table())
                .cloned()
                .unwrap_or_default();
            faults.extend(unused(names.keys(), &text).map(|name| format!("{package}: {name}")));
        }
    }
    report(
        "No source of the package names these dependencies:",
        &faults,
    );
}

fn unused<'a>(
    names: impl Iterator<Item = &'a String>,
    text: &str,
) -> impl Iterator<Item = &'a String> {
    names.filter(move |name| {
        let word = name.replace('-', "_");
        let named = [
            format!("{word}::"),
            format!("use {word};"),
            format!("{word} as "),
        ];
        !UNNAMED.iter().any(|(unnamed, _)| unnamed == name)
            && !named.iter().any(|form| text.contains(form))
    })
}

/// An SPDX expression: one branch of `OR` is enough, every part of `AND` is needed.
fn is_accepted(expression: &str) -> bool {
    let expression = expression.trim().replace('/', " OR ");
    if let Some(branches) = split_outside_brackets(&expression, " OR ") {
        return branches.iter().any(|branch| is_accepted(branch));
    }
    if let Some(parts) = split_outside_brackets(&expression, " AND ") {
        return parts.iter().all(|part| is_accepted(part));
    }
    match expression
        .strip_prefix('(')
        .and_then(|rest| rest.strip_suffix(')'))
    {
        Some(inner) => is_accepted(inner),
        None => ACCEPTED.contains(&expression.as_str()),
    }
}

/// The pieces between the separators that stand outside all brackets; `None` if there is none.
fn split_outside_brackets(expression: &str, separator: &str) -> Option<Vec<String>> {
    let mut pieces = vec![String::new()];
    for piece in expression.split(separator) {
        let last = pieces.last_mut().expect("never empty");
        let open = last.matches('(').count() > last.matches(')').count();
        if open {
            last.push_str(separator);
            last.push_str(piece);
        } else if last.is_empty() {
            last.push_str(piece);
        } else {
            pieces.push(piece.to_owned());
        }
    }
    (pieces.len() > 1).then_some(pieces)
}

#[test]
fn a_planted_licence_is_refused() {
    for good in [
        "MIT",
        "MIT OR Apache-2.0",
        "MIT/Apache-2.0",
        "Apache-2.0 OR GPL-3.0",
        "(MIT OR Apache-2.0) AND Unicode-3.0",
        "Apache-2.0 WITH LLVM-exception OR MIT",
    ] {
        assert!(is_accepted(good), "{good}");
    }
    for bad in [
        "none",
        "GPL-3.0",
        "MIT AND GPL-2.0",
        "LGPL-2.1 OR AGPL-3.0",
        "",
    ] {
        assert!(!is_accepted(bad), "{bad}");
    }
}

#[test]
fn a_planted_unused_dependency_is_found() {
    let names = [
        "serde".to_owned(),
        "left-pad".to_owned(),
        "libsqlite3-sys".to_owned(),
    ];
    let found: Vec<&String> = unused(names.iter(), "use serde::Deserialize;").collect();
    assert_eq!(found, ["left-pad"]);
}
