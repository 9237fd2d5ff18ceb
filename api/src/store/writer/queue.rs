//! The writer's thread and its queue: what waits is taken into one batch.
//!
//! A batch is tried on the line to the database; one that failed because the line broke is tried once
//! more on a new one, and one that failed by itself is taken apart.

use super::{Books, Clock, run_batch};
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::db::{Address, Db};
use crate::store::line::{Found, Line};
use crate::store::open::Organisation;
use crate::store::tx::Tx;
use reports::refrigerant::Table;
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;

/// Most postings in one transaction.
const BATCH: usize = 256;
/// Postings that may wait; one more is answered *busy*.
const WAITING: usize = 1_024;

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

/// A writer thread with its queue. Dropping it finishes what is queued.
pub struct Writer {
    queue: Option<SyncSender<Box<dyn Job>>>,
    thread: Option<JoinHandle<()>>,
}

impl Writer {
    /// Starts a writer on its own connection.
    pub fn start(db: Db, table: &'static Table, clock: Clock) -> Writer {
        Writer::run(Line::new(db, None), table, clock)
    }

    /// Starts a writer that opens its connection again when it broke.
    pub fn lasting(db: Db, address: Address, table: &'static Table, clock: Clock) -> Writer {
        Writer::run(Line::new(db, Some(address)), table, clock)
    }

    /// Is its thread still there to take jobs?
    pub fn is_alive(&self) -> bool {
        self.thread
            .as_ref()
            .is_some_and(|thread| !thread.is_finished())
    }

    fn run(line: Line, table: &'static Table, clock: Clock) -> Writer {
        let (queue, jobs) = sync_channel(WAITING);
        let run = move || work(line, &jobs, table, clock);
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

fn work(mut line: Line, jobs: &Receiver<Box<dyn Job>>, table: &Table, clock: Clock) {
    let mut books = Books::new();
    let mut waiting = None;
    while let Some(first) = waiting.take().or_else(|| jobs.recv().ok()) {
        let mut batch: Vec<Box<dyn Job>> = vec![first];
        while batch.len() < BATCH && !batch[0].alone() {
            match jobs.try_recv() {
                Ok(job) if job.alone() => {
                    waiting = Some(job);
                    break;
                }
                Ok(job) => batch.push(job),
                Err(_) => break,
            }
        }
        commit_batch(&mut line, &mut books, batch, table, clock);
    }
}

fn commit_batch(
    line: &mut Line,
    books: &mut Books,
    mut batch: Vec<Box<dyn Job>>,
    table: &Table,
    clock: Clock,
) {
    let Err(failed) = try_batch(line, books, &mut batch, table, clock) else {
        return batch.into_iter().for_each(|job| job.answer(None));
    };
    let (failed, found) = match (failed, line.look()) {
        // The connection was at fault, not the postings: once more, on the new one. What was
        // committed before it broke is known by its ids.
        (_, Found::Anew) => match try_batch(line, books, &mut batch, table, clock) {
            Ok(()) => return batch.into_iter().for_each(|job| job.answer(None)),
            Err(again) => (again, line.look()),
        },
        first => first,
    };
    if batch.len() == 1 || found != Found::Alive {
        return batch
            .into_iter()
            .for_each(|job| job.answer(Some(StoreError::from_failed(&failed))));
    }
    // The error belongs to one of them: each runs again by itself.
    for job in batch {
        commit_batch(line, books, vec![job], table, clock);
    }
}

/// Runs a batch in one transaction; on an error nothing of it is kept.
fn try_batch(
    line: &mut Line,
    books: &mut Books,
    batch: &mut [Box<dyn Job>],
    table: &Table,
    clock: Clock,
) -> Result<(), StoreError> {
    let done = line.db().and_then(|db| {
        run_batch(db, books, batch, table, clock).inspect_err(|_| drop(db.rollback()))
    });
    if let Err(failed) = &done {
        // What the books say of this batch was not kept.
        for job in batch {
            books.remove(&job.organisation().org);
        }
        stop_after_failed_sync(failed);
    }
    done
}

/// After a failed sync the pages may be dropped and a second sync may report success: the process
/// ends instead, and the next start reads what the disk really holds.
fn stop_after_failed_sync(error: &StoreError) {
    if let StoreError::Database(diesel::result::Error::DatabaseError(_, information)) = error
        && information.message().contains("disk I/O error")
    {
        tracing::error!("the disk failed while writing; stopping rather than going on unsure");
        std::process::exit(1);
    }
}
