//! What a person can see: entries, registered things, standings, findings, the log.
//!
//! Everything here reads one state of one organisation's book and changes nothing. What another
//! organisation has is not there: its ids and tags are answered exactly like ones that nobody has.

pub mod cage;
pub mod carried;
pub mod changed;
pub mod duties;
pub mod entries;
pub mod findings;
pub mod fitting;
pub mod flagged;
pub mod fleet;
pub mod found;
pub mod labelled;
pub mod lines;
pub mod log;
pub mod overview;
pub mod ready;
pub mod record;
pub mod rule_files;
pub mod rule_sets;
pub mod scales;
pub mod second_tests;
pub mod shipments;
pub mod standing;
pub mod things;
pub mod trust;

use super::refusal::{ActionError, Refusal};
use crate::ledger::id::Id;
pub use crate::store::open::Organisation;
use crate::store::{Db, Sight, StoreError};

/// Items of a list, and where the next page begins.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page<T> {
    /// The items.
    pub items: Vec<T>,
    /// What the next page is asked with, if there is one.
    pub next: Option<String>,
}

impl<T> Page<T> {
    /// The first `most` of what was read; one item more was asked for, to know whether there is a
    /// next page. `key` says after what it begins.
    pub fn of(mut items: Vec<T>, most: usize, key: impl Fn(&T) -> String) -> Page<T> {
        let more = items.len() > most;
        items.truncate(most);
        let next = items.last().filter(|_| more).map(key);
        Page { items, next }
    }

    /// The page with other items.
    pub fn map<U>(self, with: impl FnMut(T) -> U) -> Page<U> {
        Page {
            items: self.items.into_iter().map(with).collect(),
            next: self.next,
        }
    }
}

/// How much of what persons typed and are called somebody may see.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sees {
    /// All of it.
    Everything,
    /// Names of colleagues, not how to reach them.
    Names,
    /// Only what is their own.
    Own(Own),
}

/// Whose own: a person's postings, or those of a session or token.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Own {
    /// The person, where one stands behind the request.
    pub person: Option<Id>,
    /// The session or token.
    pub device: Id,
}

impl Own {
    /// Is an entry booked by these their own?
    pub fn booked(&self, by: Option<Id>, device: Option<Id>) -> bool {
        device == Some(self.device) || (by.is_some() && by == self.person)
    }
}

/// Reads one state of a book.
pub fn reading<T>(
    db: &mut Db,
    of: &Organisation,
    with: impl FnOnce(&mut Db) -> Result<T, ActionError>,
) -> Result<T, ActionError> {
    let sight = Sight::Organisations(std::slice::from_ref(&of.org));
    db.begin_reading_for(sight).map_err(StoreError::from)?;
    let done = with(db);
    // Nothing was written; there is nothing to keep.
    let _ = db.rollback();
    done
}

/// A moment, microseconds since 1970, as RFC 3339 in UTC.
pub fn instant(microseconds: i64) -> String {
    crate::store::apply::instant_text(microseconds)
}

/// The refusal of a name in the path of a request.
pub fn unknown(what: &str, name: &str) -> ActionError {
    Refusal::Unknown {
        pointer: String::new(),
        what: what.to_string(),
        name: name.to_string(),
    }
    .into()
}
