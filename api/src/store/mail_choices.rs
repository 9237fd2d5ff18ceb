//! What each person chose to get by mail, and the addresses in messages that stop it.
//!
//! A choice is a setting and no fact of the book. Who chose nothing has no row. The last local day
//! that was seen to for a person stands in theirs: two processes that make the mail of one book ask
//! for that day, and one of them gets it.

use super::open::Organisation;
use super::statement::{Bind, statement};
use super::{Db, Sight, StoreError, damaged, outgoing, sql};
use crate::ledger::id::Id;
use diesel::sql_types::{BigInt, Binary, Text};
use reports::day::Day;

statement! {
    MailBooks: "SELECT org, name, log FROM mail_books ORDER BY org" => (BigInt, Text, Text);
    MailChoice: "SELECT person, digest, reminders, everything, names, made_at FROM mail_choices \
                 WHERE org = ? AND person = ?"
                => (Binary, BigInt, BigInt, BigInt, BigInt, BigInt);
    MailChoicesBefore: "SELECT person, digest, reminders, everything, names, made_at \
                        FROM mail_choices WHERE org = ? AND done_day < ? ORDER BY person"
                       => (Binary, BigInt, BigInt, BigInt, BigInt, BigInt);
    SetMailChoice: "INSERT INTO mail_choices (org, person, digest, reminders, everything, names, \
                    made_at, done_day) VALUES (?, ?, ?, ?, ?, ?, ?, 0) \
                    ON CONFLICT (org, person) DO UPDATE SET digest = excluded.digest, \
                    reminders = excluded.reminders, everything = excluded.everything, \
                    names = excluded.names, made_at = excluded.made_at";
    DropMailChoice: "DELETE FROM mail_choices WHERE org = ? AND person = ?";
    SetMailDone: "UPDATE mail_choices SET done_day = ? WHERE org = ? AND person = ? \
                  AND done_day < ?";
    AddMailStop: "INSERT INTO mail_stops (org, secret, person, made_at) VALUES (?, ?, ?, ?)";
    /// Narrow.
    MailStopBySecret: "SELECT org, person FROM mail_stops WHERE secret = ?" => (BigInt, Binary);
    DropMailStops: "DELETE FROM mail_stops WHERE org = ? AND made_at < ?";
}

/// How often a list of what is owed goes to a person.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Digest {
    /// Never.
    #[default]
    Never,
    /// Every morning.
    Daily,
    /// On Mondays.
    Weekly,
}

impl Digest {
    /// All there are, with their words.
    pub const ALL: [(Digest, &'static str); 3] = [
        (Digest::Never, "none"),
        (Digest::Daily, "daily"),
        (Digest::Weekly, "weekly"),
    ];

    /// The word of the wire.
    pub fn word(self) -> &'static str {
        match self {
            Digest::Never => "none",
            Digest::Daily => "daily",
            Digest::Weekly => "weekly",
        }
    }

    /// The one with this word.
    pub fn named(word: &str) -> Option<Digest> {
        let mut all = Digest::ALL.into_iter();
        all.find(|(_, known)| *known == word)
            .map(|(digest, _)| digest)
    }
}

/// What a person gets by mail.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Choice {
    /// How often a list.
    pub digest: Digest,
    /// A reminder fourteen days before something is due.
    pub fortnight: bool,
    /// A reminder three days before.
    pub three_days: bool,
    /// A reminder on the day.
    pub on_the_day: bool,
    /// A notice, once, when it is late.
    pub late: bool,
    /// Of the whole organisation, not only what is assigned to the person.
    pub everything: bool,
    /// Names of sites stand in it.
    pub names: bool,
}

impl Choice {
    /// Does anything go out at all?
    pub fn sends(&self) -> bool {
        self.digest != Digest::Never || self.reminders() > 0
    }

    /// The reminders as stored.
    fn reminders(&self) -> i64 {
        let bit = |chosen, value| if chosen { value } else { 0 };
        bit(self.fortnight, 1)
            + bit(self.three_days, 2)
            + bit(self.on_the_day, 4)
            + bit(self.late, 8)
    }
}

type Row = (Vec<u8>, i64, i64, i64, i64, i64);

fn read(row: Row) -> Result<(Id, Choice), StoreError> {
    let (person, digest, reminders, everything, names, _) = row;
    let digest = match digest {
        1 => Digest::Daily,
        2 => Digest::Weekly,
        _ => Digest::Never,
    };
    let choice = Choice {
        digest,
        fortnight: reminders & 1 > 0,
        three_days: reminders & 2 > 0,
        on_the_day: reminders & 4 > 0,
        late: reminders & 8 > 0,
        everything: everything == 1,
        names: names == 1,
    };
    let person = Id::from_bytes(&person).ok_or_else(|| damaged("a choice of mail"))?;
    Ok((person, choice))
}

