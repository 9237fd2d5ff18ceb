//! Checkpoints, the book's own and those an auditor brings along, against tree and keys.
//!
//! The book's checkpoints are read in step with its entries, so that each is compared when the tree
//! has its size. After the first root that differs all later ones differ too; they are counted as
//! one break.

use super::Options;
use super::report::{Check, Report, base64};
use crate::ledger::checkpoint::{Checkpoint, Note, VerificationKey};
use crate::ledger::entry::Leaf;
use crate::ledger::source::{BookSource, SourceError, StoredCheckpoint};
use crate::ledger::tree::Frontier;
use std::collections::VecDeque;

/// How many checkpoints are read at once.
const PAGE: usize = 1000;

/// Keys and checkpoints, and how far they are compared.
pub(super) struct Signatures {
    /// The keys of the first entry.
    keys: Vec<VerificationKey>,
    /// Keys known from elsewhere; where there are any, no others are believed.
    known: Vec<VerificationKey>,
    /// No entry may stand after the newest checkpoint.
    to_the_end: bool,
    /// Checkpoints brought along, ascending by size; what is no checkpoint stands first, with why.
    trusted: VecDeque<(u64, Result<Note, String>)>,
    /// The next checkpoints of the book.
    page: VecDeque<StoredCheckpoint>,
    /// The size of the last one read, and whether there may be more.
    read_to: u64,
    more: bool,
    /// A root has differed already, of the book's own and of those brought along.
    differed: [bool; 2],
}

impl Signatures {
    pub(super) fn new(trusted: &[Note], options: &Options) -> Signatures {
        let mut trusted: Vec<(u64, Result<Note, String>)> = (trusted.iter())
            .map(|note| match Checkpoint::from_text(&note.text) {
                Ok(checkpoint) => (checkpoint.size, Ok(note.clone())),
                Err(error) => (0, Err(error.to_string())),
            })
            .collect();
        trusted.sort_by_key(|(size, _)| *size);
        Signatures {
            keys: Vec::new(),
            known: options.keys.clone(),
            to_the_end: options.signed_to_its_end,
            trusted: trusted.into(),
            page: VecDeque::new(),
            read_to: 0,
            more: true,
            differed: [false; 2],
        }
    }

    /// Takes the keys from the first entry.
    pub(super) fn learn(&mut self, seq: u64, leaf: &Leaf<'_>, report: &mut Report) {
        if (seq == 0) != (leaf.kind == "genesis") {
            let expected = "`genesis` as no. 0 and nowhere else";
            report.add(Check::Genesis, seq, expected, format!("`{}`", leaf.kind));
            return;
        }
        if seq > 0 {
            return;
        }
        let Some(keys) = &leaf.body.keys else {
            report.add(Check::Genesis, seq, "the keys of the book", "none");
            return;
        };
        for vkey in [&keys.signing, &keys.recovery] {
            match VerificationKey::parse(vkey) {
                Ok(key) if key.name() != leaf.log => {
                    report.add(
                        Check::Genesis,
                        seq,
                        format!("a key of {}", leaf.log),
                        key.name(),
                    );
                }
                Ok(key) => self.keys.push(key),
                Err(error) => report.add(Check::Genesis, seq, "a verification key", error),
            }
        }
        if !self.known.is_empty() && !self.keys.iter().any(|key| self.known.contains(key)) {
            let known: Vec<String> = self.known.iter().map(VerificationKey::to_string).collect();
            report.add(Check::Genesis, seq, known.join(" or "), &keys.signing);
        }
        if !self.known.is_empty() {
            // Else a forger names the known key beside one of his own and signs with that.
            self.keys.clone_from(&self.known);
        }
    }

    /// The tree has grown by an entry: compares every checkpoint of its size.
    pub(super) fn reached(
        &mut self,
        source: &mut dyn BookSource,
        frontier: &Frontier,
        whole: bool,
        report: &mut Report,
    ) -> Result<(), SourceError> {
        if !whole {
            return Ok(());
        }
        let size = frontier.size();
        while self
            .trusted
            .front()
            .is_some_and(|trusted| trusted.0 <= size)
        {
            let Some((size, note)) = self.trusted.pop_front() else {
                break;
            };
            match note {
                Ok(note) => {
                    report.trusted_checkpoints += 1;
                    self.compare(&note, size, frontier, 1, report);
                }
                Err(error) => report.add(Check::Checkpoint, None, "a checkpoint", error),
            }
        }
        while self
            .next_of_book(source)?
            .is_some_and(|next| next.size <= size)
        {
            let Some(next) = self.page.pop_front() else {
                break;
            };
            report.checkpoints += 1;
            report.signed_size = next.size;
            match Note::parse(&next.note) {
                Ok(note) => self.compare(&note, next.size, frontier, 0, report),
                Err(error) => {
                    report.add(
                        Check::Checkpoint,
                        next.size.checked_sub(1),
                        "a signed note",
                        error,
                    );
                }
            }
        }
        Ok(())
    }

