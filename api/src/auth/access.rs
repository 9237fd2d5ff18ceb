//! Leaving a record of who signed in, read personal data, exported, or changed who may, and reading
//! these records (promise S6).

use super::SignedIn;
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use crate::store::{Db, Sight, StoreError, access};

pub use crate::store::access::{AccessRecord, Whose};

/// Who did something, as a record says it.
#[derive(Clone, Copy, Debug)]
pub struct Asker<'a> {
    /// Who; none: a command on the host, or a token of the organisation.
    pub person: Option<Id>,
    /// The session or token.
    pub device: Option<Id>,
    /// In which role.
    pub role: Role,
    /// From where: an address, or `host`.
    pub source: &'a str,
}

impl<'a> Asker<'a> {
    /// A command on the host.
    pub const HOST: Asker<'static> = Asker {
        person: None,
        device: None,
        role: Role::Operator,
        source: "host",
    };

    /// Somebody signed in, acting in a role.
    pub fn new(signed_in: &SignedIn, role: Role, source: &'a str) -> Asker<'a> {
        Asker {
            person: signed_in.person,
            device: Some(signed_in.key),
            role,
            source,
        }
    }

    /// The record of what they did. `what` is a word such as `report`, `about` says to what: an id,
    /// a name; never a secret.
    pub fn did(&self, what: &str, about: &str, now: i64) -> AccessRecord {
        AccessRecord {
            at: now,
            id: Id::random(),
            person: self.person,
            device: self.device,
            role: Some(self.role),
            what: what.to_string(),
            about: about.to_string(),
            source: self.source.to_string(),
        }
    }
}

/// Leaves a record in a transaction of its own.
pub fn record(db: &mut Db, org: i64, record: &AccessRecord) -> Result<(), StoreError> {
    let sight = Sight::Organisations(&[org]);
    db.writing(sight, |db| access::add(db, org, record))
}

/// The newest records, newest first; of the next page those before the last one of this page.
pub fn list(
    db: &mut Db,
    org: i64,
    whose: Whose,
    before: Option<(i64, Id)>,
    most: u32,
) -> Result<Vec<AccessRecord>, StoreError> {
    let sight = Sight::Organisations(&[org]);
    let before = before.unwrap_or((i64::MAX, Id::from_bits(u128::MAX)));
    db.reading(sight, |db| access::before(db, org, whose, before, most))
}
