//! What all requests share of signing in: the limits, and who was seen when.
//!
//! One [`Door`] a process. It is told the time by its caller and never asks for it.

use super::password::Hashing;
use super::seal::Seals;
use super::throttle::Throttle;
use super::{Shown, SignedIn};
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use crate::store::{Db, Sight, StoreError, sessions, tokens};
use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// A second, in the microseconds of all moments.
pub const SECOND: i64 = 1_000_000;
/// A minute.
pub const MINUTE: i64 = 60 * SECOND;
const HOUR: i64 = 60 * MINUTE;

/// How long sessions last, and what a password costs.
#[derive(Clone, Debug)]
pub struct Limits {
    /// A session of somebody who holds only the role of a technician ends after so long without a
    /// request. The hands are in the machine, so it is long.
    pub field_idle: i64,
    /// It ends after so long in any case.
    pub field_absolute: i64,
    /// The same for everybody else.
    pub office_idle: i64,
    /// The same for everybody else.
    pub office_absolute: i64,
    /// Parameters of Argon2id.
    pub hashing: Hashing,
    /// Sign-ins of one address that are looked at when no organisation is named; every such attempt
    /// costs so many hashes, whether or not there are so many. A service that keeps the book of one
    /// organisation may set 1.
    pub compared: usize,
}

impl Default for Limits {
    fn default() -> Limits {
        Limits {
            field_idle: 12 * HOUR,
            field_absolute: 7 * 24 * HOUR,
            office_idle: 30 * MINUTE,
            office_absolute: 12 * HOUR,
            hashing: Hashing::default(),
            compared: 2,
        }
    }
}

impl Limits {
    /// Idle and absolute end of a session of somebody with these roles.
    pub fn of(&self, roles: &[Role]) -> (i64, i64) {
        if roles == [Role::Technician] {
            (self.field_idle, self.field_absolute)
        } else {
            (self.office_idle, self.office_absolute)
        }
    }
}

/// What all requests share.
#[derive(Debug, Default)]
pub struct Door {
    /// How long, how dear.
    pub limits: Limits,
    /// What seeds of second factors are sealed with.
    pub seals: Seals,
    /// Failures by address and altogether.
    pub(super) throttle: Mutex<Throttle>,
    seen: Mutex<HashMap<(Shown, i64, Id), i64>>,
}

/// A lock whose holder panicked guards counters only: they stay usable.
pub(super) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Door {
    /// A door with these limits.
    pub fn new(limits: Limits) -> Door {
        Door {
            limits,
            ..Door::default()
        }
    }

    /// The same, sealing seeds of second factors.
    pub fn sealing(self, seals: Seals) -> Door {
        Door { seals, ..self }
    }

    /// When a session or token was seen last, where that is newer than what is stored.
    pub(super) fn last_seen(&self, shown: Shown, org: i64, key: Id, stored: i64) -> i64 {
        let seen = lock(&self.seen).get(&(shown, org, key)).copied();
        seen.map_or(stored, |seen| seen.max(stored))
    }

    /// Notes a request, at most once a minute; it is stored by [`Door::write_seen`].
    pub(super) fn note_seen(&self, signed_in: &SignedIn, last: i64, now: i64) {
        if now - last >= MINUTE {
            let key = (signed_in.shown, signed_in.of.org, signed_in.key);
            lock(&self.seen).insert(key, now);
        }
    }

    /// Stores who was seen since the last call. The service calls it every half minute or so, and
    /// once when it stops; no request waits for it.
    pub fn write_seen(&self, db: &mut Db) -> Result<usize, StoreError> {
        let noted: Vec<_> = lock(&self.seen).iter().map(|(k, at)| (*k, *at)).collect();
        if noted.is_empty() {
            return Ok(0);
        }
        let mut orgs: Vec<i64> = noted.iter().map(|((_, org, _), _)| *org).collect();
        orgs.sort_unstable();
        orgs.dedup();
        db.writing(Sight::Organisations(&orgs), |db| {
            for ((shown, org, key), at) in &noted {
                match shown {
                    Shown::Session => sessions::seen(db, *org, *key, *at)?,
                    Shown::Token => tokens::used(db, *org, *key, *at)?,
                }
            }
            Ok(())
        })?;
        // What was noted meanwhile stays for the next time.
        let mut seen = lock(&self.seen);
        for (key, at) in &noted {
            if seen.get(key) == Some(at) {
                seen.remove(key);
            }
        }
        Ok(noted.len())
    }
}
