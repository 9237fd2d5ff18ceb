//! Running it: readiness that is honest, outages, signals, logs, measurements (A7, D1, S8).

use api::ledger::id::Id;
use api::store::{Db, Purpose};
use harness::database::{Database, Engine, Interruptible, Location};
use harness::service::{Reply, Service, Who, charge, program};
use harness::shop::address;
use serde_json::{Value, json};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::process::Command;
use std::time::{Duration, Instant};

fn identified(mut entry: Value) -> Value {
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

/// E37, D1: SIGTERM and SIGINT while many post: who was answered 201 finds the entry after the restart, who was
/// not may send it again; the exit code is 0 and what was booked is signed.
#[test]
fn d1_a_stopped_service_loses_nothing() {
    for signal in ["-TERM", "-INT"] {
        let mut service = Service::stocked();
        let who = service.firm.technician.clone();
        let answered: Vec<String> = std::thread::scope(|scope| {
            let posting = |number: u32| {
                let (service, who) = (&service, &who);
                move || {
                    let mut booked = Vec::new();
                    for amount in 0..200 {
                        let mut entry = charge(&format!("0.{:02}{number} lb", amount % 90 + 1));
                        entry["answers"] = json!({"look_alike": "as_stated",
                            "over_content": "as_stated", "balance_below_zero": "as_stated"});
                        let entry = identified(entry);
                        let body = entry.to_string();
                        match raw_post(&service.base, who, &body) {
                            Some(201) => {
                                booked.push(entry["entry_id"].as_str().unwrap().to_string())
                            }
                            Some(_) | None => break,
                        }
                    }
                    booked
                }
            };
            let posters: Vec<_> = (0..8).map(|number| scope.spawn(posting(number))).collect();
            std::thread::sleep(Duration::from_millis(300));
            service.signal(signal);
            posters
                .into_iter()
                .flat_map(|poster| poster.join().expect("a poster"))
                .collect()
        });
        assert_eq!(service.wait(), Some(0), "{signal}");
        assert!(
            answered.len() > 10,
            "only {} were booked before the signal",
            answered.len()
        );
        let of = service.firm.of.clone();
        let mut db =
            Db::open(&address(&service.database), Purpose::Read, false).expect("a database");
        let signed = api::store::log::newest_checkpoint(&mut db, of.org).expect("a book");
        let size = api::store::open::size(&mut db, of.org).expect("a book");
        assert_eq!(
            signed.expect("a checkpoint").0,
            size,
            "everything booked is signed"
        );
        service.launch_again();
        for id in answered {
            service
                .get(&who, &format!("/api/v1/entries/{id}"))
                .expect(200);
        }
    }
}

/// A posting by hand, whose connection may be refused or cut off.
fn raw_post(base: &str, who: &Who, body: &str) -> Option<u16> {
    let Who::Token(token) = who else {
        panic!("a token")
    };
    let address = base.trim_start_matches("http://");
    let mut stream = TcpStream::connect(address).ok()?;
    stream
        .set_read_timeout(Some(Duration::from_secs(10)))
        .ok()?;
    let head = format!(
        "POST /api/v1/entries HTTP/1.1\r\nHost: {address}\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
        body.len()
    );
    stream.write_all(head.as_bytes()).ok()?;
    stream.write_all(body.as_bytes()).ok()?;
    let mut answer = String::new();
    stream.read_to_string(&mut answer).ok()?;
    answer.split(' ').nth(1)?.parse().ok()
}

/// A3: a client that stops in the middle of its body, or sends it too slowly, books nothing and holds
/// up nobody.
#[test]
fn a3_slow_and_cut_off_clients() {
    let service = Service::stocked();
    let Who::Token(token) = service.firm.technician.clone() else {
        panic!("a token")
    };
    let address = service.base.trim_start_matches("http://").to_string();
    let before = service
        .get(&service.firm.manager, "/api/v1/log/checkpoint")
        .expect(200)
        .text();
    let body = identified(charge("1 lb")).to_string();
    let head = format!(
        "POST /api/v1/entries HTTP/1.1\r\nHost: {address}\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n\r\n",
        body.len()
    );
    let mut cut = TcpStream::connect(&address).expect("a connection");
    cut.write_all(head.as_bytes()).expect("sent");
    cut.write_all(&body.as_bytes()[..body.len() / 2])
        .expect("sent");
    drop(cut);
    let slow = |sent: String, least: u64| {
        let address = address.clone();
        move || {
            let begun = Instant::now();
            let mut stream = TcpStream::connect(&address).expect("a connection");
            stream
                .set_read_timeout(Some(Duration::from_secs(60)))
                .expect("set");
            stream.write_all(sent.as_bytes()).expect("sent");
            let mut answer = String::new();
            // A connection that is closed without a word is an answer as well.
            let _ = stream.read_to_string(&mut answer);
            assert!(begun.elapsed() >= Duration::from_secs(least), "{answer}");
            answer
        }
    };
    std::thread::scope(|scope| {
        let part = format!("{head}{}", &body[..body.len() / 2]);
        let body = scope.spawn(slow(part, 25));
        let half = scope.spawn(slow(head[..60].to_string(), 5));
        let begun = Instant::now();
        service.booked(&service.firm.technician, charge("3 lb"));
        assert!(
            begun.elapsed() < Duration::from_secs(2),
            "others are not held up"
        );
        let half = half.join().expect("an answer");
        assert!(
            half.is_empty() || half.starts_with("HTTP/1.1 408"),
            "{half}"
        );
        let body = body.join().expect("an answer");
        assert!(
            body.starts_with("HTTP/1.1 408") && body.contains("/problems/timed-out"),
            "{body}"
        );
    });
    let after = service
        .get(&service.firm.manager, "/api/v1/log/checkpoint")
        .expect(200)
        .text();
    let size = |note: &str| note.lines().nth(1).unwrap().parse::<u64>().unwrap();
    assert_eq!(size(&after), size(&before) + 1);
}

/// What is no HTTP, or far too long a head, is refused without harm.
#[test]
fn a3_heads_have_limits() {
    let service = Service::start();
    let address = service.base.trim_start_matches("http://").to_string();
    let long = format!(
        "GET /livez HTTP/1.1\r\nHost: x\r\nX-Long: {}\r\n\r\n",
        "x".repeat(300_000)
    );
    let many = format!(
        "GET /livez HTTP/1.1\r\nHost: x\r\n{}\r\n",
        "X-Many: 1\r\n".repeat(3_000)
    );
    for bad in [
        "nonsense\r\n\r\n",
        "GET\r\n\r\n",
        &long,
        &many,
        "POST /api/v1/entries HTTP/1.1\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\nx",
        "POST /api/v1/entries HTTP/1.1\r\nContent-Length: -1\r\n\r\n",
        "POST /api/v1/entries HTTP/1.1\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
    ] {
        let mut stream = TcpStream::connect(&address).expect("a connection");
        stream
            .set_read_timeout(Some(Duration::from_secs(15)))
            .expect("set");
        // The service may close while we still write.
        let _ = stream.write_all(bad.as_bytes());
        let _ = stream.shutdown(std::net::Shutdown::Write);
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        let answer = String::from_utf8_lossy(&answer);
        let refused = answer.is_empty() || answer.starts_with("HTTP/1.1 4");
        assert!(refused, "{:.40}: {answer:.200}", bad);
    }
    service.get(&Who::Nobody, "/livez").expect(200);
}

/// The command that a supervisor asks, and the settings checked beforehand.
#[test]
fn health_and_check_config_say_what_is_so() {
    let mut service = Service::start();
    let address = service.base.trim_start_matches("http://").to_string();
    let health = || {
        let output = Command::new(program())
            .args(["health", "--listen", &address])
            .output();
        output.expect("the program runs")
    };
    let good = health();
    assert_eq!(good.status.code(), Some(0));
    assert!(String::from_utf8_lossy(&good.stdout).contains("\"status\":\"ok\""));
    service.signal("-TERM");
    service.wait();
    assert_eq!(health().status.code(), Some(4));
    let check = |settings: &[(&str, &str)]| {
        let output = Command::new(program())
            .arg("check-config")
            .args(Database::on(Engine::Sqlite, harness::database::Syncing::Off).arguments())
            .envs(settings.iter().copied())
            .output();
        output.expect("the program runs")
    };
    assert_eq!(check(&[]).status.code(), Some(0));
    for (name, value) in [
        ("TAREBOOK_LISTEN", "8080"),
        ("TAREBOOK_WORKERS", "0"),
        ("TAREBOOK_ORIGIN", "book.example"),
        ("TAREBOOK_TRUSTED_PROXIES", "proxy"),
        ("TAREBOOK_LOG_LEVEL", "loud"),
        ("TAREBOOK_LOG_FORMAT", "xml"),
        ("TAREBOOK_METRICS_LISTEN", "here"),
    ] {
        let output = check(&[(name, value)]);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{name}: {said}");
        assert!(
            said.contains("expected") && said.contains(value),
            "{name}: {said}"
        );
    }
}
