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

    /// After a failure: hangs up a connection that no longer answers.
    pub fn look(&mut self) {
        if self.address.is_some() && !self.db.as_mut().is_some_and(Db::is_alive) {
            self.db = None;
        }
    }
}
