//! What follows from a refrigerant book.
//!
//! This crate is pure: it holds no database, no network, no files at run time, no clock and no
//! randomness. The same arguments give the same answer, to the last digit, for ever.

pub mod appliance;
pub mod day;
pub mod event;
pub mod leak_rate;
pub mod mass;
pub mod number;
pub mod physics;
pub mod plural;
pub mod refrigerant;
pub mod rules;
pub mod sheet;
pub mod shipment;
pub mod standing;

/// Raised whenever a committed reference result changes; every book records which one it was.
pub const ENGINE: u32 = 1;
