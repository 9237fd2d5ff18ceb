//! Mail: what a person chooses to get, the address that stops it, and who may still be written to.
//!
//! Every message carries an address of its own that stops all mail to its person without signing
//! in: 256 random bits, of which only the SHA-256 is kept. It is made when the message is sent, so
//! it lies in no table in clear. Whether a person may still be written to is asked at that moment,
//! not when the message was made.

use super::access::Asker;
use super::secret;
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use crate::store::open::Organisation;
use crate::store::outgoing::{self, Came};
use crate::store::{Db, Sight, StoreError, access, mail_choices, sign_ins};

pub use crate::store::mail_choices::{Choice, Digest};
pub use crate::store::outgoing::{Kind as MailKind, Message, Stand};

/// Addresses that stop mail hold for so long at least.
const STOPS_HOLD: i64 = 400 * 86_400 * 1_000_000;
/// Whoever sends a message holds it for so long at most; then another may.
const HELD: i64 = 10 * 60 * 1_000_000;
/// Messages that ended are listed for so long.
const LISTED: i64 = 90 * 86_400 * 1_000_000;

/// What a person chose.
pub fn chosen(db: &mut Db, of: &Organisation, person: Id) -> Result<Choice, StoreError> {
    let sight = Sight::Organisations(&[of.org]);
    db.reading(sight, |db| mail_choices::of_person(db, of.org, person))
}

/// Keeps what a person chose.
pub fn choose(
    db: &mut Db,
    of: &Organisation,
    by: &Asker<'_>,
    person: Id,
    choice: &Choice,
    now: i64,
) -> Result<(), StoreError> {
    let record = by.did("mail_chosen", &person.to_string(), now);
    db.writing(Sight::Organisations(&[of.org]), |db| {
        if mail_choices::of_person(db, of.org, person)? == *choice {
            return Ok(());
        }
        mail_choices::set(db, of.org, person, choice, now)?;
        access::add(db, of.org, &record)
    })
}

/// Whose mail an address stops; `None`: it is none that holds.
pub fn stopping(db: &mut Db, text: &str) -> Result<Option<(Organisation, Id)>, StoreError> {
    if !secret::looks_right(text) {
        return Ok(None);
    }
    mail_choices::by_stop(db, &secret::hashed(text))
}

/// Stops all mail to the person of an address; says of which organisation. A second time it says
/// the same.
pub fn stop(
    db: &mut Db,
    text: &str,
    source: &str,
    now: i64,
) -> Result<Option<Organisation>, StoreError> {
    let Some((of, person)) = stopping(db, text)? else {
        return Ok(None);
    };
    // Whoever knows the address is no more than that; it is said in whose name.
    let by = Asker {
        person: Some(person),
        device: None,
        role: Role::System,
        source,
    };
    let record = by.did("mail_stopped", &person.to_string(), now);
    db.writing(Sight::Organisations(&[of.org]), |db| {
        if mail_choices::of_person(db, of.org, person)?.sends() {
            mail_choices::set(db, of.org, person, &Choice::default(), now)?;
            access::add(db, of.org, &record)?;
        }
        Ok(())
    })?;
    Ok(Some(of))
}

/// A message in the hands of whoever sends it.
#[derive(Debug)]
pub struct Held {
    /// The message.
    pub message: Message,
    /// The address it goes to.
    pub address: String,
    /// The secret of the address that stops mail to this person; of a notice, nothing knows it.
    pub stop: String,
    holder: Id,
}

/// Takes the next message of a book that may be sent. Those to persons who may not be written to any
/// more are dropped on the way; `may`: the roles of one who may.
pub fn next(
    db: &mut Db,
    of: &Organisation,
    may: impl Fn(&[Role]) -> bool,
    now: i64,
) -> Result<Option<Held>, StoreError> {
    let (holder, org) = (Id::random(), of.org);
    db.writing(Sight::Organisations(&[org]), |db| {
        while let Some(message) = outgoing::hold(db, org, holder, now, now + HELD)? {
            let who = sign_ins::of_person(db, org, message.person)?;
            let who = who.filter(|who| who.disabled_at.is_none());
            // A word about one's own sign-in needs no choice.
            let notice = message.kind == MailKind::Notice;
            let wants = notice || mail_choices::of_person(db, org, message.person)?.sends();
            let who = who.filter(|who| wants && (notice || may(&who.roles)));
            let Some(who) = who else {
                let why = "its person gets no mail any more";
                outgoing::conclude(db, org, &message, holder, Came::Dropped(why), now)?;
                continue;
            };
            let stop = secret::fresh()?;
            if !notice {
                mail_choices::add_stop(db, org, &secret::hashed(&stop), message.person, now)?;
            }
            let address = who.email;
            return Ok(Some(Held {
                message,
                address,
                stop,
                holder,
            }));
        }
        Ok(None)
    })
}

/// Says what came of sending a message.
pub fn came(
    db: &mut Db,
    of: &Organisation,
    held: &Held,
    came: Came<'_>,
    now: i64,
) -> Result<(), StoreError> {
    db.writing(Sight::Organisations(&[of.org]), |db| {
        outgoing::conclude(db, of.org, &held.message, held.holder, came, now)
    })
}

/// Forgets what is older than it is kept for.
pub fn forget(db: &mut Db, of: &Organisation, now: i64) -> Result<(), StoreError> {
    db.writing(Sight::Organisations(&[of.org]), |db| {
        outgoing::forget(db, of.org, now - LISTED, now - STOPS_HOLD)?;
        mail_choices::forget_stops(db, of.org, now - STOPS_HOLD)
    })
}

/// The newest messages of a book.
pub fn list(db: &mut Db, of: &Organisation, most: i64) -> Result<Vec<Message>, StoreError> {
    let sight = Sight::Organisations(&[of.org]);
    db.reading(sight, |db| outgoing::list(db, of.org, most))
}

/// Lets a message that failed be tried anew; says whether it had failed.
pub fn again(db: &mut Db, of: &Organisation, id: Id, now: i64) -> Result<bool, StoreError> {
    db.writing(Sight::Organisations(&[of.org]), |db| {
        outgoing::again(db, of.org, id, now)
    })
}
