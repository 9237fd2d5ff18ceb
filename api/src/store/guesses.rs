//! Failed sign-ins with an address, and the browsers that are known.
//!
//! An address has one growing count, whoever has it. A good sign-in to one organisation *forgives*
//! that organisation's row the failures so far and no other's: an administrator who gives somebody
//! else's address a password of their own choice gains no free guesses at the other organisation.

use super::sign_ins::SignIn;
use super::sql;
use super::statement::Bind;
use super::{Db, StoreError};
use crate::ledger::id::Id;
use crate::ledger::tree::sha256;

/// Most addresses that are counted; of more, those with the fewest failures are forgotten.
const MOST_ADDRESSES: i64 = 100_000;
/// Most browsers a person is known by.
const MOST_DEVICES: i64 = 10;

/// Under which key an address is counted.
pub fn account(email: &str) -> [u8; 32] {
    sha256(&[b"tarebook/account/v1\n", email.as_bytes()].concat())
}

/// Failures with an address and the moment of the last one; inside a transaction, which holds them
/// until it ends.
pub fn failures(db: &mut Db, account: &[u8; 32]) -> Result<Option<(i64, i64)>, StoreError> {
    let binds = [Bind::Bytes(account)];
    Ok(if db.is_postgres() {
        db.first(sql::LockFailures, &binds)?
    } else {
        db.first(sql::FailuresOf, &binds)?
    })
}

/// Counts a failure; where none is counted yet, on top of those forgiven. Inside a transaction.
pub fn count(db: &mut Db, account: &[u8; 32], forgiven: i64, now: i64) -> Result<(), StoreError> {
    let binds = [
        Bind::Bytes(account),
        Bind::Int(forgiven + 1),
        Bind::Int(now),
    ];
    db.run(sql::CountFailure, &binds)?;
    Ok(())
}

/// The delay begins when the attempt ended, not when it began; inside a transaction.
pub fn date(db: &mut Db, account: &[u8; 32], now: i64) -> Result<(), StoreError> {
    db.run(sql::DateFailure, &[Bind::Int(now), Bind::Bytes(account)])?;
    Ok(())
}

/// Forgives a sign-in the failures so far. `alone`: the address belongs to no other sign-in, so
/// that the count can go. Inside a transaction.
pub fn forgive(
    db: &mut Db,
    account: &[u8; 32],
    who: &SignIn,
    alone: bool,
) -> Result<(), StoreError> {
    let counted = failures(db, account)?.map_or(0, |(failures, _)| failures);
    let forgiven = if alone { 0 } else { counted };
    if alone && counted > 0 {
        db.run(sql::ForgetFailures, &[Bind::Bytes(account)])?;
    }
    let person = who.person.bytes();
    let forgiven = Bind::Int(forgiven);
    let binds = [
        forgiven,
        Bind::Int(who.of.org),
        Bind::Bytes(&person),
        forgiven,
    ];
    db.run(sql::Forgive, &binds)?;
    Ok(())
}

/// Keeps the number of counted addresses bounded; inside a transaction.
pub fn forget_least(db: &mut Db) -> Result<(), StoreError> {
    db.run(sql::ForgetLeastFailures, &[Bind::Int(MOST_ADDRESSES)])?;
    Ok(())
}

/// Failures in a browser since its last good sign-in; `None`: it is not known. Inside a
/// transaction.
pub fn device_failures(
    db: &mut Db,
    who: &SignIn,
    secret: &[u8; 32],
) -> Result<Option<i64>, StoreError> {
    let person = who.person.bytes();
    let binds = [
        Bind::Int(who.of.org),
        Bind::Bytes(&person),
        Bind::Bytes(secret),
    ];
    Ok(db.first(sql::FailuresOfDevice, &binds)?)
}

/// Counts a failure in a known browser; inside a transaction.
pub fn count_on_device(db: &mut Db, who: &SignIn, secret: &[u8; 32]) -> Result<(), StoreError> {
    let person = who.person.bytes();
    let binds = [
        Bind::Int(who.of.org),
        Bind::Bytes(&person),
        Bind::Bytes(secret),
    ];
    db.run(sql::CountDeviceFailure, &binds)?;
    Ok(())
}

/// A good sign-in in a known browser: its count begins anew. Inside a transaction. Says whether the
/// browser is known.
pub fn trust(db: &mut Db, who: &SignIn, secret: &[u8; 32]) -> Result<bool, StoreError> {
    let person = who.person.bytes();
    let binds = [
        Bind::Int(who.of.org),
        Bind::Bytes(&person),
        Bind::Bytes(secret),
    ];
    Ok(db.run(sql::TrustDevice, &binds)? > 0)
}

/// Makes a browser known; the person's oldest ones are forgotten. Inside a transaction.
pub fn know(db: &mut Db, who: &SignIn, secret: &[u8; 32], now: i64) -> Result<(), StoreError> {
    let (org, person) = (who.of.org, who.person);
    let bytes = person.bytes();
    let binds = [
        Bind::Int(org),
        Bind::Bytes(&bytes),
        Bind::Bytes(secret),
        Bind::Int(now),
    ];
    db.run(sql::AddKnownDevice, &binds)?;
    forget_devices(db, org, person, MOST_DEVICES)
}

/// Forgets all but the newest known browsers of a person; inside a transaction.
pub fn forget_devices(db: &mut Db, org: i64, person: Id, but: i64) -> Result<(), StoreError> {
    let (org, person) = (Bind::Int(org), person.bytes());
    let person = Bind::Bytes(&person);
    let binds = [org, person, org, person, Bind::Int(but)];
    db.run(sql::ForgetOldDevices, &binds)?;
    Ok(())
}
