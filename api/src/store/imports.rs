//! Imports: which files are booked how far, and what an import compares its rows with.

use super::StoreError;
use super::columns::{PlaceNumber, Sort};
use super::db::Db;
use super::dossier::Dossier;
use super::flush::Rare;
use super::sql;
use super::statement::Bind;
use super::tx::Tx;
use crate::ledger::id::Id;
use crate::ledger::tree::Hash;

/// How far the import of a file has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ImportState {
    /// Number of its `import` entry.
    pub seq: u64,
    /// Id of that entry.
    pub id: Id,
    /// Rows of the file after its header.
    pub rows: u64,
    /// The last row that is booked; the header is row 1.
    pub done: u64,
}

impl ImportState {
    /// Whether every row is booked.
    pub fn is_finished(&self) -> bool {
        self.done > self.rows
    }
}

/// An import that stopped half-way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unfinished {
    /// `appliances`, `cylinders` or `movements`.
    pub table: String,
    /// Rows of the file after its header.
    pub rows: u64,
    /// The last row that is booked.
    pub done: u64,
}

/// A registered thing, as an import needs it.
pub struct Registered {
    /// Its number.
    pub place: PlaceNumber,
    /// Its id.
    pub id: Id,
    /// Its tag.
    pub tag: String,
    /// Its zone, where it has one of its own.
    pub zone: Option<String>,
    /// Its site.
    pub site: Option<Id>,
}

/// Prepares a connection for the long row of transactions of an import: on SQLite the write-ahead
/// log is folded in less often, since neighbouring transactions touch the same pages. Durability
/// does not hang on it. The log can grow to 200 MB.
pub fn prepare(db: &mut Db) -> Result<(), StoreError> {
    if !db.is_postgres() {
        db.batch("PRAGMA wal_autocheckpoint = 50000")?;
    }
    Ok(())
}

/// How far the import of the file with this hash has come, if it was begun.
pub fn state(
    db: &mut Db,
    org: i64,
    table: &str,
    sha256: &Hash,
) -> Result<Option<ImportState>, StoreError> {
    let binds = [Bind::Int(org), Bind::Text(table), Bind::Bytes(sha256)];
    let row: Option<(i64, Vec<u8>, i64, i64)> = db.first(sql::ImportOf, &binds)?;
    let Some((seq, id, rows, done)) = row else {
        return Ok(None);
    };
    let id = Id::from_bytes(&id)
        .ok_or_else(|| StoreError::Broken(format!("the import of entry {seq} has no id")))?;
    let (seq, rows, done) = (seq.unsigned_abs(), rows.unsigned_abs(), done.unsigned_abs());
    Ok(Some(ImportState {
        seq,
        id,
        rows,
        done,
    }))
}

/// Imports that stopped half-way, oldest first.
pub fn unfinished(db: &mut Db, org: i64) -> Result<Vec<Unfinished>, StoreError> {
    let rows: Vec<(i64, String, i64, i64)> = db.rows(sql::UnfinishedImports, &[Bind::Int(org)])?;
    let unfinished = rows.into_iter().map(|(_, table, rows, done)| Unfinished {
        table,
        rows: rows.unsigned_abs(),
        done: done.unsigned_abs(),
    });
    Ok(unfinished.collect())
}

/// Hands every registered thing of a sort that has a tag to `with`.
pub fn registered(
    db: &mut Db,
    org: i64,
    sort: Sort,
    mut with: impl FnMut(Registered),
) -> Result<(), StoreError> {
    let binds = [Bind::Int(org), Bind::Int(sort as i64)];
    db.each(
        sql::Registers,
        &binds,
        |(place, id, tag, facts): (i64, Vec<u8>, Option<String>, String)| {
            let place = PlaceNumber(place);
            let damaged = || StoreError::Broken(format!("place {} is unreadable", place.0));
            let id = Id::from_bytes(&id).ok_or_else(damaged)?;
            let Some(tag) = tag else { return Ok(()) };
            let dossier = Dossier::parse(&facts).ok_or_else(damaged)?;
            let word = |name: &str| dossier.newest(name)?.as_str();
            let zone = word("zone").map(str::to_string);
            let site = word("site").and_then(Id::parse);
            with(Registered {
                place,
                id,
                tag,
                zone,
                site,
            });
            Ok(())
        },
    )
}

/// Hands the id of every entry of a book to `with`, in no order.
pub fn entry_ids(db: &mut Db, org: i64, mut with: impl FnMut(Id, u64)) -> Result<(), StoreError> {
    db.each(
        sql::EntryIds,
        &[Bind::Int(org)],
        |(id, seq): (Vec<u8>, i64)| {
            if let Some(id) = Id::from_bytes(&id) {
                with(id, seq.unsigned_abs());
            }
            Ok(())
        },
    )
}

/// Hands every imported movement identifier that is no UUID to `with`, in no order.
pub fn movement_ids(
    db: &mut Db,
    org: i64,
    mut with: impl FnMut(&str, u64),
) -> Result<(), StoreError> {
    db.each(
        sql::ImportIds,
        &[Bind::Int(org)],
        |(id, seq): (String, i64)| {
            with(&id, seq.unsigned_abs());
            Ok(())
        },
    )
}

impl Tx<'_> {
    /// Notes how far the import of a file has come; it counts from this transaction's commit on.
    pub fn note_import(&mut self, table: &str, sha256: &Hash, state: &ImportState) {
        self.book.pending.rare.push(Rare::Import {
            seq: state.seq,
            id: state.id.bytes(),
            table: table.to_string(),
            sha256: *sha256,
            rows: state.rows,
            done: state.done,
        });
    }

    /// Notes under which entry an identifier that is no UUID was booked.
    pub fn note_movement_id(&mut self, movement_id: &str, seq: u64) {
        let movement_id = movement_id.to_string();
        self.book
            .pending
            .rare
            .push(Rare::ImportId { movement_id, seq });
    }

    /// The entry under which an identifier that is no UUID was booked.
    pub fn movement_id(&mut self, movement_id: &str) -> Result<Option<u64>, StoreError> {
        let binds = [Bind::Int(self.book.org), Bind::Text(movement_id)];
        let seq: Option<i64> = self.db.first(sql::ImportIdOf, &binds)?;
        Ok(seq.map(i64::unsigned_abs))
    }
}
