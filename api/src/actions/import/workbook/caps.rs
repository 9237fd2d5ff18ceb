//! How large a workbook may be, looked at before anything of it is read.
//!
//! What is packed in it is unpacked once into nothing and measured, because a file says what it likes
//! about its own sizes: a few kilobytes can unpack to gigabytes.

use super::Wrong;
use memchr::memmem;
use std::io::{Cursor, Read};
use zip::ZipArchive;
use zip::read::ZipFile;
use zip::result::ZipError;

/// Largest workbook in bytes: what an import may hold and the book keeps with it.
pub const LARGEST: u64 = 10 * 1024 * 1024;

/// Most that its sheets may unpack to. About 100 000 rows of a dozen cells.
const SHEETS: u64 = 128 * 1024 * 1024;

/// Most that any other part may unpack to; the texts of the cells stand in one of them, and in memory.
const OTHER: u64 = 16 * 1024 * 1024;

/// Which kind of workbook it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Office Open XML.
    Xlsx,
    /// OpenDocument.
    Ods,
}

/// Looks through a file.
pub fn looked_through(bytes: &[u8]) -> Result<Kind, Wrong> {
    if bytes.starts_with(b"\xd0\xcf\x11\xe0") {
        return Err(compound(bytes));
    }
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|why| Wrong::damaged(&why))?;
    let mut left = SHEETS;
    let (mut is_xlsx, mut is_ods) = (false, false);
    for index in 0..archive.len() {
        let mut part = archive.by_index(index).map_err(|why| match why {
            ZipError::UnsupportedArchive(ZipError::PASSWORD_REQUIRED) => encrypted(),
            why => Wrong::damaged(&why),
        })?;
        let name = part
            .name()
            .map_err(|why| Wrong::damaged(&why))?
            .into_owned();
        let beginning = measured(&mut part, &name, &mut left)?;
        let has = |text: &str| memmem::find(&beginning, text.as_bytes()).is_some();
        match name.as_str() {
            "[Content_Types].xml" => is_xlsx = has("spreadsheetml"),
            "mimetype" => is_ods = has("opendocument.spreadsheet"),
            "META-INF/manifest.xml" if has("encryption-data") => return Err(encrypted()),
            _ => {}
        }
    }
    match (is_xlsx, is_ods) {
        (true, _) => Ok(Kind::Xlsx),
        (_, true) => Ok(Kind::Ods),
        _ => Err(Wrong::new(
            "a workbook as XLSX or ODS",
            "another packed file",
            "Save the sheet as XLSX, ODS or CSV UTF-8.",
        )),
    }
}

/// Unpacks a part into nothing, and gives its beginning.
fn measured(
    part: &mut ZipFile<'_, Cursor<&[u8]>>,
    name: &str,
    left: &mut u64,
) -> Result<Vec<u8>, Wrong> {
    let mut beginning = Vec::new();
    let read = part.by_ref().take(64 * 1024).read_to_end(&mut beginning);
    read.map_err(|why| Wrong::damaged(&why))?;
    let is_sheet = name == "content.xml" || memmem::find(&beginning, b"sheetData").is_some();
    let most = if is_sheet { *left } else { OTHER };
    let seen = beginning.len() as u64;
    let more = (most + 1).saturating_sub(seen);
    let rest = std::io::copy(&mut part.take(more), &mut std::io::sink());
    let size = seen + rest.map_err(|why| Wrong::damaged(&why))?;
    if size > most || counts_too_many(&beginning, size) {
        return Err(too_large(most, name));
    }
    if is_sheet {
        *left -= size;
    }
    Ok(beginning)
}

/// Whether a part says that it holds more texts than its size can: memory would be taken for them.
fn counts_too_many(beginning: &[u8], size: u64) -> bool {
    let Some(at) = memmem::find(beginning, b"uniqueCount=") else {
        return false;
    };
    let digits = beginning[at + 12..].iter().skip(1);
    let digits: Vec<u8> = digits
        .take_while(|byte| byte.is_ascii_digit())
        .copied()
        .collect();
    let count = std::str::from_utf8(&digits)
        .unwrap_or_default()
        .parse::<u64>();
    // `<si/>` is the shortest text.
    !digits.is_empty() && !count.is_ok_and(|count| count <= size / 5)
}

fn too_large(most: u64, name: &str) -> Wrong {
    let expected = format!(
        "a workbook whose sheets unpack to at most {} MiB, and each other part to {} MiB",
        SHEETS >> 20,
        OTHER >> 20
    );
    let came = format!("more than {} MiB in {}", most >> 20, super::quoted(name));
    Wrong::new(
        expected,
        came,
        "Save the sheet as CSV UTF-8 and import that file; it may be larger.",
    )
}

fn encrypted() -> Wrong {
    let remedy = "Save a copy without a password and import that.";
    Wrong::new("a workbook without a password", "an encrypted one", remedy)
}

/// A compound file: an encrypted workbook, or one of the format before 2007.
fn compound(bytes: &[u8]) -> Wrong {
    let name: Vec<u8> = "EncryptedPackage"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    if memmem::find(bytes, &name).is_some() {
        return encrypted();
    }
    Wrong::new(
        "a workbook as XLSX or ODS",
        "one of the older format XLS",
        "Save it as XLSX, ODS or CSV UTF-8.",
    )
}
