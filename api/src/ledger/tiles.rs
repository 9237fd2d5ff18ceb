//! How a book's hashes and entries are laid out in files: C2SP tlog-tiles.
//!
//! A *tile* holds up to 256 consecutive hashes of one level; level 0 are the leaf hashes, and each
//! hash of level `l + 1` is the root of one full tile of level `l`. A *partial* tile never feeds the
//! level above. An *entry bundle* holds the leaf bytes of one level-0 tile, each after its length.
//! Everything here can be worked out again from the leaves: tiles are a cache, not the truth.

use super::tree::{Hash, root_of};
use std::fmt;

/// Hashes in a full tile, entries in a full bundle.
pub const FULL: usize = 256;

/// What kind of file a path of the layout names.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum TileKind {
    /// Hashes of this level.
    Hashes(u8),
    /// Leaf bytes.
    Entries,
}

/// One file of the layout: `tile/0/x001/234`, `tile/1/000.p/17`, `tile/entries/000`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct TilePath {
    /// Hashes of a level, or entries.
    pub kind: TileKind,
    /// The tile's place in its level, from the left.
    pub index: u64,
    /// How many hashes or entries it holds, 1 to 256.
    pub width: u16,
}

impl TilePath {
    /// Reads a path; `None` for anything that is not spelt exactly as the layout spells it.
    pub fn parse(path: &str) -> Option<TilePath> {
        let rest = path.strip_prefix("tile/")?;
        let (kind, rest) = rest.split_once('/')?;
        let kind = match kind {
            "entries" => TileKind::Entries,
            level => TileKind::Hashes(plain_number(level).filter(|l| *l <= 63)? as u8),
        };
        let (index, width) = match rest.split_once(".p/") {
            Some((index, width)) => (index, plain_number(width).filter(|w| (1..256).contains(w))?),
            None => (rest, FULL as u64),
        };
        let path = TilePath {
            kind,
            index: read_index(index)?,
            width: width as u16,
        };
        Some(path)
    }
}

impl fmt::Display for TilePath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.kind {
            TileKind::Hashes(level) => write!(f, "tile/{level}/{}", index_path(self.index))?,
            TileKind::Entries => write!(f, "tile/entries/{}", index_path(self.index))?,
        }
        if usize::from(self.width) < FULL {
            write!(f, ".p/{}", self.width)
        } else {
            Ok(())
        }
    }
}

/// A tile's index in groups of three digits, all but the last with an `x`: `x001/x234/067`.
pub fn index_path(index: u64) -> String {
    let mut path = format!("{:03}", index % 1000);
    let mut rest = index / 1000;
    while rest > 0 {
        path = format!("x{:03}/{path}", rest % 1000);
        rest /= 1000;
    }
    path
}

/// Reads what [`index_path`] wrote, and nothing else.
pub fn read_index(path: &str) -> Option<u64> {
    let mut index = 0_u64;
    for group in path.split('/') {
        let digits = group.strip_prefix('x').unwrap_or(group);
        let number = digits
            .bytes()
            .all(|b| b.is_ascii_digit())
            .then(|| digits.parse().ok())??;
        index = index.checked_mul(1000)?.checked_add(number)?;
    }
    (index_path(index) == path).then_some(index)
}

/// A decimal number without sign and leading zeros.
fn plain_number(text: &str) -> Option<u64> {
    let number: u64 = text.parse().ok()?;
    (number.to_string() == text).then_some(number)
}

/// How many hashes the last tile of this level has in a tree of this size, when it is partial.
pub fn partial_width(level: u8, size: u64) -> Option<u16> {
    let hashes = size.checked_shr(8 * u32::from(level)).unwrap_or(0);
    let width = (hashes % FULL as u64) as u16;
    (width > 0).then_some(width)
}

/// Grows a tree tile by tile: takes leaf hashes, gives back each tile as it fills.
#[derive(Clone, Debug, Default)]
pub struct TileBuilder {
    size: u64,
    /// The hashes of the unfinished tile of each level.
    open: Vec<Vec<Hash>>,
}

impl TileBuilder {
    /// A builder for an empty tree.
    pub fn new() -> TileBuilder {
        TileBuilder::default()
    }

    /// How many leaves were pushed.
    pub fn size(&self) -> u64 {
        self.size
    }

