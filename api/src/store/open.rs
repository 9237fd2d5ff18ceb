//! Opening books: which organisation, where its log stands, and whether this program may write.

use super::book::Book;
use super::db::Db;
use super::flush::{FORMAT, int};
use super::sql;
use super::statement::{Bind, statement};
use super::{Sight, StoreError};
use crate::ledger::tiles::FULL;
use crate::ledger::tree::{Frontier, Hash, sha256};
use diesel::sql_types::BigInt;

statement! {
    NewestBooking: "SELECT booked_at FROM newest_booking" => BigInt;
}

/// An organisation that keeps a book in this database.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Organisation {
    /// Its number in this database.
    pub org: i64,
    /// Its name.
    pub name: String,
    /// Origin of its log, `tarebook/UUID`.
    pub log: String,
}

/// All organisations, oldest first; only the operator sees them.
pub fn organisations(db: &mut Db) -> Result<Vec<Organisation>, StoreError> {
    let rows: Vec<(i64, String, String)> = db.rows(sql::Organisations, &[])?;
    Ok(rows
        .into_iter()
        .map(|(org, name, log)| Organisation { org, name, log })
        .collect())
}

/// The organisation with this name, found by its name alone.
pub fn organisation(db: &mut Db, name: &str) -> Result<Organisation, StoreError> {
    let row: Option<(i64, String)> = db.reading(Sight::Name(&sha256(name.as_bytes())), |db| {
        Ok(db.first(sql::OrganisationNamed, &[Bind::Text(name)])?)
    })?;
    let (org, log) = row.ok_or_else(|| StoreError::NoOrganisation(name.to_string()))?;
    Ok(Organisation {
        org,
        name: name.to_string(),
        log,
    })
}

/// Makes room for a new organisation's book inside a running write transaction; its genesis is
/// booked next.
pub fn add_organisation(db: &mut Db, name: &str, log: &str) -> Result<Organisation, StoreError> {
    let newest: Option<i64> = db.first(sql::NewestOrganisation, &[])?;
    let org = newest.unwrap_or(0) + 1;
    db.run(
        sql::AddOrganisation,
        &[Bind::Int(org), Bind::Text(name), Bind::Text(log)],
    )?;
    let engine = Bind::Int(i64::from(reports::ENGINE));
    let frontier = Frontier::new().to_bytes();
    let binds = [
        Bind::Int(org),
        engine,
        Bind::Int(FORMAT),
        Bind::Bytes(&frontier),
    ];
    db.run(sql::AddHead, &binds)?;
    Ok(Organisation {
        org,
        name: name.to_string(),
        log: log.to_string(),
    })
}

/// How many entries an organisation's book has.
pub fn size(db: &mut Db, org: i64) -> Result<u64, StoreError> {
    let next: Option<i64> = db.first(sql::NextSeq, &[Bind::Int(org)])?;
    next.map(i64::unsigned_abs)
        .ok_or_else(|| StoreError::Broken(format!("book {org} has no head")))
}

/// The newest entry that changes judgements: part of every standing's stamp.
pub fn judged_by(db: &mut Db, org: i64) -> Result<u64, StoreError> {
    type Head = (i64, i64, i64, i64, i64, Vec<u8>);
    let head: Option<Head> = db.first(sql::Head, &[Bind::Int(org)])?;
    Ok(head.map_or(0, |head| head.4.unsigned_abs()))
}

/// When anything was booked last in this database, microseconds since 1970; 0: never, or not to be
/// seen from here.
pub fn newest_booking(db: &mut Db) -> Result<i64, StoreError> {
    let newest: Option<i64> = db.first(NewestBooking, &[])?;
    Ok(newest.unwrap_or(0))
}

/// Reads a book's head: where the log stands. What the log says is read as it is needed.
pub fn open_book(db: &mut Db, of: &Organisation) -> Result<Book, StoreError> {
    type Head = (i64, i64, i64, i64, i64, Vec<u8>);
    let head: Option<Head> = db.first(sql::Head, &[Bind::Int(of.org)])?;
    let broken = |what: &str| StoreError::Broken(format!("the head of {}'s book {what}", of.name));
    let (next_seq, engine, format, booked_at, judged_by, frontier) =
        head.ok_or_else(|| broken("is missing"))?;
    if format > FORMAT || engine > i64::from(reports::ENGINE) {
        return Err(StoreError::WrongVersion(format!(
            "the book of {} needs a program with engine {engine} and format {format}; this one has \
             engine {} and format {FORMAT}: use the newer program",
            of.name,
            reports::ENGINE
        )));
    }
    let mut book = Book::new(of.org, of.log.clone());
    book.next_seq = next_seq.unsigned_abs();
    book.booked_at = booked_at;
    book.judged_by = judged_by.unsigned_abs();
    book.frontier = Frontier::from_bytes(&frontier).ok_or_else(|| broken("is damaged"))?;
    if book.frontier.size() != book.next_seq {
        return Err(broken("disagrees with its own tree"));
    }
    book.tiles = unfinished_tiles(db, of.org, book.next_seq)?;
    Ok(book)
}

/// The unfinished tile of every level: level 0 from the entries, the others from stored tiles.
fn unfinished_tiles(db: &mut Db, org: i64, size: u64) -> Result<Vec<Vec<Hash>>, StoreError> {
    let mut tiles = Vec::new();
    let full = FULL as u64;
    let first = size / full * full;
    let binds = [Bind::Int(org), Bind::Int(int(first)), Bind::Int(int(size))];
    let hashes: Vec<Vec<u8>> = db.rows(sql::Hashes, &binds)?;
    tiles.push(
        hashes
            .into_iter()
            .filter_map(|hash| hash.try_into().ok())
            .collect::<Vec<Hash>>(),
    );
    let mut count = size / full;
    let mut level = 1;
    while count > 0 {
        let (index, width) = (count / full, count % full);
        let mut tile = Vec::new();
        if width > 0 {
            let binds = [Bind::Int(org), Bind::Int(level), Bind::Int(int(index))];
            let bytes: Option<Vec<u8>> = db.first(sql::Tile, &binds)?;
            tile = bytes
                .as_deref()
                .and_then(crate::ledger::tiles::read_tile)
                .unwrap_or_default();
        }
        tiles.push(tile);
        count /= full;
        level += 1;
    }
    let right =
        |(level, tile): (usize, &Vec<Hash>)| tile.len() as u64 == (size >> (8 * level)) % full;
    if !tiles.iter().enumerate().all(right) {
        return Err(StoreError::Broken(format!(
            "the tiles of book {org} do not reach its {size} entries; run `tarebook rebuild`"
        )));
    }
    Ok(tiles)
}
