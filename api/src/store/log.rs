//! The log of a book as it is stored: hashes from tiles and entries, the files of the C2SP
//! tlog-tiles layout, proofs, and the checkpoints.

use super::db::Db;
use super::flush::int;
use super::open::Organisation;
use super::sql;
use super::statement::{Bind, statement};
use super::{Sight, StoreError};
use crate::ledger::checkpoint::{Checkpoint, Note, SigningKey};
use crate::ledger::entry::Leaf;
use crate::ledger::tiles::{
    FULL, TileKind, TilePath, append_entry, hash_from_tiles, read_tile, tile_bytes,
};
use crate::ledger::tree::{Hash, ProofError, consistency_proof, inclusion_proof, root_at};
use diesel::sql_types::{BigInt, Binary, Text};

statement! {
    LeavesOfBlock: "SELECT leaf FROM entries WHERE org = ? AND seq >= ? AND seq < ? ORDER BY seq"
                   => Binary;
    NewestSealWithin: "SELECT size FROM checkpoints WHERE org = ? AND size > ? AND size <= ? \
                       ORDER BY size DESC LIMIT 1" => BigInt;
    Unsigned: "SELECT org, name, log FROM unsigned_books ORDER BY org" => (BigInt, Text, Text);
}

/// The newest signed checkpoint.
pub fn newest_checkpoint(db: &mut Db, org: i64) -> Result<Option<(u64, String)>, StoreError> {
    let row: Option<(i64, String)> = db.first(sql::NewestCheckpoint, &[Bind::Int(org)])?;
    Ok(row.map(|(size, note)| (size.unsigned_abs(), note)))
}

/// The size of the newest checkpoint over more than `after` and at most `most` entries.
pub fn checkpoint_within(
    db: &mut Db,
    org: i64,
    after: u64,
    most: u64,
) -> Result<Option<u64>, StoreError> {
    let binds = [Bind::Int(org), Bind::Int(int(after)), Bind::Int(int(most))];
    let size: Option<i64> = db.first(NewestSealWithin, &binds)?;
    Ok(size.map(i64::unsigned_abs))
}

/// Hashes of tile `index` of a tile level, at least the first `width`: the stored tile, or (of the
/// lowest level) the entries themselves.
fn tile(db: &mut Db, org: i64, level: u8, index: u64, width: usize) -> Option<Vec<Hash>> {
    let binds = [
        Bind::Int(org),
        Bind::Int(i64::from(level)),
        Bind::Int(int(index)),
    ];
    let stored: Option<Vec<u8>> = db.first(sql::Tile, &binds).ok()?;
    let stored = stored.as_deref().and_then(read_tile);
    if level > 0 || stored.as_ref().is_some_and(|hashes| hashes.len() >= width) {
        return stored;
    }
    let first = index * FULL as u64;
    let binds = [
        Bind::Int(org),
        Bind::Int(int(first)),
        Bind::Int(int(first + width as u64)),
    ];
    let hashes: Vec<Vec<u8>> = db.rows(sql::Hashes, &binds).ok()?;
    hashes
        .into_iter()
        .map(|hash| hash.try_into().ok())
        .collect()
}

/// The hash of a complete subtree of a stored log.
pub fn hash_of(db: &mut Db, org: i64, level: u8, index: u64) -> Option<Hash> {
    hash_from_tiles(level, index, |level, index, width| {
        tile(db, org, level, index, width)
    })
}

/// The root of the first `size` entries of a stored log.
pub fn root(db: &mut Db, org: i64, size: u64) -> Result<Hash, StoreError> {
    root_at(size, |level, index| hash_of(db, org, level, index))
        .map_err(|error| StoreError::Broken(format!("the log of book {org}: {error}")))
}

/// A file of the layout, in the tree of the first `size` entries; `None`: there is no such file.
pub fn file(
    db: &mut Db,
    org: i64,
    path: TilePath,
    size: u64,
) -> Result<Option<Vec<u8>>, StoreError> {
    let level = match path.kind {
        TileKind::Hashes(level) => level,
        TileKind::Entries => 0,
    };
    // How many hashes of this level the tree has in all, and how many stand before this tile.
    let there = size.checked_shr(8 * u32::from(level)).unwrap_or(0);
    let width = usize::from(path.width);
    let first = path.index.checked_mul(FULL as u64);
    let Some(first) = first.filter(|first| there.saturating_sub(*first) >= width as u64) else {
        return Ok(None);
    };
    if path.kind == TileKind::Entries {
        return bundle(db, org, first, width).map(Some);
    }
    let broken = || StoreError::Broken(format!("the tile {path} of book {org} is missing"));
    let hashes = tile(db, org, level, path.index, width).ok_or_else(broken)?;
    Ok(Some(tile_bytes(hashes.get(..width).ok_or_else(broken)?)))
}

fn bundle(db: &mut Db, org: i64, first: u64, width: usize) -> Result<Vec<u8>, StoreError> {
    let binds = [
        Bind::Int(org),
        Bind::Int(int(first)),
        Bind::Int(int(first + width as u64)),
    ];
    let leaves: Vec<Vec<u8>> = db.rows(LeavesOfBlock, &binds)?;
    let mut bytes = Vec::new();
    let whole = leaves.len() == width
        && leaves
            .iter()
            .all(|leaf| append_entry(&mut bytes, leaf).is_some());
    if !whole {
        return Err(StoreError::Broken(format!(
            "entries of book {org} are missing or too long"
        )));
    }
    Ok(bytes)
}