    /// Appends the next leaf's hash and hands every tile that it fills to `filled`, lowest first.
    pub fn push(&mut self, leaf_hash: Hash, mut filled: impl FnMut(TilePath, &[Hash])) {
        self.size += 1;
        let mut hash = leaf_hash;
        for level in 0_u8.. {
            if self.open.len() == usize::from(level) {
                self.open.push(Vec::with_capacity(FULL));
            }
            let tile = &mut self.open[usize::from(level)];
            tile.push(hash);
            if tile.len() < FULL {
                return;
            }
            // The tree's size counts the leaves; shifted, the hashes of this level.
            let index = (self.size >> (8 * (u32::from(level) + 1))) - 1;
            filled(
                TilePath {
                    kind: TileKind::Hashes(level),
                    index,
                    width: FULL as u16,
                },
                tile,
            );
            hash = root_of(tile);
            tile.clear();
        }
    }

    /// The unfinished tiles, lowest level first; levels without one are left out.
    pub fn partial_tiles(&self) -> impl Iterator<Item = (TilePath, &[Hash])> {
        self.open
            .iter()
            .enumerate()
            .filter(|(_, tile)| !tile.is_empty())
            .map(|(level, tile)| {
                let level = level as u8;
                let index = self.size >> (8 * (u32::from(level) + 1));
                let kind = TileKind::Hashes(level);
                (
                    TilePath {
                        kind,
                        index,
                        width: tile.len() as u16,
                    },
                    tile.as_slice(),
                )
            })
    }
}

/// The hash of a complete subtree, out of the tile that holds it or the hashes below it.
///
/// `tile` gives the hashes of tile `index` of a tile level, at least the first `width` of them. Use
/// it as the look-up of the proofs in [`super::tree`].
pub fn hash_from_tiles(
    level: u8,
    index: u64,
    mut tile: impl FnMut(u8, u64, usize) -> Option<Vec<Hash>>,
) -> Option<Hash> {
    let count = 1_u64 << (level % 8);
    let first = index.checked_mul(count)?;
    let start = (first % FULL as u64) as usize;
    let end = start + count as usize;
    let hashes = tile(level / 8, first / FULL as u64, end)?;
    hashes.get(start..end).map(root_of)
}

/// The bytes of a tile: its hashes one after another.
pub fn tile_bytes(hashes: &[Hash]) -> Vec<u8> {
    hashes.concat()
}

/// Reads a tile; `None` when the length is not a whole number of hashes from 1 to 256.
pub fn read_tile(bytes: &[u8]) -> Option<Vec<Hash>> {
    let (hashes, rest) = bytes.as_chunks::<32>();
    (rest.is_empty() && (1..=FULL).contains(&hashes.len())).then(|| hashes.to_vec())
}

/// Appends an entry to the bytes of its bundle: two bytes of length, big-endian, and the leaf.
///
/// `None` when the leaf is longer than 65 535 bytes; our leaves are at most 16 KiB.
#[must_use]
pub fn append_entry(bundle: &mut Vec<u8>, leaf: &[u8]) -> Option<()> {
    bundle.extend(u16::try_from(leaf.len()).ok()?.to_be_bytes());
    bundle.extend(leaf);
    Some(())
}

