//! A few connections that only read, shared by everyone who asks.
//!
//! A connection is opened when it is first needed and again whenever the old one broke: after an
//! outage of the database the service answers again without a restart (promise A7). Who finds
//! all of them taken waits a little and is then told that the book is busy.

use super::db::{Address, Db, Purpose};
use super::{StoreError, filesystem, sql};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// How long a caller waits for a connection.
const PATIENCE: Duration = Duration::from_secs(4);
/// A connection that was unused for longer is asked whether it still lives.
const TRUSTED: Duration = Duration::from_secs(1);

/// Connections for reading.
pub struct Readers {
    address: Address,
    most: usize,
    state: Mutex<State>,
    returned: Condvar,
}

#[derive(Default)]
struct State {
    idle: Vec<(Db, Instant)>,
    taken: usize,
}

impl Readers {
    /// At most so many connections; none is opened yet.
    pub fn new(address: Address, most: usize) -> Readers {
        Readers {
            address,
            most: most.max(1),
            state: Mutex::default(),
            returned: Condvar::new(),
        }
    }

    /// Runs `with` on a connection. One that failed is not used again.
    pub fn with<T, E: From<StoreError>>(
        &self,
        with: impl FnOnce(&mut Db) -> Result<T, E>,
    ) -> Result<T, E> {
        let mut taken = self.take()?;
        let done = with(taken.db()?);
        // What failed may have broken the connection, or have left a transaction open in it.
        taken.sound = done.is_ok() || taken.db()?.is_alive();
        done
    }

    /// Runs `with` without waiting for anybody: on a connection to a book in a file that nobody uses
    /// right now. `None`: there is none, or the database is across a network.
    pub fn at_once<T, E: From<StoreError>>(
        &self,
        with: impl FnOnce(&mut Db) -> Result<T, E>,
    ) -> Option<Result<T, E>> {
        if !matches!(self.address, Address::Folder(_)) || self.lock().idle.is_empty() {
            return None;
        }
        Some(self.with(with))
    }

    /// Whether what this connects to takes writes, as far as can be told without writing.
    pub fn takes_writes(&self) -> Result<bool, StoreError> {
        match &self.address {
            Address::Folder(folder) => Ok(filesystem::takes_writes(folder)),
            Address::Postgres(_) => self.with(|db| {
                let read_only: Option<i64> = db.first(sql::IsReadOnly, &[])?;
                Ok(read_only == Some(0))
            }),
        }
    }

    /// Takes a connection, or waits for one.
    fn take(&self) -> Result<Taken<'_>, StoreError> {
        let until = Instant::now() + PATIENCE;
        let mut state = self.lock();
        while state.taken >= self.most {
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Err(StoreError::Busy);
            }
            let waited = self.returned.wait_timeout(state, left);
            state = waited.unwrap_or_else(PoisonError::into_inner).0;
        }
        state.taken += 1;
        let idle = state.idle.pop();
        drop(state);
        let mut taken = Taken {
            readers: self,
            db: None,
            sound: false,
        };
        let alive = |(mut db, since): (Db, Instant)| {
            (since.elapsed() < TRUSTED || db.is_alive()).then_some(db)
        };
        taken.db = match idle.and_then(alive) {
            Some(db) => Some(db),
            None => Some(Db::open(&self.address, Purpose::Read, false)?),
        };
        Ok(taken)
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        // The state is whole after every statement; a panic elsewhere does not spoil it.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A connection in use; it goes back when this is dropped, however that comes about.
struct Taken<'a> {
    readers: &'a Readers,
    db: Option<Db>,
    sound: bool,
}

impl Taken<'_> {
    fn db(&mut self) -> Result<&mut Db, StoreError> {
        self.db.as_mut().ok_or(StoreError::Busy)
    }
}

impl Drop for Taken<'_> {
    fn drop(&mut self) {
        let mut state = self.readers.lock();
        state.taken -= 1;
        if let (Some(db), true) = (self.db.take(), self.sound) {
            state.idle.push((db, Instant::now()));
        }
        drop(state);
        self.readers.returned.notify_one();
    }
}
