//! tarebook, the service: rooms with one kind of knowledge each.

pub mod ledger;
