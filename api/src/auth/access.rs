//! Leaving a record of who signed in, read personal data, exported, or changed who may, and reading
//! these records (promise S6).

use super::SignedIn;
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use crate::store::open::Organisation;
use crate::store::{Db, Sight, StoreError, access};
use reports::plural;

pub use crate::store::access::{AccessRecord, Whose};

/// Days for which a record is kept unless the settings say otherwise: a year and the month in which
/// it is looked at.
pub const USUAL_DAYS: u32 = 400;
/// No record goes away earlier; the database holds to it, too.
pub const LEAST_DAYS: u32 = 30;

const DAY: i64 = 86_400_000_000;

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

/// Removes the records of a book that are older than so many days, and leaves a record of that. Says
/// how many were removed.
pub fn clean(db: &mut Db, of: &Organisation, days: u32, now: i64) -> Result<usize, StoreError> {
    let before = now - i64::from(days.max(LEAST_DAYS)) * DAY;
    db.writing(Sight::Organisations(&[of.org]), |db| {
        let removed = access::remove_before(db, of.org, before)?;
        if removed > 0 {
            let records = plural::counted(removed, "records");
            let day = crate::store::apply::instant_text(before);
            let day = day.get(..10).unwrap_or_default();
            let about = format!("{records} from before {day}");
            let record = Asker::HOST.did("access_records_cleaned", &about, now);
            access::add(db, of.org, &record)?;
        }
        Ok(removed)
    })
}

/// The same for every book of the database.
pub fn clean_all(db: &mut Db, days: u32, now: i64) -> Result<usize, StoreError> {
    let before = now - i64::from(days.max(LEAST_DAYS)) * DAY;
    let mut removed = 0;
    for of in access::books_before(db, before)? {
        removed += clean(db, &of, days, now)?;
    }
    Ok(removed)
}
