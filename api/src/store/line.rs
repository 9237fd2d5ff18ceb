//! A line to the database that is opened again when it broke: of a writer, of the signer.

use super::StoreError;
use super::db::{Address, Db, Purpose};

/// A connection for writing.
pub struct Line {
    db: Option<Db>,
    /// Where it is opened again; `None`: a connection that broke stays broken.
    address: Option<Address>,
}

impl Line {
    /// A line that is open.
    pub fn new(db: Db, address: Option<Address>) -> Line {
        let db = Some(db);
        Line { db, address }
    }

    /// The connection, opened again if it broke.
    pub fn db(&mut self) -> Result<&mut Db, StoreError> {
        let opened = match (self.db.take(), &self.address) {
            (Some(db), _) => db,
            (None, Some(address)) => Db::open(address, Purpose::Write, false)?,
            (None, None) => return Err(StoreError::Busy),
        };
        Ok(self.db.insert(opened))
    }

    /// After a failure: hangs up a connection that no longer answers and opens it again.
    pub fn look(&mut self) -> Found {
        if self.address.is_none() || self.db.as_mut().is_some_and(Db::is_alive) {
            return Found::Alive;
        }
        self.db = None;
        match self.db() {
            Ok(_) => Found::Anew,
            Err(_) => Found::Gone,
        }
    }
}

/// What was found of a line after a failure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// It still answers: the failure was no fault of the connection.
    Alive,
    /// It had broken and is open again.
    Anew,
    /// It had broken and cannot be opened.
    Gone,
}
