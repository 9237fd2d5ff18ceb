//! Many callers at once (promises M3, O1, H6 and the model's section on writing).
//!
//! The final balance is that of some serial order, nothing is lost, no bad posting fails its
//! neighbours, a full queue says so, and two writers on one database never fork a book.

use api::actions::post::post;
use api::actions::{ActionError, Posted};
use api::ledger::actor::{Actor, Role};
use api::ledger::id::Id;
use api::store::open::Organisation;
use api::store::writer::{Clock, Job, Writer};
use api::store::{Db, Purpose, StoreError};
use harness::book::steps;
use harness::shop::{Shop, address};
use reports::refrigerant::Table;
use serde_json::{Value, json};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Barrier};
use std::time::Duration;

/// Noon of 14 July 2026 in Denver, for threads that have no clock of a test.
const CLOCK: Clock = Clock::made_up(|| 1_784_052_000_000_000);

fn writer(shop: &Shop) -> Writer {
    let db = Db::open(&address(&shop.database), Purpose::Write, false).expect("a database");
    Writer::start(db, Table::shipped(), CLOCK)
}

/// Posts through a writer as the service does: a refusal is an outcome, a failure is an error.
fn send(writer: &Writer, of: &Organisation, request: &Value) -> Result<Posted, ActionError> {
    let actor = Actor::person(Id::from_bits(7), Role::Technician, None);
    let id = request["entry_id"]
        .as_str()
        .and_then(Id::parse)
        .expect("an id");
    let request = request.clone();
    let done = writer.call(of, vec![id], move |tx| match post(tx, &actor, &request) {
        Err(ActionError::Failed(error)) => Err(error),
        outcome => Ok(outcome),
    });
    done.unwrap_or_else(|error| Err(ActionError::Failed(error)))
}

fn charge(mass: &str) -> Value {
    json!({"kind": "charge", "entry_id": Id::random(),
           "answers": {"look_alike": "as_stated", "rate_jump": "as_stated"},
           "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
                    "refrigerant": "R-448A", "mass": mass}})
}

/// M3: eight people empty one cylinder at once, ounce by ounce. Exactly what it held is charged
/// without a question; who comes later is asked, because the last ounce is gone.
#[test]
fn m3_no_two_people_charge_the_same_last_ounce() {
    let mut shop = Shop::stocked();
    let writer = Arc::new(writer(&shop));
    let start = Arc::new(Barrier::new(8));
    let people: Vec<_> = (0..8)
        .map(|_| {
            let (writer, of, start) = (Arc::clone(&writer), shop.of.clone(), Arc::clone(&start));
            std::thread::spawn(move || {
                start.wait();
                let outcomes = (0..60).map(|_| send(&writer, &of, &charge("1 oz")));
                outcomes
                    .map(|it| it.map(|posted| posted.seq))
                    .collect::<Vec<_>>()
            })
        })
        .collect();
    let (mut booked, mut asked) = (0, 0);
    for person in people {
        for outcome in person.join().unwrap() {
            match outcome {
                Ok(_) => booked += 1,
                Err(ActionError::Refused(refusal)) => {
                    assert_eq!(Shop::questions(&refusal), ["over_content"]);
                    asked += 1;
                }
                Err(ActionError::Failed(error)) => panic!("{error}"),
            }
        }
    }
    assert_eq!(
        (booked, asked),
        (24 * 16, 480 - 24 * 16),
        "24 lb are 384 oz"
    );
    drop(writer);
    let left = shop.kept_balances();
    assert!(
        left.iter()
            .all(|((place, _), _)| !place.starts_with("cylinder")),
        "it is empty"
    );
    shop.sound();
    shop.caches_agree();
}

