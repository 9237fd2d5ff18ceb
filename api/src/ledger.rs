//! What the book is, byte for byte, and what it guarantees.
//!
//! A book is a dense, append-only sequence of entries. Each entry has one *leaf*, the canonical
//! JSON that is hashed; the leaves of a book are the leaves of one RFC 6962 tree; checkpoints are
//! signed statements "so many entries, this root". This room knows no database, no clock and no
//! network: together with the `reports` crate it can be handed to an auditor as a verifier.

pub mod actor;
pub mod bundle;
pub mod canonical;
pub mod checkpoint;
pub mod entry;
pub mod id;
pub mod kind;
pub mod place;
#[cfg(test)]
pub(crate) mod sample;
pub mod source;
pub mod text;
pub mod tiles;
pub mod tree;
pub mod verify;
