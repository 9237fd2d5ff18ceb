//! What a correction does: it takes back what its chain said, and says it anew.
//!
//! Facts taken back uncover what they had covered, movements go back at their own time, and what
//! was adopted holds no longer. The original rows stay; a reversal is a row of its own.

use super::Source;
use crate::ledger::entry::{Body, EntryKind, EntryRef, Leaf, Replacement};
use crate::store::StoreError;
use crate::store::columns::{Ties, What, id_high};
use crate::store::flush::{MovementRow, Rare};
use crate::store::tx::Tx;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// What an entry says of a registered thing, or puts in the place of what was said.
pub(super) fn registered<'l, 'b>(leaf: &'l Leaf<'b>, kind: EntryKind) -> Option<&'l Body<'b>> {
    match (kind, &leaf.body.replace) {
        (EntryKind::Correction, Some(new)) if new.body.facts.is_some() => Some(&new.body),
        _ => kind.registers().then_some(&leaf.body),
    }
}

impl Tx<'_> {
    pub(super) fn correct(
        &mut self,
        leaf: &Leaf<'_>,
        disclosed: &BTreeMap<&str, &str>,
    ) -> Result<(), StoreError> {
        let Some(corrects) = leaf.body.corrects else {
            return Ok(());
        };
        let first = self
            .correction_at(corrects.seq)?
            .map_or(corrects.seq, |(_, first)| first);
        self.correct_facts(leaf, corrects, disclosed)?;
        let new = leaf.body.replace.as_deref();
        if let Some(new) = new.filter(|new| new.kind == EntryKind::Method.word()) {
            self.adopt_body(leaf.seq, &new.body, new.happened.day, EntryKind::Method);
        }
        // What was adopted and is corrected holds no longer.
        self.book.adopt_anew();
        if self.judges(&corrects, new)? {
            self.book.judged_by = leaf.seq;
        }
        let (corrects, seq) = (corrects.seq, leaf.seq);
        self.book.pending.rare.push(Rare::Correction {
            corrects,
            seq,
            first,
        });
        Ok(())
    }

    /// Takes back the facts a register entry said, and says those that stand in their place.
    fn correct_facts(
        &mut self,
        leaf: &Leaf<'_>,
        corrects: EntryRef,
        disclosed: &BTreeMap<&str, &str>,
    ) -> Result<(), StoreError> {
        let Some((bytes, _)) = self.leaf(corrects.seq)? else {
            return Ok(());
        };
        let earlier = Leaf::parse(&bytes).map_err(|error| {
            StoreError::Broken(format!("entry {} is unreadable: {error}", corrects.seq))
        })?;
        let service = |kind: &str| EntryKind::named(kind).is_some_and(EntryKind::is_service);
        let replaced = earlier.body.replace.as_deref();
        if service(replaced.map_or(&earlier.kind, |new| &new.kind)) {
            return Ok(());
        }
        let of = |body: &Body<'_>| body.subject.as_deref().map(str::to_string);
        let old = of(&earlier.body).or_else(|| replaced.and_then(|new| of(&new.body)));
        let new = leaf.body.replace.as_ref().map(|new| &new.body);
        let new = new.filter(|body| body.subject.is_some());
        let gone = Some(corrects.seq);
        if let Some(old) =
            old.filter(|old| new.is_none_or(|new| new.subject.as_deref() != Some(old)))
        {
            // Annulled, or said of the wrong thing: that one no longer has the facts.
            let silent = Body {
                subject: Some(Cow::Owned(old)),
                ..Body::default()
            };
            self.register(leaf.seq, &silent, "", disclosed, gone)?;
        }
        match new {
            Some(new) => self.register(leaf.seq, new, "replace.body.", disclosed, gone),
            None => Ok(()),
        }
    }

    /// Does a correction change what judgements read beside the appliance itself?
    fn judges(
        &mut self,
        corrects: &EntryRef,
        new: Option<&Replacement<'_>>,
    ) -> Result<bool, StoreError> {
        let judging = |kind: &str| {
            matches!(
                EntryKind::named(kind),
                Some(EntryKind::Method | EntryKind::Site | EntryKind::Person)
            )
        };
        if new.is_some_and(|new| judging(&new.kind)) {
            return Ok(true);
        }
        let Some((bytes, _)) = self.leaf(corrects.seq)? else {
            return Ok(false);
        };
        let earlier = Leaf::parse(&bytes).ok();
        let kinds = |leaf: Leaf<'_>| {
            let replaced = leaf
                .body
                .replace
                .as_ref()
                .is_some_and(|new| judging(&new.kind));
            replaced || judging(&leaf.kind)
        };
        Ok(earlier.is_some_and(kinds))
    }

    /// The movement rows a leaf writes: its own, or the reversals and replacements of a correction.
    pub(in crate::store) fn rows_of(
        &mut self,
        leaf: &Leaf<'_>,
        kind: EntryKind,
    ) -> Result<Vec<MovementRow>, StoreError> {
        if kind != EntryKind::Correction {
            let of = Source {
                seq: leaf.seq,
                kind,
                happened: &leaf.happened,
                visit: leaf.visit,
                chain: leaf.id,
            };
            return self.movement_rows(&of, &leaf.body, 0);
        }
        let Some(corrects) = leaf.body.corrects else {
            return Ok(Vec::new());
        };
        let mut rows = self.movements_of(corrects.seq)?;
        rows.retain(|row| !What::unpack(row.what).is_some_and(|what| what.reversal));
        let chain = rows.first().map(|row| row.id_high);
        for (n, row) in rows.iter_mut().enumerate() {
            (row.src, row.dst) = (row.dst, row.src);
            (row.seq, row.n) = (leaf.seq, n as i64);
            if let Some(what) = What::unpack(row.what) {
                row.what = What {
                    reversal: true,
                    ..what
                }
                .pack();
            }
            let ties = Ties {
                reverses: Some(corrects.seq),
                ..Ties::default()
            };
            row.ties = ties.pack();
        }
        if let Some(new) = &leaf.body.replace
            && let Some(kind) = EntryKind::named(&new.kind)
        {
            let of = Source {
                seq: leaf.seq,
                kind,
                happened: &new.happened,
                visit: new.visit,
                chain: corrects.id,
            };
            let mut added = self.movement_rows(&of, &new.body, rows.len() as i64)?;
            let first = match (chain, self.correction_at(corrects.seq)?) {
                (Some(high), _) => high,
                (None, Some((_, first))) => self.id_high_of(first)?,
                (None, None) => id_high(corrects.id),
            };
            added.iter_mut().for_each(|row| row.id_high = first);
            rows.extend(added);
        }
        Ok(rows)
    }

    fn id_high_of(&mut self, entry: u64) -> Result<i64, StoreError> {
        let leaf = self.leaf(entry)?;
        let id = leaf.and_then(|(bytes, _)| Leaf::parse(&bytes).ok().map(|leaf| leaf.id));
        Ok(id.map_or(0, id_high))
    }
}
