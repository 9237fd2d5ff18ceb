//! Sessions: from the secret of a cookie back to who asks, and their end.
//!
//! How one is opened stands in [`sign_in`](super::sign_in). A session is looked up at every request,
//! so that ending it, other roles or a disabled person count from the next request on.

use super::door::{Door, MINUTE};
use super::secret;
use super::{Shown, SignedIn};
use crate::ledger::id::Id;
use crate::store::access::{self, AccessRecord};
use crate::store::{Db, Sight, StoreError, sessions, sign_ins};

pub use crate::store::sessions::Shown as Listed;

pub use super::sign_in::{
    Attempt, Checked, NewSession, SignInAsked, SignInRefused, again, begin, conclude, sign_in,
};

/// Who shows this secret; `None` when nobody does any more.
pub fn find(
    door: &Door,
    db: &mut Db,
    secret: &str,
    now: i64,
) -> Result<Option<SignedIn>, StoreError> {
    if !secret::looks_right(secret) {
        return Ok(None);
    }
    let Some(session) = sessions::by_secret(db, &secret::hashed(secret))? else {
        return Ok(None);
    };
    let who = session.sign_in;
    let org = who.of.org;
    let seen = door.last_seen(Shown::Session, org, session.id, session.seen_at);
    let (idle, _) = door.limits.of(&who.roles);
    if now >= session.expires_at || now - seen >= idle || who.disabled_at.is_some() {
        return Ok(None);
    }
    let signed_in = SignedIn {
        owes_factor: who.owes_factor(),
        of: who.of,
        person: Some(who.person),
        roles: who.roles,
        key: session.id,
        shown: Shown::Session,
        signed_in_at: session.signed_in_at,
        expires_at: session.expires_at,
    };
    door.note_seen(&signed_in, seen, now);
    Ok(Some(signed_in))
}

/// Ends the session that asks (signing out).
pub fn end(db: &mut Db, signed_in: &SignedIn) -> Result<(), StoreError> {
    end_one(db, signed_in.of.org, signed_in.key).map(|_| ())
}

/// Ends a session of the organisation; says whether there was one.
pub fn end_one(db: &mut Db, org: i64, key: Id) -> Result<bool, StoreError> {
    let sight = Sight::Organisations(&[org]);
    db.writing(sight, |db| sessions::end(db, org, key))
}

/// Changes the password of the person who asks; only the hash comes here, made off the request
/// workers. The session must be fresh ([`is_fresh`]), which only the current password makes it. All
/// other sessions end at once, and no browser is known any longer.
pub fn change_password(
    db: &mut Db,
    signed_in: &SignedIn,
    source: &str,
    hash: &str,
    now: i64,
) -> Result<bool, StoreError> {
    let (Some(person), true) = (signed_in.person, is_fresh(signed_in, now)) else {
        return Ok(false);
    };
    let (org, key) = (signed_in.of.org, signed_in.key);
    let role = signed_in.roles.first().copied();
    let record = AccessRecord {
        at: now,
        id: Id::random(),
        person: Some(person),
        device: Some(key),
        role,
        what: "password_set".to_string(),
        about: person.to_string(),
        source: source.to_string(),
    };
    db.writing(Sight::Organisations(&[org]), |db| {
        sign_ins::set_password(db, org, person, hash, Some(key))?;
        access::add(db, org, &record)?;
        Ok(true)
    })
}

/// Ends all sessions of a person, but the one that asks where it is theirs.
pub fn end_all_of(db: &mut Db, org: i64, person: Id, but: Option<Id>) -> Result<usize, StoreError> {
    let sight = Sight::Organisations(&[org]);
    db.writing(sight, |db| sessions::end_of_person(db, org, person, but))
}

/// Did this person show a factor within the last five minutes? Closing a period, grants, tokens,
/// another password and erasure ask for it.
pub fn is_fresh(signed_in: &SignedIn, now: i64) -> bool {
    signed_in.shown == Shown::Session && now - signed_in.signed_in_at <= 5 * MINUTE
}

/// Sessions of a person, the one seen last first.
pub fn list(db: &mut Db, org: i64, person: Id) -> Result<Vec<sessions::Shown>, StoreError> {
    let sight = Sight::Organisations(&[org]);
    db.reading(sight, |db| sessions::of_person(db, org, person))
}
