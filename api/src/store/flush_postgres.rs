//! Columns of values instead of rows, for PostgreSQL.

use super::book::{Book, Subject};
use super::db::Db;
use super::flush::int;
use super::sql;
use super::statement::Bind;
use diesel::result::QueryResult;

/// Writes the pending rows of all books, one statement a table.
pub fn columns(db: &mut Db, books: &[&mut Book]) -> QueryResult<()> {
    entries(db, books)?;
    movements(db, books)?;
    disclosures(db, books)?;
    caches(db, books)
}

/// Writes the pending rows of the tables that can be worked out again.
pub fn caches(db: &mut Db, books: &[&mut Book]) -> QueryResult<()> {
    registers(db, books)?;
    subjects(db, books)?;
    balances(db, books)?;
    super::standings::columns(db, books)
}

/// All pending rows of one sort with their organisation.
macro_rules! pending {
    ($books:ident, $rows:ident) => {
        $books
            .iter()
            .flat_map(|book| book.pending.$rows.iter().map(|row| (&**book, row)))
    };
}

/// A column of whole numbers.
macro_rules! ints {
    ($rows:expr, $value:expr) => {{
        let value = $value;
        $rows
            .map(|(book, row)| value(book, row))
            .collect::<Vec<i64>>()
    }};
}

fn entries(db: &mut Db, books: &[&mut Book]) -> QueryResult<()> {
    let org = ints!(pending!(books, entries), |book: &Book, _| book.org);
    if org.is_empty() {
        return Ok(());
    }
    let seq = ints!(
        pending!(books, entries),
        |_, row: &super::flush::EntryRow| int(row.seq)
    );
    let kind = ints!(
        pending!(books, entries),
        |_, row: &super::flush::EntryRow| i64::from(row.kind)
    );
    let day = ints!(
        pending!(books, entries),
        |_, row: &super::flush::EntryRow| i64::from(row.day)
    );
    let booked = ints!(
        pending!(books, entries),
        |_, row: &super::flush::EntryRow| row.booked_at
    );
    let id: Vec<&[u8]> = pending!(books, entries)
        .map(|(_, row)| &row.id[..])
        .collect();
    let leaf: Vec<&[u8]> = pending!(books, entries)
        .map(|(_, row)| &row.leaf[..])
        .collect();
    let hash: Vec<&[u8]> = pending!(books, entries)
        .map(|(_, row)| &row.hash[..])
        .collect();
    db.run(
        sql::AddEntries,
        &[
            Bind::Ints(&org),
            Bind::Ints(&seq),
            Bind::Blobs(&id),
            Bind::Ints(&kind),
            Bind::Ints(&day),
            Bind::Ints(&booked),
            Bind::Blobs(&leaf),
            Bind::Blobs(&hash),
        ],
    )
    .map(|_| ())
}

fn movements(db: &mut Db, books: &[&mut Book]) -> QueryResult<()> {
    type Row = super::flush::MovementRow;
    let org = ints!(pending!(books, movements), |book: &Book, _| book.org);
    if org.is_empty() {
        return Ok(());
    }
    let seq = ints!(pending!(books, movements), |_, row: &Row| int(row.seq));
    let n = ints!(pending!(books, movements), |_, row: &Row| row.n);
    let src = ints!(pending!(books, movements), |_, row: &Row| row.src.0);
    let dst = ints!(pending!(books, movements), |_, row: &Row| row.dst.0);
    let mass = ints!(pending!(books, movements), |_, row: &Row| row.mass);
    let appliance = ints!(pending!(books, movements), |_, row: &Row| row
        .appliance
        .map_or(0, |p| p.0));
    let day = ints!(pending!(books, movements), |_, row: &Row| i64::from(
        row.day
    ));
    let what = ints!(pending!(books, movements), |_, row: &Row| row.what);
    let id_high = ints!(pending!(books, movements), |_, row: &Row| row.id_high);
    let ties: Vec<Option<&[u8]>> = pending!(books, movements)
        .map(|(_, row)| row.ties.as_deref())
        .collect();
    db.run(
        sql::AddMovements,
        &[
            Bind::Ints(&org),
            Bind::Ints(&seq),
            Bind::Ints(&n),
            Bind::Ints(&src),
            Bind::Ints(&dst),
            Bind::Ints(&mass),
            Bind::Ints(&appliance),
            Bind::Ints(&day),
            Bind::Ints(&what),
            Bind::Ints(&id_high),
            Bind::MaybeBlobs(&ties),
        ],
    )
    .map(|_| ())
}

