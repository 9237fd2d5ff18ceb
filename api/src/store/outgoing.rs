//! Messages on their way: made once, sent at least once, and kept as failed where nobody takes them.
//!
//! A message is added in the transaction that adds the reasons for it, so a process that dies makes
//! nothing twice and forgets nothing. Whoever sends one holds it for a while first; no other process
//! sends it meanwhile. Where the answer of a mail server is lost, nobody knows whether it took the
//! message: it is sent again, under the same Message-ID.

use super::statement::{Bind, statement};
use super::{Db, StoreError, damaged};
use crate::ledger::id::Id;
use diesel::sql_types::{BigInt, Binary, Text};
use reports::day::Day;

statement! {
    MailCounts: "SELECT waiting, failed FROM mail_counts" => (BigInt, BigInt);
    AddMailReason: "INSERT INTO mail_reasons (org, person, kind, step, day, message, made_at) \
                    VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (org, person, kind, step, day) \
                    DO NOTHING";
    AddOutgoing: "INSERT INTO outgoing (org, id, person, kind, subject, body, made_at, state, \
                  attempts, next_at, holder, held_until, ended_at, why) \
                  VALUES (?, ?, ?, ?, ?, ?, ?, 0, 0, ?, NULL, 0, 0, '')";
    NextOutgoing: "SELECT id, person, kind, subject, body, made_at, state, attempts, next_at, \
                   ended_at, why FROM outgoing WHERE org = ? AND state = 0 AND next_at <= ? \
                   AND held_until <= ? ORDER BY next_at, id LIMIT 1"
                  => (Binary, Binary, BigInt, Text, Text, BigInt, BigInt, BigInt, BigInt, BigInt,
                      Text);
    HoldOutgoing: "UPDATE outgoing SET holder = ?, held_until = ?, attempts = attempts + 1 \
                   WHERE org = ? AND id = ? AND state = 0 AND held_until <= ?";
    EndOutgoing: "UPDATE outgoing SET state = ?, why = ?, ended_at = ?, body = ?, holder = NULL, \
                  held_until = 0 WHERE org = ? AND id = ? AND holder = ? AND state = 0";
    PutOffOutgoing: "UPDATE outgoing SET next_at = ?, why = ?, holder = NULL, held_until = 0 \
                     WHERE org = ? AND id = ? AND holder = ? AND state = 0";
    DropOutgoing: "UPDATE outgoing SET state = 3, why = ?, ended_at = ?, body = '', \
                   holder = NULL, held_until = 0 WHERE org = ? AND person = ? \
                   AND state IN (0, 2)";
    AgainOutgoing: "UPDATE outgoing SET state = 0, attempts = 0, next_at = ?, ended_at = 0 \
                    WHERE org = ? AND id = ? AND state = 2";
    AllOutgoing: "SELECT id, person, kind, subject, body, made_at, state, attempts, next_at, \
                  ended_at, why FROM outgoing WHERE org = ? ORDER BY made_at DESC, id LIMIT ?"
                 => (Binary, Binary, BigInt, Text, Text, BigInt, BigInt, BigInt, BigInt, BigInt,
                     Text);
    ForgetOutgoing: "DELETE FROM outgoing WHERE org = ? AND state > 0 AND ended_at < ?";
    ForgetReasons: "DELETE FROM mail_reasons WHERE org = ? AND made_at < ?";
}

/// What a message is, or why it was made. The codes are stored: add, never renumber.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The list of a day.
    Daily,
    /// The list of a week.
    Weekly,
    /// Reminders, of whatever sort.
    Reminders,
    /// Fourteen days before something is due.
    Fortnight,
    /// Three days before.
    ThreeDays,
    /// On the day.
    OnTheDay,
    /// It is late.
    Late,
    /// Something about the person's own sign-in; nobody chooses it, and nothing stops it.
    Notice,
}

