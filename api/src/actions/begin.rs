//! The first entries of a book: genesis, engine, zone, administrator.

use super::refusal::{ActionError, Refusal};
use crate::ledger::actor::Actor;
use crate::ledger::checkpoint::VerificationKey;
use crate::ledger::entry::{Body, EntryKind, Keys};
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::apply::Draft;
use crate::store::db::Db;
use crate::store::engine::in_utc;
use crate::store::open::Organisation;
use crate::store::tx::Tx;
use crate::store::writer::{Clock, found};
use reports::day::Zone;
use reports::refrigerant::Table;
use serde_json::json;
use std::borrow::Cow;

/// What a new book needs.
pub struct Beginning<'a> {
    /// Name of the organisation.
    pub organisation: &'a str,
    /// Its zone.
    pub zone: &'a str,
    /// Origin of the log, `tarebook/UUID`.
    pub log: &'a str,
    /// Signs the checkpoints.
    pub signing: &'a VerificationKey,
    /// Kept elsewhere.
    pub recovery: &'a VerificationKey,
    /// E-mail and password hash of the first administrator.
    pub administrator: Option<(&'a str, &'a str)>,
}

/// Opens the book of an organisation; the operator does.
pub fn begin(db: &mut Db, clock: Clock, what: &Beginning<'_>) -> Result<Organisation, ActionError> {
    let name = super::post::typed_text(what.organisation, "organisation")?;
    if name.is_empty() {
        let remedy = "Write it as it stands on the firm's papers.";
        return Err(Refusal::invalid("/organisation", "a name", "", remedy).into());
    }
    let expected = "an IANA time zone such as America/Denver";
    Zone::named(what.zone)
        .ok_or_else(|| Refusal::invalid("/zone", expected, what.zone, "Write its full name."))?;
    if taken(db, &name)? {
        let remedy = "Its book stands already; nothing was changed.";
        return Err(Refusal::invalid("/organisation", "a new name", &name, remedy).into());
    }
    let (of, ()) = found(db, &name, what.log, Table::shipped(), clock, |tx| {
        first_entries(tx, what, &name)
    })?;
    Ok(of)
}

fn taken(db: &mut Db, name: &str) -> Result<bool, StoreError> {
    match crate::store::open::organisation(db, name) {
        Ok(_) => Ok(true),
        Err(StoreError::NoOrganisation(_)) => Ok(false),
        Err(error) => Err(error),
    }
}

fn first_entries(tx: &mut Tx<'_>, what: &Beginning<'_>, name: &str) -> Result<(), StoreError> {
    let id = Id::at(tx.now.unsigned_abs() / 1000);
    let keys = Keys {
        recovery: Cow::Owned(what.recovery.to_string()),
        signing: Cow::Owned(what.signing.to_string()),
    };
    let body = Body {
        keys: Some(keys),
        ..Body::default()
    };
    let mut genesis = Draft::new(id, EntryKind::Genesis, in_utc(tx.now), body);
    genesis.secrets = vec![("organisation".to_string(), name.to_string())];
    tx.book(&Actor::OPERATOR, genesis)?;
    tx.keep_engine()?;
    if what.zone != "UTC" {
        let body = Body {
            name: Some(Cow::Borrowed("zone")),
            value: Some(Cow::Owned(what.zone.to_string())),
            from: Some(reports::day::Day::from_ymd(1970, 1, 1).unwrap_or(in_utc(tx.now).day)),
            ..Body::default()
        };
        let id = Id::at(tx.now.unsigned_abs() / 1000);
        tx.book(
            &Actor::OPERATOR,
            Draft::new(id, EntryKind::Setting, in_utc(tx.now), body),
        )?;
    }
    if let Some((email, password_hash)) = what.administrator {
        add_person(tx, email, password_hash, "administrator")?;
    }
    Ok(())
}

/// Registers a person who signs in.
fn add_person(
    tx: &mut Tx<'_>,
    email: &str,
    password_hash: &str,
    roles: &str,
) -> Result<(), StoreError> {
    let request = json!({
        "entry_id": Id::at(tx.now.unsigned_abs() / 1000),
        "kind": "person",
        "body": {"facts": {"tag": email, "email": email}},
    });
    let posted =
        super::post::post(tx, &Actor::OPERATOR, &request).map_err(|error| match error {
            ActionError::Failed(error) => error,
            ActionError::Refused(refusal) => StoreError::Broken(refusal.to_string()),
        })?;
    let person = tx.find(crate::store::columns::Sort::Person, email)?;
    let id = match person {
        Some(place) => tx.subject(place)?.id,
        None => None,
    };
    let id = id.ok_or_else(|| {
        StoreError::Broken(format!(
            "the person of entry {} was not registered",
            posted.seq
        ))
    })?;
    let address = crate::store::sign_ins::address(email);
    tx.add_sign_in(id, &address, password_hash, roles)
}
