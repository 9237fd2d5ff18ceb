//! Writes a bundle.

use super::{DisclosureLine, README, attachment_path, disclosures_path};
use crate::ledger::checkpoint::{Checkpoint, Note};
use crate::ledger::entry::Leaf;
use crate::ledger::source::{BookSource, SourceError, StoredEntry};
use crate::ledger::tiles::{FULL, TileBuilder, TileKind, TilePath, append_entry, tile_bytes};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use std::io::Write;

/// How many checkpoints are read at once.
const PAGE: usize = 1000;

/// What a bundle holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// The checkpoint it reaches to.
    pub checkpoint: Checkpoint,
    /// How many checkpoints are in it.
    pub checkpoints: u64,
}

/// Writes the book up to its newest checkpoint. Sign one first: what came after is left out.
pub fn write(source: &mut dyn BookSource, out: &mut dyn Write) -> Result<Written, SourceError> {
    let newest = newest_checkpoint(source)?;
    let checkpoint = Checkpoint::from_text(&Note::parse(&newest)?.text)?;
    let size = checkpoint.size;
    if source.size()? < size {
        return Err(
            format!("the newest checkpoint covers {size} entries; some are missing").into(),
        );
    }
    let mut tar = Tar {
        tar: tar::Builder::new(out),
    };
    tar.add("README.txt", README.as_bytes())?;
    tar.add("vkeys", vkeys(source)?.as_bytes())?;
    tar.add("checkpoint", newest.as_bytes())?;
    let checkpoints = tar.checkpoints(source)?;
    tar.entries(source, size)?;
    source.attachments(&mut |hash, bytes| tar.add(&attachment_path(&hash), bytes))?;
    tar.tar.into_inner()?.flush()?;
    Ok(Written {
        checkpoint,
        checkpoints,
    })
}

fn newest_checkpoint(source: &mut dyn BookSource) -> Result<String, SourceError> {
    let mut newest = None;
    let mut above = 0;
    loop {
        let page = source.checkpoints(above, PAGE)?;
        let Some(last) = page.last() else { break };
        above = last.size;
        newest = Some(last.note.clone());
    }
    newest.ok_or_else(|| "the book has no checkpoint yet: sign one first".into())
}

fn vkeys(source: &mut dyn BookSource) -> Result<String, SourceError> {
    let first = source.block(0)?.into_iter().next();
    let first = first.ok_or("the book has no entries")?;
    let leaf = Leaf::parse(&first.leaf)?;
    let keys = leaf
        .body
        .keys
        .ok_or("the first entry of the book names no keys")?;
    Ok(format!("{}\n{}\n", keys.signing, keys.recovery))
}

struct Tar<W: Write> {
    tar: tar::Builder<W>,
}

impl<W: Write> Tar<W> {
    fn add(&mut self, path: &str, bytes: &[u8]) -> Result<(), SourceError> {
        let mut header = tar::Header::new_ustar();
        header.set_size(bytes.len() as u64);
        header.set_mode(0o644);
        header.set_uid(0);
        header.set_gid(0);
        header.set_mtime(0);
        Ok(self.tar.append_data(&mut header, path, bytes)?)
    }

    fn checkpoints(&mut self, source: &mut dyn BookSource) -> Result<u64, SourceError> {
        let (mut above, mut count) = (0, 0);
        loop {
            let page = source.checkpoints(above, PAGE)?;
            for checkpoint in &page {
                let path = format!("checkpoints/{}", checkpoint.size);
                self.add(&path, checkpoint.note.as_bytes())?;
                above = checkpoint.size;
                count += 1;
            }
            if page.is_empty() {
                return Ok(count);
            }
        }
    }

    fn entries(&mut self, source: &mut dyn BookSource, size: u64) -> Result<(), SourceError> {
        let mut tiles = TileBuilder::new();
        for block in 0..size.div_ceil(FULL as u64) {
            let mut entries = source.block(block)?;
            entries.retain(|entry| entry.seq < size);
            self.block(block, &entries, size)?;
            let mut filled = Vec::new();
            for entry in &entries {
                tiles.push(entry.hash, |path, hashes| {
                    filled.push((path, tile_bytes(hashes)))
                });
            }
            for (path, bytes) in filled.iter().filter(|(path, _)| !is_lowest(path)) {
                self.add(&path.to_string(), bytes)?;
            }
            self.disclosures(source, block, size)?;
        }
        for (path, hashes) in tiles.partial_tiles().filter(|(path, _)| !is_lowest(path)) {
            self.add(&path.to_string(), &tile_bytes(hashes))?;
        }
        Ok(())
    }

    /// An entry bundle and the level-0 tile of the hashes kept beside its leaves.
    fn block(&mut self, block: u64, entries: &[StoredEntry], size: u64) -> Result<(), SourceError> {
        let first = block * FULL as u64;
        let width = (size - first).min(FULL as u64) as u16;
        let mut bundle = Vec::new();
        let mut hashes = Vec::with_capacity(FULL);
        for (expected, entry) in (first..).zip(entries) {
            if entry.seq != expected {
                return Err(format!("entry no. {expected} is missing").into());
            }
            append_entry(&mut bundle, &entry.leaf)
                .ok_or_else(|| format!("entry no. {expected} is longer than 65535 bytes"))?;
            hashes.push(entry.hash);
        }
        if entries.len() != usize::from(width) {
            return Err(format!("entry no. {} is missing", first + entries.len() as u64).into());
        }
        let path = TilePath {
            kind: TileKind::Entries,
            index: block,
            width,
        };
        self.add(&path.to_string(), &bundle)?;
        let path = TilePath {
            kind: TileKind::Hashes(0),
            index: block,
            width,
        };
        self.add(&path.to_string(), &tile_bytes(&hashes))
    }

    fn disclosures(
        &mut self,
        source: &mut dyn BookSource,
        block: u64,
        size: u64,
    ) -> Result<(), SourceError> {
        let mut lines = Vec::new();
        for disclosure in source
            .disclosures(block)?
            .into_iter()
            .filter(|d| d.seq < size)
        {
            let line = DisclosureLine {
                field: disclosure.field,
                salt: STANDARD.encode(disclosure.salt),
                seq: disclosure.seq,
                value: disclosure.value,
            };
            serde_json::to_writer(&mut lines, &line)?;
            lines.push(b'\n');
        }
        if lines.is_empty() {
            Ok(())
        } else {
            self.add(&disclosures_path(block), &lines)
        }
    }
}

fn is_lowest(path: &TilePath) -> bool {
    path.kind == TileKind::Hashes(0)
}
