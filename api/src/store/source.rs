//! A stored book, read from end to end: what `verify` and `export` ask of the database.
//!
//! Everything is read inside one read transaction, so that a book that is being written is checked
//! as it stood at one moment. What cannot be an entry any more (a hash of the wrong length, an
//! unknown code) is handed on as it is: the check names it, reading does not stop at it.

use super::by_number::ByNumber;
use super::columns::{PlaceNumber, REASONS, Sort, Ties, What};
use super::db::Db;
use super::flush::int;
use super::sql;
use super::statement::Bind;
use super::{Sight, StoreError};
use crate::ledger::entry::EntryKind;
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::ledger::source::{
    BookSource, ColumnMovement, Columns, Disclosure, ReadOfMovement, SourceError, StoredCheckpoint,
    StoredEntry, VisitAttachment,
};
use crate::ledger::tiles::{FULL, TileKind, TilePath, read_tile};
use crate::ledger::tree::Hash;
use reports::day::Day;
use reports::mass::Mass;
use reports::refrigerant::Table;
use std::borrow::Cow;

/// One organisation's stored book. Its read transaction ends when it is dropped.
pub struct StoredBook<'d> {
    db: &'d mut Db,
    org: i64,
    ids: ByNumber<PlaceNumber, Id>,
}

impl<'d> StoredBook<'d> {
    /// Opens the book as it stands now.
    pub fn open(db: &'d mut Db, org: i64) -> Result<StoredBook<'d>, StoreError> {
        db.begin_reading_for(Sight::Organisations(&[org]))?;
        let mut ids = ByNumber::default();
        for sort in [Sort::Appliance, Sort::Cylinder, Sort::Counterparty] {
            let binds = [Bind::Int(org), Bind::Int(sort as i64)];
            db.each(sql::RegisterIds, &binds, |(place, uuid): (i64, Vec<u8>)| {
                ids.extend(Id::from_bytes(&uuid).map(|id| (PlaceNumber(place), id)));
                Ok::<(), StoreError>(())
            })?;
        }
        Ok(StoredBook { db, org, ids })
    }

    fn place(&self, number: i64) -> Place {
        let number = PlaceNumber(number);
        number.place(self.ids.get(&number).copied())
    }

    /// The movements of a block, by the place of their entry in it.
    fn movements(&mut self, first: u64) -> Result<Vec<Vec<ColumnMovement<'static>>>, StoreError> {
        let table = Table::shipped();
        let binds = [
            Bind::Int(self.org),
            Bind::Int(int(first)),
            Bind::Int(int(first + BLOCK)),
        ];
        type Row = (i64, i64, i64, i64, i64, i64, i64, i64, Option<Vec<u8>>);
        let rows: Vec<Row> = self.db.rows(sql::MovementsOfBlock, &binds)?;
        let mut movements = vec![Vec::new(); FULL];
        for (seq, src, dst, mass, appliance, day, packed, id_high, ties) in rows {
            let what = What::unpack(packed);
            let refrigerant = what.and_then(|what| match what.kind.is_service() {
                true => Some(""),
                false => table.designation(what.refrigerant),
            });
            let read = match (what, Ties::unpack(ties.as_deref())) {
                (Some(what), Some(ties)) => self.read_of(what, ties, (appliance, day, id_high)),
                // What cannot be unpacked equals nothing a leaf can say.
                _ => ReadOfMovement {
                    kind: Cow::Borrowed("damaged"),
                    ..Default::default()
                },
            };
            let place = (seq.unsigned_abs() - first) as usize;
            movements[place].push(ColumnMovement {
                from: self.place(src),
                to: self.place(dst),
                refrigerant: Cow::Borrowed(refrigerant.unwrap_or("damaged")),
                mass: Mass::from_steps(mass),
                read,
            });
        }
        Ok(movements)
    }

    /// What a report would read of a row.
    fn read_of(&self, what: What, ties: Ties, rest: (i64, i64, i64)) -> ReadOfMovement<'static> {
        let (appliance, day, id_high) = rest;
        let appliance = (appliance != 0).then(|| self.place(appliance));
        if what.reversal {
            let reverses = ties.reverses;
            return ReadOfMovement {
                reverses,
                appliance,
                ..Default::default()
            };
        }
        let word = |reason| REASONS.iter().find(|(known, _)| *known == reason);
        ReadOfMovement {
            reverses: ties.reverses,
            appliance,
            day: i32::try_from(day).unwrap_or(i32::MIN),
            second: what.second,
            kind: Cow::Borrowed(what.kind.word()),
            reason: what
                .reason
                .and_then(word)
                .map(|(_, word)| Cow::Borrowed(*word)),
            returned: what.returned,
            visit: ties.visit,
            leak: ties.leak,
            words: ties.words.map(Cow::Owned),
            id_high: Some((id_high as u64) ^ 1 << 63),
        }
    }
}

