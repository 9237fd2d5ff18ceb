//! Reports as tables.
