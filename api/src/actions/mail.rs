//! The mail of a morning: who gets which list and which reminders, and that nobody gets one twice.
//!
//! The mail of an organisation is made once a local day, from an hour of its own zone on. Whether
//! something is due or late is decided by the day at the site, as everywhere. Everything for a person
//! is made in one transaction: the day is taken, the reasons are added, the messages with them. A
//! reason that stands already makes nothing again. No message says more than a calendar would.

mod words;

use super::permit::{self, Deed, Reach};
use super::refusal::ActionError;
use super::show::duties::{Row, Word, walked};
use super::show::reading;
use super::standings::Standings;
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use crate::store::mail_choices::{self, Choice, Digest};
use crate::store::open::Organisation;
use crate::store::outgoing::{self, Kind, Message, Stand};
use crate::store::{Db, Sight, StoreError, sign_ins};
use reports::day::Day;
pub use words::monday;

/// Something that became late longer ago makes no notice any more: whoever chooses mail for an old
/// book finds it in the list.
const LATE_FOR: i32 = 30;

/// How mail is made.
#[derive(Clone, Debug)]
pub struct Making {
    /// The local hour from which on the mail of a day is made, 0 to 23.
    pub hour: u8,
    /// Where the service is reached, without a slash at its end.
    pub base: String,
}

/// A person whose mail of today is still to be made.
struct Waiting {
    person: Id,
    choice: Choice,
}

/// May somebody with these roles be written to about what is owed?
pub fn may_be_written_to(roles: &[Role]) -> bool {
    let may = |role: &Role| permit::may(*role, Deed::OwnCalendars);
    roles.iter().any(may)
}

/// Books that have mail to make or to send.
pub fn books(db: &mut Db) -> Result<Vec<Organisation>, StoreError> {
    mail_choices::books(db)
}

/// Makes the mail of the local day, unless it is too early or made already; says how many messages.
pub fn make(db: &mut Db, of: &Organisation, how: &Making, now: i64) -> Result<usize, ActionError> {
    let made = reading(db, of, |db| {
        let standings = Standings::open(db, of, now)?;
        let today = standings.today();
        let begun = now - i64::from(how.hour) * 3_600 * 1_000_000;
        if standings.zone().day(instant(begun)) < today {
            return Ok(None);
        }
        let waiting = waiting(db, of, today)?;
        if waiting.is_empty() {
            return Ok(None);
        }
        let walked = walked(db, of, &standings, None, |row| row.word.is_owed())?;
        Ok(Some((today, waiting, walked.rows)))
    })?;
    let Some((today, waiting, rows)) = made else {
        return Ok(0);
    };
    let mut made = 0;
    for who in waiting {
        let own = |row: &&Row| who.choice.everything || row.assigned == Some(who.person);
        let rows: Vec<&Row> = rows.iter().filter(own).collect();
        made += made_for(db, of, how, &who, (today, &rows), now)?;
    }
    Ok(made)
}

/// Those whose mail of the day is not made, with what they may still be shown.
fn waiting(db: &mut Db, of: &Organisation, today: Day) -> Result<Vec<Waiting>, StoreError> {
    let mut waiting = Vec::new();
    for (person, mut choice) in mail_choices::waiting_for(db, of.org, today)? {
        let who = sign_ins::of_person(db, of.org, person)?;
        let Some(who) = who.filter(|who| who.disabled_at.is_none()) else {
            continue;
        };
        let whole = |role: &Role| permit::reach(*role, Deed::ReadFollowUps) == Reach::Whole;
        choice.everything &= who.roles.iter().any(whole);
        if may_be_written_to(&who.roles) {
            waiting.push(Waiting { person, choice });
        }
    }
    Ok(waiting)
}

fn made_for(
    db: &mut Db,
    of: &Organisation,
    how: &Making,
    who: &Waiting,
    (today, rows): (Day, &[&Row]),
    now: i64,
) -> Result<usize, StoreError> {
    let says = words::Says {
        organisation: &of.name,
        everything: who.choice.everything,
        names: who.choice.names,
        base: &how.base,
        today,
    };
    db.writing(Sight::Organisations(&[of.org]), |db| {
        // Whoever stopped meanwhile has no row any more, and gets none.
        if !mail_choices::take_day(db, of.org, who.person, today)? {
            return Ok(0);
        }
        let listed = digest(db, of, who, (today, rows), &says, now)?;
        let reminded = reminders(db, of, who, rows, &says, now)?;
        Ok(usize::from(listed) + usize::from(reminded))
    })
}

/// The list of the day or the week, where it was chosen and not made yet.
fn digest(
    db: &mut Db,
    of: &Organisation,
    who: &Waiting,
    (today, rows): (Day, &[&Row]),
    says: &words::Says<'_>,
    now: i64,
) -> Result<bool, StoreError> {
    let (kind, day) = match who.choice.digest {
        Digest::Never => return Ok(false),
        Digest::Daily => (Kind::Daily, today),
        Digest::Weekly => (Kind::Weekly, words::monday(today)),
    };
    let (subject, body) = says.digest(rows);
    let message = message(who.person, kind, subject, body, now);
    let nothing = Id::from_bits(0);
    if !outgoing::reason(db, of.org, &message, kind, nothing, day)? {
        return Ok(false);
    }
    outgoing::add(db, of.org, &message)?;
    Ok(true)
}

/// One message with all reminders of the day that were not made yet.
fn reminders(
    db: &mut Db,
    of: &Organisation,
    who: &Waiting,
    rows: &[&Row],
    says: &words::Says<'_>,
    now: i64,
) -> Result<bool, StoreError> {
    let mut message = message(
        who.person,
        Kind::Reminders,
        String::new(),
        String::new(),
        now,
    );
    let mut new = Vec::new();
    for row in rows {
        let Some((kind, due)) = reminder(&who.choice, row) else {
            continue;
        };
        if outgoing::reason(db, of.org, &message, kind, row.step, due)? {
            new.push(*row);
        }
    }
    if new.is_empty() {
        return Ok(false);
    }
    (message.subject, message.body) = says.reminders(&new);
    outgoing::add(db, of.org, &message)?;
    Ok(true)
}

/// Which reminder a step asks for today, and the day it is due. A morning that was missed is made
/// up for: three days before holds until the day itself comes.
fn reminder(choice: &Choice, row: &Row) -> Option<(Kind, Day)> {
    let due = row.due?;
    let left = due.days_since(row.today);
    let kind = match left {
        ..0 if choice.late && row.word == Word::Late && left >= -LATE_FOR => Kind::Late,
        ..0 => return None,
        0 if choice.on_the_day => Kind::OnTheDay,
        0..=3 if choice.three_days => Kind::ThreeDays,
        0..=14 if choice.fortnight => Kind::Fortnight,
        _ => return None,
    };
    Some((kind, due))
}

fn message(person: Id, kind: Kind, subject: String, body: String, now: i64) -> Message {
    Message {
        id: Id::random(),
        person,
        kind,
        subject,
        body,
        made_at: now,
        stand: Stand::Waiting,
        attempts: 0,
        next_at: now,
        ended_at: 0,
        why: String::new(),
    }
}

fn instant(microseconds: i64) -> jiff::Timestamp {
    jiff::Timestamp::from_microsecond(microseconds).unwrap_or(jiff::Timestamp::UNIX_EPOCH)
}

#[cfg(test)]
mod tests;
