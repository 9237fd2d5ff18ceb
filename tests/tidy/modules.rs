//! No source is forgotten: every `.rs` file is named by the file above it.
//!
//! Rust passes silently over a file that no `mod` line names. A forgotten test file is the worst
//! case: it looks like proof and never runs.

use crate::{Source, report, sources};

#[test]
fn every_source_is_named_by_its_parent() {
    let all = sources();
    let faults: Vec<String> = all
        .iter()
        .filter_map(|source| orphan(source, &all))
        .collect();
    report(
        "No `mod` line (or target in a Cargo.toml) names these files, so nothing runs them:",
        &faults,
    );
}

fn orphan(source: &Source, all: &[Source]) -> Option<String> {
    let (folder, file) = source.path.rsplit_once('/')?;
    let stem = file.strip_suffix(".rs")?;
    let package = source.path.split('/').next()?;
    let within_package = source.path.strip_prefix(package)?.trim_start_matches('/');
    let by_default = ["src/lib.rs", "src/main.rs", "build.rs"].contains(&within_package)
        || is_found_by_cargo(within_package);
    let target = format!("\"{within_package}\"");
    let manifest = format!("{package}/Cargo.toml");
    let named_as_target = text_of(all, &manifest).is_some_and(|text| text.contains(&target));
    // Two programs of one folder share a module by its path.
    let by_path = format!("#[path = \"{file}\"]");
    let beside = |other: &&Source| other.path.rsplit_once('/').map(|(of, _)| of) == Some(folder);
    let named_by_path = (all.iter().filter(beside)).any(|other| other.text.contains(&by_path));
    if by_default || named_as_target || named_by_path {
        return None;
    }
    // `history/mod.rs` is the module `history`, named by a file of the folder above.
    let (folder, stem) = match (stem, folder.rsplit_once('/')) {
        ("mod", Some((above, name))) => (above, name),
        _ => (folder, stem),
    };
    let siblings = all.iter().map(|source| source.path.clone());
    let siblings = siblings.filter(|path| is_test_of(path, folder));
    let parents = [
        format!("{folder}.rs"),
        format!("{folder}/lib.rs"),
        format!("{folder}/main.rs"),
        format!("{folder}/mod.rs"),
    ];
    let declared = parents
        .into_iter()
        .chain(siblings)
        .filter(|path| *path != source.path)
        .filter_map(|path| text_of(all, &path))
        .any(|text| declares(text, stem));
    (!declared).then(|| source.path.clone())
}

/// `tests/name.rs`, `tests/name/main.rs`, `examples/name.rs`: Cargo makes a target of each by itself (the package `tests`
/// has turned that off and has no such folder).
fn is_found_by_cargo(within_package: &str) -> bool {
    let parts: Vec<&str> = within_package.split('/').collect();
    let alone = parts.len() == 2 || (parts.len() == 3 && parts[2] == "main.rs");
    alone && ["tests", "examples", "benches"].contains(&parts[0])
}

/// Is this a file of the folder of tests `api/tests` or `reports/tests`?
fn is_test_of(path: &str, folder: &str) -> bool {
    folder.ends_with("/tests") && path.rsplit_once('/').is_some_and(|(of, _)| of == folder)
}

fn text_of<'a>(all: &'a [Source], path: &str) -> Option<&'a str> {
    all.iter()
        .find(|source| source.path == path)
        .map(|source| source.text.as_str())
}

fn declares(text: &str, stem: &str) -> bool {
    let line = format!("mod {stem};");
    text.lines().any(|l| {
        let l = l.trim();
        l == line || (l.starts_with("pub") && l.ends_with(&format!(" {line}")))
    })
}

#[test]
fn a_planted_orphan_is_found() {
    let source = |path: &str, text: &str| Source {
        path: path.to_owned(),
        text: text.to_owned(),
    };
    let all = [
        source(
            "tests/Cargo.toml",
            "path = \"service/main.rs\"\npath = \"faults/writer.rs\"",
        ),
        source(
            "tests/service/main.rs",
            "mod charging;\n// mod forgotten;\n",
        ),
        source("tests/service/charging.rs", ""),
        source("tests/service/forgotten.rs", ""),
        source("tests/faults/writer.rs", ""),
        source("api/src/lib.rs", "pub mod store;"),
        source("api/src/store.rs", "mod db;\npub(crate) mod heads;"),
        source("api/src/store/db.rs", ""),
        source("api/src/store/heads.rs", ""),
        source("api/src/store/attic.rs", ""),
        source("reports/tests/days.rs", "mod history;"),
        source("reports/tests/history/mod.rs", ""),
        source("reports/tests/forgotten/mod.rs", ""),
    ];
    let orphans: Vec<String> = all.iter().filter_map(|s| orphan(s, &all)).collect();
    assert_eq!(
        orphans,
        [
            "tests/service/forgotten.rs",
            "api/src/store/attic.rs",
            "reports/tests/forgotten/mod.rs"
        ]
    );
}
