//! Identifiers seen in a file, so that a repeated one is found with the row of the first.
//!
//! A file of a million rows may cost no more than some tens of megabytes, so only 128 bits of each
//! identifier and its row are kept: a UUID is its own 128 bits, any other text half of its SHA-256.

use sha2::{Digest, Sha256};
use std::collections::HashMap;
use std::collections::hash_map::Entry;

/// Identifiers and the rows they stand in.
#[derive(Debug, Default)]
pub struct Seen {
    // Four-byte parts keep an entry at 20 bytes; a u128 key would align it to 32.
    rows: HashMap<[u32; 4], u32>,
}

impl Seen {
    /// Notes an identifier of 128 bits; the row that had it before comes back.
    pub fn bits(&mut self, bits: u128, row: u64) -> Option<u64> {
        match self.rows.entry(parts(bits)) {
            Entry::Occupied(earlier) => Some(u64::from(*earlier.get())),
            Entry::Vacant(free) => {
                free.insert(u32::try_from(row).unwrap_or(u32::MAX));
                None
            }
        }
    }

    /// Notes an identifier that is a text; the row that had it before comes back.
    pub fn text(&mut self, text: &str, row: u64) -> Option<u64> {
        self.bits(half_hash(text), row)
    }

    /// The row that has an identifier of 128 bits.
    pub fn row_of_bits(&self, bits: u128) -> Option<u64> {
        self.rows.get(&parts(bits)).copied().map(u64::from)
    }

    /// The row that has an identifier that is a text.
    pub fn row_of_text(&self, text: &str) -> Option<u64> {
        self.row_of_bits(half_hash(text))
    }
}

fn parts(bits: u128) -> [u32; 4] {
    [0, 1, 2, 3].map(|n| (bits >> (32 * n)) as u32)
}

fn half_hash(text: &str) -> u128 {
    let hash = Sha256::digest(text.as_bytes());
    hash[..16]
        .iter()
        .fold(0, |bits, byte| bits << 8 | u128::from(*byte))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_repeated_identifier_comes_back_with_its_first_row() {
        let mut seen = Seen::default();
        assert_eq!(seen.bits(7, 2), None);
        assert_eq!(seen.bits(1 << 96, 3), None);
        assert_eq!(seen.bits(7, 4), Some(2));
        assert_eq!(seen.text("R-1", 5), None);
        assert_eq!(seen.text("R-1", 6), Some(5));
        assert_eq!(seen.text("R-2", 7), None);
    }
}
