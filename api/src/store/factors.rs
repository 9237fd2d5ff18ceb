//! Second factors as they are stored: sealed seeds, hashes of recovery codes, sign-ins that wait for
//! their code, and of whom an organisation asks a factor.
//!
//! What may happen once (a step, a recovery code, one of five guesses) is taken by one `UPDATE` that
//! says whether it took anything: of two requests at once one wins, on either engine.

use super::outgoing::{self, Kind, Message, Stand};
use super::sign_ins::{self, SignIn};
use super::statement::{Bind, statement};
use super::tx::Tx;
use super::{Db, Sight, StoreError, damaged, sessions};
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use diesel::sql_types::{BigInt, Binary};

/// Wrong codes of one sign-in; then it begins anew with the password.
pub const MOST_WRONG: i64 = 5;

statement! {
    BeginFactor: "INSERT INTO factors (org, person, sealed, made_at, confirmed_at, last_step) \
                  VALUES (?, ?, ?, ?, 0, 0) ON CONFLICT (org, person) DO UPDATE \
                  SET sealed = excluded.sealed, made_at = excluded.made_at \
                  WHERE factors.confirmed_at = 0";
    FactorOf: "SELECT sealed, made_at, confirmed_at, last_step FROM factors \
               WHERE org = ? AND person = ?" => (Binary, BigInt, BigInt, BigInt);
    ConfirmFactor: "UPDATE factors SET confirmed_at = ?, last_step = ? WHERE org = ? \
                    AND person = ? AND confirmed_at = 0 AND sealed = ?";
    TakeStep: "UPDATE factors SET last_step = ? WHERE org = ? AND person = ? \
               AND confirmed_at > 0 AND last_step < ?";
    DropFactor: "DELETE FROM factors WHERE org = ? AND person = ?";
    AddRecoveryCode: "INSERT INTO recovery_codes (org, person, hash, used_at) VALUES (?, ?, ?, 0)";
    UseRecoveryCode: "UPDATE recovery_codes SET used_at = ? WHERE org = ? AND person = ? \
                      AND hash = ? AND used_at = 0";
    RecoveryCodesLeft: "SELECT CAST(COUNT(*) AS BIGINT) FROM recovery_codes WHERE org = ? \
                        AND person = ? AND used_at = 0" => BigInt;
    DropRecoveryCodes: "DELETE FROM recovery_codes WHERE org = ? AND person = ?";
    RaiseVersion: "UPDATE sign_ins SET version = version + 1 WHERE org = ? AND person = ?";
    SetFactorPolicy: "INSERT INTO factor_policies (org, required) VALUES (?, ?) \
                      ON CONFLICT (org) DO UPDATE SET required = excluded.required";
    FactorPolicy: "SELECT required FROM factor_policies WHERE org = ?" => BigInt;

    AddHalf: "INSERT INTO half_sign_ins (org, secret, person, version, expires_at, failures, \
              last_at) VALUES (?, ?, ?, ?, ?, 0, 0)";
    /// Narrow.
    HalfBySecret: "SELECT org, person, version, expires_at FROM half_sign_ins WHERE secret = ?"
                  => (BigInt, Binary, BigInt, BigInt);
    WrongOfHalf: "SELECT failures, last_at FROM half_sign_ins WHERE org = ? AND secret = ?"
                 => (BigInt, BigInt);
    CountWrongOfHalf: "UPDATE half_sign_ins SET failures = failures + 1, last_at = ? \
                       WHERE org = ? AND secret = ? AND failures < ?";
    EndHalf: "DELETE FROM half_sign_ins WHERE org = ? AND secret = ?";
    EndOldHalves: "DELETE FROM half_sign_ins WHERE org = ? AND expires_at <= ?";
}

/// Of whom an organisation asks a second factor. The codes are stored: add, never renumber.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Required {
    /// Of nobody; whoever likes has one.
    #[default]
    Nobody,
    /// Of whoever manages the book or says who may sign in.
    Office,
    /// Of everyone who signs in.
    Everyone,
}

impl Required {
    /// All of them, each with its word.
    pub const ALL: [(Required, &'static str); 3] = [
        (Required::Nobody, "nobody"),
        (Required::Office, "managers_and_administrators"),
        (Required::Everyone, "everyone"),
    ];

    /// Its word.
    pub fn word(self) -> &'static str {
        Required::ALL[self as usize].1
    }

    /// The one with this word.
    pub fn named(word: &str) -> Option<Required> {
        let mut all = Required::ALL.iter();
        all.find(|(_, known)| *known == word).map(|(it, _)| *it)
    }

    /// What is not known is read as the strictest.
    pub(super) fn coded(code: i64) -> Required {
        match code {
            0 => Required::Nobody,
            1 => Required::Office,
            _ => Required::Everyone,
        }
    }

