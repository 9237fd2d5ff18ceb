//! One caller's action on its way through the writer's queue.

use super::Desk;
use super::signer::Signer;
use crate::actions::refusal::Refusal;
use crate::ledger::id::Id;
use crate::store::StoreError;
use crate::store::open::Organisation;
use crate::store::tx::Tx;
use crate::store::writer::Job;
use std::collections::HashSet;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::oneshot;

impl Desk {
    /// Puts an action into the queue of the organisation's writer, at once; its value comes after
    /// the commit.
    pub(super) fn call<T, F>(
        &self,
        of: &Organisation,
        ids: Vec<Id>,
        alone: bool,
        running: RunningIds,
        action: F,
    ) -> impl Future<Output = Result<T, StoreError>> + use<T, F>
    where
        T: Send + 'static,
        F: FnMut(&mut Tx<'_>) -> Result<T, StoreError> + Send + 'static,
    {
        let (reply, answer) = oneshot::channel();
        let job = Call {
            of: of.clone(),
            ids,
            alone,
            action,
            outcome: None,
            reply,
            signer: Arc::clone(&self.signer),
            _running: running,
        };
        let count = i64::try_from(self.writers.len()).unwrap_or(1).max(1);
        let at = usize::try_from(of.org.rem_euclid(count)).unwrap_or(0);
        match self.writers.get(at) {
            Some(writer) => writer.submit(Box::new(job)),
            None => Box::new(job).answer(Some(StoreError::Busy)),
        }
        async move { answer.await.unwrap_or(Err(StoreError::Busy)) }
    }
}

/// Entry ids whose first posting is not answered yet.
#[derive(Default)]
pub struct Running(Mutex<HashSet<(i64, Id)>>);

impl Running {
    /// These ids begin; one that runs already is refused.
    pub fn begin(self: &Arc<Running>, org: i64, ids: &[Id]) -> Result<RunningIds, Refusal> {
        let mut running = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if ids.iter().any(|id| running.contains(&(org, *id))) {
            return Err(Refusal::InProgress);
        }
        let ids: Vec<(i64, Id)> = ids.iter().map(|id| (org, *id)).collect();
        running.extend(&ids);
        Ok(RunningIds {
            of: Some(Arc::clone(self)),
            ids,
        })
    }
}

/// Ids that are running until this is dropped.
#[derive(Default)]
pub struct RunningIds {
    of: Option<Arc<Running>>,
    ids: Vec<(i64, Id)>,
}

impl Drop for RunningIds {
    fn drop(&mut self) {
        if let Some(of) = &self.of {
            let mut running = of.0.lock().unwrap_or_else(PoisonError::into_inner);
            running.retain(|id| !self.ids.contains(id));
        }
    }
}

struct Call<F, T> {
    of: Organisation,
    ids: Vec<Id>,
    alone: bool,
    action: F,
    outcome: Option<T>,
    reply: oneshot::Sender<Result<T, StoreError>>,
    signer: Arc<Signer>,
    _running: RunningIds,
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

    fn alone(&self) -> bool {
        self.alone
    }

    fn run(&mut self, tx: &mut Tx<'_>) -> Result<(), StoreError> {
        self.outcome = Some((self.action)(tx)?);
        Ok(())
    }

    fn answer(self: Box<Self>, failed: Option<StoreError>) {
        let Call {
            of,
            outcome,
            reply,
            signer,
            _running,
            ..
        } = *self;
        // Who asks again after the answer must find the id free.
        drop(_running);
        let answer = match (failed, outcome) {
            (None, Some(value)) => {
                signer.booked(&of);
                Ok(value)
            }
            (Some(error), _) => Err(error),
            (None, None) => Err(StoreError::Busy),
        };
        // A caller that has gone away has no use for the answer; the booking stands.
        let _ = reply.send(answer);
    }
}
