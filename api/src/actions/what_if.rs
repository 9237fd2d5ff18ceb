//! What a posting would come to, before anything is booked.
//!
//! The technician at the unit asks what his addition will make of the leak rate while the cylinder
//! still stands on the scale. The request goes through the same door as a posting, on a book read for
//! it alone; questions and stops come as they would, and nothing of it is kept.

use super::ActionError;
use super::desk::{Poster, Receipt, post_as};
use super::show::findings::FindingShown;
use super::show::reading;
use super::show::standing::NewStandingShown;
use super::standings;
use crate::ledger::id::Id;
use crate::store::Db;
use crate::store::open::open_book;
use crate::store::tx::{LookedUp, Tx};
use reports::refrigerant::Table;
use serde::Serialize;
use serde_json::{Value, json};

/// What a posting would come to.
#[derive(Clone, Debug, Serialize)]
pub struct WouldBe {
    /// Whether an entry with this id stands in the book already; what it came to is told then.
    pub booked: bool,
    /// Findings it would leave.
    pub findings: Vec<FindingShown>,
    /// The standing of the appliance it is about as it is now; none: it is about no appliance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<NewStandingShown>,
    /// The standing that it would lead to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standing: Option<NewStandingShown>,
    /// Those of others, where it is about several.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub other_standings: Vec<NewStandingShown>,
}

/// Tries a posting; `now`: microseconds since 1970. A request without an id gets one for the trial.
pub fn what_if(
    db: &mut Db,
    by: &Poster,
    mut entry: Value,
    now: i64,
) -> Result<WouldBe, ActionError> {
    if let Value::Object(members) = &mut entry {
        let id = || json!(Id::random().to_string());
        members.entry("entry_id").or_insert_with(id);
    }
    reading(db, &by.of, |db| {
        let receipt = with_book(db, by, now, |tx| post_as(tx, by, &entry, false))?;
        let Receipt {
            replayed: booked,
            findings,
            standing,
            other_standings,
            ..
        } = receipt;
        let before = match standing.as_ref().filter(|_| !booked) {
            Some(after) => with_book(db, by, now, |tx| before(tx, &after.standing.appliance))?,
            None => None,
        };
        Ok(WouldBe {
            booked,
            findings,
            before,
            standing,
            other_standings,
        })
    })
}

/// The standing of an appliance as the book has it; none: the book does not know it yet.
fn before(tx: &mut Tx<'_>, appliance: &str) -> Result<Option<NewStandingShown>, ActionError> {
    let known = match Id::parse(appliance) {
        Some(id) => tx.by_id(id)?,
        None => None,
    };
    let Some(place) = known else {
        return Ok(None);
    };
    let found = standings::after(tx, &[place], None, &[])?;
    Ok(found.into_iter().next().map(NewStandingShown::from))
}

/// Runs something on a book of its own, of which nothing is written.
fn with_book<T>(
    db: &mut Db,
    by: &Poster,
    now: i64,
    run: impl FnOnce(&mut Tx<'_>) -> Result<T, ActionError>,
) -> Result<T, ActionError> {
    let mut book = open_book(db, &by.of)?;
    let looked_up = LookedUp::new();
    run(&mut Tx::new(
        db,
        &mut book,
        now,
        Table::shipped(),
        &looked_up,
    ))
}
