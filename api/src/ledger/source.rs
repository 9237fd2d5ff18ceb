//! Where a whole book can be read from: a database or a bundle.
//!
//! Checking a book ([`super::verify`]) and writing it out ([`super::bundle`]) read it through this
//! trait, block by block (a block is the 256 entries of one level-0 tile), so that a book of any
//! size needs the memory of one block. Everything must come from one state of the book: a database
//! answers all questions inside one read transaction.

use super::entry::EntryKind;
use super::id::Id;
use super::place::Place;
use super::tiles::TilePath;
use super::tree::Hash;
use reports::day::Day;
use reports::mass::Mass;
use std::borrow::Cow;
use std::error::Error;

/// Reading failed: not a finding about the book, but the end of the check.
pub type SourceError = Box<dyn Error + Send + Sync>;

/// Takes an attachment: the SHA-256 it is kept under, and its bytes.
pub type VisitAttachment<'a> = &'a mut dyn FnMut(Hash, &[u8]) -> Result<(), SourceError>;

/// An entry as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct StoredEntry {
    /// Its number.
    pub seq: u64,
    /// The bytes that are hashed.
    pub leaf: Vec<u8>,
    /// The hash kept beside them.
    pub hash: Hash,
    /// What a database keeps in columns of its own; a bundle has none.
    pub columns: Option<Columns>,
}

/// What a database keeps beside a leaf, in the words of the leaf.
#[derive(Clone, Debug, PartialEq)]
pub struct Columns {
    /// The entry's id.
    pub entry_id: Id,
    /// Its kind.
    pub kind: EntryKind,
    /// The day it happened.
    pub day: Day,
    /// When it was booked, microseconds since 1970.
    pub booked_at: i64,
    /// Its movements, in any order: of a correction those reversed and those put in their place.
    pub movements: Vec<ColumnMovement<'static>>,
}

/// A row of the movements that belong to an entry.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct ColumnMovement<'a> {
    /// Where it was.
    pub from: Place,
    /// Where it went.
    pub to: Place,
    /// Designation.
    pub refrigerant: Cow<'a, str>,
    /// How much.
    pub mass: Mass,
    /// What else a report reads of it.
    pub read: ReadOfMovement<'a>,
}

/// What reports read of a movement beside its ends and its mass.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct ReadOfMovement<'a> {
    /// The entry whose movements it takes back; of such a row nothing else is read.
    pub reverses: Option<u64>,
    /// The appliance under which it is filed.
    pub appliance: Option<Place>,
    /// Days since 1970.
    pub day: i32,
    /// Second of the day, where a time was stated.
    pub second: Option<u32>,
    /// Kind of the entry, or of what a correction puts in its place.
    pub kind: Cow<'a, str>,
    /// Why.
    pub reason: Option<Cow<'a, str>>,
    /// Stated to have brought the appliance back to its full charge.
    pub returned: bool,
    /// The visit.
    pub visit: Option<Id>,
    /// The leak event.
    pub leak: Option<Id>,
    /// Words of a service event: `name=word`, sorted, with `;` between.
    pub words: Option<Cow<'a, str>>,
    /// First half of the entry's id, a key of the order; not compared for corrections, whose key is
    /// the id of their chain's first entry.
    pub id_high: Option<u64>,
}

/// A text that stands beside a leaf, with the salt that opens its commitment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Disclosure {
    /// The entry.
    pub seq: u64,
    /// The field it belongs to.
    pub field: String,
    /// 32 random bytes.
    pub salt: [u8; 32],
    /// The text.
    pub value: String,
}

/// A signed checkpoint as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredCheckpoint {
    /// The size it is kept under.
    pub size: u64,
    /// The signed note.
    pub note: String,
}

/// A book that can be read from end to end.
pub trait BookSource {
    /// How many entries the book claims to have.
    fn size(&mut self) -> Result<u64, SourceError>;

    /// The entries no. 256 * `block` to 256 * `block` + 255, ascending, those that are there.
    fn block(&mut self, block: u64) -> Result<Vec<StoredEntry>, SourceError>;

    /// The texts that belong to the entries of this block and may be seen, ascending by entry and
    /// field.
    fn disclosures(&mut self, block: u64) -> Result<Vec<Disclosure>, SourceError>;

    /// At most `limit` checkpoints of more than `above` entries, ascending.
    fn checkpoints(
        &mut self,
        above: u64,
        limit: usize,
    ) -> Result<Vec<StoredCheckpoint>, SourceError>;

    /// Hands over every attachment, ascending by the SHA-256 it is kept under.
    fn attachments(&mut self, visit: VisitAttachment<'_>) -> Result<(), SourceError>;

    /// A stored tile of level 1 or above, where such tiles are kept.
    fn tile(&mut self, _path: TilePath) -> Result<Option<Vec<Hash>>, SourceError> {
        Ok(None)
    }
}
