//! The Merkle tree over a book's entries.
//!
//! Hashes, roots and proofs are those of RFC 6962 section 2.1 with SHA-256, so any transparency-log
//! software can check them. A [`Frontier`] is all that is needed to go on appending; proofs are made
//! from stored hashes of complete subtrees, which the caller looks up (see [`super::tiles`]).
//! Verification follows RFC 9162 sections 2.1.3.2 and 2.1.4.2.

use sha2::{Digest, Sha256};
use std::fmt;

/// A SHA-256 hash: of a leaf, of a node or of a whole tree.
pub type Hash = [u8; 32];

/// The hash of an entry's leaf bytes: SHA-256 of 0x00 and the bytes.
pub fn leaf_hash(leaf: &[u8]) -> Hash {
    Sha256::new_with_prefix([0])
        .chain_update(leaf)
        .finalize()
        .into()
}

/// The hash of an inner node: SHA-256 of 0x01, the left and the right hash.
pub fn node_hash(left: &Hash, right: &Hash) -> Hash {
    Sha256::new_with_prefix([1])
        .chain_update(left)
        .chain_update(right)
        .finalize()
        .into()
}

/// Plain SHA-256, by which attachments are named.
pub fn sha256(bytes: &[u8]) -> Hash {
    Sha256::digest(bytes).into()
}

/// The root of the empty tree: SHA-256 of nothing.
pub fn empty_root() -> Hash {
    Sha256::digest([]).into()
}

/// The right edge of a growing tree: its size and the roots of its complete subtrees, largest first.
///
/// There is one peak for each 1 in the binary form of the size, so a million entries need at most
/// twenty hashes to append the next one and to know the root.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Frontier {
    size: u64,
    peaks: Vec<Hash>,
}

impl Frontier {
    /// The frontier of a tree without leaves.
    pub fn new() -> Frontier {
        Frontier::default()
    }

    /// How many leaves the tree has.
    pub fn size(&self) -> u64 {
        self.size
    }

    /// Appends the hash of the next leaf.
    pub fn push(&mut self, leaf_hash: Hash) {
        let mut hash = leaf_hash;
        for _ in 0..self.size.trailing_ones() {
            if let Some(left) = self.peaks.pop() {
                hash = node_hash(&left, &hash);
            }
        }
        self.peaks.push(hash);
        self.size += 1;
    }

    /// The root of the tree so far.
    pub fn root(&self) -> Hash {
        let mut peaks = self.peaks.iter().rev();
        match peaks.next() {
            None => empty_root(),
            Some(last) => peaks.fold(*last, |right, left| node_hash(left, &right)),
        }
    }

    /// Size (8 bytes, big-endian) and peaks, for keeping beside the book.
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut bytes = self.size.to_be_bytes().to_vec();
        bytes.extend(self.peaks.iter().flatten());
        bytes
    }

    /// Reads what [`Frontier::to_bytes`] wrote; `None` when the length does not fit the size.
    pub fn from_bytes(bytes: &[u8]) -> Option<Frontier> {
        let (size, peaks) = bytes.split_first_chunk::<8>()?;
        let size = u64::from_be_bytes(*size);
        let (peaks, rest) = peaks.as_chunks::<32>();
        let fits = rest.is_empty() && peaks.len() == size.count_ones() as usize;
        fits.then(|| Frontier {
            size,
            peaks: peaks.to_vec(),
        })
    }
}

/// The root over all these leaf hashes.
pub fn root_of(leaf_hashes: &[Hash]) -> Hash {
    let mut frontier = Frontier::new();
    for hash in leaf_hashes {
        frontier.push(*hash);
    }
    frontier.root()
}

/// Why a proof could not be made or does not hold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ProofError {
    /// The numbers asked for do not lie in the tree.
    OutOfRange {
        /// What was asked for: a leaf's number or the size of the older tree.
        asked: u64,
        /// The size of the tree.
        size: u64,
    },
    /// A stored hash is not there.
    Missing {
        /// Its height above the leaves.
        level: u8,
        /// Its place in that level, from the left.
        index: u64,
    },
    /// The proof has more or fewer hashes than a tree of this size needs.
    WrongLength,
    /// The hashes lead to another root than the one claimed.
    WrongRoot {
        /// The root the hashes lead to.
        computed: Hash,
    },
}

impl fmt::Display for ProofError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ProofError::OutOfRange { asked, size } => {
                write!(f, "{asked} was asked of a tree of {size} entries")
            }
            ProofError::Missing { level, index } => {
                write!(f, "the stored hash {index} of level {level} is missing")
            }
            ProofError::WrongLength => f.write_str("the proof has not as many hashes as it needs"),
            ProofError::WrongRoot { .. } => f.write_str("the proof leads to another root"),
        }
    }
}

impl std::error::Error for ProofError {}

/// Finds the hash of a complete subtree: level 0 are the leaves, and the hash `index` of level `l`
/// covers the leaves `index * 2^l` to `(index + 1) * 2^l - 1`.
pub trait HashLookUp: FnMut(u8, u64) -> Option<Hash> {}
impl<F: FnMut(u8, u64) -> Option<Hash>> HashLookUp for F {}

/// The root of the first `size` leaves, from stored hashes.
pub fn root_at(size: u64, mut look_up: impl HashLookUp) -> Result<Hash, ProofError> {
    range_hash(0, size, &mut look_up)
}

