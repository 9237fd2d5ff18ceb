//! Group commit: many callers' actions, one transaction, one sync.
//!
//! Everything that changes a book goes through [`transact`] (one caller) or a [`Writer`] (many).
//! Both begin by locking the organisation's head row, so that processes beside each other never
//! fork a book, and answer only after the commit. One bad posting never fails its neighbours: when
//! the database objects, the batch is rolled back, the books are dropped, and each posting runs
//! again by itself.

mod batch;

use super::book::Book;
use super::db::{Address, Db};
use super::flush::flush;
use super::line::Line;
use super::open::{Organisation, open_book};
use super::sql;
use super::statement::Bind;
use super::tx::{LookedUp, Tx};
use super::{Sight, StoreError};
use crate::ledger::id::Id;
use reports::refrigerant::Table;
use std::collections::HashMap;
use std::sync::mpsc::{SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;

/// Postings that may wait; one more is answered *busy*.
const WAITING: usize = 1_024;
/// Most postings in one transaction, unless a service is told otherwise.
pub const BATCH: usize = 256;
/// A clock that stands this far before the newest entry is wrong.
const CLOCK_TOLERANCE: i64 = 10 * 60 * 1_000_000;

/// Tells the time in microseconds since 1970: the host's on SQLite, the database's on PostgreSQL.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    /// Asked where the database has no clock of its own, or where time is made up.
    pub now: fn() -> i64,
    /// A clock that stands before this moment is wrong.
    pub earliest: i64,
    /// Time is made up (a demonstration, a test): the database's clock is not asked either.
    pub made_up: bool,
}

impl Clock {
    /// The real time. It cannot be before the day the program was built.
    pub fn real() -> Clock {
        Clock {
            now: crate::clock::now,
            earliest: built_on(),
            made_up: false,
        }
    }

    /// A time of its own, for a demonstration or a test.
    pub const fn made_up(now: fn() -> i64) -> Clock {
        Clock {
            now,
            earliest: 0,
            made_up: true,
        }
    }
}

/// The day the program was built, microseconds since 1970. A day, not a second: another machine's
/// clock may run a little behind.
pub fn built_on() -> i64 {
    let built = env!("BUILT_AT_SECONDS").parse::<i64>().unwrap_or(0);
    (built - built.rem_euclid(86_400)) * 1_000_000
}

/// The books a writer keeps in memory, by organisation.
pub type Books = HashMap<i64, Book>;

/// One caller's action.
pub trait Job: Send {
    /// Whose book.
    fn organisation(&self) -> &Organisation;
    /// The ids it may book, to be looked up at once.
    fn ids(&self) -> &[Id];
    /// Runs the action; refusals are outcomes. An error means that the store failed.
    fn run(&mut self, tx: &mut Tx<'_>) -> Result<(), StoreError>;
    /// Must it have a transaction of its own? One that takes back what it booked when it is refused
    /// half-way (by an error of [`Job::run`]) would take its neighbours' with it.
    fn alone(&self) -> bool {
        false
    }
    /// Answers the caller, after the commit or with the failure.
    fn answer(self: Box<Self>, failed: Option<StoreError>);
}

/// Runs one action in a transaction of its own; on an error nothing of it is booked.
pub fn transact<T>(
    db: &mut Db,
    books: &mut Books,
    of: &Organisation,
    ids: &[Id],
    table: &Table,
    clock: Clock,
    mut action: impl FnMut(&mut Tx<'_>) -> Result<T, StoreError>,
) -> Result<T, StoreError> {
    db.begin_for(Sight::Organisations(&[of.org]))?;
    let done = (|| {
        let now = lock(db, books, &[of], clock)?;
        let looked_up = look_up(db, &[(of.org, ids)])?;
        let book = book_of(books, of)?;
        check_clock(book, now[&of.org], clock)?;
        let value = action(&mut Tx::new(db, book, now[&of.org], table, &looked_up))?;
        if !book.pending.is_empty() {
            flush(db, &mut [book])?;
        }
        db.commit()?;
        book.slim();
        Ok(value)
    })();
    if done.is_err() {
        let _ = db.rollback();
        books.remove(&of.org);
    }
    done
}

fn book_of<'b>(books: &'b mut Books, of: &Organisation) -> Result<&'b mut Book, StoreError> {
    books
        .get_mut(&of.org)
        .ok_or_else(|| StoreError::Broken(format!("no book of {}", of.name)))
}