/// M3 and O1: two writers on two connections write one book; the same retries reach both.
#[test]
fn m3_two_writers_never_fork_a_book() {
    let mut shop = Shop::stocked();
    let before = shop.size();
    let writers = [Arc::new(writer(&shop)), Arc::new(writer(&shop))];
    let requests: Arc<Vec<Value>> = Arc::new((0..80).map(|_| charge("0.01 lb")).collect());
    let start = Arc::new(Barrier::new(8));
    let people: Vec<_> = (0..8)
        .map(|n| {
            let (writer, of) = (Arc::clone(&writers[n % 2]), shop.of.clone());
            let (requests, start) = (Arc::clone(&requests), Arc::clone(&start));
            std::thread::spawn(move || {
                start.wait();
                // Everybody sends everything, from another place on: each is booked once.
                let all = requests.iter().cycle().skip(n * 10).take(80);
                all.map(|it| send(&writer, &of, it).unwrap())
                    .collect::<Vec<_>>()
            })
        })
        .collect();
    let mut first = 0;
    for person in people {
        first += person
            .join()
            .unwrap()
            .iter()
            .filter(|it| !it.replayed)
            .count();
    }
    drop(writers);
    assert_eq!(first, 80, "each is booked once, whoever sent it first");
    assert_eq!(shop.size(), before + 80);
    let rack = shop
        .kept_balances()
        .into_iter()
        .find(|(it, _)| it.0.starts_with("appliance"));
    assert_eq!(rack.unwrap().1, 80 * steps("4.5359237"));
    shop.sound();
    shop.caches_agree();
}

/// A caller's job that fails as a store does, or is too long to be booked, or waits.
struct Planted {
    of: Organisation,
    what: What,
    reply: Sender<Result<(), StoreError>>,
}

enum What {
    Fail,
    Panic,
    Post(Value),
    Wait(Option<Arc<Barrier>>),
}

/// What plants jobs with a writer, and where their answers come.
fn planter<'w>(
    shop: &Shop,
    writer: &'w Writer,
) -> (impl Fn(What) + use<'w>, Receiver<Result<(), StoreError>>) {
    let (reply, answers) = channel();
    let of = shop.of.clone();
    let submit = move |what| {
        let (of, reply) = (of.clone(), reply.clone());
        writer.submit(Box::new(Planted { of, what, reply }));
    };
    (submit, answers)
}

impl Job for Planted {
    fn organisation(&self) -> &Organisation {
        &self.of
    }

    fn ids(&self) -> &[Id] {
        &[]
    }

    fn run(&mut self, tx: &mut api::store::tx::Tx<'_>) -> Result<(), StoreError> {
        let actor = Actor::person(Id::from_bits(7), Role::Technician, None);
        match &mut self.what {
            What::Fail => {
                // It books something and fails then: nothing of it may stay.
                let _ = post(tx, &actor, &charge("1 lb"));
                Err(StoreError::Broken("planted".to_string()))
            }
            What::Panic => {
                let _ = post(tx, &actor, &charge("1 lb"));
                panic!("planted in a job");
            }
            What::Post(request) => match post(tx, &actor, request) {
                Err(ActionError::Failed(error)) => Err(error),
                _ => Ok(()),
            },
            What::Wait(barrier) => {
                // Once: a job whose batch failed runs again.
                barrier.take().map(|barrier| barrier.wait());
                Ok(())
            }
        }
    }

    fn answer(self: Box<Self>, failed: Option<StoreError>) {
        let _ = self.reply.send(failed.map_or(Ok(()), Err));
    }
}

