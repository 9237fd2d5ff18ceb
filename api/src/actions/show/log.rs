//! The log as an outsider's software reads it: checkpoint, tiles, keys, proofs, the whole bundle.

use super::entries::number_of;
use super::{Own, reading, unknown};
use crate::actions::refusal::{ActionError, Refusal};
use crate::ledger::bundle;
use crate::ledger::tiles::TilePath;
use crate::ledger::tree::Hash;
use crate::store::open::Organisation;
use crate::store::source::StoredBook;
use crate::store::{Db, StoreError, listing, log, scan};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use std::io::Write;

/// The newest signed checkpoint; a book that was never signed is *busy* until it is.
pub fn checkpoint(db: &mut Db, of: &Organisation) -> Result<String, ActionError> {
    reading(db, of, |db| Ok(newest(db, of)?.1))
}

fn newest(db: &mut Db, of: &Organisation) -> Result<(u64, String), ActionError> {
    Ok(log::newest_checkpoint(db, of.org)?.ok_or(StoreError::Busy)?)
}

/// A file of the C2SP tlog-tiles layout: hashes or entries.
pub fn tile(db: &mut Db, of: &Organisation, path: &str) -> Result<Vec<u8>, ActionError> {
    let tile = TilePath::parse(path).ok_or_else(|| unknown("tile", path))?;
    reading(db, of, |db| {
        let (size, _) = newest(db, of)?;
        log::file(db, of.org, tile, size)?.ok_or_else(|| unknown("tile", path))
    })
}

/// The verification keys, one a line: signing, then recovery.
pub fn verification_keys(db: &mut Db, of: &Organisation) -> Result<String, ActionError> {
    reading(db, of, |db| {
        let [signing, recovery] = log::verification_keys(db, of.org)?;
        Ok(format!("{signing}\n{recovery}\n"))
    })
}

/// The proof that an entry is in the log, as C2SP tlog-proof text. `own`: only of entries that are
/// theirs.
pub fn proof(
    db: &mut Db,
    of: &Organisation,
    name: &str,
    own: Option<Own>,
) -> Result<String, ActionError> {
    reading(db, of, |db| {
        let seq = number_of(db, of, name)?.ok_or_else(|| unknown("entry", name))?;
        let row = listing::entry(db, of.org, seq)?.ok_or_else(|| unknown("entry", name))?;
        let leaf = crate::ledger::entry::Leaf::parse(&row.leaf)
            .map_err(|_| StoreError::Broken(format!("entry no. {seq} is unreadable")))?;
        if own.is_some_and(|own| !own.booked(leaf.by, leaf.device)) {
            return Err(unknown("entry", name));
        }
        let (size, note) = newest(db, of)?;
        if seq >= size {
            // Booked within the last second and not signed yet.
            return Err(ActionError::Failed(StoreError::Busy));
        }
        let hashes = log::inclusion(db, of.org, seq, size)?;
        Ok(format!(
            "c2sp.org/tlog-proof@v1\nindex {seq}\n{}\n{note}",
            lines(&hashes)
        ))
    })
}

/// The hashes that prove an older tree to be the beginning of a newer one, in base64.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Consistency {
    /// Size of the older tree.
    pub from: u64,
    /// Size of the newer tree.
    pub to: u64,
    /// The hashes (RFC 6962, section 2.1.2).
    pub hashes: Vec<String>,
}

/// Proves that the log of `from` entries is the beginning of that of `to` (by default the newest
/// signed one).
pub fn consistency(
    db: &mut Db,
    of: &Organisation,
    from: u64,
    to: Option<u64>,
) -> Result<Consistency, ActionError> {
    reading(db, of, |db| {
        let (size, _) = newest(db, of)?;
        let to = to.unwrap_or(size);
        let range = |pointer: &str, most: u64, came: u64| {
            let expected = format!("the size of a tree from 1 to {most}");
            Refusal::invalid(
                pointer,
                &expected,
                &came.to_string(),
                "Take one from a checkpoint.",
            )
        };
        if to == 0 || to > size {
            return Err(range("?to", size, to).into());
        }
        if from == 0 || from > to {
            return Err(range("?from", to, from).into());
        }
        let hashes = log::consistency(db, of.org, from, to)?;
        let hashes = hashes.iter().map(|hash| STANDARD.encode(hash)).collect();
        Ok(Consistency { from, to, hashes })
    })
}

/// The sealed entries in blocks, for a strip of squares.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chain {
    /// Entries of a block.
    pub block: u64,
    /// The blocks, the oldest first.
    pub blocks: Vec<Block>,
}

/// A block of entries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Block {
    /// Its first entry.
    pub first: u64,
    /// Its last.
    pub last: u64,
    /// The newest checkpoint that closes within it: how many entries it covers, and when the last of
    /// them was booked, microseconds since 1970.
    pub sealed: Option<(u64, i64)>,
}

/// Blocks of a strip at most.
const MOST_BLOCKS: u64 = 100;

/// The chain of a book up to its newest checkpoint: blocks of 100 entries, of 200, 500, 1 000 and so on
/// where it has more than a hundred blocks.
pub fn chain(db: &mut Db, of: &Organisation) -> Result<Chain, ActionError> {
    reading(db, of, |db| {
        let size = log::newest_checkpoint(db, of.org)?.map_or(0, |(size, _)| size);
        let block = block_of(size);
        let mut blocks = Vec::new();
        for first in (0..size).step_by(usize::try_from(block).unwrap_or(usize::MAX)) {
            let end = (first + block).min(size);
            let sealed = log::checkpoint_within(db, of.org, first, end)?;
            let sealed = match sealed {
                Some(size) => Some((size, scan::booked_at(db, of.org, size - 1)?)),
                None => None,
            };
            blocks.push(Block {
                first,
                last: end - 1,
                sealed,
            });
        }
        Ok(Chain { block, blocks })
    })
}

fn block_of(size: u64) -> u64 {
    let mut block = 100;
    for factor in [2, 5, 10].into_iter().cycle() {
        if block * MOST_BLOCKS >= size {
            return block;
        }
        // 100, 200, 500, 1 000: each third step is the next power of ten.
        block = match factor {
            2 => block * 2,
            5 => block / 2 * 5,
            _ => block * 2,
        };
    }
    block
}

/// Writes the whole book up to its newest checkpoint as one tar file.
pub fn bundle(db: &mut Db, of: &Organisation, out: &mut dyn Write) -> Result<(), ActionError> {
    let mut stored = StoredBook::open(db, of.org)?;
    let written = bundle::write(&mut stored, out);
    written.map_err(|error| StoreError::Output(error.to_string()))?;
    Ok(())
}

fn lines(hashes: &[Hash]) -> String {
    hashes
        .iter()
        .map(|hash| STANDARD.encode(hash) + "\n")
        .collect()
}

#[cfg(test)]
mod tests {
    use super::block_of;

    #[test]
    fn a_block_is_a_round_number_and_there_are_at_most_a_hundred() {
        for (size, block) in [
            (0, 100),
            (1, 100),
            (10_000, 100),
            (10_001, 200),
            (20_001, 500),
            (50_001, 1_000),
            (100_001, 2_000),
            (1_000_000, 10_000),
        ] {
            assert_eq!(block_of(size), block, "{size}");
        }
    }
}