/// Locks the heads, drops books that another process has overtaken, and says what time it is.
fn lock(
    db: &mut Db,
    books: &mut Books,
    of: &[&Organisation],
    clock: Clock,
) -> Result<HashMap<i64, i64>, StoreError> {
    let mut now = HashMap::new();
    let mut standing = HashMap::new();
    if db.is_postgres() {
        let mut orgs: Vec<i64> = of.iter().map(|of| of.org).collect();
        orgs.sort_unstable();
        orgs.dedup();
        let rows: Vec<(i64, i64, i64)> = db.rows(sql::LockHeads, &[Bind::Ints(&orgs)])?;
        for (org, next_seq, at) in rows {
            standing.insert(org, next_seq.unsigned_abs());
            now.insert(org, if clock.made_up { (clock.now)() } else { at });
        }
    } else {
        for of in of {
            standing.insert(of.org, super::open::size(db, of.org)?);
            now.insert(of.org, (clock.now)());
        }
    }
    for of in of {
        let next = *standing
            .get(&of.org)
            .ok_or_else(|| StoreError::NoOrganisation(of.name.clone()))?;
        if books.get(&of.org).is_none_or(|book| book.next_seq != next) {
            books.insert(of.org, open_book(db, of)?);
        }
    }
    Ok(now)
}

/// Looks up the ids of a batch at once where a round trip is dear.
fn look_up(db: &mut Db, asked: &[(i64, &[Id])]) -> Result<LookedUp, StoreError> {
    let mut found = LookedUp::new();
    if !db.is_postgres() {
        return Ok(found);
    }
    let flat = || {
        asked
            .iter()
            .flat_map(|(org, ids)| ids.iter().map(move |id| (*org, *id)))
    };
    let orgs: Vec<i64> = flat().map(|(org, _)| org).collect();
    if orgs.is_empty() {
        return Ok(found);
    }
    let ids: Vec<[u8; 16]> = flat().map(|(_, id)| id.bytes()).collect();
    let texts: Vec<&[u8]> = ids.iter().map(|id| &id[..]).collect();
    let binds = [Bind::Ints(&orgs), Bind::Blobs(&texts)];
    let rows: Vec<(i64, Vec<u8>, i64)> = db.rows(sql::EntriesByIds, &binds)?;
    found.extend(flat().map(|(org, id)| ((org, id.bytes()), None)));
    for (org, id, seq) in rows {
        if let Ok(id) = id.try_into() {
            found.insert((org, id), Some(seq.unsigned_abs()));
        }
    }
    Ok(found)
}

/// Time must not run backwards: a wrong clock would date entries wrongly for ever.
fn check_clock(book: &Book, now: i64, clock: Clock) -> Result<(), StoreError> {
    let wrong = if now < clock.earliest {
        "before the day this program was built"
    } else if now + CLOCK_TOLERANCE < book.booked_at {
        "more than 10 minutes before the newest entry"
    } else {
        return Ok(());
    };
    Err(StoreError::Clock(format!(
        "the clock stands {wrong} (it says {}, the newest entry was booked {}); set it right",
        super::apply::instant_text(now),
        super::apply::instant_text(book.booked_at)
    )))
}

/// A writer thread with its queue. Dropping it finishes what is queued.
pub struct Writer {
    queue: Option<SyncSender<Box<dyn Job>>>,
    thread: Option<JoinHandle<()>>,
}

impl Writer {
    /// Starts a writer on its own connection.
    pub fn start(db: Db, table: &'static Table, clock: Clock) -> Writer {
        Writer::run(Line::new(db, None), table, clock, BATCH)
    }

