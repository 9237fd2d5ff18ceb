//! Signs the checkpoints: at most a second after a booking, at once when somebody asks.
//!
//! One thread signs for all books of this service. It never signs what is not committed, because it
//! reads the book anew under its lock; a book whose key is not here stays unsigned, and the log of
//! the program says so.

use crate::ledger::checkpoint::SigningKey;
use crate::store::line::Line;
use crate::store::open::Organisation;
use crate::store::{Sight, StoreError, log};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError, Weak};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Bookings of so long are gathered into one checkpoint.
const GATHER: Duration = Duration::from_millis(500);
/// Books that are signed in one transaction.
const AT_ONCE: usize = 16;
/// Books that another process left unsigned are looked for so often.
const SWEEP: Duration = Duration::from_secs(30);

/// Finds the signing key of a log.
pub type Keys = Box<dyn Fn(&str) -> Option<SigningKey> + Send>;

/// Signs the checkpoints of all books.
#[derive(Default)]
pub struct Signer {
    state: Mutex<State>,
    wake: Condvar,
}

#[derive(Default)]
struct State {
    /// Books with entries that are not signed.
    due: BTreeMap<i64, Organisation>,
    /// Who waits for a checkpoint that is signed now.
    asked: Vec<(Organisation, Sender<Result<String, StoreError>>)>,
    /// The newest checkpoint of each book.
    notes: HashMap<i64, Arc<str>>,
    stop: bool,
}

/// The signer's thread; dropping it signs what is due and ends it.
pub struct Signing {
    signer: Arc<Signer>,
    thread: Option<JoinHandle<()>>,
}

impl Signer {
    /// Starts the thread on its own line to the database.
    pub fn start(line: Line, keys: Keys) -> (Arc<Signer>, Signing) {
        let signer = Arc::new(Signer::default());
        let of_thread = Arc::downgrade(&signer);
        let run = move || work(&of_thread, line, &keys);
        let thread = std::thread::Builder::new()
            .name("signer".to_string())
            .spawn(run)
            .ok();
        let signing = Signing {
            signer: Arc::clone(&signer),
            thread,
        };
        (signer, signing)
    }

    /// Something was booked.
    pub fn booked(&self, of: &Organisation) {
        let mut state = self.lock();
        if let std::collections::btree_map::Entry::Vacant(e) = state.due.entry(of.org) {
            e.insert(of.clone());
            self.wake.notify_all();
        }
    }

    /// The newest checkpoint that was signed here.
    pub fn newest(&self, org: i64) -> Option<Arc<str>> {
        self.lock().notes.get(&org).cloned()
    }