fn disclosures(db: &mut Db, books: &[&mut Book]) -> QueryResult<()> {
    let org = ints!(pending!(books, disclosures), |book: &Book, _| book.org);
    if org.is_empty() {
        return Ok(());
    }
    let seq = ints!(
        pending!(books, disclosures),
        |_, row: &super::flush::DisclosureRow| int(row.seq)
    );
    let field: Vec<&str> = pending!(books, disclosures)
        .map(|(_, row)| &row.field[..])
        .collect();
    let salt: Vec<&[u8]> = pending!(books, disclosures)
        .map(|(_, row)| &row.salt[..])
        .collect();
    let value: Vec<&str> = pending!(books, disclosures)
        .map(|(_, row)| &row.value[..])
        .collect();
    db.run(
        sql::AddDisclosures,
        &[
            Bind::Ints(&org),
            Bind::Ints(&seq),
            Bind::Texts(&field),
            Bind::Blobs(&salt),
            Bind::Texts(&value),
        ],
    )
    .map(|_| ())
}

fn registers(db: &mut Db, books: &[&mut Book]) -> QueryResult<()> {
    let rows: Vec<_> = pending!(books, registers).collect();
    if rows.is_empty() {
        return Ok(());
    }
    let org: Vec<i64> = rows.iter().map(|(book, _)| book.org).collect();
    let place: Vec<i64> = rows.iter().map(|(_, (place, _))| place.0).collect();
    let sort: Vec<i64> = rows
        .iter()
        .map(|(_, (place, _))| place.sort() as i64)
        .collect();
    let ids: Vec<[u8; 16]> = rows
        .iter()
        .map(|(book, (place, _))| {
            book.subjects[place]
                .id
                .map(|id| id.bytes())
                .unwrap_or_default()
        })
        .collect();
    let uuid: Vec<&[u8]> = ids.iter().map(|id| &id[..]).collect();
    let tag: Vec<Option<&str>> = rows
        .iter()
        .map(|(book, (place, _))| book.subjects[place].tag.as_deref())
        .collect();
    let texts: Vec<String> = rows
        .iter()
        .map(|(_, (_, dossier))| dossier.text())
        .collect();
    let facts: Vec<&str> = texts.iter().map(String::as_str).collect();
    db.run(
        sql::SetRegisters,
        &[
            Bind::Ints(&org),
            Bind::Ints(&place),
            Bind::Ints(&sort),
            Bind::Blobs(&uuid),
            Bind::MaybeTexts(&tag),
            Bind::Texts(&facts),
        ],
    )
    .map(|_| ())
}

fn subjects(db: &mut Db, books: &[&mut Book]) -> QueryResult<()> {
    let rows: Vec<_> = pending!(books, subjects)
        .map(|(b, place)| (b, place, &b.subjects[place]))
        .collect();
    if rows.is_empty() {
        return Ok(());
    }
    let org: Vec<i64> = rows.iter().map(|(book, ..)| book.org).collect();
    let place: Vec<i64> = rows.iter().map(|(_, place, _)| place.0).collect();
    let nth: Vec<i64> = rows.iter().map(|(.., subject)| int(subject.nth)).collect();
    let quarantine: Vec<i64> = rows
        .iter()
        .map(|(.., subject)| subject.quarantine.map_or(-1, int))
        .collect();
    let texts: Vec<String> = rows.iter().map(|(.., s)| s.owners_text()).collect();
    let owners: Vec<&str> = texts.iter().map(String::as_str).collect();
    let class: Vec<i64> = rows.iter().map(|(.., s)| s.class as i64).collect();
    let newest = |s: &Subject| s.newest.map_or(-1, int);
    let newest: Vec<i64> = rows.iter().map(|(.., s)| newest(s)).collect();
    let moved: Vec<i64> = rows.iter().map(|(.., s)| int(s.moved)).collect();
    db.run(
        sql::SetSubjects,
        &[
            Bind::Ints(&org),
            Bind::Ints(&place),
            Bind::Ints(&nth),
            Bind::Ints(&quarantine),
            Bind::Texts(&owners),
            Bind::Ints(&class),
            Bind::Ints(&newest),
            Bind::Ints(&moved),
        ],
    )
    .map(|_| ())
}

fn balances(db: &mut Db, books: &[&mut Book]) -> QueryResult<()> {
    let rows: Vec<_> = pending!(books, balances).collect();
    if rows.is_empty() {
        return Ok(());
    }
    let org: Vec<i64> = rows.iter().map(|(book, _)| book.org).collect();
    let place: Vec<i64> = rows.iter().map(|(_, (place, _))| place.0).collect();
    let code: Vec<i64> = rows.iter().map(|(_, (_, code))| i64::from(*code)).collect();
    let texts: Vec<String> = rows
        .iter()
        .map(|(book, (place, code))| book.subjects[place].balance(*code).to_string())
        .collect();
    let mass: Vec<&str> = texts.iter().map(String::as_str).collect();
    db.run(
        sql::SetBalances,
        &[
            Bind::Ints(&org),
            Bind::Ints(&place),
            Bind::Ints(&code),
            Bind::Texts(&mass),
        ],
    )
    .map(|_| ())
}