    /// Is one asked of somebody with these roles?
    pub fn of(self, roles: &[Role]) -> bool {
        let office = |role: &Role| matches!(role, Role::ComplianceManager | Role::Administrator);
        match self {
            Required::Nobody => false,
            Required::Office => roles.iter().any(office),
            Required::Everyone => true,
        }
    }
}

/// A factor as stored. It prints nothing of its seed.
#[derive(Clone)]
pub struct Factor {
    /// The seed, sealed.
    pub sealed: Vec<u8>,
    /// When it was begun, microseconds since 1970.
    pub made_at: i64,
    /// When a code was right; 0: none was yet.
    pub confirmed_at: i64,
    /// The newest step whose code was taken.
    pub last_step: i64,
}

fn whose<'a>(org: i64, person: &'a [u8; 16]) -> [Bind<'a>; 2] {
    [Bind::Int(org), Bind::Bytes(person)]
}

/// Keeps a seed that nothing was typed of yet; inside a transaction. `false`: one holds already.
pub fn begin(
    db: &mut Db,
    org: i64,
    person: Id,
    sealed: &[u8],
    now: i64,
) -> Result<bool, StoreError> {
    let id = person.bytes();
    let [org, person] = whose(org, &id);
    let binds = [org, person, Bind::Bytes(sealed), Bind::Int(now)];
    Ok(db.run(BeginFactor, &binds)? > 0)
}

/// The factor of a person, whether or not it holds yet; inside a transaction.
pub fn of_person(db: &mut Db, org: i64, person: Id) -> Result<Option<Factor>, StoreError> {
    type Row = (Vec<u8>, i64, i64, i64);
    let row: Option<Row> = db.first(FactorOf, &whose(org, &person.bytes()))?;
    Ok(
        row.map(|(sealed, made_at, confirmed_at, last_step)| Factor {
            sealed,
            made_at,
            confirmed_at,
            last_step,
        }),
    )
}

/// From now on the factor holds; inside a transaction. `false`: it holds already, or another was
/// begun meanwhile.
pub fn confirm(
    db: &mut Db,
    org: i64,
    person: Id,
    sealed: &[u8],
    step: i64,
    now: i64,
) -> Result<bool, StoreError> {
    let id = person.bytes();
    let [org, person] = whose(org, &id);
    let (now, step) = (Bind::Int(now), Bind::Int(step));
    let binds = [now, step, org, person, Bind::Bytes(sealed)];
    Ok(db.run(ConfirmFactor, &binds)? > 0)
}

/// Takes a step, once and in their order; inside a transaction. `false`: it, or a later one, was taken.
pub fn take_step(db: &mut Db, org: i64, person: Id, step: i64) -> Result<bool, StoreError> {
    let id = person.bytes();
    let [org, person] = whose(org, &id);
    let step = Bind::Int(step);
    Ok(db.run(TakeStep, &[step, org, person, step])? > 0)
}

/// Removes a factor with its recovery codes; inside a transaction.
pub fn remove(db: &mut Db, org: i64, person: Id) -> Result<bool, StoreError> {
    let id = person.bytes();
    db.run(DropRecoveryCodes, &whose(org, &id))?;
    Ok(db.run(DropFactor, &whose(org, &id))? > 0)
}

/// Another factor, or none: what was begun with the one before ends, sessions but one and sign-ins that
/// wait for a code; inside a transaction.
pub fn changed(db: &mut Db, org: i64, person: Id, but: Option<Id>) -> Result<(), StoreError> {
    db.run(RaiseVersion, &whose(org, &person.bytes()))?;
    sessions::end_of_person(db, org, person, but)?;
    Ok(())
}

/// Puts these recovery codes in the place of those before; inside a transaction.
pub fn set_recovery_codes(
    db: &mut Db,
    org: i64,
    person: Id,
    hashes: &[[u8; 32]],
) -> Result<(), StoreError> {
    let id = person.bytes();
    let [org, person] = whose(org, &id);
    db.run(DropRecoveryCodes, &[org, person])?;
    for hash in hashes {
        db.run(AddRecoveryCode, &[org, person, Bind::Bytes(hash)])?;
    }
    Ok(())
}

/// Uses a recovery code up; inside a transaction. `false`: there is none that is left.
pub fn use_recovery_code(
    db: &mut Db,
    org: i64,
    person: Id,
    hash: &[u8; 32],
    now: i64,
) -> Result<bool, StoreError> {
    let id = person.bytes();
    let [org, person] = whose(org, &id);
    let binds = [Bind::Int(now), org, person, Bind::Bytes(hash)];
    Ok(db.run(UseRecoveryCode, &binds)? > 0)
}