/// The hashes that prove leaf `index` to be in the tree of `size` leaves (RFC 6962, 2.1.1).
pub fn inclusion_proof(
    index: u64,
    size: u64,
    mut look_up: impl HashLookUp,
) -> Result<Vec<Hash>, ProofError> {
    if index >= size {
        return Err(ProofError::OutOfRange { asked: index, size });
    }
    let (mut start, mut end) = (0, size);
    let mut proof = Vec::new();
    while end - start > 1 {
        let middle = start + split(end - start);
        if index < middle {
            proof.push(range_hash(middle, end, &mut look_up)?);
            end = middle;
        } else {
            proof.push(range_hash(start, middle, &mut look_up)?);
            start = middle;
        }
    }
    proof.reverse();
    Ok(proof)
}

/// The hashes that prove the tree of `old` leaves to be the beginning of the tree of `size` leaves
/// (RFC 6962, 2.1.2). Empty for `old` = 0 and for `old` = `size`.
pub fn consistency_proof(
    old: u64,
    size: u64,
    mut look_up: impl HashLookUp,
) -> Result<Vec<Hash>, ProofError> {
    if old > size {
        return Err(ProofError::OutOfRange { asked: old, size });
    }
    if old == 0 || old == size {
        return Ok(Vec::new());
    }
    let (mut start, mut end) = (0, size);
    let mut proof = Vec::new();
    // `old` moves through the tree as the right edge of the older tree within [start, end).
    while old != end {
        let middle = start + split(end - start);
        if old <= middle {
            proof.push(range_hash(middle, end, &mut look_up)?);
            end = middle;
        } else {
            proof.push(range_hash(start, middle, &mut look_up)?);
            start = middle;
        }
    }
    // A verifier knows the old root already when the old tree is one complete left subtree.
    if start != 0 {
        proof.push(range_hash(start, end, &mut look_up)?);
    }
    proof.reverse();
    Ok(proof)
}

/// Checks that the leaf with this hash has number `index` in the tree of `size` leaves and this root.
pub fn verify_inclusion(
    leaf_hash: &Hash,
    index: u64,
    size: u64,
    proof: &[Hash],
    root: &Hash,
) -> Result<(), ProofError> {
    if index >= size {
        return Err(ProofError::OutOfRange { asked: index, size });
    }
    let (mut first, mut last) = (index, size - 1);
    let mut hash = *leaf_hash;
    for sibling in proof {
        if last == 0 {
            return Err(ProofError::WrongLength);
        }
        if first & 1 == 1 || first == last {
            hash = node_hash(sibling, &hash);
            while first & 1 == 0 && first != 0 {
                first >>= 1;
                last >>= 1;
            }
        } else {
            hash = node_hash(&hash, sibling);
        }
        first >>= 1;
        last >>= 1;
    }
    if last != 0 {
        return Err(ProofError::WrongLength);
    }
    same_root(hash, root)
}

/// Checks that the tree of `old` leaves with `old_root` is the beginning of the other one.
pub fn verify_consistency(
    old: u64,
    old_root: &Hash,
    size: u64,
    root: &Hash,
    proof: &[Hash],
) -> Result<(), ProofError> {
    if old > size {
        return Err(ProofError::OutOfRange { asked: old, size });
    }
    if old == 0 || old == size {
        // Nothing to prove; RFC 9162 leaves these to the caller, so we check what can be.
        let expected = if old == 0 { empty_root() } else { *root };
        return if proof.is_empty() {
            same_root(expected, old_root)
        } else {
            Err(ProofError::WrongLength)
        };
    }
    let mut path = proof.iter();
    let start = if old.is_power_of_two() {
        Some(old_root)
    } else {
        path.next()
    };
    let Some(start) = start else {
        return Err(ProofError::WrongLength);
    };
    let (mut first, mut last) = (old - 1, size - 1);
    let low_ones = first.trailing_ones();
    first >>= low_ones;
    last >>= low_ones;
    let (mut old_hash, mut new_hash) = (*start, *start);
    for sibling in path {
        if last == 0 {
            return Err(ProofError::WrongLength);
        }
        if first & 1 == 1 || first == last {
            old_hash = node_hash(sibling, &old_hash);
            new_hash = node_hash(sibling, &new_hash);
            while first & 1 == 0 && first != 0 {
                first >>= 1;
                last >>= 1;
            }
        } else {
            new_hash = node_hash(&new_hash, sibling);
        }
        first >>= 1;
        last >>= 1;
    }
    if last != 0 {
        return Err(ProofError::WrongLength);
    }
    same_root(old_hash, old_root)?;
    same_root(new_hash, root)
}

fn same_root(computed: Hash, claimed: &Hash) -> Result<(), ProofError> {
    if computed == *claimed {
        Ok(())
    } else {
        Err(ProofError::WrongRoot { computed })
    }
}

/// The largest power of two smaller than `n` (n > 1): where RFC 6962 splits a tree of n leaves.
fn split(n: u64) -> u64 {
    1 << (63 - (n - 1).leading_zeros())
}

/// The hash over the leaves `start` to `end - 1`, a range as RFC 6962 splits them: `start` is a
/// multiple of the largest complete subtree in it.
fn range_hash(start: u64, end: u64, look_up: &mut impl HashLookUp) -> Result<Hash, ProofError> {
    let count = end - start;
    if count == 0 {
        return Ok(empty_root());
    }
    if count.is_power_of_two() {
        let level = count.trailing_zeros();
        let (level, index) = (level as u8, start >> level);
        return look_up(level, index).ok_or(ProofError::Missing { level, index });
    }
    let middle = start + split(count);
    let left = range_hash(start, middle, look_up)?;
    let right = range_hash(middle, end, look_up)?;
    Ok(node_hash(&left, &right))
}

#[cfg(test)]
mod tests;
