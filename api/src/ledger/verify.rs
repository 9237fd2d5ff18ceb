//! Checks a whole book, from a database or from a bundle.
//!
//! [`verify`] reads every entry once and compares everything that must agree: numbers, leaf bytes
//! and hashes, the tree and every checkpoint ever signed (and those an auditor brings along), ids,
//! times, the counts of appliances and cylinders, masses against what was typed or read from a
//! scale, corrections, opened commitments, attachments, and the columns of a database against the
//! leaves. It finds all breaks, not only the first; each names its entry and says what was expected
//! and what was found. That all masses of a refrigerant add up to zero needs no check of its own:
//! a movement has one mass and two ends.
//!
//! A kind, member or frame this program does not know proves its place in the tree and is counted
//! as *not understood*; no figure is worked out from it.

mod attachments;
mod corrections;
mod entries;
mod masses;
mod order;
mod report;
mod signatures;
mod stated;

use super::canonical;
use super::checkpoint::{Note, VerificationKey};
use super::entry::{EntryKind, Leaf};
use super::source::{BookSource, SourceError, StoredEntry};
use super::tiles::{FULL, TileBuilder, TileKind, TilePath};
use super::tree::{Frontier, Hash, leaf_hash};
use attachments::Attachments;
use corrections::Chains;
use order::Order;
pub use report::{Break, Check, Report};
use signatures::Signatures;

/// How to check.
#[derive(Clone, Debug)]
pub struct Options {
    /// Keys known from elsewhere. When there are any, only their signatures count and the book must
    /// have begun with one of them; when there are none, the keys of the book's own first entry are
    /// believed.
    pub keys: Vec<VerificationKey>,
    /// No entry may stand after the newest checkpoint. True of a bundle; a book at work has entries
    /// that wait for theirs.
    pub signed_to_its_end: bool,
    /// At most so many breaks are written out; all are counted.
    pub most_breaks: usize,
}

impl Default for Options {
    fn default() -> Options {
        Options {
            keys: Vec::new(),
            signed_to_its_end: false,
            most_breaks: 1000,
        }
    }
}

/// Checks the book. `trusted` are signed checkpoints an auditor has kept: the book must still hold
/// what they were signed over. An error means that the book could not be read to its end.
pub fn verify(
    source: &mut dyn BookSource,
    trusted: &[Note],
    options: &Options,
) -> Result<Report, SourceError> {
    let mut check = Verification {
        report: Report::new(options.most_breaks),
        order: Order::default(),
        chains: Chains::default(),
        attachments: Attachments::default(),
        signatures: Signatures::new(trusted, options),
        frontier: Frontier::new(),
        tiles: TileBuilder::new(),
        tree_is_whole: true,
    };
    let size = source.size()?;
    for block in 0..size.div_ceil(FULL as u64) {
        check.block(source, block, size)?;
    }
    check.partial_tiles(source)?;
    check.signatures.finish(
        source,
        &check.frontier,
        check.tree_is_whole,
        &mut check.report,
    )?;
    check.order.finish(&mut check.report);
    check.attachments.finish(source, &mut check.report)?;
    check.report.entries = size;
    check.report.root = check.frontier.root();
    Ok(check.report)
}

/// What is known of the book so far.
struct Verification {
    report: Report,
    order: Order,
    chains: Chains,
    attachments: Attachments,
    signatures: Signatures,
    frontier: Frontier,
    tiles: TileBuilder,
    /// False from the first missing entry on: no root can be worked out after it.
    tree_is_whole: bool,
}

impl Verification {
    fn block(
        &mut self,
        source: &mut dyn BookSource,
        block: u64,
        size: u64,
    ) -> Result<(), SourceError> {
        let stored = source.block(block)?;
        let disclosures = source.disclosures(block)?;
        let first = block * FULL as u64;
        let end = size.min(first + FULL as u64);
        let mut leaves = Vec::with_capacity(stored.len());
        let mut expected = first;
        for entry in &stored {
            self.missing(expected..entry.seq.min(end));
            if entry.seq < expected || entry.seq >= end {
                let range = format!("numbers {expected} to {} in order", end.saturating_sub(1));
                self.report.add(
                    Check::Sequence,
                    entry.seq,
                    range,
                    format!("no. {}", entry.seq),
                );
                continue;
            }
            expected = entry.seq + 1;
            self.tree(source, entry)?;
            let leaf = self.leaf(entry);
            if let Some(leaf) = &leaf {
                let taken_back = self.chains.service_taken_back(leaf);
                entries::check_columns(entry, leaf, taken_back, &mut self.report);
            }
            leaves.push((entry.seq, leaf.map(entries::Committed::of)));
            self.signatures.reached(
                source,
                &self.frontier,
                self.tree_is_whole,
                &mut self.report,
            )?;
        }
        self.missing(expected..end);
        entries::check_disclosures(&leaves, &disclosures, &mut self.report);
        Ok(())
    }