impl Kind {
    const ALL: [(Kind, i64, &'static str); 8] = [
        (Kind::Daily, 1, "daily"),
        (Kind::Weekly, 2, "weekly"),
        (Kind::Reminders, 3, "reminder"),
        (Kind::Fortnight, 4, "14 days before"),
        (Kind::ThreeDays, 5, "3 days before"),
        (Kind::OnTheDay, 6, "on the day"),
        (Kind::Late, 7, "late"),
        (Kind::Notice, 8, "notice"),
    ];

    fn code(self) -> i64 {
        let mut all = Kind::ALL.iter();
        all.find(|(kind, ..)| *kind == self)
            .map_or(0, |(_, code, _)| *code)
    }

    /// Its word in lists.
    pub fn word(self) -> &'static str {
        let mut all = Kind::ALL.iter();
        all.find(|(kind, ..)| *kind == self)
            .map_or("", |(.., word)| word)
    }

    fn coded(code: i64) -> Option<Kind> {
        let mut all = Kind::ALL.iter();
        all.find(|(_, known, _)| *known == code)
            .map(|(kind, ..)| *kind)
    }
}

/// Where a message is on its way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stand {
    /// To be sent, or to be tried again.
    Waiting,
    /// A mail server took it, or it lies in the folder.
    Sent,
    /// Every attempt failed.
    Failed,
    /// Its person gets nothing any more.
    Dropped,
}

impl Stand {
    const ALL: [(Stand, &'static str); 4] = [
        (Stand::Waiting, "waiting"),
        (Stand::Sent, "sent"),
        (Stand::Failed, "failed"),
        (Stand::Dropped, "dropped"),
    ];

    /// Its word in lists.
    pub fn word(self) -> &'static str {
        Stand::ALL[self as usize].1
    }
}

/// A message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Message {
    /// Its id, which its Message-ID is made of.
    pub id: Id,
    /// To whom.
    pub person: Id,
    /// What it is.
    pub kind: Kind,
    /// Its subject.
    pub subject: String,
    /// Its text; empty once it is sent or dropped.
    pub body: String,
    /// Made then, microseconds since 1970.
    pub made_at: i64,
    /// Where it is on its way.
    pub stand: Stand,
    /// How often it was tried.
    pub attempts: i64,
    /// It is not tried before.
    pub next_at: i64,
    /// Sent, failed for good or dropped then; 0: still waiting.
    pub ended_at: i64,
    /// What the last attempt that failed was told.
    pub why: String,
}

type Row = (
    Vec<u8>,
    Vec<u8>,
    i64,
    String,
    String,
    i64,
    i64,
    i64,
    i64,
    i64,
    String,
);

fn read(row: Row) -> Result<Message, StoreError> {
    let (id, person, kind, subject, body, made_at, state, attempts, next_at, ended_at, why) = row;
    let broken = || damaged("a message");
    let id_of = |bytes: &[u8]| Id::from_bytes(bytes).ok_or_else(broken);
    let state = usize::try_from(state).map_err(|_| broken())?;
    Ok(Message {
        id: id_of(&id)?,
        person: id_of(&person)?,
        kind: Kind::coded(kind).ok_or_else(broken)?,
        subject,
        body,
        made_at,
        stand: Stand::ALL.get(state).ok_or_else(broken)?.0,
        attempts,
        next_at,
        ended_at,
        why,
    })
}

/// How many messages of all books wait, and how many failed; outside any transaction.
pub fn counts(db: &mut Db) -> Result<(i64, i64), StoreError> {
    let counts: Option<(i64, i64)> = db.first(MailCounts, &[])?;
    Ok(counts.unwrap_or_default())
}

/// Records why a message is made; inside the transaction that adds it. `false`: it was made before.
pub fn reason(
    db: &mut Db,
    org: i64,
    message: &Message,
    kind: Kind,
    step: Id,
    day: Day,
) -> Result<bool, StoreError> {
    let binds = [
        Bind::Int(org),
        Bind::Bytes(&message.person.bytes()),
        Bind::Int(kind.code()),
        Bind::Bytes(&step.bytes()),
        Bind::Int(i64::from(day.count())),
        Bind::Bytes(&message.id.bytes()),
        Bind::Int(message.made_at),
    ];
    Ok(db.run(AddMailReason, &binds)? > 0)
}

