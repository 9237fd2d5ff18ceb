//! Which file is imported, and of a workbook which sheet.

use std::path::{Path, PathBuf};

/// A file to import.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ImportFile<'f> {
    /// Where it is.
    pub path: &'f Path,
    /// The name of the sheet, where it is a workbook with several.
    pub sheet: Option<&'f str>,
}

impl<'f> From<&'f Path> for ImportFile<'f> {
    fn from(path: &'f Path) -> ImportFile<'f> {
        ImportFile { path, sheet: None }
    }
}

impl<'f> From<&'f PathBuf> for ImportFile<'f> {
    fn from(path: &'f PathBuf) -> ImportFile<'f> {
        path.as_path().into()
    }
}
