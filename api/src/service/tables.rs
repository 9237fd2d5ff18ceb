//! Saturation tables of manufacturers, from a folder that the settings name.
//!
//! They are read before anything is started, so that a digit that was mistyped is said with its file and
//! line where somebody can mend it, and never found by a technician.

use crate::config::{Config, ConfigError};
use reports::physics::{ManufacturerTable, SaturationTable};
use std::path::{Path, PathBuf};

/// Most bytes of a table; a sheet has some hundred lines.
const LARGEST: u64 = 1024 * 1024;

/// The tables of the folder, by the names of their files; none where no folder is named.
pub fn of(config: &Config) -> Result<Vec<ManufacturerTable>, ConfigError> {
    let Some(folder) = config.get("saturation_tables") else {
        return Ok(Vec::new());
    };
    let folder = Path::new(folder);
    let wrong = |why: &str| {
        let text = format!(
            "expected saturation_tables to name a folder with .csv files, came '{}': {why}.",
            folder.display()
        );
        ConfigError(text)
    };
    let listed = std::fs::read_dir(folder).map_err(|error| wrong(&error.to_string()))?;
    let mut files: Vec<PathBuf> = (listed.flatten())
        .map(|file| file.path())
        .filter(|path| path.extension().is_some_and(|end| end == "csv"))
        .collect();
    files.sort();
    if files.is_empty() {
        return Err(wrong("there is none in it"));
    }
    files.iter().map(|path| table(path)).collect()
}

fn table(path: &Path) -> Result<ManufacturerTable, ConfigError> {
    let wrong = |why: String| ConfigError(format!("{}: {why}", path.display()));
    let size = std::fs::metadata(path).map_or(0, |file| file.len());
    if size > LARGEST {
        return Err(wrong(format!(
            "expected a saturation table of at most {LARGEST} bytes, came {size}."
        )));
    }
    let text = std::fs::read_to_string(path).map_err(|error| wrong(error.to_string()))?;
    ManufacturerTable::read(&text).map_err(|problem| wrong(problem.to_string()))
}

/// Puts the tables beside the shipped ones, for as long as the program runs.
pub fn add(tables: &[ManufacturerTable]) -> Result<(), ConfigError> {
    if tables.is_empty() {
        return Ok(());
    }
    let refused = |problem: reports::physics::Problem| ConfigError(problem.to_string());
    SaturationTable::add(tables).map_err(refused)?;
    for table in tables {
        tracing::info!(
            refrigerant = table.refrigerant,
            source = table.source,
            "saturation table of a manufacturer"
        );
    }
    Ok(())
}