    fn missing(&mut self, numbers: std::ops::Range<u64>) {
        for seq in numbers {
            self.tree_is_whole = false;
            self.order.gap();
            self.chains.gap();
            self.report.add(Check::Sequence, seq, "an entry", "none");
        }
    }

    /// The leaf's hash against the one kept beside it, and into the tree.
    fn tree(
        &mut self,
        source: &mut dyn BookSource,
        entry: &StoredEntry,
    ) -> Result<(), SourceError> {
        let hash = leaf_hash(&entry.leaf);
        if hash != entry.hash {
            let (computed, kept) = (report::base64(&hash), report::base64(&entry.hash));
            self.report.add(
                Check::LeafHash,
                entry.seq,
                format!("the leaf's hash {computed}"),
                kept,
            );
        }
        if !self.tree_is_whole {
            return Ok(());
        }
        self.frontier.push(hash);
        let mut filled = Vec::new();
        self.tiles
            .push(hash, |path, hashes| filled.push((path, hashes.to_vec())));
        // Level 0 holds the hashes kept beside the leaves, which are compared above.
        for (path, hashes) in filled.into_iter().skip(1) {
            self.tile(source, path, &hashes)?;
        }
        Ok(())
    }

    fn partial_tiles(&mut self, source: &mut dyn BookSource) -> Result<(), SourceError> {
        let tiles = self.tiles.clone();
        for (path, hashes) in tiles.partial_tiles() {
            if self.tree_is_whole && path.kind != TileKind::Hashes(0) {
                self.tile(source, path, hashes)?;
            }
        }
        Ok(())
    }

    fn tile(
        &mut self,
        source: &mut dyn BookSource,
        path: TilePath,
        hashes: &[Hash],
    ) -> Result<(), SourceError> {
        if source.tile(path)?.is_some_and(|kept| kept != hashes) {
            let last = self.frontier.size().checked_sub(1);
            let expected = "the hashes that follow from the leaves";
            self.report
                .add(Check::Tile, last, expected, format!("others in {path}"));
        }
        Ok(())
    }

    /// Everything the leaf says by itself and after those before it.
    fn leaf<'e>(&mut self, entry: &'e StoredEntry) -> Option<Leaf<'e>> {
        if let Err(error) = canonical::check(&entry.leaf) {
            self.report.add(
                Check::Canonical,
                entry.seq,
                "canonical JSON (RFC 8785)",
                error,
            );
        }
        let leaf = Leaf::parse(&entry.leaf).ok();
        let frame = match &leaf {
            Some(leaf) => Some(order::Frame::of(leaf)),
            None => order::Frame::parse(&entry.leaf),
        };
        let Some(frame) = frame else {
            self.order.gap();
            self.chains.gap();
            self.report.add(
                Check::Frame,
                entry.seq,
                "the frame of an entry",
                "something else",
            );
            return None;
        };
        self.order.check(entry.seq, &frame, &mut self.report);
        let known = |leaf: &Leaf<'_>| leaf.v == 1 && EntryKind::named(&leaf.kind).is_some();
        if !leaf.as_ref().is_some_and(known) {
            self.chains.gap();
            self.report.not_understood(&frame.kind);
            return None;
        }
        let leaf = leaf?;
        self.signatures.learn(entry.seq, &leaf, &mut self.report);
        masses::check(entry.seq, &leaf, &mut self.report);
        stated::check(entry.seq, &leaf, &mut self.report);
        self.chains
            .check(entry.seq, &leaf, &mut self.order, &mut self.report);
        self.attachments.learn(entry.seq, &leaf, &mut self.report);
        Some(leaf)
    }
}

#[cfg(test)]
mod tests;
