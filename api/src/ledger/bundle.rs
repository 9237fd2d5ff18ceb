//! The whole book in one file that a stranger can check: a tar file in the C2SP tlog-tiles layout.
//!
//! Unpacked, it is a log as any transparency-log software reads it, with the texts and attachments
//! beside it. It covers exactly what the newest checkpoint covers. The same book gives the same
//! bytes: names are fixed, times are 0, and the order is the one below. Writer and reader hold one
//! block of 256 entries in memory, and the reader the list of names.
//!
//! | name | what |
//! |---|---|
//! | `README.txt` | how to check the file with other software |
//! | `vkeys` | the verification keys of the book, one a line |
//! | `checkpoint`, `checkpoints/<size>` | the newest signed note, and every one ever signed |
//! | `tile/entries/<N>[.p/<W>]` | leaf bytes, 256 entries a file |
//! | `tile/<L>/<N>[.p/<W>]` | hashes |
//! | `disclosures/<N>.jsonl` | texts and salts of the entries of file `<N>`, where there are any |
//! | `attachments/<sha256>` | larger content, under the hexadecimal hash |

mod read;
mod write;

use super::tiles::index_path;
use super::tree::Hash;
use serde::{Deserialize, Serialize};

pub use read::Bundle;
pub use write::{Written, write};

const README: &str = include_str!("bundle/README.txt");

/// A line of a disclosures file.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct DisclosureLine {
    field: String,
    /// 32 bytes in base64.
    salt: String,
    seq: u64,
    value: String,
}

fn disclosures_path(block: u64) -> String {
    format!("disclosures/{}.jsonl", index_path(block))
}

fn attachment_path(hash: &Hash) -> String {
    let hex: String = hash.iter().map(|byte| format!("{byte:02x}")).collect();
    format!("attachments/{hex}")
}

#[cfg(test)]
mod tests;
