//! The writer's thread: takes what waits, runs it in one transaction, answers after the commit.
//!
//! Nothing that one caller asks may stop the others. A job that fails, or that panics because of a
//! fault in this program, is rolled back and answered with a failure; its neighbours run again
//! without it, on books read anew, because nobody knows how far the fault reached into the old ones.

use super::{Books, Clock, Job, book_of, check_clock, lock, look_up};
use crate::ledger::id::Id;
use crate::store::book::Book;
use crate::store::db::Db;
use crate::store::flush::flush;
use crate::store::line::{Found, Line};
use crate::store::open::Organisation;
use crate::store::tx::Tx;
use crate::store::{Sight, StoreError};
use reports::refrigerant::Table;
use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::Receiver;

pub(super) fn work(
    mut line: Line,
    jobs: &Receiver<Box<dyn Job>>,
    table: &Table,
    clock: Clock,
    most: usize,
) {
    let mut books = Books::new();
    let mut waiting = None;
    while let Some(first) = waiting.take().or_else(|| jobs.recv().ok()) {
        let mut batch: Vec<Box<dyn Job>> = vec![first];
        while batch.len() < most && !batch[0].alone() {
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
        return done(batch, books);
    };
    let (failed, found) = match (failed, line.look()) {
        // The line was at fault, not the postings: once more, on the new one. What was committed
        // before it broke is known by its ids.
        (_, Found::Anew) => match try_batch(line, books, &mut batch, table, clock) {
            Ok(()) => return done(batch, books),
            Err(again) => (again, line.look()),
        },
        first => first,
    };
    if batch.len() == 1 || found != Found::Alive {
        return batch
            .into_iter()
            .for_each(|job| answer(job, Some(StoreError::from_failed(&failed))));
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
        let done = caught(|| run_batch(db, books, batch, table, clock)).and_then(|done| done);
        done.inspect_err(|_| drop(db.rollback()))
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

/// Answers a batch that is committed.
fn done(batch: Vec<Box<dyn Job>>, books: &mut Books) {
    batch.into_iter().for_each(|job| answer(job, None));
    let slimmed = caught(|| books.values_mut().for_each(Book::slim));
    slimmed.unwrap_or_else(|_| books.clear());
}

/// Answers a caller; one whose answer cannot be taken has no say over the next.
fn answer(job: Box<dyn Job>, failed: Option<StoreError>) {
    let _ = caught(|| job.answer(failed));
}

/// Runs something that may hold a fault of this program. Whoever asks throws away what it may have
/// left half done.
fn caught<T>(run: impl FnOnce() -> T) -> Result<T, StoreError> {
    catch_unwind(AssertUnwindSafe(run)).map_err(|panic| {
        let why = words_of(&*panic);
        tracing::error!(
            why,
            "the program failed while writing; what it had begun is taken back"
        );
        StoreError::Panicked(why.to_string())
    })
}

fn words_of(panic: &(dyn Any + Send)) -> &str {
    let text = panic.downcast_ref::<String>().map(String::as_str);
    text.or_else(|| panic.downcast_ref::<&str>().copied())
        .unwrap_or("without words")
}

fn run_batch(
    db: &mut Db,
    books: &mut Books,
    batch: &mut [Box<dyn Job>],
    table: &Table,
    clock: Clock,
) -> Result<(), StoreError> {
    let mut of: Vec<&Organisation> = batch.iter().map(|job| job.organisation()).collect();
    of.sort_by_key(|of| of.org);
    of.dedup_by_key(|of| of.org);
    let orgs: Vec<i64> = of.iter().map(|of| of.org).collect();
    db.begin_for(Sight::Organisations(&orgs))?;
    let now = lock(db, books, &of, clock)?;
    let asked: Vec<(i64, &[Id])> = batch
        .iter()
        .map(|job| (job.organisation().org, job.ids()))
        .collect();
    let looked_up = look_up(db, &asked)?;
    for job in batch.iter_mut() {
        let of = job.organisation().clone();
        let book = book_of(books, &of)?;
        check_clock(book, now[&of.org], clock)?;
        job.run(&mut Tx::new(db, book, now[&of.org], table, &looked_up))?;
    }
    let touched = books
        .values_mut()
        .filter(|book| orgs.binary_search(&book.org).is_ok());
    let mut touched: Vec<&mut Book> = touched.filter(|book| !book.pending.is_empty()).collect();
    flush(db, &mut touched)?;
    db.commit()?;
    Ok(())
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