/// The verification keys of a book, as its first entry names them: signing, recovery.
pub fn verification_keys(db: &mut Db, org: i64) -> Result<[String; 2], StoreError> {
    let broken = || StoreError::Broken(format!("the first entry of book {org} names no keys"));
    let binds = [Bind::Int(org), Bind::Int(0), Bind::Int(1)];
    let leaf: Option<Vec<u8>> = db.first(LeavesOfBlock, &binds)?;
    let leaf = leaf.ok_or_else(broken)?;
    let leaf = Leaf::parse(&leaf).map_err(|_| broken())?;
    let keys = leaf.body.keys.ok_or_else(broken)?;
    Ok([keys.signing.into_owned(), keys.recovery.into_owned()])
}

/// The hashes that prove entry `seq` to be in the tree of `size` entries.
pub fn inclusion(db: &mut Db, org: i64, seq: u64, size: u64) -> Result<Vec<Hash>, StoreError> {
    let proof = inclusion_proof(seq, size, |level, index| hash_of(db, org, level, index));
    proof.map_err(|error| unproved(org, &error))
}

/// The hashes that prove the tree of `old` entries to be the beginning of that of `size`.
pub fn consistency(db: &mut Db, org: i64, old: u64, size: u64) -> Result<Vec<Hash>, StoreError> {
    let proof = consistency_proof(old, size, |level, index| hash_of(db, org, level, index));
    proof.map_err(|error| unproved(org, &error))
}

fn unproved(org: i64, error: &ProofError) -> StoreError {
    StoreError::Broken(format!("the log of book {org}: {error}"))
}

/// Books with entries that no checkpoint covers yet.
pub fn unsigned(db: &mut Db) -> Result<Vec<Organisation>, StoreError> {
    let rows: Vec<(i64, String, String)> = db.rows(Unsigned, &[])?;
    let of = |(org, name, log)| Organisation { org, name, log };
    Ok(rows.into_iter().map(of).collect())
}

/// Signs the book as it stands, unless its newest checkpoint says so already.
///
/// Under the head's lock the signer refuses when the book is shorter than what it signed before, or
/// when the entries it signed no longer have the root it signed: it never signs a second history.
pub fn sign(db: &mut Db, org: i64, key: &SigningKey, log: &str) -> Result<String, StoreError> {
    db.begin_for(Sight::Organisations(&[org]))?;
    let signed = sign_locked(db, org, key, log);
    let done = match &signed {
        Ok(_) => db.commit().map_err(StoreError::from),
        Err(_) => db.rollback().map_err(StoreError::from),
    };
    let note = signed?;
    done?;
    Ok(note)
}

/// Signs several books in one transaction; what one book lacks does not keep the others unsigned.
pub fn sign_all(
    db: &mut Db,
    books: &[(&Organisation, &SigningKey)],
) -> Result<Vec<Result<String, StoreError>>, StoreError> {
    // In the order in which writers lock them, too.
    let mut orgs: Vec<i64> = books.iter().map(|(of, _)| of.org).collect();
    orgs.sort_unstable();
    let sight = Sight::Organisations(&orgs);
    db.writing(sight, |db| {
        let mut signed = Vec::with_capacity(books.len());
        for (of, key) in books {
            signed.push(match sign_locked(db, of.org, key, &of.log) {
                // The transaction is spoilt; all of it is tried again.
                Err(failed @ StoreError::Database(_)) => return Err(failed),
                other => other,
            });
        }
        Ok(signed)
    })
}

fn sign_locked(db: &mut Db, org: i64, key: &SigningKey, log: &str) -> Result<String, StoreError> {
    let size: Option<i64> = if db.is_postgres() {
        db.first(sql::LockHead, &[Bind::Int(org)])?
    } else {
        db.first(sql::NextSeq, &[Bind::Int(org)])?
    };
    let size = size.unwrap_or(0).unsigned_abs();
    if let Some((old, note)) = newest_checkpoint(db, org)? {
        let broken = |why: String| StoreError::Broken(format!("{why}; nothing was signed"));
        let signed = Note::parse(&note).map_err(|error| broken(error.to_string()))?;
        let signed =
            Checkpoint::from_text(&signed.text).map_err(|error| broken(error.to_string()))?;
        if old > size {
            return Err(broken(format!(
                "the book has {size} entries, but a checkpoint over {old} was signed: entries are \
                 missing"
            )));
        }
        if root(db, org, old)? != signed.root {
            return Err(broken(format!(
                "the first {old} entries no longer have the root that was signed"
            )));
        }
        if old == size {
            return Ok(note);
        }
    }
    let root = root(db, org, size)?;
    let note = Checkpoint {
        origin: log.to_string(),
        size,
        root,
    }
    .signed_by(&[key])
    .to_string();
    let binds = [Bind::Int(org), Bind::Int(int(size)), Bind::Text(&note)];
    db.run(sql::AddCheckpoint, &binds)?;
    Ok(note)
}
