//! Calendars that a program fetches without signing in, found by the hash of the secret in their
//! address, and what each said last of every step.

use super::open::Organisation;
use super::sign_ins::{self, SignIn};
use super::statement::{Bind, statement};
use super::{Db, Sight, StoreError, damaged, sql};
use crate::ledger::id::Id;
use diesel::sql_types::{BigInt, Binary, Text};
use reports::day::Day;
use std::collections::HashMap;

statement! {
    AddCalendar: "INSERT INTO calendars (org, id, secret, person, names, everything, made_at, \
                  read_at, revoked_at) VALUES (?, ?, ?, ?, ?, ?, ?, 0, 0)";
    /// Narrow.
    CalendarBySecret: "SELECT org, id, person, names, everything, made_at, read_at, revoked_at \
                       FROM calendars WHERE secret = ?"
                      => (BigInt, Binary, Binary, BigInt, BigInt, BigInt, BigInt, BigInt);
    CalendarsOfPerson: "SELECT org, id, person, names, everything, made_at, read_at, revoked_at \
                        FROM calendars WHERE org = ? AND person = ? AND revoked_at = 0 \
                        ORDER BY made_at, id"
                       => (BigInt, Binary, Binary, BigInt, BigInt, BigInt, BigInt, BigInt);
    RevokeCalendar: "UPDATE calendars SET revoked_at = ? WHERE org = ? AND person = ? AND id = ? \
                     AND revoked_at = 0";
    RevokeCalendarsOfPerson: "UPDATE calendars SET revoked_at = ? WHERE org = ? AND person = ? \
                              AND revoked_at = 0";
    DropStepsOfRevoked: "DELETE FROM calendar_steps WHERE org = ? AND calendar IN (SELECT id \
                         FROM calendars WHERE calendars.org = calendar_steps.org \
                         AND person = ? AND revoked_at > 0)";
    SetCalendarRead: "UPDATE calendars SET read_at = ? WHERE org = ? AND id = ? \
                      AND revoked_at = 0";
    CalendarSteps: "SELECT step, sequence, day, summary, details, link, said_at, over_at \
                    FROM calendar_steps WHERE org = ? AND calendar = ? ORDER BY step"
                   => (Binary, BigInt, BigInt, Text, Text, Text, BigInt, BigInt);
    SetCalendarStep: "INSERT INTO calendar_steps (org, calendar, step, sequence, day, summary, \
                      details, link, said_at, over_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) \
                      ON CONFLICT (org, calendar, step) DO UPDATE SET \
                      sequence = excluded.sequence, day = excluded.day, \
                      summary = excluded.summary, details = excluded.details, \
                      link = excluded.link, said_at = excluded.said_at, \
                      over_at = excluded.over_at";
}

/// A calendar, without its secret.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Calendar {
    /// Number of the organisation.
    pub org: i64,
    /// Its random id.
    pub id: Id,
    /// Whose.
    pub person: Id,
    /// Names of sites stand in it.
    pub names: bool,
    /// Of the whole organisation, not only what is assigned to the person.
    pub everything: bool,
    /// Made then, microseconds since 1970.
    pub made_at: i64,
    /// Fetched last; 0: never.
    pub read_at: i64,
    /// Revoked then; 0: not.
    pub revoked_at: i64,
}

type Row = (i64, Vec<u8>, Vec<u8>, i64, i64, i64, i64, i64);

fn read(row: Row) -> Result<Calendar, StoreError> {
    let (org, id, person, names, everything, made_at, read_at, revoked_at) = row;
    let id_of = |bytes: &[u8]| Id::from_bytes(bytes).ok_or_else(|| damaged("a calendar"));
    Ok(Calendar {
        org,
        id: id_of(&id)?,
        person: id_of(&person)?,
        names: names == 1,
        everything: everything == 1,
        made_at,
        read_at,
        revoked_at,
    })
}

/// The calendar with this hashed secret, with whose book and sign-in it is. It is found by its
/// secret alone; whose it is is then read within its organisation.
pub fn by_secret(
    db: &mut Db,
    secret: &[u8; 32],
) -> Result<Option<(Calendar, Organisation, Option<SignIn>)>, StoreError> {
    db.reading(Sight::Secret(secret), |db| {
        let row: Option<Row> = db.first(CalendarBySecret, &[Bind::Bytes(secret)])?;
        let Some(calendar) = row.map(read).transpose()? else {
            return Ok(None);
        };
        let org = calendar.org;
        db.see(Sight::Organisations(&[org]))?;
        let named: Option<(String, String)> =
            db.first(sql::OrganisationNumbered, &[Bind::Int(org)])?;
        let (name, log) = named.ok_or_else(|| damaged("a calendar"))?;
        let who = sign_ins::of_person(db, org, calendar.person)?;
        Ok(Some((calendar, Organisation { org, name, log }, who)))
    })
}

