//! Calendars by their address: whoever knows it may read the calendar and nothing else.
//!
//! The address holds 256 random bits, is shown once and can be revoked; only their SHA-256 is kept.
//! A calendar says no more than its person may read today: who signs in no longer has none.

use super::access::Asker;
use super::secret;
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use crate::store::open::Organisation;
use crate::store::{Db, Sight, StoreError, access, calendars};

pub use crate::store::calendars::Calendar;

/// Most calendars of a person that hold at once.
pub const MOST: usize = 10;

/// A calendar that was asked for by its address.
#[derive(Clone, Debug)]
pub struct Found {
    /// The calendar.
    pub calendar: Calendar,
    /// Whose book.
    pub of: Organisation,
    /// The roles its person holds today.
    pub roles: Vec<Role>,
}

/// The calendar of a secret; `None` when it does not hold (any more).
pub fn find(db: &mut Db, text: &str) -> Result<Option<Found>, StoreError> {
    if !secret::looks_right(text) {
        return Ok(None);
    }
    let found = calendars::by_secret(db, &secret::hashed(text))?;
    Ok(found.and_then(|(calendar, of, who)| {
        let who = who.filter(|who| who.disabled_at.is_none())?;
        let roles = who.roles;
        (calendar.revoked_at == 0).then_some(Found {
            calendar,
            of,
            roles,
        })
    }))
}

/// Makes a calendar; the secret is shown once. `None`: the person has too many already.
pub fn make(
    db: &mut Db,
    of: &Organisation,
    by: &Asker<'_>,
    calendar: &Calendar,
) -> Result<Option<String>, StoreError> {
    let text = secret::fresh()?;
    let record = by.did("calendar_made", &calendar.id.to_string(), calendar.made_at);
    db.writing(Sight::Organisations(&[of.org]), |db| {
        if calendars::of_person(db, of.org, calendar.person)?.len() >= MOST {
            return Ok(None);
        }
        calendars::add(db, &secret::hashed(&text), calendar)?;
        access::add(db, of.org, &record)?;
        Ok(Some(text))
    })
}

/// The calendars of a person that hold, oldest first.
pub fn list(db: &mut Db, of: &Organisation, person: Id) -> Result<Vec<Calendar>, StoreError> {
    let sight = Sight::Organisations(&[of.org]);
    db.reading(sight, |db| calendars::of_person(db, of.org, person))
}

/// Revokes a calendar of a person, from the next fetch on; says whether there was one that held.
pub fn revoke(
    db: &mut Db,
    of: &Organisation,
    by: &Asker<'_>,
    person: Id,
    id: Id,
    now: i64,
) -> Result<bool, StoreError> {
    let record = by.did("calendar_revoked", &id.to_string(), now);
    db.writing(Sight::Organisations(&[of.org]), |db| {
        let revoked = calendars::revoke(db, of.org, person, id, now)?;
        if revoked {
            access::add(db, of.org, &record)?;
        }
        Ok(revoked)
    })
}
