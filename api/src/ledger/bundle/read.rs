//! Reads a bundle, as a book that can be checked.

use super::{DisclosureLine, attachment_path, disclosures_path};
use crate::ledger::source::{
    BookSource, Disclosure, SourceError, StoredCheckpoint, StoredEntry, VisitAttachment,
};
use crate::ledger::tiles::{FULL, TileKind, TilePath, read_entries, read_tile};
use crate::ledger::tree::Hash;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use std::collections::{BTreeMap, HashMap};
use std::fmt::Display;
use std::fs::File;
use std::io::{BufReader, ErrorKind, Read, Seek, SeekFrom};
use std::path::Path;

/// No member may be longer: what we write stays far below, and a stranger's file must not fill the
/// memory.
const LONGEST_MEMBER: u64 = 256 << 20;

/// Where a member stands in the file.
#[derive(Clone, Copy)]
struct Span {
    at: u64,
    length: u64,
}

/// A bundle that has been opened: the names of its members are known, their content is not read yet.
pub struct Bundle<R> {
    file: R,
    tiles: HashMap<TilePath, Span>,
    /// Width of the entry bundle of each block.
    widths: BTreeMap<u64, u16>,
    checkpoints: BTreeMap<u64, Span>,
    attachments: BTreeMap<Hash, Span>,
    disclosures: HashMap<String, Span>,
    others: Vec<String>,
}

impl Bundle<BufReader<File>> {
    /// Opens a bundle file.
    pub fn open(path: &Path) -> Result<Self, SourceError> {
        Bundle::new(BufReader::new(File::open(path)?))
    }
}

impl<R: Read + Seek> Bundle<R> {
    /// Reads the names of the members; the same name twice, or anything but plain files, is refused.
    pub fn new(file: R) -> Result<Self, SourceError> {
        let mut archive = tar::Archive::new(file);
        let mut members = HashMap::new();
        for member in archive.entries_with_seek()? {
            let after = members.len();
            let member = member.map_err(|error| no_tar(error, after))?;
            let name = String::from_utf8(member.path_bytes().into_owned())
                .map_err(|error| format!("{:?} is no name of a member", error.as_bytes()))?;
            if !member.header().entry_type().is_file() {
                return Err(format!("{name} is no plain file").into());
            }
            if member.size() > LONGEST_MEMBER {
                return Err(format!("{name} is longer than {LONGEST_MEMBER} bytes").into());
            }
            let span = Span {
                at: member.raw_file_position(),
                length: member.size(),
            };
            if members.insert(name.clone(), span).is_some() {
                return Err(format!("{name} is there twice").into());
            }
        }
        let mut bundle = Bundle {
            file: archive.into_inner(),
            tiles: HashMap::new(),
            widths: BTreeMap::new(),
            checkpoints: BTreeMap::new(),
            attachments: BTreeMap::new(),
            disclosures: HashMap::new(),
            others: Vec::new(),
        };
        for (name, span) in members {
            bundle.sort_in(name, span)?;
        }
        bundle.others.sort_unstable();
        let belong = bundle
            .widths
            .keys()
            .filter(|block| bundle.disclosures.contains_key(&disclosures_path(**block)));
        if belong.count() != bundle.disclosures.len() {
            return Err("a disclosures file belongs to no entries".into());
        }
        Ok(bundle)
    }

    fn sort_in(&mut self, name: String, span: Span) -> Result<(), SourceError> {
        if let Some(path) = TilePath::parse(&name) {
            if path.kind == TileKind::Entries
                && self.widths.insert(path.index, path.width).is_some()
            {
                return Err(format!("the entries of {name} are there twice").into());
            }
            self.tiles.insert(path, span);
        } else if let Some(size) = name.strip_prefix("checkpoints/") {
            let number: u64 = size.parse().map_err(|_| format!("{name} names no size"))?;
            if number.to_string() != size {
                return Err(format!("{name} names no size").into());
            }
            self.checkpoints.insert(number, span);
        } else if let Some(hex) = name.strip_prefix("attachments/") {
            let hash = read_hex(hex).ok_or_else(|| format!("{name} names no SHA-256"))?;
            self.attachments.insert(hash, span);
        } else if name.starts_with("disclosures/") {
            self.disclosures.insert(name, span);
        } else {
            self.others.push(name);
        }
        Ok(())
    }

    /// Members that are no part of the book, `README.txt` and `vkeys` among them: nothing checks
    /// them.
    pub fn others(&self) -> &[String] {
        &self.others
    }

    fn read(&mut self, name: &dyn Display, span: Span) -> Result<Vec<u8>, SourceError> {
        let mut bytes = vec![0; usize::try_from(span.length)?];
        self.file.seek(SeekFrom::Start(span.at))?;
        match self.file.read_exact(&mut bytes) {
            Err(error) if error.kind() == ErrorKind::UnexpectedEof => Err(format!(
                "{name} is cut off: the file ends before its {} bytes",
                span.length
            )
            .into()),
            read => read.map(|()| bytes).map_err(SourceError::from),
        }
    }

