//! The log of a book as it is stored: hashes from tiles and entries, and the checkpoints.

use super::db::Db;
use super::flush::int;
use super::sql;
use super::statement::Bind;
use super::{Sight, StoreError};
use crate::ledger::checkpoint::{Checkpoint, Note, SigningKey};
use crate::ledger::tiles::{FULL, hash_from_tiles, read_tile};
use crate::ledger::tree::{Hash, root_at};

/// The newest signed checkpoint.
pub fn newest_checkpoint(db: &mut Db, org: i64) -> Result<Option<(u64, String)>, StoreError> {
    let row: Option<(i64, String)> = db.first(sql::NewestCheckpoint, &[Bind::Int(org)])?;
    Ok(row.map(|(size, note)| (size.unsigned_abs(), note)))
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