/// Stores a calendar; inside a transaction.
pub fn add(db: &mut Db, secret: &[u8; 32], calendar: &Calendar) -> Result<(), StoreError> {
    let binds = [
        Bind::Int(calendar.org),
        Bind::Bytes(&calendar.id.bytes()),
        Bind::Bytes(secret),
        Bind::Bytes(&calendar.person.bytes()),
        Bind::Int(i64::from(calendar.names)),
        Bind::Int(i64::from(calendar.everything)),
        Bind::Int(calendar.made_at),
    ];
    db.run(AddCalendar, &binds)?;
    Ok(())
}

/// The calendars of a person that still hold, oldest first; inside a transaction.
pub fn of_person(db: &mut Db, org: i64, person: Id) -> Result<Vec<Calendar>, StoreError> {
    let binds = [Bind::Int(org), Bind::Bytes(&person.bytes())];
    let rows: Vec<Row> = db.rows(CalendarsOfPerson, &binds)?;
    rows.into_iter().map(read).collect()
}

/// Revokes a calendar of a person and forgets what it said; inside a transaction. Says whether
/// there was one that still held.
pub fn revoke(db: &mut Db, org: i64, person: Id, id: Id, now: i64) -> Result<bool, StoreError> {
    let (person, id) = (person.bytes(), id.bytes());
    let person = Bind::Bytes(&person);
    let binds = [Bind::Int(now), Bind::Int(org), person, Bind::Bytes(&id)];
    let revoked = db.run(RevokeCalendar, &binds)? > 0;
    db.run(DropStepsOfRevoked, &[Bind::Int(org), person])?;
    Ok(revoked)
}

/// Revokes every calendar of a person; inside a transaction.
pub fn revoke_of_person(db: &mut Db, org: i64, person: Id, now: i64) -> Result<(), StoreError> {
    let person = person.bytes();
    let person = Bind::Bytes(&person);
    db.run(
        RevokeCalendarsOfPerson,
        &[Bind::Int(now), Bind::Int(org), person],
    )?;
    db.run(DropStepsOfRevoked, &[Bind::Int(org), person])?;
    Ok(())
}

/// What a calendar says of a step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// One more at every change.
    pub sequence: i64,
    /// Its day at the site.
    pub day: Day,
    /// Title.
    pub summary: String,
    /// More words.
    pub details: String,
    /// Path of the page it leads to.
    pub link: String,
    /// When it changed last, microseconds since 1970.
    pub said_at: i64,
    /// Over since then; 0: still owed.
    pub over_at: i64,
}

/// Notes that a calendar is fetched, which keeps other fetches of it waiting until the transaction
/// ends, and reads what it said last. `None`: it was revoked meanwhile. Inside a transaction.
pub fn steps(
    db: &mut Db,
    calendar: &Calendar,
    now: i64,
) -> Result<Option<HashMap<Id, Said>>, StoreError> {
    let (org, id) = (Bind::Int(calendar.org), calendar.id.bytes());
    let id = Bind::Bytes(&id);
    if db.run(SetCalendarRead, &[Bind::Int(now), org, id])? == 0 {
        return Ok(None);
    }
    type Step = (Vec<u8>, i64, i64, String, String, String, i64, i64);
    let rows: Vec<Step> = db.rows(CalendarSteps, &[org, id])?;
    let read = |(step, sequence, day, summary, details, link, said_at, over_at): Step| {
        let said = Said {
            sequence,
            day: Day::from_count(i32::try_from(day).ok()?),
            summary,
            details,
            link,
            said_at,
            over_at,
        };
        Some((Id::from_bytes(&step)?, said))
    };
    let read = |row| read(row).ok_or_else(|| damaged("a step of a calendar"));
    let steps: Result<HashMap<Id, Said>, StoreError> = rows.into_iter().map(read).collect();
    steps.map(Some)
}

/// Keeps what a calendar says of a step; inside a transaction.
pub fn say(db: &mut Db, calendar: &Calendar, step: Id, said: &Said) -> Result<(), StoreError> {
    let binds = [
        Bind::Int(calendar.org),
        Bind::Bytes(&calendar.id.bytes()),
        Bind::Bytes(&step.bytes()),
        Bind::Int(said.sequence),
        Bind::Int(i64::from(said.day.count())),
        Bind::Text(&said.summary),
        Bind::Text(&said.details),
        Bind::Text(&said.link),
        Bind::Int(said.said_at),
        Bind::Int(said.over_at),
    ];
    db.run(SetCalendarStep, &binds)?;
    Ok(())
}
