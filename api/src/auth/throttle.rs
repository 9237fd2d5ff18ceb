//! Failed sign-ins by address and altogether, minute by minute, in bounded memory.

/// Counts of this process.
#[derive(Debug, Default)]
pub struct Throttle {}
