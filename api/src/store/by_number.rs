//! Maps by place numbers and ids.
//!
//! Every posting looks the same few things up many times. Numbers are given by the program and ids
//! are only found here after they were registered, so that nobody can pile up collisions by
//! choosing them cleverly without registering as many things; a plain mixing of the bits is enough
//! and costs a fraction of the standard hash.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// A map by a number or an id.
pub type ByNumber<K, V> = HashMap<K, V, BuildHasherDefault<Mixer>>;

/// Mixes the bits of whole numbers.
#[derive(Default)]
pub struct Mixer(u64);

/// An odd number without a pattern: 2^64 divided by the golden ratio.
const ODD: u64 = 0x9e37_79b9_7f4a_7c15;

impl Mixer {
    fn mix(&mut self, bits: u64) {
        let product = u128::from(self.0 ^ bits ^ ODD) * u128::from(ODD);
        self.0 = (product as u64) ^ ((product >> 64) as u64);
    }
}

impl Hasher for Mixer {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(8) {
            let mut word = [0; 8];
            word[..chunk.len()].copy_from_slice(chunk);
            self.mix(u64::from_le_bytes(word));
        }
    }

    fn write_i64(&mut self, number: i64) {
        self.mix(number as u64);
    }

    fn write_u128(&mut self, number: u128) {
        self.mix(number as u64);
        self.mix((number >> 64) as u64);
    }
}

#[cfg(test)]
mod tests {
    use super::ByNumber;
    use std::collections::HashSet;
    use std::hash::BuildHasher;

    /// Neighbouring numbers, as places have them, spread over the low and the high bits.
    #[test]
    fn neighbours_are_spread() {
        let map: ByNumber<i64, ()> = ByNumber::default();
        let hash = |n: i64| map.hasher().hash_one(1_000_000_000_000_000 + n);
        let low: HashSet<u64> = (0..4096).map(|n| hash(n) & 0xffff).collect();
        let high: HashSet<u64> = (0..4096).map(|n| hash(n) >> 48).collect();
        // 4 096 random draws of 65 536 hit about 3 970 different ones.
        assert!(
            low.len() > 3_800 && high.len() > 3_800,
            "{} {}",
            low.len(),
            high.len()
        );
    }
}
