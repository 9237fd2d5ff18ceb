//! The write buffer of a book, and how it reaches the database.
//!
//! SQLite takes one prepared statement per row; PostgreSQL one statement per table for the rows of
//! all books of a batch, because there a round trip costs more than a row.

use super::book::Book;
use super::columns::PlaceNumber;
use super::db::Db;
use super::dossier::Dossier;
use super::sql;
use super::statement::Bind;
use crate::ledger::tree::Hash;
use diesel::result::QueryResult;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// An entry's row; its leaf lies in the buffer's arena.
pub struct EntryRow {
    /// Number.
    pub seq: u64,
    /// Id.
    pub id: [u8; 16],
    /// Code of the kind.
    pub kind: i16,
    /// Day it happened.
    pub day: i32,
    /// When it was booked.
    pub booked_at: i64,
    /// The bytes that are hashed.
    pub leaf: Vec<u8>,
    /// Their leaf hash.
    pub hash: Hash,
}

/// A movement's row.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct MovementRow {
    pub seq: u64,
    pub n: i64,
    pub src: PlaceNumber,
    pub dst: PlaceNumber,
    pub mass: i64,
    pub appliance: Option<PlaceNumber>,
    pub day: i32,
    pub what: i64,
    pub id_high: i64,
    pub ties: Option<Vec<u8>>,
}

/// A disclosed text beside a commitment.
pub struct DisclosureRow {
    /// The entry.
    pub seq: u64,
    /// Path of the member.
    pub field: String,
    /// 32 random bytes.
    pub salt: [u8; 32],
    /// What was typed.
    pub value: String,
}

/// Rows that are rare, written one by one on both engines.
#[allow(missing_docs)]
pub enum Rare {
    Attachment {
        sha256: Hash,
        bytes: Vec<u8>,
    },
    Correction {
        corrects: u64,
        seq: u64,
        first: u64,
    },
    Link {
        seq: u64,
        entry: u64,
        place: PlaceNumber,
        relation: String,
    },
    Finding {
        seq: u64,
        code: String,
        place: PlaceNumber,
        grade: String,
    },
    Settled {
        by: u64,
        seq: u64,
        code: String,
    },
    Adopted {
        seq: u64,
        kind: i16,
        name: String,
        since: i32,
        value: String,
    },
    Import {
        seq: u64,
        id: [u8; 16],
        table: String,
        sha256: Hash,
        rows: u64,
        done: u64,
    },
    ImportId {
        movement_id: String,
        seq: u64,
    },
}

/// What a batch has booked and not yet written.
#[derive(Default)]
pub struct Pending {
    pub(super) entries: Vec<EntryRow>,
    pub(super) ids: HashMap<[u8; 16], u64>,
    pub(super) movements: Vec<MovementRow>,
    pub(super) disclosures: Vec<DisclosureRow>,
    pub(super) balances: BTreeSet<(PlaceNumber, u16)>,
    pub(super) subjects: BTreeSet<PlaceNumber>,
    pub(super) registers: BTreeMap<PlaceNumber, Dossier>,
    pub(super) rare: Vec<Rare>,
    pub(super) standings: BTreeMap<PlaceNumber, super::standings::StandingRow>,
    tiles: BTreeMap<(i64, i64), Vec<u8>>,
}

impl Pending {
    /// Is there nothing to write?
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty() && self.rare.is_empty() && self.standings.is_empty()
    }

    /// Remembers a tile; a later state of the same tile replaces it.
    pub(super) fn tile(&mut self, level: i64, index: i64, bytes: Vec<u8>) {
        self.tiles.insert((level, index), bytes);
    }

    #[cfg(test)]
    pub(super) fn tile_at(&self, level: i64, index: i64) -> Option<&[u8]> {
        self.tiles.get(&(level, index)).map(Vec::as_slice)
    }

    /// A pending entry's leaf.
    pub(super) fn leaf(&self, seq: u64) -> Option<&EntryRow> {
        let first = self.entries.first()?.seq;
        self.entries
            .get(usize::try_from(seq.checked_sub(first)?).ok()?)
    }
}