    fn hashes(&mut self, path: TilePath) -> Result<Option<Vec<Hash>>, SourceError> {
        let Some(span) = self.tiles.get(&path).copied() else {
            return Ok(None);
        };
        let hashes = read_tile(&self.read(&path, span)?);
        match hashes.filter(|hashes| hashes.len() == usize::from(path.width)) {
            Some(hashes) => Ok(Some(hashes)),
            None => Err(format!("{path} does not hold {} hashes", path.width).into()),
        }
    }
}

impl<R: Read + Seek> BookSource for Bundle<R> {
    fn size(&mut self) -> Result<u64, SourceError> {
        let last = self.widths.last_key_value();
        Ok(last.map_or(0, |(block, width)| block * FULL as u64 + u64::from(*width)))
    }

    fn block(&mut self, block: u64) -> Result<Vec<StoredEntry>, SourceError> {
        let Some(width) = self.widths.get(&block).copied() else {
            return Ok(Vec::new());
        };
        let path = TilePath {
            kind: TileKind::Entries,
            index: block,
            width,
        };
        let span = self
            .tiles
            .get(&path)
            .copied()
            .ok_or_else(|| format!("{path} is missing"))?;
        let bytes = self.read(&path, span)?;
        let leaves = read_entries(&bytes).filter(|leaves| leaves.len() == usize::from(width));
        let leaves = leaves.ok_or_else(|| format!("{path} does not hold {width} entries"))?;
        let path = TilePath {
            kind: TileKind::Hashes(0),
            index: block,
            width,
        };
        let hashes = self
            .hashes(path)?
            .ok_or_else(|| format!("{path} is missing"))?;
        let first = block * FULL as u64;
        let entries = leaves.iter().zip(hashes).zip(first..);
        let stored = entries.map(|((leaf, hash), seq)| StoredEntry {
            seq,
            leaf: leaf.to_vec(),
            hash,
            columns: None,
        });
        Ok(stored.collect())
    }

    fn disclosures(&mut self, block: u64) -> Result<Vec<Disclosure>, SourceError> {
        let path = disclosures_path(block);
        let Some(span) = self.disclosures.get(&path).copied() else {
            return Ok(Vec::new());
        };
        let bytes = self.read(&path, span)?;
        let mut disclosures = Vec::new();
        for (line, number) in bytes.split_inclusive(|byte| *byte == b'\n').zip(1..) {
            let line: DisclosureLine = serde_json::from_slice(line)
                .map_err(|error| format!("{path}: line {number}: {error}"))?;
            let salt = STANDARD.decode(&line.salt).ok();
            let salt = salt.and_then(|salt| salt.try_into().ok()).ok_or_else(|| {
                format!("{path}: line {number}: a salt is not 32 bytes in base64")
            })?;
            let DisclosureLine {
                seq, field, value, ..
            } = line;
            disclosures.push(Disclosure {
                seq,
                field,
                salt,
                value,
            });
        }
        Ok(disclosures)
    }

    fn checkpoints(
        &mut self,
        above: u64,
        limit: usize,
    ) -> Result<Vec<StoredCheckpoint>, SourceError> {
        let spans = self
            .checkpoints
            .range(above.saturating_add(1)..)
            .take(limit);
        let spans: Vec<(u64, Span)> = spans.map(|(size, span)| (*size, *span)).collect();
        let mut checkpoints = Vec::with_capacity(spans.len());
        for (size, span) in spans {
            let name = format!("checkpoints/{size}");
            let note = String::from_utf8(self.read(&name, span)?);
            let note = note.map_err(|_| format!("{name} is not UTF-8"))?;
            checkpoints.push(StoredCheckpoint { size, note });
        }
        Ok(checkpoints)
    }

    fn attachments(&mut self, visit: VisitAttachment<'_>) -> Result<(), SourceError> {
        let spans: Vec<(Hash, Span)> = self.attachments.iter().map(|(h, s)| (*h, *s)).collect();
        for (hash, span) in spans {
            let bytes = self.read(&attachment_path(&hash), span)?;
            visit(hash, &bytes)?;
        }
        Ok(())
    }

    fn tile(&mut self, path: TilePath) -> Result<Option<Vec<Hash>>, SourceError> {
        self.hashes(path)
    }
}

/// What is wrong with a file that is there and is no whole tar file; errors of the disk stay as they
/// are.
fn no_tar(error: std::io::Error, after: usize) -> SourceError {
    if error.raw_os_error().is_some() {
        return error.into();
    }
    format!("expected a whole tar file, found after {after} members: {error}").into()
}

/// 64 hexadecimal digits in lower case.
fn read_hex(hex: &str) -> Option<Hash> {
    let digits: Option<Vec<u8>> = hex
        .bytes()
        .map(|byte| match byte {
            b'0'..=b'9' => Some(byte - b'0'),
            b'a'..=b'f' => Some(byte - b'a' + 10),
            _ => None,
        })
        .collect();
    let (pairs, rest) = digits.as_ref()?.as_chunks::<2>();
    let bytes: Vec<u8> = pairs.iter().map(|[high, low]| high * 16 + low).collect();
    if rest.is_empty() {
        bytes.try_into().ok()
    } else {
        None
    }
}
