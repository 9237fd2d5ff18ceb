//! The map of the repository, checked.
//!
//! DEVELOPERS.md draws rooms with arrows between them, sizes of files, pairs of migrations and a
//! short top level. A drawing that nobody checks is wrong within a month, so this program reads
//! the sources and compares. Each check says which file and line breaks it and what to do.
//! Every finder has a test of its own with a planted fault: a check that cannot fail is none.

mod dependencies;
mod files;
mod migrations;
mod modules;
mod plans;
mod rooms;
mod statements;
mod words;

use std::path::PathBuf;

/// One text file of the repository.
pub struct Source {
    /// Path from the top of the repository, with forward slashes.
    pub path: String,
    /// What it says.
    pub text: String,
}

/// The top of the repository.
pub fn top() -> PathBuf {
    let tests = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    tests
        .parent()
        .expect("tests/ lies in the repository")
        .to_path_buf()
}

/// Every text file that people wrote: not what is built, fetched or locked.
pub fn sources() -> Vec<Source> {
    let mut found = Vec::new();
    let mut folders = vec![top()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).expect("a readable folder") {
            let path = entry.expect("a readable entry").path();
            let name = path
                .file_name()
                .expect("a name")
                .to_string_lossy()
                .into_owned();
            let skipped = [
                "target",
                ".git",
                "node_modules",
                "__pycache__",
                "Cargo.lock",
            ];
            if skipped.contains(&name.as_str()) || name.ends_with(".proptest-regressions") {
                continue;
            }
            if path.is_dir() {
                folders.push(path);
            } else if let Ok(text) = std::fs::read_to_string(&path) {
                let relative = path.strip_prefix(top()).expect("below the top");
                let path = relative.to_string_lossy().replace('\\', "/");
                found.push(Source { path, text });
            }
        }
    }
    found.sort_by(|a, b| a.path.cmp(&b.path));
    assert!(
        found.len() > 20,
        "only {} files found: the walk is broken",
        found.len()
    );
    found
}

/// Fails with every fault on a line of its own.
pub fn report(what_to_do: &str, faults: &[String]) {
    assert!(faults.is_empty(), "{what_to_do}\n  {}", faults.join("\n  "));
}
