//! The desk: where many callers' actions reach the book.
//!
//! Reading goes to a small pool of connections, posting to the writer of the organisation, which
//! joins what waits into one commit. A caller of the desk waits without holding a thread. Whatever
//! becomes of the caller, a posting that was taken in is booked once and signed soon after.

mod call;
mod list;
mod receipt;
pub mod signer;

use call::{Running, RunningIds};
use list::{List, places_of};
pub use receipt::Receipt;

pub use super::device::Bounds;
use super::device::within;
use super::post::post_request;
use super::refusal::{ActionError, Refusal};
use super::request::{EntryRequest, read};
use super::show::things::{self, Sort};
use crate::ledger::actor::Actor;
use crate::ledger::id::Id;
pub use crate::store::Db;
use crate::store::StoreError;
pub use crate::store::open::Organisation;
use crate::store::readers::Readers;
pub use crate::store::tx::Tx;
use crate::store::writer::Writer;
use serde_json::Value;
use signer::Signer;
use std::collections::HashSet;
use std::sync::{Arc, Mutex, PoisonError};

/// Items of a list that wait in the writer's queue at once: others shall come in between.
const AT_ONCE: usize = 32;

/// What a posting or a list of them comes to, one outcome an item.
pub type Outcome = Result<Receipt, ActionError>;

/// Where many callers' actions reach the book.
pub struct Desk {
    readers: Readers,
    reports: Readers,
    writers: Vec<Writer>,
    signer: Arc<Signer>,
    running: Arc<Running>,
}

/// Who posts: one actor for each role held, in the order in which they are tried.
#[derive(Clone, Debug)]
pub struct Poster {
    /// Whose book.
    pub of: Organisation,
    /// The actors, at least one.
    pub actors: Vec<Actor>,
    /// What a device may post; none: it is no device.
    pub bounds: Option<Bounds>,
}

impl Desk {
    /// A desk of readers (short questions; reports) and writers.
    pub fn new(
        readers: Readers,
        reports: Readers,
        writers: Vec<Writer>,
        signer: Arc<Signer>,
    ) -> Desk {
        Desk {
            readers,
            reports,
            writers,
            signer,
            running: Arc::default(),
        }
    }

    /// Answers a question; blocks the calling thread.
    pub fn read<T, E: From<StoreError>>(
        &self,
        question: impl FnOnce(&mut Db) -> Result<T, E>,
    ) -> Result<T, E> {
        self.readers.with(question)
    }

    /// Answers a short question without waiting for anybody, where that can be; handing it to another
    /// thread would cost more than the answer.
    pub fn read_at_once<T, E: From<StoreError>>(
        &self,
        question: impl FnOnce(&mut Db) -> Result<T, E>,
    ) -> Option<Result<T, E>> {
        self.readers.at_once(question)
    }

    /// Answers a long question on a connection of its own; blocks the calling thread.
    pub fn report<T, E: From<StoreError>>(
        &self,
        question: impl FnOnce(&mut Db) -> Result<T, E>,
    ) -> Result<T, E> {
        self.reports.with(question)
    }

    /// The signer of the checkpoints.
    pub fn signer(&self) -> &Signer {
        &self.signer
    }

    /// Are the writers there to take postings?
    pub fn is_alive(&self) -> bool {
        self.writers.iter().all(Writer::is_alive)
    }

    /// Whether the database takes writes, as far as can be told without writing.
    pub fn takes_writes(&self) -> Result<bool, StoreError> {
        self.readers.takes_writes()
    }

    /// Posts one entry.
    pub async fn post(&self, by: &Poster, entry: Value) -> Outcome {
        let ids = ids_of(std::slice::from_ref(&entry));
        let running = self.running.begin(by.of.org, &ids)?;
        let who = by.clone();
        let booked = self.call(&by.of, ids, false, running, move |tx| {
            in_store(post_as(tx, &who, &entry, false))
        });
        booked.await?
    }

    /// Posts a list, each entry by itself and in order; `skewed` asks about the device's clock.
    pub async fn post_each(&self, by: &Poster, entries: Vec<Value>, skewed: bool) -> Vec<Outcome> {
        let list = Arc::new(List::default());
        let mut outcomes = Vec::with_capacity(entries.len());
        let mut own = HashSet::new();
        let mut entries = entries.into_iter().enumerate().peekable();
        while entries.peek().is_some() {
            let waiting: Vec<_> = (entries.by_ref().take(AT_ONCE))
                .map(|(at, entry)| self.post_item(by, &list, &mut own, at, entry, skewed))
                .collect();
            for outcome in waiting {
                outcomes.push(outcome.await);
            }
        }
        outcomes
    }