/// Reads an entry bundle; `None` when its bytes end inside an entry.
pub fn read_entries(mut bytes: &[u8]) -> Option<Vec<&[u8]>> {
    let mut entries = Vec::with_capacity(FULL);
    while !bytes.is_empty() {
        let (length, rest) = bytes.split_first_chunk::<2>()?;
        let (leaf, rest) = rest.split_at_checked(usize::from(u16::from_be_bytes(*length)))?;
        entries.push(leaf);
        bytes = rest;
    }
    Some(entries)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::tree::{Frontier, leaf_hash, root_at};
    use std::collections::BTreeMap;

    /// C2SP tlog-tiles, "Merkle Tree": "index 1234067 will be encoded as x001/x234/067".
    #[test]
    fn paths_are_spelt_as_the_specification_spells_them() {
        for (index, path) in [
            (1_234_067, "x001/x234/067"),
            (0, "000"),
            (999, "999"),
            (1000, "x001/000"),
        ] {
            assert_eq!(index_path(index), path);
            assert_eq!(read_index(path), Some(index));
        }
        for bad in [
            "",
            "0",
            "0000",
            "x000/001",
            "001/000",
            "x001",
            "x001/x234",
            "+01",
            "x1/000",
            "000/",
        ] {
            assert_eq!(read_index(bad), None, "{bad}");
        }
        for path in [
            "tile/0/x001/x234/067.p/1",
            "tile/63/000",
            "tile/entries/000.p/255",
        ] {
            assert_eq!(TilePath::parse(path).unwrap().to_string(), path);
        }
        for bad in [
            "tile/64/000",
            "tile/00/000",
            "tile/0/000.p/0",
            "tile/0/000.p/256",
            "tile/0/000.p/01",
            "tile/data/000",
            "0/000",
            "tile/0",
            "tile/entries/",
            "tile/0/000.p/",
            "tile/-1/000",
        ] {
            assert_eq!(TilePath::parse(bad), None, "{bad}");
        }
    }

    /// C2SP tlog-tiles, "Partial Tiles": a tree of 70 000 entries has 273 full level-0 tiles and a
    /// partial one of 112, one full level-1 tile and a partial one of 17, and a partial level-2 tile
    /// of 1; a tree of 256 has a full level-0 tile and a partial level-1 tile of 1.
    #[test]
    fn tiles_of_the_specification_s_example() {
        let mut builder = TileBuilder::new();
        let mut full = BTreeMap::new();
        for number in 0..70_000_u64 {
            builder.push(leaf_hash(&number.to_be_bytes()), |path, hashes| {
                full.insert(path, hashes.to_vec());
            });
            if number == 255 {
                let partial: Vec<String> =
                    builder.partial_tiles().map(|t| t.0.to_string()).collect();
                assert_eq!(partial, ["tile/1/000.p/1"]);
            }
        }
        let count = |level| {
            full.keys()
                .filter(|p| p.kind == TileKind::Hashes(level))
                .count()
        };
        assert_eq!((count(0), count(1), count(2)), (273, 1, 0));
        let partial: Vec<String> = builder.partial_tiles().map(|t| t.0.to_string()).collect();
        assert_eq!(
            partial,
            ["tile/0/273.p/112", "tile/1/001.p/17", "tile/2/000.p/1"]
        );
        for (level, width) in [(0, 112), (1, 17), (2, 1)] {
            assert_eq!(partial_width(level, 70_000), Some(width));
        }
        assert_eq!(
            (partial_width(0, 256), partial_width(1, 256)),
            (None, Some(1))
        );

        // The root from the tiles is the root from the leaves.
        let mut frontier = Frontier::new();
        for number in 0..70_000_u64 {
            frontier.push(leaf_hash(&number.to_be_bytes()));
        }
        full.extend(
            builder
                .partial_tiles()
                .map(|(path, hashes)| (path, hashes.to_vec())),
        );
        let tile = |level, index, width: usize| {
            let mut widths = full
                .iter()
                .filter(|(path, _)| path.kind == TileKind::Hashes(level) && path.index == index);
            widths
                .next()
                .map(|(_, hashes)| hashes.clone())
                .filter(|hashes| hashes.len() >= width)
        };
        let root = root_at(70_000, |level, index| hash_from_tiles(level, index, tile));
        assert_eq!(root, Ok(frontier.root()));
    }

    #[test]
    fn entry_bundles_keep_their_entries_apart() {
        let mut bundle = Vec::new();
        for leaf in [b"".as_slice(), b"a", &[7; 65_535]] {
            append_entry(&mut bundle, leaf).unwrap();
        }
        assert_eq!(bundle[..5], [0, 0, 0, 1, b'a']);
        assert_eq!(
            read_entries(&bundle).unwrap(),
            [b"".as_slice(), b"a", &[7; 65_535]]
        );
        assert_eq!(read_entries(&bundle[..bundle.len() - 1]), None);
        assert_eq!(read_entries(&[0]), None);
        assert_eq!(append_entry(&mut bundle, &[0; 65_536]), None);
        assert_eq!(read_tile(&[0; 31]), None);
        assert_eq!(read_tile(&[0; 257 * 32]), None);
        assert_eq!(read_tile(&[]), None);
    }
}