/// Books that have mail to make or to send; outside any transaction.
pub fn books(db: &mut Db) -> Result<Vec<Organisation>, StoreError> {
    let rows: Vec<(i64, String, String)> = db.rows(MailBooks, &[])?;
    let of = |(org, name, log)| Organisation { org, name, log };
    Ok(rows.into_iter().map(of).collect())
}

/// What a person chose; inside a transaction.
pub fn of_person(db: &mut Db, org: i64, person: Id) -> Result<Choice, StoreError> {
    let binds = [Bind::Int(org), Bind::Bytes(&person.bytes())];
    let row: Option<Row> = db.first(MailChoice, &binds)?;
    Ok(row
        .map(read)
        .transpose()?
        .map_or(Choice::default(), |it| it.1))
}

/// Those who get something and for whom this local day was not seen to; inside a transaction.
pub fn waiting_for(db: &mut Db, org: i64, day: Day) -> Result<Vec<(Id, Choice)>, StoreError> {
    let binds = [Bind::Int(org), Bind::Int(i64::from(day.count()))];
    let rows: Vec<Row> = db.rows(MailChoicesBefore, &binds)?;
    rows.into_iter().map(read).collect()
}

/// Keeps what a person chose; inside a transaction. Who chooses nothing gets nothing that waits
/// already, either.
pub fn set(db: &mut Db, org: i64, person: Id, choice: &Choice, now: i64) -> Result<(), StoreError> {
    let id = person.bytes();
    if !choice.sends() {
        db.run(DropMailChoice, &[Bind::Int(org), Bind::Bytes(&id)])?;
        outgoing::drop_of_person(db, org, person, "its person wants no mail any more", now)?;
        return Ok(());
    }
    let digest = match choice.digest {
        Digest::Never => 0,
        Digest::Daily => 1,
        Digest::Weekly => 2,
    };
    let binds = [
        Bind::Int(org),
        Bind::Bytes(&id),
        Bind::Int(digest),
        Bind::Int(choice.reminders()),
        Bind::Int(i64::from(choice.everything)),
        Bind::Int(i64::from(choice.names)),
        Bind::Int(now),
    ];
    db.run(SetMailChoice, &binds)?;
    Ok(())
}

/// Takes a local day for a person: whoever is told `true` makes their mail of it, in the same
/// transaction.
pub fn take_day(db: &mut Db, org: i64, person: Id, day: Day) -> Result<bool, StoreError> {
    let day = Bind::Int(i64::from(day.count()));
    let binds = [day, Bind::Int(org), Bind::Bytes(&person.bytes()), day];
    Ok(db.run(SetMailDone, &binds)? > 0)
}

/// Keeps the hash of an address that stops all mail to a person; inside a transaction.
pub fn add_stop(
    db: &mut Db,
    org: i64,
    secret: &[u8; 32],
    person: Id,
    now: i64,
) -> Result<(), StoreError> {
    let binds = [
        Bind::Int(org),
        Bind::Bytes(secret),
        Bind::Bytes(&person.bytes()),
        Bind::Int(now),
    ];
    db.run(AddMailStop, &binds)?;
    Ok(())
}

/// Forgets addresses that stop mail which are older than a moment; inside a transaction.
pub fn forget_stops(db: &mut Db, org: i64, before: i64) -> Result<(), StoreError> {
    db.run(DropMailStops, &[Bind::Int(org), Bind::Int(before)])?;
    Ok(())
}

/// Whose mail an address stops, with the name of the organisation. It is found by its secret alone.
pub fn by_stop(db: &mut Db, secret: &[u8; 32]) -> Result<Option<(Organisation, Id)>, StoreError> {
    db.reading(Sight::Secret(secret), |db| {
        let row: Option<(i64, Vec<u8>)> = db.first(MailStopBySecret, &[Bind::Bytes(secret)])?;
        let Some((org, person)) = row else {
            return Ok(None);
        };
        let person =
            Id::from_bytes(&person).ok_or_else(|| damaged("an address that stops mail"))?;
        db.see(Sight::Organisations(&[org]))?;
        let named: Option<(String, String)> =
            db.first(sql::OrganisationNumbered, &[Bind::Int(org)])?;
        let (name, log) = named.ok_or_else(|| damaged("an address that stops mail"))?;
        Ok(Some((Organisation { org, name, log }, person)))
    })
}
