//! Opening a session once everything that is asked was shown.

use super::door::Door;
use super::secret;
use super::sign_in::NewSession;
use super::{Shown, SignedIn};
use crate::ledger::id::Id;
use crate::ledger::tree::sha256;
use crate::store::access::{self, AccessRecord};
use crate::store::sign_ins::SignIn;
use crate::store::{Db, StoreError, guesses, sessions};

/// What is known of a sign-in that succeeded.
pub(super) struct Opening<'a> {
    /// Under which key the address is counted.
    pub account: &'a [u8; 32],
    /// The address belongs to one sign-in only.
    pub alone: bool,
    /// Failures before it.
    pub failures: i64,
    /// The address of the network.
    pub source: &'a str,
    /// Hash of the secret by which the browser says it is known.
    pub known_device: Option<[u8; 32]>,
    /// The session that it takes the place of, and its end.
    pub replaces: Option<(Id, i64)>,
}

/// Opens a session; inside a transaction that read `who`.
pub(super) fn opened(
    door: &Door,
    db: &mut Db,
    it: &Opening<'_>,
    who: &SignIn,
    now: i64,
) -> Result<NewSession, StoreError> {
    let (secret, device) = (secret::fresh()?, secret::fresh()?);
    let (key, org) = (Id::random(), who.of.org);
    let (_, absolute) = door.limits.of(&who.roles);
    let expires_at = match it.replaces {
        // The password alone makes a session fresh, and no longer than both factors made it.
        Some((_, end)) if who.factor_since.is_some() => end.min(now + absolute),
        _ => now + absolute,
    };
    let row = sessions::NewRow {
        org,
        id: key,
        secret: &secret::hashed(&secret),
        person: who.person,
        source: it.source,
        now,
        expires_at,
    };
    sessions::forget_old(db, org, now)?;
    if let Some((old, _)) = it.replaces {
        sessions::end(db, org, old)?;
    }
    sessions::add(db, &row)?;
    sessions::end_surplus(db, org, who.person)?;
    guesses::forgive(db, it.account, who, it.alone)?;
    let known = it.known_device.as_ref();
    let known = known.map_or(Ok(false), |known| guesses::trust(db, who, known))?;
    if !known {
        guesses::know(db, who, &sha256(device.as_bytes()), now)?;
    }
    let record = record(who, Some(key), "sign_in", it.source, now);
    access::add(db, org, &record)?;
    Ok(NewSession {
        signed_in: signed_in(who, key, now, expires_at),
        secret,
        known_device: (!known).then_some(device),
        failures: it.failures,
    })
}

/// A record of what somebody did who is not signed in yet.
pub(super) fn record(
    who: &SignIn,
    key: Option<Id>,
    what: &str,
    source: &str,
    at: i64,
) -> AccessRecord {
    AccessRecord {
        at,
        id: Id::random(),
        person: Some(who.person),
        device: key,
        role: None,
        what: what.to_string(),
        about: String::new(),
        source: source.to_string(),
    }
}

fn signed_in(who: &SignIn, key: Id, now: i64, expires_at: i64) -> SignedIn {
    SignedIn {
        of: who.of.clone(),
        person: Some(who.person),
        roles: who.roles.clone(),
        key,
        shown: Shown::Session,
        signed_in_at: now,
        expires_at,
        owes_factor: who.owes_factor(),
    }
}
