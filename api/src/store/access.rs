//! The record of who signed in, read personal data, exported, or changed who may (promise S6).
//!
//! Rows are added and never changed. They stand beside the book, not in it: who looked is no fact
//! about refrigerant, and goes away after its time: the settings say when, and the database itself
//! removes none within its first thirty days.

use super::open::Organisation;
use super::sql;
use super::statement::{Bind, statement};
use super::{Db, StoreError, damaged};
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use diesel::sql_types::{BigInt, Text};

statement! {
    AccessBooks: "SELECT org, name, log FROM access_books WHERE oldest < ? ORDER BY org"
                 => (BigInt, Text, Text);
    CleanAccessRecords: "DELETE FROM access_records WHERE org = ? AND at < ?";
}

/// One record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AccessRecord {
    /// When, microseconds since 1970.
    pub at: i64,
    /// Random.
    pub id: Id,
    /// Who; none: a command on the host, or a token of the organisation.
    pub person: Option<Id>,
    /// The session or token.
    pub device: Option<Id>,
    /// In which role; none before somebody is signed in.
    pub role: Option<Role>,
    /// What was done, a word such as `sign_in` or `report`.
    pub what: String,
    /// To what: an id, a name of a report. Never a secret.
    pub about: String,
    /// From where: an address, or `host`.
    pub source: String,
}

/// Longest text of a member.
const LONGEST: usize = 200;

fn short(text: &str) -> String {
    let kept = text.chars().filter(|c| !c.is_control());
    kept.take(LONGEST).collect()
}

/// Adds a record; inside a transaction.
pub fn add(db: &mut Db, org: i64, record: &AccessRecord) -> Result<(), StoreError> {
    let (person, device) = (record.person.map(Id::bytes), record.device.map(Id::bytes));
    let (what, about, source) = (
        short(&record.what),
        short(&record.about),
        short(&record.source),
    );
    let binds = [
        Bind::Int(org),
        Bind::Int(record.at),
        Bind::Bytes(&record.id.bytes()),
        Bind::MaybeBytes(person.as_ref().map(|id| &id[..])),
        Bind::MaybeBytes(device.as_ref().map(|id| &id[..])),
        Bind::Text(record.role.map_or("", Role::word)),
        Bind::Text(&what),
        Bind::Text(&about),
        Bind::Text(&source),
    ];
    db.run(sql::AddAccessRecord, &binds)?;
    Ok(())
}

/// Which records are asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Whose {
    /// All of the organisation.
    Everybody,
    /// Those of one person.
    Person(Id),
    /// What concerns security: sign-ins, people, tokens.
    Security,
}

/// The newest records before a place in the list, newest first; inside a transaction.
pub fn before(
    db: &mut Db,
    org: i64,
    whose: Whose,
    (at, id): (i64, Id),
    most: u32,
) -> Result<Vec<AccessRecord>, StoreError> {
    let (org, at, most) = (Bind::Int(org), Bind::Int(at), Bind::Int(i64::from(most)));
    let id = id.bytes();
    let id = Bind::Bytes(&id);
    let rows: Vec<Row> = match whose {
        Whose::Everybody => db.rows(sql::AccessRecords, &[org, at, id, most])?,
        Whose::Security => db.rows(sql::SecurityRecords, &[org, at, id, most])?,
        Whose::Person(person) => {
            let person = person.bytes();
            let binds = [org, Bind::Bytes(&person), at, id, most];
            db.rows(sql::AccessRecordsOfPerson, &binds)?
        }
    };
    rows.into_iter().map(read).collect()
}

/// When, id, person, device, role, what, about, source.
type Row = (
    i64,
    Vec<u8>,
    Option<Vec<u8>>,
    Option<Vec<u8>>,
    String,
    String,
    String,
    String,
);

fn read(row: Row) -> Result<AccessRecord, StoreError> {
    let (at, id, person, device, role, what, about, source) = row;
    Ok(AccessRecord {
        at,
        id: Id::from_bytes(&id).ok_or_else(|| damaged("an access record"))?,
        person: person.as_deref().and_then(Id::from_bytes),
        device: device.as_deref().and_then(Id::from_bytes),
        role: Role::named(&role),
        what,
        about,
        source,
    })
}

/// Books with records from before a moment; outside any transaction.
pub fn books_before(db: &mut Db, before: i64) -> Result<Vec<Organisation>, StoreError> {
    let rows: Vec<(i64, String, String)> = db.rows(AccessBooks, &[Bind::Int(before)])?;
    let of = |(org, name, log)| Organisation { org, name, log };
    Ok(rows.into_iter().map(of).collect())
}

/// Removes the records from before a moment and says how many they were; inside a transaction.
pub fn remove_before(db: &mut Db, org: i64, before: i64) -> Result<usize, StoreError> {
    Ok(db.run(CleanAccessRecords, &[Bind::Int(org), Bind::Int(before)])?)
}