    /// A checkpoint of the book as it stands now; blocks the calling thread for a moment.
    pub fn sign_now(&self, of: &Organisation) -> Result<String, StoreError> {
        let (reply, answer) = channel();
        self.lock().asked.push((of.clone(), reply));
        self.wake.notify_all();
        match answer.recv_timeout(Duration::from_secs(4)) {
            Ok(signed) => signed,
            Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => {
                Err(StoreError::Busy)
            }
        }
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Signing {
    fn drop(&mut self) {
        self.signer.lock().stop = true;
        self.signer.wake.notify_all();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// What one round signs.
struct Round {
    due: BTreeMap<i64, Organisation>,
    asked: Vec<(Organisation, Sender<Result<String, StoreError>>)>,
    stop: bool,
}

fn work(signer: &Weak<Signer>, line: Line, keys: &Keys) {
    let mut pen = Pen {
        line,
        keys,
        known: HashMap::new(),
        missed: HashSet::new(),
    };
    let mut swept = None::<Instant>;
    while let Some(signer) = signer.upgrade() {
        let mut round = wait(&signer);
        if swept.is_none_or(|swept| swept.elapsed() > SWEEP) && !round.stop {
            match pen.unsigned() {
                Ok(found) => round.due.extend(found),
                Err(error) => tracing::warn!(%error, "unsigned books cannot be looked for"),
            }
            swept = Some(Instant::now());
        }
        for (of, reply) in round.asked {
            round.due.remove(&of.org);
            // Who asked and went away is no matter.
            let _ = reply.send(pen.sign(&signer, &of));
        }
        let due: Vec<Organisation> = round.due.into_values().collect();
        for some in due.chunks(AT_ONCE) {
            pen.sign_all(&signer, some, round.stop);
        }
        if round.stop {
            return;
        }
    }
}

/// Waits until something is to be signed.
fn wait(signer: &Signer) -> Round {
    let begun = Instant::now();
    let mut state = signer.lock();
    let mut since = (!state.due.is_empty()).then(Instant::now);
    loop {
        let ripe = since.is_some_and(|since| since.elapsed() >= GATHER);
        if state.stop || !state.asked.is_empty() || ripe || begun.elapsed() >= SWEEP {
            let (due, asked) = (
                std::mem::take(&mut state.due),
                std::mem::take(&mut state.asked),
            );
            return Round {
                due,
                asked,
                stop: state.stop,
            };
        }
        let left = match since {
            Some(since) => GATHER.saturating_sub(since.elapsed()),
            None => SWEEP.saturating_sub(begun.elapsed()),
        };
        let waited = signer
            .wake
            .wait_timeout(state, left.max(Duration::from_millis(1)));
        state = waited.unwrap_or_else(PoisonError::into_inner).0;
        if since.is_none() && !state.due.is_empty() {
            since = Some(Instant::now());
        }
    }
}

/// What signs: the line to the database and the keys.
struct Pen<'k> {
    line: Line,
    keys: &'k Keys,
    known: HashMap<i64, SigningKey>,
    /// Books whose key was missed already; it is said once.
    missed: HashSet<i64>,
}

impl Pen<'_> {
    fn unsigned(&mut self) -> Result<BTreeMap<i64, Organisation>, StoreError> {
        let found = self.line.db().and_then(|db| {
            let due = log::unsigned(db)?.into_iter();
            Ok(due.map(|of| (of.org, of)).collect())
        });
        found.inspect_err(|_| {
            self.line.look();
        })
    }

    fn sign(&mut self, signer: &Signer, of: &Organisation) -> Result<String, StoreError> {
        let signed = self.sign_with_key(of).inspect_err(|_| {
            self.line.look();
        })?;
        signer
            .lock()
            .notes
            .insert(of.org, Arc::from(signed.as_str()));
        Ok(signed)
    }

    /// Signs some books in one transaction. What cannot be signed because the database is away is due
    /// again; what is wrong with a book itself is looked at again at the next sweep.
    fn sign_all(&mut self, signer: &Signer, due: &[Organisation], last: bool) {
        due.iter().for_each(|of| self.find_key(of));
        let known = &self.known;
        let books: Vec<(&Organisation, &SigningKey)> = due
            .iter()
            .filter_map(|of| Some((of, known.get(&of.org)?)))
            .collect();
        if books.is_empty() {
            return;
        }
        let signed = self.line.db().and_then(|db| log::sign_all(db, &books));
        match signed {
            Ok(signed) => {
                for ((of, _), signed) in books.iter().zip(signed) {
                    match signed {
                        Ok(note) => {
                            signer.lock().notes.insert(of.org, Arc::from(note.as_str()));
                        }
                        Err(error) => {
                            tracing::error!(%error, log = of.log, "a checkpoint is not signed")
                        }
                    }
                }
            }
            Err(error) => {
                tracing::warn!(%error, books = books.len(), "checkpoints cannot be signed yet");
                if !last {
                    let again = books.iter().map(|(of, _)| (of.org, (*of).clone()));
                    signer.lock().due.extend(again);
                }
                self.line.look();
            }
        }
    }

    fn find_key(&mut self, of: &Organisation) {
        if self.known.contains_key(&of.org) {
            return;
        }
        match (self.keys)(&of.log) {
            Some(key) => drop(self.known.insert(of.org, key)),
            None if self.missed.insert(of.org) => {
                tracing::error!(log = of.log, "the signing key of this book is not here");
            }
            None => {}
        }
    }

    fn sign_with_key(&mut self, of: &Organisation) -> Result<String, StoreError> {
        self.find_key(of);
        let db = self.line.db()?;
        if let Some(key) = self.known.get(&of.org) {
            return log::sign(db, of.org, key, &of.log);
        }
        let sight = Sight::Organisations(std::slice::from_ref(&of.org));
        let newest = db.reading(sight, |db| log::newest_checkpoint(db, of.org))?;
        newest.map(|(_, note)| note).ok_or(StoreError::Busy)
    }
}
