//! Running it: signals, slow clients, limits, health (D1, A3, E37).

use super::outages::identified;
use api::store::{Db, Purpose};
use harness::database::{Database, Engine};
use harness::service::{LOG_FILE, Service, Who, charge, program};
use harness::shop::address;
use serde_json::json;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::process::Command;
use std::time::{Duration, Instant};

/// E37, D1: SIGTERM and SIGINT while many post: who was answered 201 finds the entry after the restart,
/// who was not may send it again; the exit code is 0 and what was booked is signed.
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

/// E37: a log that nobody reads any more, as while the collector of the logs starts anew, takes the
/// service neither its answers nor its end.
#[test]
fn e37_a_broken_log_stops_nothing_but_itself() {
    let folder = tempfile::tempdir().expect("a folder");
    let pipe = folder.path().join("log");
    let made = Command::new("mkfifo").arg(&pipe).status();
    assert!(made.expect("mkfifo runs").success());
    // Opened both ways, because the other end would wait for a reader.
    let reader = std::fs::File::options().read(true).write(true).open(&pipe);
    let reader = reader.expect("a pipe");
    let pipe = pipe.display().to_string();
    let settings = [("TAREBOOK_LOG_LEVEL", "info"), (LOG_FILE, pipe.as_str())];
    let mut service = Service::on(Database::new(), &settings);
    service.stock(&service.firm);
    drop(reader);
    service.booked(&service.firm.technician, charge("2 lb"));
    service.get(&Who::Nobody, "/nothing/there").expect(404);
    service.get(&Who::Nobody, "/readyz").expect(200);
    service.signal("-TERM");
    assert_eq!(service.wait(), Some(0));
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