    /// Puts one item of a list into the queue, at once; the outcome comes later.
    fn post_item(
        &self,
        by: &Poster,
        list: &Arc<List>,
        own: &mut HashSet<Id>,
        at: usize,
        entry: Value,
        skewed: bool,
    ) -> impl Future<Output = Outcome> + use<> {
        let ids = ids_of(std::slice::from_ref(&entry));
        // A list may name an id twice: the second is the first's repeat, not its rival.
        let new: Vec<Id> = ids.iter().copied().filter(|id| own.insert(*id)).collect();
        let running = self.running.begin(by.of.org, &new);
        let (who, of_list) = (by.clone(), Arc::clone(list));
        let refused = running.as_ref().err().cloned();
        let action = move |tx: &mut Tx<'_>| {
            let places = places_of(tx, &entry)?;
            if let Some(place) = of_list.earlier(at, &places) {
                of_list.mark(at, places);
                return Ok(Err(Refusal::Held { place }.into()));
            }
            // Refused until it is booked, so that an item that fails holds the later ones, too.
            of_list.mark(at, places);
            if let Some(refused) = &refused {
                return Ok(Err(refused.clone().into()));
            }
            let outcome = in_store(post_as(tx, &who, &entry, skewed))?;
            if outcome.is_ok() {
                of_list.unmark(at);
            }
            Ok(outcome)
        };
        let running = running.unwrap_or_default();
        let called = self.call(&by.of, ids, false, running, action);
        async move { called.await? }
    }

    /// Posts a list, all of it or nothing; an error names the item it belongs to.
    pub async fn post_together(
        &self,
        by: &Poster,
        entries: Vec<Value>,
        skewed: bool,
    ) -> Result<Vec<Receipt>, (usize, ActionError)> {
        let ids = ids_of(&entries);
        let running = self
            .running
            .begin(by.of.org, &ids)
            .map_err(|error| (0, error.into()))?;
        let who = by.clone();
        let why = Arc::new(Mutex::new(None));
        let refused = Arc::clone(&why);
        let booked = self.call(&by.of, ids, true, running, move |tx| {
            let mut receipts = Vec::with_capacity(entries.len());
            for (at, entry) in entries.iter().enumerate() {
                match in_store(post_as(tx, &who, entry, skewed))? {
                    Ok(receipt) => receipts.push(receipt),
                    Err(refusal) => {
                        *refused.lock().unwrap_or_else(PoisonError::into_inner) =
                            Some((at, refusal));
                        return Err(StoreError::TakenBack);
                    }
                }
            }
            Ok(receipts)
        });
        booked.await.map_err(|failed| {
            let refused = why.lock().unwrap_or_else(PoisonError::into_inner).take();
            refused.unwrap_or((0, failed.into()))
        })
    }

    /// Books a change of a registered thing, if it is still in the version the caller knows
    /// (`None`: any).
    pub async fn change(
        &self,
        by: &Poster,
        sort: Sort,
        name: String,
        version: Option<Vec<String>>,
        entry: Value,
    ) -> Outcome {
        let ids = ids_of(std::slice::from_ref(&entry));
        let running = self.running.begin(by.of.org, &ids)?;
        let (who, known) = (by.clone(), ids.clone());
        let booked = self.call(&by.of, ids, false, running, move |tx| {
            let Some(now) = things::version(tx, sort, &name)? else {
                return Ok(Err(super::show::unknown(sort.word(), &name)));
            };
            // A repeat meets the thing as its first sending left it.
            let mut repeat = false;
            for id in &known {
                repeat |= tx.known(*id)?.is_some();
            }
            let stale = |asked: &Vec<String>| !asked.contains(&now);
            if !repeat && version.as_ref().is_some_and(stale) {
                let what = format!("{} {name}", sort.word());
                return Ok(Err(Refusal::StaleVersion { what }.into()));
            }
            in_store(post_as(tx, &who, &entry, false))
        });
        booked.await?
    }

    /// Runs an action that is no posting, all of it or nothing, in a transaction of its own.
    pub async fn act<T: Send + 'static>(
        &self,
        of: &Organisation,
        mut action: impl FnMut(&mut Tx<'_>) -> Result<T, ActionError> + Send + 'static,
    ) -> Result<T, ActionError> {
        let why = Arc::new(Mutex::new(None));
        let refused = Arc::clone(&why);
        let done = self.call(of, Vec::new(), true, RunningIds::default(), move |tx| {
            action(tx).map_err(|error| match error {
                ActionError::Failed(error) => error,
                refusal => {
                    *refused.lock().unwrap_or_else(PoisonError::into_inner) = Some(refusal);
                    StoreError::TakenBack
                }
            })
        });
        done.await.map_err(|failed| {
            let refused = why.lock().unwrap_or_else(PoisonError::into_inner).take();
            refused.unwrap_or_else(|| failed.into())
        })
    }
}

/// Posts as the first role that may; what one role is forbidden, the next may be allowed (a manager
/// who also works in the field corrects what a technician booked).
pub(super) fn post_as(
    tx: &mut Tx<'_>,
    who: &Poster,
    entry: &Value,
    skewed: bool,
) -> Result<Receipt, ActionError> {
    if let Some(bounds) = &who.bounds {
        within(tx, bounds, entry)?;
    }
    let mut request: EntryRequest = read(entry, "")?;
    request.clock_skew = skewed;
    let mut forbidden = None;
    for actor in &who.actors {
        match post_request(tx, actor, request.clone()) {
            Ok(posted) => return Ok(Receipt::of(tx, posted)?),
            Err(ActionError::Refused(refusal @ Refusal::Forbidden { .. })) => {
                forbidden.get_or_insert(refusal);
            }
            Err(other) => return Err(other),
        }
    }
    let nobody = || Refusal::Forbidden {
        detail: "Nobody who may post is signed in.".to_string(),
    };
    Err(forbidden.unwrap_or_else(nobody).into())
}

/// A refusal is an outcome; only a failure of the store ends the transaction.
fn in_store(outcome: Outcome) -> Result<Outcome, StoreError> {
    match outcome {
        Err(ActionError::Failed(error)) => Err(error),
        other => Ok(other),
    }
}

fn ids_of(entries: &[Value]) -> Vec<Id> {
    let id = |entry: &Value| Id::parse(entry.get("entry_id")?.as_str()?);
    entries.iter().filter_map(id).collect()
}
