//! What a person can do.

pub mod import;
