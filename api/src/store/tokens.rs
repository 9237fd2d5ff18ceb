//! Bearer tokens as they are stored: by the hash of their secret, with role, scopes and expiry.

use super::open::Organisation;
use super::sign_ins::{self, SignIn};
use super::sql;
use super::statement::Bind;
use super::{Db, Sight, StoreError, damaged};
use crate::ledger::actor::Role;
use crate::ledger::id::Id;

/// A token as found by its secret.
#[derive(Clone, Debug)]
pub struct Token {
    /// Its random id.
    pub id: Id,
    /// Whose book.
    pub of: Organisation,
    /// The person it acts for, with their sign-in; none: it belongs to the organisation.
    pub person: Option<(Id, Option<SignIn>)>,
    /// The role it acts in.
    pub role: Role,
    /// Its scopes, as stored.
    pub scopes: String,
    /// Ends then, microseconds since 1970.
    pub expires_at: i64,
    /// Last use that was noted; 0: none.
    pub used_at: i64,
    /// Revoked then; 0: not.
    pub revoked_at: i64,
}

/// What may be shown of a token: all but its secret.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// Its random id.
    pub id: Id,
    /// The part of it that may be shown.
    pub word: String,
    /// What it is for.
    pub name: String,
    /// The person it acts for.
    pub person: Option<Id>,
    /// The role it acts in.
    pub role: Role,
    /// Its scopes, as stored.
    pub scopes: String,
    /// Issued then, microseconds since 1970.
    pub made_at: i64,
    /// Ends then.
    pub expires_at: i64,
    /// Last use that was noted.
    pub used_at: Option<i64>,
    /// Revoked then.
    pub revoked_at: Option<i64>,
}

/// The token with this hashed secret. It is found by its secret alone; whose it is is then read
/// within its organisation.
pub fn by_secret(db: &mut Db, secret: &[u8; 32]) -> Result<Option<Token>, StoreError> {
    db.reading(Sight::Secret(secret), |db| {
        type Found = (i64, Vec<u8>, Option<Vec<u8>>, String, String, i64, i64, i64);
        let row: Option<Found> = db.first(sql::TokenBySecret, &[Bind::Bytes(secret)])?;
        let Some((org, id, person, role, scopes, expires_at, used_at, revoked_at)) = row else {
            return Ok(None);
        };
        db.see(Sight::Organisations(&[org]))?;
        let named: Option<(String, String)> =
            db.first(sql::OrganisationNumbered, &[Bind::Int(org)])?;
        let (name, log) = named.ok_or_else(|| damaged("a token"))?;
        let person = match person.as_deref().map(Id::from_bytes) {
            None => None,
            Some(None) => return Err(damaged("a token")),
            Some(Some(person)) => Some((person, sign_ins::of_person(db, org, person)?)),
        };
        Ok(Some(Token {
            id: Id::from_bytes(&id).ok_or_else(|| damaged("a token"))?,
            of: Organisation { org, name, log },
            person,
            role: Role::named(&role).ok_or_else(|| damaged("a token"))?,
            scopes,
            expires_at,
            used_at,
            revoked_at,
        }))
    })
}

/// Stores a token; inside a transaction.
pub fn add(db: &mut Db, org: i64, secret: &[u8; 32], row: &Row) -> Result<(), StoreError> {
    let person = row.person.map(Id::bytes);
    let binds = [
        Bind::Int(org),
        Bind::Bytes(&row.id.bytes()),
        Bind::Text(&row.word),
        Bind::Bytes(secret),
        Bind::Text(&row.name),
        Bind::MaybeBytes(person.as_ref().map(|id| &id[..])),
        Bind::Text(row.role.word()),
        Bind::Text(&row.scopes),
        Bind::Int(row.made_at),
        Bind::Int(row.expires_at),
    ];
    db.run(sql::AddToken, &binds)?;
    Ok(())
}

/// All tokens of an organisation, oldest first; inside a transaction.
pub fn all(db: &mut Db, org: i64) -> Result<Vec<Row>, StoreError> {
    type Stored = (
        Vec<u8>,
        String,
        String,
        Option<Vec<u8>>,
        String,
        String,
        i64,
        i64,
        i64,
        i64,
    );
    let rows: Vec<Stored> = db.rows(sql::Tokens, &[Bind::Int(org)])?;
    let read = |row: Stored| {
        Some(Row {
            id: Id::from_bytes(&row.0)?,
            word: row.1,
            name: row.2,
            person: row.3.as_deref().and_then(Id::from_bytes),
            role: Role::named(&row.4)?,
            scopes: row.5,
            made_at: row.6,
            expires_at: row.7,
            used_at: (row.8 > 0).then_some(row.8),
            revoked_at: (row.9 > 0).then_some(row.9),
        })
    };
    let read = |row| read(row).ok_or_else(|| damaged("a token"));
    rows.into_iter().map(read).collect()
}

/// Revokes a token; inside a transaction. Says whether there was one that still held.
pub fn revoke(db: &mut Db, org: i64, id: Id, now: i64) -> Result<bool, StoreError> {
    let binds = [Bind::Int(now), Bind::Int(org), Bind::Bytes(&id.bytes())];
    Ok(db.run(sql::RevokeToken, &binds)? > 0)
}

/// Revokes every token of a person; inside a transaction.
pub fn revoke_of_person(db: &mut Db, org: i64, person: Id, now: i64) -> Result<usize, StoreError> {
    let binds = [Bind::Int(now), Bind::Int(org), Bind::Bytes(&person.bytes())];
    Ok(db.run(sql::RevokeTokensOfPerson, &binds)?)
}

/// Notes when a token was used last; inside a transaction.
pub fn used(db: &mut Db, org: i64, id: Id, at: i64) -> Result<(), StoreError> {
    let at = Bind::Int(at);
    db.run(
        sql::SetUsed,
        &[at, Bind::Int(org), Bind::Bytes(&id.bytes()), at],
    )?;
    Ok(())
}