/// M3: of one batch with a failing job in it, all others are booked and the failing one is not.
#[test]
fn m3_one_bad_posting_never_fails_its_neighbours() {
    let mut shop = Shop::stocked();
    let before = shop.size();
    let writer = writer(&shop);
    let gate = Arc::new(Barrier::new(2));
    let (submit, answers) = planter(&shop, &writer);
    // The writer is held, so that what follows becomes one batch.
    submit(What::Wait(Some(Arc::clone(&gate))));
    for n in 0..21 {
        match n {
            7 => submit(What::Fail),
            14 => submit(What::Post(
                json!({"kind": "teleport", "entry_id": Id::random()}),
            )),
            _ => submit(What::Post(charge("1 oz"))),
        }
    }
    gate.wait();
    let outcomes: Vec<_> = (0..22).map(|_| answers.recv().unwrap()).collect();
    assert_eq!(outcomes.iter().filter(|it| it.is_err()).count(), 1);
    drop(submit);
    drop(writer);
    assert_eq!(shop.size(), before + 19);
    let rack = shop
        .kept_balances()
        .into_iter()
        .find(|(it, _)| it.0.starts_with("appliance"));
    assert_eq!(rack.unwrap().1, 19 * steps("28.349523125"));
    shop.sound();
    shop.caches_agree();
}

/// A4: a fault of the program in one job is that job's failure. Nothing of it is booked, its
/// neighbours are, and the writer goes on: alone, in the midst of a batch, and after it.
#[test]
fn a4_a_job_that_panics_does_not_end_the_writer() {
    let mut shop = Shop::stocked();
    let before = shop.size();
    let writer = writer(&shop);
    let gate = Arc::new(Barrier::new(2));
    let (submit, answers) = planter(&shop, &writer);
    // Without a writer nobody answers: that is waited for a minute, not for ever.
    let answer = || {
        answers
            .recv_timeout(Duration::from_secs(60))
            .expect("an answer")
    };
    submit(What::Panic);
    let alone = answer().unwrap_err();
    assert!(
        matches!(&alone, StoreError::Panicked(why) if why == "planted in a job"),
        "{alone}"
    );
    submit(What::Wait(Some(Arc::clone(&gate))));
    for n in 0..9 {
        submit(if n % 4 == 2 {
            What::Panic
        } else {
            What::Post(charge("1 oz"))
        });
    }
    gate.wait();
    let outcomes: Vec<_> = (0..10).map(|_| answer()).collect();
    let failed = outcomes
        .iter()
        .filter(|it| matches!(it, Err(StoreError::Panicked(_))));
    assert_eq!(
        (
            failed.count(),
            outcomes.iter().filter(|it| it.is_ok()).count()
        ),
        (2, 8)
    );
    let called: Result<(), StoreError> = writer.call(&shop.of, Vec::new(), |_| panic!("{}", 7));
    assert!(matches!(called, Err(StoreError::Panicked(why)) if why == "7"));
    send(&writer, &shop.of, &charge("1 oz")).unwrap();
    drop(submit);
    drop(writer);
    assert_eq!(shop.size(), before + 8);
    let rack = shop
        .kept_balances()
        .into_iter()
        .find(|(it, _)| it.0.starts_with("appliance"));
    assert_eq!(rack.unwrap().1, 8 * steps("28.349523125"));
    shop.sound();
    shop.caches_agree();
}

/// A7: a full queue answers at once that the book is busy, and what was queued is booked.
#[test]
fn a7_a_full_queue_says_so_at_once() {
    let mut shop = Shop::stocked();
    let writer = writer(&shop);
    let gate = Arc::new(Barrier::new(2));
    let (submit, answers) = planter(&shop, &writer);
    submit(What::Wait(Some(Arc::clone(&gate))));
    for _ in 0..3_000 {
        submit(What::Post(
            json!({"kind": "teleport", "entry_id": Id::random()}),
        ));
    }
    let busy = answers
        .try_iter()
        .filter(|it| matches!(it, Err(StoreError::Busy)))
        .count();
    assert!(busy >= 1_500, "{busy} of 3000 were told at once");
    gate.wait();
    let rest = (0..3_001 - busy).map(|_| answers.recv().unwrap());
    assert!(rest.into_iter().all(|it| it.is_ok()));
    send(&writer, &shop.of, &charge("1 oz")).unwrap();
    drop(submit);
    drop(writer);
    shop.sound();
}
