//! What entries say of an imported file and of its rows.

use crate::ledger::id::Id;
use serde::{Deserialize, Serialize};

/// Which row of which import (the header is row 1).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ImportRow {
    /// Id of the import entry.
    pub entry: Id,
    /// Row of the file.
    pub row: u64,
}

/// Size of an imported file; its name and hash are commitments.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FileSize {
    /// Bytes of the file.
    pub bytes: u64,
}