    /// Starts a writer that opens its connection again when it broke; `most` postings share a
    /// transaction at most.
    pub fn lasting(
        db: Db,
        address: Address,
        table: &'static Table,
        clock: Clock,
        most: usize,
    ) -> Writer {
        Writer::run(Line::new(db, Some(address)), table, clock, most)
    }

    /// Is its thread still there to take jobs?
    pub fn is_alive(&self) -> bool {
        self.thread
            .as_ref()
            .is_some_and(|thread| !thread.is_finished())
    }

    fn run(line: Line, table: &'static Table, clock: Clock, most: usize) -> Writer {
        let (queue, jobs) = sync_channel(WAITING);
        let run = move || batch::work(line, &jobs, table, clock, most);
        let thread = std::thread::Builder::new()
            .name("writer".to_string())
            .spawn(run)
            .ok();
        Writer {
            queue: Some(queue),
            thread,
        }
    }

    /// Queues a job; a full queue answers at once that the book is busy.
    pub fn submit(&self, job: Box<dyn Job>) {
        let Some(queue) = &self.queue else {
            return job.answer(Some(StoreError::Busy));
        };
        match queue.try_send(job) {
            Ok(()) => {}
            Err(TrySendError::Full(job) | TrySendError::Disconnected(job)) => {
                job.answer(Some(StoreError::Busy));
            }
        }
    }

    /// Runs an action on the writer and waits for its outcome.
    pub fn call<T: Send + 'static>(
        &self,
        of: &Organisation,
        ids: Vec<Id>,
        action: impl FnMut(&mut Tx<'_>) -> Result<T, StoreError> + Send + 'static,
    ) -> Result<T, StoreError> {
        let (reply, answer) = sync_channel(1);
        let job = Call {
            of: of.clone(),
            ids,
            action,
            outcome: None,
            reply,
        };
        self.submit(Box::new(job));
        answer.recv().unwrap_or(Err(StoreError::Busy))
    }
}

impl Drop for Writer {
    fn drop(&mut self) {
        self.queue = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

struct Call<F, T> {
    of: Organisation,
    ids: Vec<Id>,
    action: F,
    outcome: Option<T>,
    reply: SyncSender<Result<T, StoreError>>,
}

impl<F, T> Job for Call<F, T>
where
    F: FnMut(&mut Tx<'_>) -> Result<T, StoreError> + Send,
    T: Send,
{
    fn organisation(&self) -> &Organisation {
        &self.of
    }

    fn ids(&self) -> &[Id] {
        &self.ids
    }

    fn run(&mut self, tx: &mut Tx<'_>) -> Result<(), StoreError> {
        self.outcome = Some((self.action)(tx)?);
        Ok(())
    }

    fn answer(self: Box<Self>, failed: Option<StoreError>) {
        let outcome = match (failed, self.outcome) {
            (None, Some(value)) => Ok(value),
            (Some(error), _) => Err(error),
            (None, None) => Err(StoreError::Busy),
        };
        // A caller that has gone away has no use for the answer; the booking stands.
        let _ = self.reply.send(outcome);
    }
}

/// Founds a book: makes its organisation and books its first entries, all or nothing. The
/// operator does, who sees all organisations: this one has no number yet.
pub fn found<T>(
    db: &mut Db,
    name: &str,
    log: &str,
    table: &Table,
    clock: Clock,
    mut action: impl FnMut(&mut Tx<'_>) -> Result<T, StoreError>,
) -> Result<(Organisation, T), StoreError> {
    db.begin()?;
    let done = (|| {
        let of = super::open::add_organisation(db, name, log)?;
        let mut book = Book::new(of.org, of.log.clone());
        let looked_up = LookedUp::new();
        let now = (clock.now)();
        check_clock(&book, now, clock)?;
        let value = action(&mut Tx::new(db, &mut book, now, table, &looked_up))?;
        flush(db, &mut [&mut book])?;
        db.commit()?;
        Ok((of, value))
    })();
    if done.is_err() {
        let _ = db.rollback();
    }
    done
}