/// Adds a message; inside a transaction.
pub fn add(db: &mut Db, org: i64, message: &Message) -> Result<(), StoreError> {
    let binds = [
        Bind::Int(org),
        Bind::Bytes(&message.id.bytes()),
        Bind::Bytes(&message.person.bytes()),
        Bind::Int(message.kind.code()),
        Bind::Text(&message.subject),
        Bind::Text(&message.body),
        Bind::Int(message.made_at),
        Bind::Int(message.next_at),
    ];
    db.run(AddOutgoing, &binds)?;
    Ok(())
}

/// Takes the next message that is to be sent and holds it until a moment; inside a transaction.
pub fn hold(
    db: &mut Db,
    org: i64,
    holder: Id,
    now: i64,
    until: i64,
) -> Result<Option<Message>, StoreError> {
    let (org, now, holder) = (Bind::Int(org), Bind::Int(now), holder.bytes());
    loop {
        let row: Option<Row> = db.first(NextOutgoing, &[org, now, now])?;
        let Some(mut message) = row.map(read).transpose()? else {
            return Ok(None);
        };
        let id = message.id.bytes();
        let holder = Bind::Bytes(&holder);
        let binds = [holder, Bind::Int(until), org, Bind::Bytes(&id), now];
        if db.run(HoldOutgoing, &binds)? > 0 {
            message.attempts += 1;
            return Ok(Some(message));
        }
        // Another process was faster with this one.
    }
}

/// What came of an attempt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Came<'a> {
    /// It is sent.
    Sent,
    /// It is tried again at that moment.
    Later(i64, &'a str),
    /// It stands as failed.
    Failed(&'a str),
    /// Its person gets nothing any more.
    Dropped(&'a str),
}

/// Says what came of an attempt, if the message is still held by that holder; inside a transaction.
pub fn conclude(
    db: &mut Db,
    org: i64,
    message: &Message,
    holder: Id,
    came: Came<'_>,
    now: i64,
) -> Result<(), StoreError> {
    let (id, holder) = (message.id.bytes(), holder.bytes());
    let (org, id, holder) = (Bind::Int(org), Bind::Bytes(&id), Bind::Bytes(&holder));
    let (state, why, body) = match came {
        Came::Later(next_at, why) => {
            let binds = [Bind::Int(next_at), Bind::Text(why), org, id, holder];
            db.run(PutOffOutgoing, &binds)?;
            return Ok(());
        }
        Came::Sent => (1, "", ""),
        Came::Failed(why) => (2, why, message.body.as_str()),
        Came::Dropped(why) => (3, why, ""),
    };
    let (state, why, body) = (Bind::Int(state), Bind::Text(why), Bind::Text(body));
    let ended = Bind::Int(now);
    db.run(EndOutgoing, &[state, why, ended, body, org, id, holder])?;
    Ok(())
}

/// Drops what waits for a person, or failed; inside a transaction.
pub fn drop_of_person(
    db: &mut Db,
    org: i64,
    person: Id,
    why: &str,
    now: i64,
) -> Result<(), StoreError> {
    let person = person.bytes();
    let binds = [
        Bind::Text(why),
        Bind::Int(now),
        Bind::Int(org),
        Bind::Bytes(&person),
    ];
    db.run(DropOutgoing, &binds)?;
    Ok(())
}

/// Lets a message that failed be tried anew; inside a transaction. `false`: it did not fail.
pub fn again(db: &mut Db, org: i64, id: Id, now: i64) -> Result<bool, StoreError> {
    let binds = [Bind::Int(now), Bind::Int(org), Bind::Bytes(&id.bytes())];
    Ok(db.run(AgainOutgoing, &binds)? > 0)
}

/// Messages of a book, newest first; inside a transaction.
pub fn list(db: &mut Db, org: i64, most: i64) -> Result<Vec<Message>, StoreError> {
    let rows: Vec<Row> = db.rows(AllOutgoing, &[Bind::Int(org), Bind::Int(most)])?;
    rows.into_iter().map(read).collect()
}

/// Forgets messages that ended before a moment, and reasons from before another; inside a
/// transaction.
pub fn forget(db: &mut Db, org: i64, ended: i64, made: i64) -> Result<(), StoreError> {
    db.run(ForgetOutgoing, &[Bind::Int(org), Bind::Int(ended)])?;
    db.run(ForgetReasons, &[Bind::Int(org), Bind::Int(made)])?;
    Ok(())
}
