//! Where the keys of books lie.

use std::path::{Path, PathBuf};

fn key_file(folder: &Path, log: &str, ending: &str) -> PathBuf {
    folder.join(format!("{}.{ending}", log.trim_start_matches("tarebook/")))
}

/// Where the signing key of a book lies.
pub fn signing_key_file(folder: &Path, log: &str) -> PathBuf {
    key_file(folder, log, "key")
}

/// Where `init` writes the recovery key.
pub fn recovery_key_file(folder: &Path, log: &str) -> PathBuf {
    key_file(folder, log, "recovery")
}