const BLOCK: u64 = FULL as u64;

impl Drop for StoredBook<'_> {
    fn drop(&mut self) {
        // Nothing was written; whatever the engine says, there is nothing to keep.
        let _ = self.db.rollback();
    }
}

impl BookSource for StoredBook<'_> {
    fn size(&mut self) -> Result<u64, SourceError> {
        let next = super::open::size(self.db, self.org)?;
        let newest: Option<i64> = self.db.first(sql::NewestSeq, &[Bind::Int(self.org)])?;
        // Entries beyond the head are a break, too: they must be seen.
        let stored = newest.map_or(0, |seq| u64::try_from(seq + 1).unwrap_or(0));
        Ok(next.max(stored))
    }

    fn block(&mut self, block: u64) -> Result<Vec<StoredEntry>, SourceError> {
        let first = block * BLOCK;
        let mut movements = self.movements(first)?;
        let binds = [
            Bind::Int(self.org),
            Bind::Int(int(first)),
            Bind::Int(int(first + BLOCK)),
        ];
        type Row = (i64, Vec<u8>, i64, i64, i64, Vec<u8>, Vec<u8>);
        let rows: Vec<Row> = self.db.rows(sql::EntriesOfBlock, &binds)?;
        let mut entries = Vec::with_capacity(rows.len());
        for (seq, id, kind, day, booked_at, leaf, hash) in rows {
            let seq = seq.unsigned_abs();
            let kind = i16::try_from(kind).ok().and_then(EntryKind::coded);
            let day = i32::try_from(day).map(Day::from_count).ok();
            let columns = match (Id::from_bytes(&id), kind, day) {
                (Some(entry_id), Some(kind), Some(day)) => Columns {
                    entry_id,
                    kind,
                    day,
                    booked_at,
                    movements: std::mem::take(&mut movements[(seq - first) as usize]),
                },
                _ => return Err(format!("the columns of entry no. {seq} are damaged").into()),
            };
            // A hash of another length can equal none; all zeros is what no leaf hashes to.
            let hash: Hash = hash.try_into().unwrap_or([0; 32]);
            let mut columns = columns;
            if columns.kind == EntryKind::Correction {
                columns
                    .movements
                    .iter_mut()
                    .for_each(|row| row.read.id_high = None);
            }
            entries.push(StoredEntry {
                seq,
                leaf,
                hash,
                columns: Some(columns),
            });
        }
        Ok(entries)
    }

    fn disclosures(&mut self, block: u64) -> Result<Vec<Disclosure>, SourceError> {
        let first = block * BLOCK;
        let binds = [
            Bind::Int(self.org),
            Bind::Int(int(first)),
            Bind::Int(int(first + BLOCK)),
        ];
        let rows: Vec<(i64, String, Vec<u8>, String)> =
            self.db.rows(sql::DisclosuresOfBlock, &binds)?;
        let disclosure = |(seq, field, salt, value): (i64, String, Vec<u8>, String)| Disclosure {
            seq: seq.unsigned_abs(),
            field,
            salt: salt.try_into().unwrap_or([0; 32]),
            value,
        };
        Ok(rows.into_iter().map(disclosure).collect())
    }

    fn checkpoints(
        &mut self,
        above: u64,
        limit: usize,
    ) -> Result<Vec<StoredCheckpoint>, SourceError> {
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let binds = [Bind::Int(self.org), Bind::Int(int(above)), Bind::Int(limit)];
        let rows: Vec<(i64, String)> = self.db.rows(sql::CheckpointsAbove, &binds)?;
        let stored = |(size, note): (i64, String)| StoredCheckpoint {
            size: size.unsigned_abs(),
            note,
        };
        Ok(rows.into_iter().map(stored).collect())
    }

    fn attachments(&mut self, visit: VisitAttachment<'_>) -> Result<(), SourceError> {
        let org = [Bind::Int(self.org)];
        let hashes: Vec<Vec<u8>> = self.db.rows(sql::AttachmentHashes, &org)?;
        for hash in hashes {
            let binds = [Bind::Int(self.org), Bind::Bytes(&hash)];
            let bytes: Option<Vec<u8>> = self.db.first(sql::AttachmentBytes, &binds)?;
            visit(
                hash.try_into().unwrap_or([0; 32]),
                &bytes.unwrap_or_default(),
            )?;
        }
        Ok(())
    }

    fn tile(&mut self, path: TilePath) -> Result<Option<Vec<Hash>>, SourceError> {
        let TileKind::Hashes(level) = path.kind else {
            return Ok(None);
        };
        let binds = [
            Bind::Int(self.org),
            Bind::Int(i64::from(level)),
            Bind::Int(int(path.index)),
        ];
        let bytes: Option<Vec<u8>> = self.db.first(sql::Tile, &binds)?;
        Ok(bytes.as_deref().and_then(read_tile))
    }
}
