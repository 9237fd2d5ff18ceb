//! Where passwords are hashed: off the request workers, so that a storm of sign-ins holds up nobody.
//!
//! A few threads of their own do nothing else, at most as many as there are cores; 64 passwords may
//! wait, one more is asked to come again (promise A3). A hash needs 19 MiB, which the allocator keeps
//! for the thread that used it: were any thread to hash, each would end up holding that much.

use super::problem::Problem;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::oneshot;

/// Passwords that may wait to be hashed.
const WAITING: usize = 64;

type Work = Box<dyn FnOnce() + Send>;

/// The threads that hash, and their queue.
pub struct Hashers {
    queue: SyncSender<Work>,
}

impl Hashers {
    /// So many threads.
    pub fn new(threads: usize) -> Hashers {
        let (queue, waiting) = sync_channel(WAITING);
        let waiting = Arc::new(Mutex::new(waiting));
        for _ in 0..threads.max(1) {
            let waiting = Arc::clone(&waiting);
            let named = std::thread::Builder::new().name("hasher".to_string());
            if let Err(error) = named.spawn(move || hash(&waiting)) {
                tracing::error!(%error, "a thread that hashes passwords cannot be started");
            }
        }
        Hashers { queue }
    }

    /// Runs something that burns a core for a while; refuses when too many wait.
    pub async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let (reply, answer) = oneshot::channel();
        let work = Box::new(move || {
            // Who has gone away needs no answer.
            let _ = reply.send(work());
        });
        if self.queue.try_send(work).is_err() {
            return Err(Problem::unavailable("too many passwords wait to be hashed"));
        }
        let done = answer.await;
        done.map_err(|_| Problem::failure("a password was not hashed to the end"))
    }
}

fn hash(waiting: &Mutex<Receiver<Work>>) {
    loop {
        // The lock is held while waiting only; the work is done without it.
        let work = waiting
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .recv();
        let Ok(work) = work else { return };
        let done = std::panic::catch_unwind(std::panic::AssertUnwindSafe(work));
        if done.is_err() {
            tracing::error!("hashing a password panicked");
        }
    }
}
