//! Where a book may lie: in a folder of its own, on a local disk. Network file systems are refused,
//! because their locks and syncs do not keep what SQLite needs.

use super::StoreError;
use std::os::unix::fs::DirBuilderExt;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

/// Whether an operator who knows better has forced it, by the setting `allow_network_filesystem`.
static FORCED: AtomicBool = AtomicBool::new(false);

/// Lets this process open books on network file systems.
pub fn allow_network() {
    FORCED.store(true, Ordering::Relaxed);
}

/// Type numbers of network file systems as statfs(2) lists them.
const NETWORK: [(u32, &str); 7] = [
    (0x6969, "NFS"),
    (0xff53_4d42, "CIFS"),
    (0xfe53_4d42, "SMB2"),
    (0x517b, "SMB"),
    (0x5346_414f, "AFS"),
    (0x00c3_6400, "Ceph"),
    (0x0bd0_0bd0, "Lustre"),
];

/// Makes a folder, where there is none, that only its owner may enter: a book is confidential.
pub fn private_folder(folder: &Path) -> std::io::Result<()> {
    std::fs::DirBuilder::new()
        .recursive(true)
        .mode(0o700)
        .create(folder)
}

/// Refuses a folder on a network file system unless the operator forces it.
pub fn refuse_network(folder: &Path) -> Result<(), StoreError> {
    let Ok(status) = rustix::fs::statfs(folder) else {
        return Ok(());
    };
    let number = u32::try_from(status.f_type & 0xffff_ffff).unwrap_or(0);
    let Some((_, name)) = NETWORK.iter().find(|(known, _)| *known == number) else {
        return Ok(());
    };
    if FORCED.load(Ordering::Relaxed) {
        return Ok(());
    }
    Err(StoreError::Unsafe(format!(
        "{} is on a network file system ({name}), where an acknowledged entry can be lost; put the \
         book on a local disk or on PostgreSQL (TAREBOOK_ALLOW_NETWORK_FILESYSTEM=true goes on all the same)",
        folder.display()
    )))
}

/// Whether a folder takes writes: not when its file system is mounted for reading, as a kernel does
/// by itself after an error of the disk, nor when this process lacks the right.
pub fn takes_writes(folder: &Path) -> bool {
    let mounted_for_reading = rustix::fs::statvfs(folder).is_ok_and(|status| {
        status
            .f_flag
            .contains(rustix::fs::StatVfsMountFlags::RDONLY)
    });
    !mounted_for_reading && rustix::fs::access(folder, rustix::fs::Access::WRITE_OK).is_ok()
}

/// Less than this, and SQLite cannot even make the index of its log, without which nobody reads.
const LEAST_ROOM: u64 = 64 * 1024;

/// Whether the disk of a folder is full. SQLite says no more than "disk I/O error" then.
pub fn is_full(folder: &Path) -> bool {
    // A folder that could not be made lies on the disk of the one above it.
    let there = folder.ancestors().find(|above| above.is_dir());
    let status = there.and_then(|there| rustix::fs::statvfs(there).ok());
    status.is_some_and(|status| status.f_bavail.saturating_mul(status.f_frsize) < LEAST_ROOM)
}
