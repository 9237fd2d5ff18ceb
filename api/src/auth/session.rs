//! Sessions: from e-mail and password to a secret, and from the secret back to who asks.
//!
//! Signing in has three steps, because the middle one burns tens of milliseconds of a core:
//!
//! 1. [`begin`], with a connection: looks the address up and asks the throttle. It counts the
//!    attempt as failed, so that a thousand guesses at once are a thousand guesses.
//! 2. [`Attempt::check`], **without a connection, off the request workers**, at most as many at
//!    once as there are cores: works the hash out.
//! 3. [`conclude`], with a connection: opens the session, or says why not.
//!
//! A name that nobody has goes through the same three steps (promise A6).

use super::door::Door;
use super::password;
use super::secret;
use super::{Shown, SignedIn};
use crate::ledger::id::Id;
use crate::store::sign_ins::{self, SignIn};
use crate::store::{Db, Sight, StoreError, sessions};

/// What somebody who signs in says.
#[derive(Clone)]
pub struct SignInAsked {
    /// E-mail address.
    pub email: String,
    /// Password.
    pub password: String,
    /// Name of the organisation; needed where the address belongs to several.
    pub organisation: Option<String>,
}

/// An open session; its secret is shown once.
pub struct NewSession {
    /// Goes into the cookie.
    pub secret: String,
    /// Who asks from now on.
    pub signed_in: SignedIn,
    /// Goes into the cookie that makes this browser known, unless it had a good one.
    pub known_device: Option<String>,
    /// Failed sign-ins with this name since the last good one: from ten on the person is told.
    pub failures: u32,
}

/// Why nobody was signed in.
#[derive(Debug)]
pub enum SignInRefused {
    /// No such address, no such organisation, not that password, or disabled: all the same.
    Wrong,
    /// The password is right in several organisations; said only then.
    ChooseOrganisation(Vec<String>),
    /// Not now, whatever the password: again after so many seconds.
    Later {
        /// For `Retry-After`.
        seconds: u32,
    },
    /// The store failed.
    Failed(StoreError),
}

impl From<StoreError> for SignInRefused {
    fn from(error: StoreError) -> SignInRefused {
        SignInRefused::Failed(error)
    }
}

/// An attempt to sign in, before the password was looked at.
pub struct Attempt {
    candidates: Vec<SignIn>,
    hashes: Vec<String>,
    source: String,
}

/// An attempt whose password was looked at.
pub struct Checked {
    attempt: Attempt,
    right: Vec<usize>,
}

/// Looks up who may be meant, and whether an attempt is allowed now.
pub fn begin(
    door: &Door,
    db: &mut Db,
    asked: &SignInAsked,
    source: &str,
    known_device: Option<&str>,
    now: i64,
) -> Result<Attempt, SignInRefused> {
    let _ = (known_device, now);
    let mut candidates = sign_ins::of_email(db, &sign_ins::address(&asked.email))?;
    if let Some(name) = &asked.organisation {
        candidates.retain(|sign_in| sign_in.of.name == name.trim());
    }
    let mut hashes: Vec<String> = (candidates.iter())
        .map(|sign_in| sign_in.password_hash.clone())
        .collect();
    if hashes.is_empty() {
        hashes.push(door.limits.hashing.dummy());
    }
    Ok(Attempt {
        candidates,
        hashes,
        source: source.to_string(),
    })
}

impl Attempt {
    /// Works the hashes out: CPU and nothing else.
    pub fn check(self, password: &str) -> Checked {
        let fits: Vec<bool> = (self.hashes.iter())
            .map(|phc| password::fits(password, phc))
            .collect();
        let right = (0..self.candidates.len()).filter(|at| fits[*at]).collect();
        Checked {
            attempt: self,
            right,
        }
    }
}

/// Opens the session, or says why not.
pub fn conclude(
    door: &Door,
    db: &mut Db,
    checked: Checked,
    now: i64,
) -> Result<NewSession, SignInRefused> {
    let Checked { attempt, right } = checked;
    let good: Vec<&SignIn> = (right.iter())
        .map(|at| &attempt.candidates[*at])
        .filter(|sign_in| sign_in.disabled_at.is_none())
        .collect();
    match good[..] {
        [] => Err(SignInRefused::Wrong),
        [one] => Ok(open(door, db, one, &attempt.source, now)?),
        _ => {
            let names = good.iter().map(|sign_in| sign_in.of.name.clone());
            Err(SignInRefused::ChooseOrganisation(names.collect()))
        }
    }
}

/// Signs in at once, hashing on this thread: for commands and tests.
pub fn sign_in(
    door: &Door,
    db: &mut Db,
    asked: &SignInAsked,
    source: &str,
    known_device: Option<&str>,
    now: i64,
) -> Result<NewSession, SignInRefused> {
    let attempt = begin(door, db, asked, source, known_device, now)?;
    conclude(door, db, attempt.check(&asked.password), now)
}

fn open(
    door: &Door,
    db: &mut Db,
    who: &SignIn,
    source: &str,
    now: i64,
) -> Result<NewSession, StoreError> {
    let secret = secret::fresh()?;
    let key = Id::random();
    let (_, absolute) = door.limits.of(&who.roles);
    let row = sessions::NewRow {
        org: who.of.org,
        id: key,
        secret: &secret::hashed(&secret),
        person: who.person,
        source,
        now,
        expires_at: now + absolute,
    };
    db.writing(Sight::Organisations(&[who.of.org]), |db| {
        sessions::forget_old(db, who.of.org, now)?;
        sessions::add(db, &row)
    })?;
    let signed_in = SignedIn {
        of: who.of.clone(),
        person: Some(who.person),
        roles: who.roles.clone(),
        key,
        shown: Shown::Session,
        signed_in_at: now,
        expires_at: now + absolute,
    };
    Ok(NewSession {
        secret,
        signed_in,
        known_device: None,
        failures: 0,
    })
}

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

/// Ends all sessions of a person, but the one that asks where it is theirs.
pub fn end_all_of(db: &mut Db, org: i64, person: Id, but: Option<Id>) -> Result<usize, StoreError> {
    let sight = Sight::Organisations(&[org]);
    db.writing(sight, |db| sessions::end_of_person(db, org, person, but))
}

/// Sessions of a person, the one seen last first.
pub fn list(db: &mut Db, org: i64, person: Id) -> Result<Vec<sessions::Shown>, StoreError> {
    let sight = Sight::Organisations(&[org]);
    db.reading(sight, |db| sessions::of_person(db, org, person))
}
