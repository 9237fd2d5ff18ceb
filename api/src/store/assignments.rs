//! Who does what is owed at an appliance, or at every appliance of a site.
//!
//! An assignment is a setting and no fact of the book: it changes with holidays and vans, while the
//! duty stays as it is. Every change raises its version, so that two managers do not overwrite each
//! other unseen (promise A2).

use super::statement::{Bind, statement};
use super::tx::Tx;
use super::{Db, StoreError, damaged};
use crate::ledger::id::Id;
use diesel::sql_types::{BigInt, Binary, Nullable};
use std::collections::HashMap;

statement! {
    Assignments: "SELECT thing, person FROM assignments WHERE org = ? AND person IS NOT NULL"
                 => (Binary, Nullable<Binary>);
    AssignmentOf: "SELECT person, version FROM assignments WHERE org = ? AND thing = ?"
                  => (Nullable<Binary>, BigInt);
    SetAssignment: "INSERT INTO assignments (org, thing, person, version, made_by, made_at) \
                    VALUES (?, ?, ?, 1, ?, ?) ON CONFLICT (org, thing) DO UPDATE SET \
                    person = excluded.person, version = assignments.version + 1, \
                    made_by = excluded.made_by, made_at = excluded.made_at";
}

/// Who does what is owed there, and in which version that was said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Assignment {
    /// Who; none: nobody in particular.
    pub person: Option<Id>,
    /// One more at every change; 0: nothing was ever said.
    pub version: i64,
}

/// Every appliance and site with somebody assigned; inside a transaction.
pub fn all(db: &mut Db, org: i64) -> Result<HashMap<Id, Id>, StoreError> {
    let rows: Vec<(Vec<u8>, Option<Vec<u8>>)> = db.rows(Assignments, &[Bind::Int(org)])?;
    let read = |(thing, person): (Vec<u8>, Option<Vec<u8>>)| {
        let thing = Id::from_bytes(&thing)?;
        Some((thing, Id::from_bytes(&person?)?))
    };
    let read = |row| read(row).ok_or_else(|| damaged("an assignment"));
    rows.into_iter().map(read).collect()
}

/// The assignment of one appliance or site; inside a transaction.
pub fn of(db: &mut Db, org: i64, thing: Id) -> Result<Assignment, StoreError> {
    type Row = (Option<Vec<u8>>, i64);
    let binds = [Bind::Int(org), Bind::Bytes(&thing.bytes())];
    let row: Option<Row> = db.first(AssignmentOf, &binds)?;
    let Some((person, version)) = row else {
        return Ok(Assignment::default());
    };
    let read = |bytes: Vec<u8>| Id::from_bytes(&bytes).ok_or_else(|| damaged("an assignment"));
    let person = person.map(read).transpose()?;
    Ok(Assignment { person, version })
}

/// What actions that assign see and change, inside their write transaction.
impl Tx<'_> {
    /// The assignment of an appliance or a site.
    pub fn assignment(&mut self, thing: Id) -> Result<Assignment, StoreError> {
        of(self.db, self.book.org, thing)
    }

    /// Says who does what is owed there.
    pub fn assign(
        &mut self,
        thing: Id,
        person: Option<Id>,
        made_by: Option<Id>,
    ) -> Result<(), StoreError> {
        let (person, made_by) = (person.map(Id::bytes), made_by.map(Id::bytes));
        let binds = [
            Bind::Int(self.book.org),
            Bind::Bytes(&thing.bytes()),
            Bind::MaybeBytes(person.as_ref().map(|id| &id[..])),
            Bind::MaybeBytes(made_by.as_ref().map(|id| &id[..])),
            Bind::Int(self.now),
        ];
        self.db.run(SetAssignment, &binds)?;
        Ok(())
    }
}
