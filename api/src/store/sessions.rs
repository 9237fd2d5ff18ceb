//! Sessions as they are stored: by the hash of their secret, and who stands behind them.

use super::sign_ins::{self, SignIn};
use super::sql;
use super::statement::Bind;
use super::{Db, Sight, StoreError, damaged};
use crate::ledger::id::Id;

/// Most sessions a person has at once.
const MOST_SESSIONS: i64 = 50;

/// A session as stored, with the person's sign-in.
#[derive(Clone, Debug)]
pub struct Session {
    /// Its random id.
    pub id: Id,
    /// Who signed in, and where.
    pub sign_in: SignIn,
    /// When, microseconds since 1970.
    pub signed_in_at: i64,
    /// Last request that was noted.
    pub seen_at: i64,
    /// Ends then.
    pub expires_at: i64,
}

/// What a person may see of a session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shown {
    /// Its random id.
    pub id: Id,
    /// The address it was opened from.
    pub source: String,
    /// When, microseconds since 1970.
    pub signed_in_at: i64,
    /// Last request that was noted.
    pub seen_at: i64,
    /// Ends then.
    pub expires_at: i64,
}

/// A session to be stored.
pub struct NewRow<'a> {
    /// The organisation.
    pub org: i64,
    /// Its random id.
    pub id: Id,
    /// SHA-256 of its secret.
    pub secret: &'a [u8; 32],
    /// Who.
    pub person: Id,
    /// The address it is opened from.
    pub source: &'a str,
    /// Now.
    pub now: i64,
    /// Ends then.
    pub expires_at: i64,
}

/// The session with this hashed secret. The session is found by its secret alone; whose it is, and
/// what they may do, is then read within its organisation.
pub fn by_secret(db: &mut Db, secret: &[u8; 32]) -> Result<Option<Session>, StoreError> {
    db.reading(Sight::Secret(secret), |db| {
        type Row = (i64, Vec<u8>, Vec<u8>, i64, i64, i64);
        let row: Option<Row> = db.first(sql::SessionBySecret, &[Bind::Bytes(secret)])?;
        let Some((org, id, person, signed_in_at, seen_at, expires_at)) = row else {
            return Ok(None);
        };
        db.see(Sight::Organisations(&[org]))?;
        let (Some(id), Some(person)) = (Id::from_bytes(&id), Id::from_bytes(&person)) else {
            return Err(damaged("a session"));
        };
        let sign_in = sign_ins::of_person(db, org, person)?;
        Ok(sign_in.map(|sign_in| Session {
            id,
            sign_in,
            signed_in_at,
            seen_at,
            expires_at,
        }))
    })
}

/// Stores a session; inside a transaction.
pub fn add(db: &mut Db, row: &NewRow<'_>) -> Result<(), StoreError> {
    let binds = [
        Bind::Int(row.org),
        Bind::Bytes(&row.id.bytes()),
        Bind::Bytes(row.secret),
        Bind::Bytes(&row.person.bytes()),
        Bind::Text(row.source),
        Bind::Int(row.now),
        Bind::Int(row.now),
        Bind::Int(row.expires_at),
    ];
    db.run(sql::AddSession, &binds)?;
    Ok(())
}

/// Sessions of a person, the one seen last first; inside a transaction.
pub fn of_person(db: &mut Db, org: i64, person: Id) -> Result<Vec<Shown>, StoreError> {
    type Row = (Vec<u8>, String, i64, i64, i64);
    let binds = [Bind::Int(org), Bind::Bytes(&person.bytes())];
    let rows: Vec<Row> = db.rows(sql::SessionsOfPerson, &binds)?;
    let shown = |(id, source, signed_in_at, seen_at, expires_at): Row| {
        let id = Id::from_bytes(&id).ok_or_else(|| damaged("a session"))?;
        Ok(Shown {
            id,
            source,
            signed_in_at,
            seen_at,
            expires_at,
        })
    };
    rows.into_iter().map(shown).collect()
}

/// Ends one session; inside a transaction. Says whether there was one.
pub fn end(db: &mut Db, org: i64, id: Id) -> Result<bool, StoreError> {
    let binds = [Bind::Int(org), Bind::Bytes(&id.bytes())];
    Ok(db.run(sql::EndSession, &binds)? > 0)
}

/// Ends every session of a person but one; inside a transaction. Says how many there were.
pub fn end_of_person(
    db: &mut Db,
    org: i64,
    person: Id,
    but: Option<Id>,
) -> Result<usize, StoreError> {
    let but = but.map(Id::bytes);
    let binds = [
        Bind::Int(org),
        Bind::Bytes(&person.bytes()),
        Bind::Bytes(but.as_ref().map_or(&[], |id| &id[..])),
    ];
    Ok(db.run(sql::EndSessionsOfPerson, &binds)?)
}

/// Forgets sessions that have ended by themselves; inside a transaction.
pub fn forget_old(db: &mut Db, org: i64, now: i64) -> Result<(), StoreError> {
    db.run(sql::EndOldSessions, &[Bind::Int(org), Bind::Int(now)])?;
    Ok(())
}

/// Ends the sessions of a person that were seen longest ago, where there are very many; inside a
/// transaction.
pub fn end_surplus(db: &mut Db, org: i64, person: Id) -> Result<(), StoreError> {
    let (org, person) = (Bind::Int(org), person.bytes());
    let person = Bind::Bytes(&person);
    let binds = [org, person, org, person, Bind::Int(MOST_SESSIONS)];
    db.run(sql::EndSurplusSessions, &binds)?;
    Ok(())
}

/// Notes when a session was seen last; inside a transaction.
pub fn seen(db: &mut Db, org: i64, id: Id, at: i64) -> Result<(), StoreError> {
    let at = Bind::Int(at);
    db.run(
        sql::SetSeen,
        &[at, Bind::Int(org), Bind::Bytes(&id.bytes()), at],
    )?;
    Ok(())
}
