//! Taking turns: who waits to write a book in a file comes next.
//!
//! SQLite's write lock is not fair: a waiting process sleeps and looks again, while the one that
//! just wrote may take the lock ever anew, and a command beside a busy service would starve. So
//! writers pass a turnstile of two locked files. Whoever wants to write waits at `next`, and holds
//! it while he waits for `turn`; who gives `turn` back has to queue at `next` behind him. Both locks
//! go with the process, however it ends. SQLite's own lock still guards the book.

use std::fs::{File, OpenOptions};
use std::io;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

/// The turnstile of one connection.
pub struct Turnstile {
    next: File,
    turn: File,
}

impl Turnstile {
    /// The turnstile in a book's folder.
    pub fn open(folder: &Path) -> io::Result<Turnstile> {
        let file = |name: &str| {
            let mut options = OpenOptions::new();
            options.write(true).create(true).truncate(false).mode(0o600);
            options.open(folder.join(name))
        };
        Ok(Turnstile {
            next: file("next.lock")?,
            turn: file("turn.lock")?,
        })
    }

    /// Waits for one's turn.
    pub fn enter(&self) -> io::Result<()> {
        self.next.lock()?;
        let entered = self.turn.lock();
        self.next.unlock()?;
        entered
    }

    /// Gives the turn to the next; harmless for who has none.
    pub fn leave(&self) {
        // A lock that cannot be given back goes with the process.
        let _ = self.turn.unlock();
    }
}
