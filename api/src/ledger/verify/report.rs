//! What a check of a book found.

use crate::ledger::tree::{Hash, empty_root};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use std::collections::BTreeMap;
use std::fmt;

/// What was compared when a break was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Check {
    /// Entries are numbered densely from 0.
    Sequence,
    /// A leaf and the hash kept beside it.
    LeafHash,
    /// A stored tile and the leaves below it.
    Tile,
    /// The one spelling of a leaf.
    Canonical,
    /// The frame: number, book, version.
    Frame,
    /// Ids are unique.
    Id,
    /// Times of booking never decrease.
    BookedAt,
    /// Each appliance's and cylinder's own count.
    Nth,
    /// The first entry and its keys.
    Genesis,
    /// Movements go from one place to another.
    Movement,
    /// Masses follow from what was typed or read.
    Mass,
    /// Corrections reverse what was in force, and each entry is corrected at most once.
    Correction,
    /// Texts open the commitments of their leaves.
    Commitment,
    /// Attachments have the hashes they are named by.
    Attachment,
    /// The columns of a database say what the leaf says.
    Columns,
    /// The book still holds what a checkpoint was signed over.
    Checkpoint,
    /// A checkpoint carries a good signature of the book's keys.
    Signature,
}

impl Check {
    /// The word printed in front of a break.
    pub const fn word(self) -> &'static str {
        match self {
            Check::Sequence => "sequence",
            Check::LeafHash => "leaf hash",
            Check::Tile => "tile",
            Check::Canonical => "canonical form",
            Check::Frame => "frame",
            Check::Id => "id",
            Check::BookedAt => "time of booking",
            Check::Nth => "count of the appliance or cylinder",
            Check::Genesis => "first entry",
            Check::Movement => "movement",
            Check::Mass => "mass",
            Check::Correction => "correction",
            Check::Commitment => "commitment",
            Check::Attachment => "attachment",
            Check::Columns => "columns",
            Check::Checkpoint => "checkpoint",
            Check::Signature => "signature",
        }
    }
}

/// One thing that does not agree.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Break {
    /// What was compared.
    pub check: Check,
    /// The entry's number; of a checkpoint the last entry it covers.
    pub entry: Option<u64>,
    /// What should have been there.
    pub expected: String,
    /// What was there.
    pub found: String,
}

impl fmt::Display for Break {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(entry) = self.entry {
            write!(f, "no. {entry}: ")?;
        }
        write!(
            f,
            "{}: expected {}, found {}",
            self.check.word(),
            self.expected,
            self.found
        )
    }
}

/// What a check of a book found, and how much it looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Report {
    /// The book's origin, as its first entry states it.
    pub origin: Option<String>,
    /// How many entries the book has.
    pub entries: u64,
    /// The root over all of them, worked out from the leaves.
    pub root: Hash,
    /// Checkpoints of the book that were compared with the tree.
    pub checkpoints: u64,
    /// The size of the newest of them; entries after it are not signed yet.
    pub signed_size: u64,
    /// Checkpoints brought along that were compared with the tree.
    pub trusted_checkpoints: u64,
    /// Movements, those of corrections included.
    pub movements: u64,
    /// Masses worked out anew from what was typed or read.
    pub masses: u64,
    /// Corrections.
    pub corrections: u64,
    /// Commitments in the leaves.
    pub commitments: u64,
    /// Texts that opened their commitment.
    pub disclosures: u64,
    /// Attachments.
    pub attachments: u64,
    /// Entries whose columns were compared with their leaves.
    pub columns: u64,
    /// Entries this program does not understand, by kind.
    pub not_understood: BTreeMap<String, u64>,
    /// The breaks, in the order in which they were met, up to the limit.
    pub breaks: Vec<Break>,
    /// All breaks, those beyond the limit included.
    pub breaks_found: u64,
    most_breaks: usize,
}

impl Report {
    pub(super) fn new(most_breaks: usize) -> Report {
        Report {
            origin: None,
            entries: 0,
            root: empty_root(),
            checkpoints: 0,
            signed_size: 0,
            trusted_checkpoints: 0,
            movements: 0,
            masses: 0,
            corrections: 0,
            commitments: 0,
            disclosures: 0,
            attachments: 0,
            columns: 0,
            not_understood: BTreeMap::new(),
            breaks: Vec::new(),
            breaks_found: 0,
            most_breaks,
        }
    }

    /// Does everything agree?
    pub fn holds(&self) -> bool {
        self.breaks_found == 0
    }

    pub(super) fn add(
        &mut self,
        check: Check,
        entry: impl Into<Option<u64>>,
        expected: impl ToString,
        found: impl ToString,
    ) {
        self.breaks_found += 1;
        if self.breaks.len() < self.most_breaks {
            let (expected, found) = (expected.to_string(), found.to_string());
            self.breaks.push(Break {
                check,
                entry: entry.into(),
                expected,
                found,
            });
        }
    }

    pub(super) fn not_understood(&mut self, kind: &str) {
        *self.not_understood.entry(kind.to_string()).or_default() += 1;
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for found in &self.breaks {
            writeln!(f, "BREAK {found}")?;
        }
        let beyond = self.breaks_found - self.breaks.len() as u64;
        if beyond > 0 {
            writeln!(f, "and {beyond} more breaks")?;
        }
        writeln!(
            f,
            "book {}",
            self.origin.as_deref().unwrap_or("without a first entry")
        )?;
        writeln!(f, "{} entries, root {}", self.entries, base64(&self.root))?;
        writeln!(
            f,
            "{} checkpoints of the book and {} brought along, newest of {} entries",
            self.checkpoints, self.trusted_checkpoints, self.signed_size
        )?;
        writeln!(
            f,
            "{} movements, {} masses worked out anew, {} corrections",
            self.movements, self.masses, self.corrections
        )?;
        writeln!(
            f,
            "{} commitments, {} of them opened, {} attachments",
            self.commitments, self.disclosures, self.attachments
        )?;
        if self.columns > 0 {
            writeln!(f, "{} entries compared with their columns", self.columns)?;
        }
        for (kind, count) in &self.not_understood {
            writeln!(f, "not understood: {count} entries of kind {kind}")?;
        }
        match self.breaks_found {
            0 => writeln!(f, "the book holds"),
            1 => writeln!(f, "1 break"),
            many => writeln!(f, "{many} breaks"),
        }
    }
}

pub(super) fn base64(hash: &Hash) -> String {
    STANDARD.encode(hash)
}