    fn next_of_book(
        &mut self,
        source: &mut dyn BookSource,
    ) -> Result<Option<&StoredCheckpoint>, SourceError> {
        if self.page.is_empty() && self.more {
            self.page = source.checkpoints(self.read_to, PAGE)?.into();
            self.more = self.page.len() == PAGE;
            if let Some(last) = self.page.back() {
                self.read_to = last.size;
            }
        }
        Ok(self.page.front())
    }

    /// One checkpoint against the tree, which has its size.
    fn compare(
        &mut self,
        note: &Note,
        size: u64,
        frontier: &Frontier,
        whose: usize,
        report: &mut Report,
    ) {
        let last = size.checked_sub(1);
        let checkpoint = match Checkpoint::from_text(&note.text) {
            Ok(checkpoint) => checkpoint,
            Err(error) => return report.add(Check::Checkpoint, last, "a checkpoint", error),
        };
        if let Err(error) = note.verify(&self.keys) {
            let expected = format!("the checkpoint of {size} entries to be signed by the book");
            report.add(Check::Signature, last, expected, error);
        }
        let origin = report.origin.as_deref().unwrap_or_default();
        if checkpoint.origin != origin {
            let expected = format!("a checkpoint of {origin}");
            report.add(Check::Checkpoint, last, expected, &checkpoint.origin);
        }
        if checkpoint.size != size {
            let expected = format!("the checkpoint of {size} entries");
            let found = format!("one of {} entries", checkpoint.size);
            report.add(Check::Checkpoint, last, expected, found);
        } else if checkpoint.size == frontier.size()
            && checkpoint.root != frontier.root()
            && !std::mem::replace(&mut self.differed[whose], true)
        {
            let (signed, root) = (base64(&checkpoint.root), base64(&frontier.root()));
            let expected = format!("the signed root {signed} over the first {size} entries");
            report.add(Check::Checkpoint, last, expected, root);
        }
    }

    /// What is left when the book has ended speaks of more entries than the book has.
    pub(super) fn finish(
        &mut self,
        source: &mut dyn BookSource,
        frontier: &Frontier,
        whole: bool,
        report: &mut Report,
    ) -> Result<(), SourceError> {
        let mut left: Vec<u64> = self.trusted.iter().map(|trusted| trusted.0).collect();
        while let Some(next) = self.next_of_book(source)? {
            left.push(next.size);
            self.page.pop_front();
        }
        let (Some(least), Some(most)) = (left.iter().min(), left.iter().max()) else {
            self.unsigned(frontier, report);
            return Ok(());
        };
        let signed = format!("{most} entries, as a checkpoint was signed over them");
        if whole {
            report.add(Check::Checkpoint, most - 1, signed, frontier.size());
        } else {
            let expected = format!(
                "{} checkpoints of {least} entries or more to hold",
                left.len()
            );
            let found = format!(
                "no. {} is missing, so that no root follows",
                frontier.size()
            );
            report.add(Check::Checkpoint, frontier.size(), expected, found);
        }
        Ok(())
    }

    /// What no checkpoint vouches for, where one must.
    fn unsigned(&self, frontier: &Frontier, report: &mut Report) {
        let (last, signed) = (frontier.size().checked_sub(1), report.signed_size);
        if self.to_the_end && (signed < frontier.size() || report.checkpoints == 0) {
            let expected = format!("a checkpoint of {} entries", frontier.size());
            let found = format!("the newest is of {signed} entries");
            report.add(Check::Checkpoint, last, expected, found);
        } else if !self.known.is_empty() && report.checkpoints + report.trusted_checkpoints == 0 {
            let expected = "a checkpoint signed by a key known from elsewhere";
            report.add(Check::Signature, last, expected, "none");
        }
    }
}