/// How many recovery codes are left; inside a transaction.
pub fn recovery_codes_left(db: &mut Db, org: i64, person: Id) -> Result<i64, StoreError> {
    let left: Option<i64> = db.first(RecoveryCodesLeft, &whose(org, &person.bytes()))?;
    Ok(left.unwrap_or_default())
}

/// Of whom a factor is asked; inside a transaction.
pub fn required(db: &mut Db, org: i64) -> Result<Required, StoreError> {
    let code: Option<i64> = db.first(FactorPolicy, &[Bind::Int(org)])?;
    Ok(Required::coded(code.unwrap_or_default()))
}

/// Says of whom a factor is asked; inside a transaction.
pub fn require(db: &mut Db, org: i64, required: Required) -> Result<(), StoreError> {
    let binds = [Bind::Int(org), Bind::Int(required as i64)];
    db.run(SetFactorPolicy, &binds)?;
    Ok(())
}

/// A sign-in that waits for its code.
#[derive(Debug)]
pub struct Half {
    /// Who.
    pub sign_in: SignIn,
    /// The sign-in in that version.
    pub version: i64,
    /// It waits until then.
    pub expires_at: i64,
}

/// Keeps that a password was right, and forgets old ones of that sort; inside a transaction.
pub fn add_half(
    db: &mut Db,
    who: &SignIn,
    secret: &[u8; 32],
    now: i64,
    expires_at: i64,
) -> Result<(), StoreError> {
    let org = Bind::Int(who.of.org);
    db.run(EndOldHalves, &[org, Bind::Int(now)])?;
    let person = who.person.bytes();
    let binds = [
        org,
        Bind::Bytes(secret),
        Bind::Bytes(&person),
        Bind::Int(who.version),
        Bind::Int(expires_at),
    ];
    db.run(AddHalf, &binds)?;
    Ok(())
}

/// Who waits with this hashed secret.
pub fn half_by_secret(db: &mut Db, secret: &[u8; 32]) -> Result<Option<Half>, StoreError> {
    db.reading(Sight::Secret(secret), |db| {
        type Row = (i64, Vec<u8>, i64, i64);
        let row: Option<Row> = db.first(HalfBySecret, &[Bind::Bytes(secret)])?;
        let Some((org, person, version, expires_at)) = row else {
            return Ok(None);
        };
        db.see(Sight::Organisations(&[org]))?;
        let person = Id::from_bytes(&person).ok_or_else(|| damaged("a sign-in that waits"))?;
        let sign_in = sign_ins::of_person(db, org, person)?;
        Ok(sign_in.map(|sign_in| Half {
            sign_in,
            version,
            expires_at,
        }))
    })
}

/// Wrong codes so far and the moment of the last; inside a transaction.
pub fn wrong_of_half(
    db: &mut Db,
    org: i64,
    secret: &[u8; 32],
) -> Result<Option<(i64, i64)>, StoreError> {
    Ok(db.first(WrongOfHalf, &[Bind::Int(org), Bind::Bytes(secret)])?)
}

/// Counts a code as wrong before it is looked at; inside a transaction. `false`: no more are taken.
pub fn count_wrong(db: &mut Db, org: i64, secret: &[u8; 32], now: i64) -> Result<bool, StoreError> {
    let (now, org) = (Bind::Int(now), Bind::Int(org));
    let binds = [now, org, Bind::Bytes(secret), Bind::Int(MOST_WRONG)];
    Ok(db.run(CountWrongOfHalf, &binds)? > 0)
}

/// Nothing is waited for any more; inside a transaction. `false`: it was over already.
pub fn end_half(db: &mut Db, org: i64, secret: &[u8; 32]) -> Result<bool, StoreError> {
    Ok(db.run(EndHalf, &[Bind::Int(org), Bind::Bytes(secret)])? > 0)
}

impl Tx<'_> {
    /// Takes the factor of a person away and ends every session of theirs. `false`: there was none.
    pub fn reset_factor(&mut self, person: Id) -> Result<bool, StoreError> {
        let org = self.book.org;
        let there = remove(self.db, org, person)?;
        changed(self.db, org, person, None)?;
        Ok(there)
    }

    /// Sends a person a word about their own sign-in.
    pub fn notify(&mut self, person: Id, subject: &str, body: &str) -> Result<(), StoreError> {
        let message = Message {
            id: Id::random(),
            person,
            kind: Kind::Notice,
            subject: subject.to_string(),
            body: body.to_string(),
            made_at: self.now,
            stand: Stand::Waiting,
            attempts: 0,
            next_at: self.now,
            ended_at: 0,
            why: String::new(),
        };
        outgoing::add(self.db, self.book.org, &message)
    }
}