/// A number of the book as the database keeps it.
pub(super) fn int(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

/// Writes what the books hold pending, and their heads. Everything or, on an error, nothing: the
/// caller rolls back and drops the books.
pub fn flush(db: &mut Db, books: &mut [&mut Book]) -> QueryResult<()> {
    if db.is_postgres() {
        super::flush_postgres::columns(db, books)?;
    } else {
        for book in books.iter() {
            rows(db, book)?;
        }
    }
    for book in books.iter_mut() {
        rare(db, book)?;
        head(db, book)?;
        book.pending = Pending::default();
    }
    Ok(())
}

/// Writes only what can be worked out again: for a rebuild, whose entries stand already.
pub fn flush_caches(db: &mut Db, books: &mut [&mut Book]) -> QueryResult<()> {
    if db.is_postgres() {
        super::flush_postgres::caches(db, books)?;
    } else {
        for book in books.iter() {
            caches(db, book)?;
        }
    }
    for book in books.iter_mut() {
        rare(db, book)?;
        book.pending = Pending::default();
    }
    Ok(())
}

fn rows(db: &mut Db, book: &Book) -> QueryResult<()> {
    let org = Bind::Int(book.org);
    for row in &book.pending.entries {
        db.run(
            sql::AddEntry,
            &[
                org,
                Bind::Int(int(row.seq)),
                Bind::Bytes(&row.id),
                Bind::Int(i64::from(row.kind)),
                Bind::Int(i64::from(row.day)),
                Bind::Int(row.booked_at),
                Bind::Bytes(&row.leaf),
                Bind::Bytes(&row.hash),
            ],
        )?;
    }
    for row in &book.pending.movements {
        db.run(
            sql::AddMovement,
            &[
                org,
                Bind::Int(int(row.seq)),
                Bind::Int(row.n),
                Bind::Int(row.src.0),
                Bind::Int(row.dst.0),
                Bind::Int(row.mass),
                Bind::Int(row.appliance.map_or(0, |place| place.0)),
                Bind::Int(i64::from(row.day)),
                Bind::Int(row.what),
                Bind::Int(row.id_high),
                Bind::MaybeBytes(row.ties.as_deref()),
            ],
        )?;
    }
    for row in &book.pending.disclosures {
        db.run(
            sql::AddDisclosure,
            &[
                org,
                Bind::Int(int(row.seq)),
                Bind::Text(&row.field),
                Bind::Bytes(&row.salt),
                Bind::Text(&row.value),
            ],
        )?;
    }
    caches(db, book)
}

fn caches(db: &mut Db, book: &Book) -> QueryResult<()> {
    let org = Bind::Int(book.org);
    for (place, dossier) in &book.pending.registers {
        let subject = &book.subjects[place];
        let uuid = subject.id.map(|id| id.bytes()).unwrap_or_default();
        db.run(
            sql::SetRegister,
            &[
                org,
                Bind::Int(place.0),
                Bind::Int(place.sort() as i64),
                Bind::Bytes(&uuid),
                Bind::MaybeText(subject.tag.as_deref()),
                Bind::Text(&dossier.text()),
            ],
        )?;
    }
    for place in &book.pending.subjects {
        let subject = &book.subjects[place];
        db.run(
            sql::SetSubject,
            &[
                org,
                Bind::Int(place.0),
                Bind::Int(int(subject.nth)),
                Bind::Int(subject.quarantine.map_or(-1, int)),
                Bind::Text(&subject.owners_text()),
                Bind::Int(subject.class as i64),
                Bind::Int(subject.newest.map_or(-1, int)),
                Bind::Int(int(subject.moved)),
            ],
        )?;
    }
    for (place, refrigerant) in &book.pending.balances {
        let mass = book.subjects[place].balance(*refrigerant).to_string();
        db.run(
            sql::SetBalance,
            &[
                org,
                Bind::Int(place.0),
                Bind::Int(i64::from(*refrigerant)),
                Bind::Text(&mass),
            ],
        )?;
    }
    super::standings::rows(db, book)
}

fn rare(db: &mut Db, book: &Book) -> QueryResult<()> {
    for row in &book.pending.rare {
        rare_row(db, book.org, row)?;
    }
    for ((level, index), hashes) in &book.pending.tiles {
        let binds = [Bind::Int(*level), Bind::Int(*index), Bind::Bytes(hashes)];
        db.run(
            sql::SetTile,
            &[Bind::Int(book.org), binds[0], binds[1], binds[2]],
        )?;
    }
    Ok(())
}

fn rare_row(db: &mut Db, org: i64, row: &Rare) -> QueryResult<usize> {
    let number = |n: &u64| Bind::Int(int(*n));
    let org = Bind::Int(org);
    match row {
        Rare::Attachment { sha256, bytes } => db.run(
            sql::AddAttachment,
            &[org, Bind::Bytes(sha256), Bind::Bytes(bytes)],
        ),
        Rare::Correction {
            corrects,
            seq,
            first,
        } => db.run(
            sql::AddCorrection,
            &[org, number(corrects), number(seq), number(first)],
        ),
        Rare::Link {
            seq,
            entry,
            place,
            relation,
        } => {
            let place = Bind::Int(place.0);
            db.run(
                sql::AddLink,
                &[org, number(seq), number(entry), place, Bind::Text(relation)],
            )
        }
        Rare::Finding {
            seq,
            code,
            place,
            grade,
        } => db.run(
            sql::AddFinding,
            &[
                org,
                number(seq),
                Bind::Text(code),
                Bind::Int(place.0),
                Bind::Text(grade),
            ],
        ),
        Rare::Settled { by, seq, code } => db.run(
            sql::SettleFinding,
            &[number(by), org, number(seq), Bind::Text(code)],
        ),
        Rare::Adopted {
            seq,
            kind,
            name,
            since,
            value,
        } => {
            let (kind, since) = (Bind::Int(i64::from(*kind)), Bind::Int(i64::from(*since)));
            let (name, value) = (Bind::Text(name), Bind::Text(value));
            db.run(
                sql::AddAdopted,
                &[org, number(seq), kind, name, since, value],
            )
        }
        Rare::Import {
            seq,
            id,
            table,
            sha256,
            rows,
            done,
        } => {
            let (table, hash) = (Bind::Text(table), Bind::Bytes(sha256));
            let (rows, done) = (number(rows), number(done));
            db.run(
                sql::SetImport,
                &[org, number(seq), Bind::Bytes(id), table, hash, rows, done],
            )
        }
        Rare::ImportId { movement_id, seq } => db.run(
            sql::AddImportId,
            &[org, Bind::Text(movement_id), number(seq)],
        ),
    }
}

fn head(db: &mut Db, book: &Book) -> QueryResult<()> {
    db.run(
        sql::SetHead,
        &[
            Bind::Int(int(book.next_seq)),
            Bind::Int(i64::from(book.engine)),
            Bind::Int(FORMAT),
            Bind::Int(book.booked_at),
            Bind::Int(int(book.judged_by)),
            Bind::Bytes(&book.frontier.to_bytes()),
            Bind::Int(book.org),
        ],
    )
    .map(|_| ())
}

/// The version of the stored format; a program that knows only lower ones may not write.
pub const FORMAT: i64 = 1;
