//! The ten rule sets that come with the crate.

use std::path::Path;

/// Their file names and texts, by name.
pub fn files() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    for entry in std::fs::read_dir(root.join("rules")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|it| it == "toml") {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            files.push((name, std::fs::read_to_string(&path).unwrap()));
        }
    }
    assert_eq!(files.len(), 10);
    files.sort();
    files
}
