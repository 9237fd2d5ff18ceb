//! The post room: makes the mail of the day for each organisation and sends what waits.
//!
//! A thread of the running service looks once a minute; `tarebook mail send-due` does the same once.
//! A message that nobody takes is tried again with growing waits, for about a day and a half, and then
//! stands as failed, with the reason, until somebody asks for it again. Two processes on one book do not
//! get into each other's way: the day of a person and each message are taken in the book itself.

mod carrier;
mod settings;

pub use carrier::Carrier;
pub use settings::{MailPlan, Secrecy, Server, Way};

use crate::actions::ActionError;
use crate::actions::mail::{books, make, may_be_written_to};
use crate::auth::mail::{self, Held};
use crate::http::State;
use crate::store::line::Line;
use crate::store::open::Organisation;
use crate::store::outgoing::{self, Came};
use crate::store::{Db, StoreError};
use std::sync::atomic::Ordering;
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// The post room looks so often.
const ROUND: Duration = Duration::from_secs(60);
/// Whether somebody chose mail just now is looked at so often.
const GLANCE: Duration = Duration::from_secs(1);
/// Minutes after which a message is tried again; after the last it stands as failed.
const WAITS: [i64; 7] = [1, 5, 30, 2 * 60, 6 * 60, 12 * 60, 16 * 60];
/// Letters of a reason that are kept.
const LONGEST_REASON: usize = 500;

/// What a round did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Done {
    /// Messages that were made.
    pub made: usize,
    /// Messages that were sent.
    pub sent: usize,
    /// Attempts that failed.
    pub failed: usize,
}

/// Makes what is due and sends what waits, for all books. `goes_on`: nobody said stop.
pub fn round(
    db: &mut Db,
    plan: &MailPlan,
    carrier: &Carrier,
    now: fn() -> i64,
    goes_on: impl Fn() -> bool,
) -> Result<Done, StoreError> {
    let mut done = Done::default();
    for of in books(db)? {
        if !goes_on() {
            break;
        }
        match make(db, &of, &plan.making, now()) {
            Ok(0) => {}
            Ok(made) => {
                done.made += made;
                mail::forget(db, &of, now())?;
            }
            // What is wrong with one book keeps no other from its mail.
            Err(ActionError::Failed(error)) if error.is_away() => return Err(error),
            Err(error) => tracing::error!(%error, log = of.log, "the mail of a book is not made"),
        }
        while goes_on() {
            let Some(held) = mail::next(db, &of, may_be_written_to, now())? else {
                break;
            };
            match attempt(db, &of, plan, carrier, &held, now)? {
                true => done.sent += 1,
                false => done.failed += 1,
            }
        }
    }
    Ok(done)
}

/// Sends a message and says in the book what came of it.
fn attempt(
    db: &mut Db,
    of: &Organisation,
    plan: &MailPlan,
    carrier: &Carrier,
    held: &Held,
    now: fn() -> i64,
) -> Result<bool, StoreError> {
    let (id, attempts) = (held.message.id, held.message.attempts);
    let carried = carrier.carry(plan, held);
    let at = now();
    let Err(why) = carried else {
        mail::came(db, of, held, Came::Sent, at)?;
        tracing::info!(message = %id, attempts, "mail sent");
        return Ok(true);
    };
    let why: String = why.chars().filter(|c| !c.is_control()).collect();
    let why: String = why.chars().take(LONGEST_REASON).collect();
    tracing::warn!(message = %id, attempts, why, "mail is not sent");
    let nth = usize::try_from(attempts - 1).unwrap_or(WAITS.len());
    let came = match WAITS.get(nth) {
        Some(minutes) => Came::Later(at + minutes * 60_000_000, &why),
        None => Came::Failed(&why),
    };
    mail::came(db, of, held, came, at)?;
    Ok(false)
}

/// The thread of the post room; dropping it ends it after the message in hand.
pub struct PostRoom {
    stop: Arc<(Mutex<bool>, Condvar)>,
    thread: Option<JoinHandle<()>>,
}

impl PostRoom {
    /// Starts it on its own line to the database.
    pub fn start(line: Line, plan: MailPlan, state: Arc<State>) -> Result<PostRoom, String> {
        let carrier = Carrier::of(&plan)?;
        let stop = Arc::new((Mutex::new(false), Condvar::new()));
        let of_thread = Arc::clone(&stop);
        let run = move || work(&of_thread, line, &plan, &carrier, &state);
        let thread = std::thread::Builder::new().name("mail".to_string());
        let thread = thread.spawn(run).map_err(|error| error.to_string())?;
        Ok(PostRoom {
            stop,
            thread: Some(thread),
        })
    }
}

impl Drop for PostRoom {
    fn drop(&mut self) {
        let (stop, wake) = &*self.stop;
        *stop.lock().unwrap_or_else(PoisonError::into_inner) = true;
        wake.notify_all();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn work(
    stop: &(Mutex<bool>, Condvar),
    mut line: Line,
    plan: &MailPlan,
    carrier: &Carrier,
    state: &State,
) {
    let (stop, wake) = stop;
    let told = || *stop.lock().unwrap_or_else(PoisonError::into_inner);
    while !told() {
        let done = line.db().and_then(|db| {
            let done = round(db, plan, carrier, state.now, || !told());
            Ok((done?, outgoing::counts(db)?))
        });
        match done {
            Ok((done, (waiting, failed))) => state.metrics.mail(done.sent, waiting, failed),
            Err(error) => {
                tracing::warn!(%error, "the mail cannot be looked after yet");
                line.look();
            }
        }
        let since = Instant::now();
        while since.elapsed() < ROUND && !state.mail_chosen.swap(false, Ordering::Relaxed) {
            let held = stop.lock().unwrap_or_else(PoisonError::into_inner);
            if *held {
                return;
            }
            drop(wake.wait_timeout(held, GLANCE));
        }
    }
}

#[cfg(test)]
mod tests;
