//! Outages: the database away, locked, only reading; and back (A7, E35).

use api::ledger::id::Id;
use api::store::{Db, Purpose};
use harness::database::{Engine, Interruptible, Location};
use harness::service::{Reply, Service, Who, charge};
use harness::shop::address;
use serde_json::{Value, json};
use std::time::{Duration, Instant};

pub fn identified(mut entry: Value) -> Value {
    entry["entry_id"] = json!(Id::random());
    entry
}

/// Asks until the answer is the one waited for.
fn until(service: &Service, path: &str, status: u16) -> Reply {
    let deadline = Instant::now() + Duration::from_secs(20);
    loop {
        let reply = service.get(&Who::Nobody, path);
        if reply.status == status {
            return reply;
        }
        assert!(
            Instant::now() < deadline,
            "{path} stays {}: {}",
            reply.status,
            reply.text()
        );
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// While the database is away a posting is answered 503 within 5 seconds, and nothing is lost: the
/// same request later books it once.
fn away(service: &Service, ready: Option<u16>, back: impl FnOnce()) {
    let who = service.firm.technician.clone();
    let mut entry = identified(charge("1 lb"));
    entry["answers"] = json!({"look_alike": "as_stated"});
    let begun = Instant::now();
    let reply = service
        .entry(&who, entry.clone())
        .expect_problem(503, "unavailable");
    assert!(
        begun.elapsed() < Duration::from_secs(5),
        "{:?}",
        begun.elapsed()
    );
    assert!(reply.header("retry-after").is_some());
    service.get(&Who::Nobody, "/livez").expect(200);
    if let Some(status) = ready {
        let ready = until(service, "/readyz", status).json();
        assert_eq!(ready["checks"]["database"], "away", "{ready}");
    }
    back();
    until(service, "/readyz", 200);
    let deadline = Instant::now() + Duration::from_secs(20);
    let status = loop {
        let reply = service.entry(&who, entry.clone());
        if reply.status < 500 && reply.status != 409 {
            break reply.status;
        }
        assert!(Instant::now() < deadline, "{}", reply.text());
        std::thread::sleep(Duration::from_millis(100));
    };
    assert!([200, 201].contains(&status), "{status}");
    let page = service
        .get(&service.firm.manager, "/api/v1/entries?limit=500")
        .expect(200)
        .text();
    let id = entry["entry_id"].as_str().expect("an id");
    assert_eq!(page.matches(&format!("\"entry_id\":\"{id}\"")).count(), 1);
    let mut next = charge("2 lb");
    next["answers"] = json!({"look_alike": "as_stated"});
    service.booked(&who, next);
}

/// A7: another process holds the write lock of the book for longer than anybody waits.
#[test]
fn a7_a_locked_book_is_said_to_be_busy() {
    let service = Service::stocked();
    let mut db = Db::open(&address(&service.database), Purpose::Write, false).expect("a database");
    if Engine::under_test() == Engine::Postgres {
        db.batch("BEGIN; LOCK TABLE heads IN ACCESS EXCLUSIVE MODE")
            .expect("a lock");
        away(&service, None, || {
            db.batch("ROLLBACK").expect("the lock given back")
        });
    } else {
        db.begin().expect("the turn to write");
        away(&service, None, || {
            db.rollback().expect("the turn given back")
        });
    }
}

/// A7: the database goes and comes back, twice; the service is not started again. PostgreSQL is
/// stopped; of SQLite, which has no server, the file is taken away and put back.
#[test]
fn a7_the_database_goes_and_comes_back() {
    if Engine::under_test() == Engine::Postgres {
        let (mut cluster, database) = Interruptible::new();
        let service = Service::on(database, &[]);
        service.stock(&service.firm);
        for _ in 0..2 {
            cluster.stop();
            away(&service, Some(503), || cluster.start());
        }
        return;
    }
    let service = Service::stocked();
    let Location::Data(folder) = service.database.location().clone() else {
        panic!("a folder")
    };
    let file = folder.join("tarebook.sqlite");
    let elsewhere = folder.join("elsewhere.sqlite");
    for _ in 0..2 {
        // Whoever opens the book now finds none; those who have it open go on with what they hold.
        std::fs::rename(&file, &elsewhere).expect("taken away");
        let who = service.firm.manager.clone();
        std::thread::sleep(Duration::from_millis(1_200));
        let statuses: Vec<u16> = std::thread::scope(|scope| {
            let ask = || service.get(&who, "/api/v1/entries?limit=500").status;
            let askers: Vec<_> = (0..24).map(|_| scope.spawn(ask)).collect();
            askers
                .into_iter()
                .map(|asker| asker.join().expect("an answer"))
                .collect()
        });
        assert!(
            statuses.iter().all(|status| [200, 503].contains(status)),
            "{statuses:?}"
        );
        service.get(&Who::Nobody, "/livez").expect(200);
        std::fs::rename(&elsewhere, &file).expect("put back");
        until(&service, "/readyz", 200);
        service.get(&who, "/api/v1/entries?limit=500").expect(200);
    }
    service.booked(&service.firm.technician, charge("2 lb"));
}

/// E35: readiness is honest about a database that only reads. PostgreSQL is told so, as a standby or
/// an operator would have it; a file system under SQLite cannot be, while the service has it open:
/// there the folder is taken away, which takes no writes either.
#[test]
fn e35_a_database_that_only_reads_is_not_ready() {
    if Engine::under_test() == Engine::Sqlite {
        let service = Service::stocked();
        until(&service, "/readyz", 200);
        let Location::Data(folder) = service.database.location().clone() else {
            panic!("a folder")
        };
        let elsewhere = folder.with_extension("elsewhere");
        std::fs::rename(&folder, &elsewhere).expect("taken away");
        let ready = until(&service, "/readyz", 503).json();
        std::fs::rename(&elsewhere, &folder).expect("put back");
        assert_ne!(ready["checks"]["database"], "ok", "{ready}");
        until(&service, "/readyz", 200);
        return;
    }
    let (cluster, database) = Interruptible::new();
    let service = Service::on(database, &[]);
    service.stock(&service.firm);
    until(&service, "/readyz", 200);
    cluster.only_reads(true);
    let ready = until(&service, "/readyz", 503).json();
    assert_eq!(ready["checks"]["database"], "read only", "{ready}");
    let who = service.firm.technician.clone();
    let entry = identified(charge("1 lb"));
    service
        .entry(&who, entry.clone())
        .expect_problem(503, "unavailable");
    service
        .get(&service.firm.manager, "/api/v1/entries")
        .expect(200);
    cluster.only_reads(false);
    until(&service, "/readyz", 200);
    service.entry(&who, entry).expect(201);
}
