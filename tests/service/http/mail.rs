//! Mail from a served book: chosen, made at once, sent by one of two processes, stopped without a
//! sign-in, counted and listed.

use super::reading::go_over_its_limit;
use harness::database::Database;
use harness::people::arguments_of_service;
use harness::service::{LOG_FILE, Service, Who, program};
use serde_json::{Value, json};
use std::path::Path;
use std::process::{Command, Output};
use std::time::{Duration, Instant};

struct Post {
    service: Service,
    folder: tempfile::TempDir,
    log: tempfile::NamedTempFile,
}

const SENDER: &str = "book@tamarack.example";

fn served() -> Post {
    let folder = tempfile::tempdir().expect("a folder");
    let log = tempfile::NamedTempFile::new().expect("a file");
    let (path, file) = (
        folder.path().display().to_string(),
        log.path().display().to_string(),
    );
    let settings = [
        ("TAREBOOK_MAIL_TRANSPORT", "file"),
        ("TAREBOOK_MAIL_FOLDER", path.as_str()),
        ("TAREBOOK_MAIL_FROM", SENDER),
        ("TAREBOOK_MAIL_HOUR", "0"),
        ("TAREBOOK_ORIGIN", "http://book.example"),
        ("TAREBOOK_METRICS_LISTEN", "127.0.0.1:0"),
        ("TAREBOOK_LOG_LEVEL", "info"),
        (LOG_FILE, file.as_str()),
    ];
    let service = Service::on(Database::new(), &settings);
    service.stock(&service.firm);
    go_over_its_limit(&service);
    Post {
        service,
        folder,
        log,
    }
}

impl Post {
    fn letters(&self) -> Vec<String> {
        let files = std::fs::read_dir(self.folder.path()).expect("a folder");
        let paths = files.map(|file| file.expect("readable").path());
        let whole = paths.filter(|path| path.extension().is_some_and(|it| it == "eml"));
        whole
            .map(|path| std::fs::read_to_string(path).expect("a message"))
            .collect()
    }

    /// A command on the host, beside the service.
    fn host(&self, arguments: &[&str], folder: &Path) -> Output {
        let mut command = Command::new(program());
        command
            .args(arguments)
            .args(arguments_of_service(&self.service.database));
        command.args(["--organisation", "Tamarack Ridge Mechanical"]);
        command
            .env("TAREBOOK_MAIL_TRANSPORT", "file")
            .env("TAREBOOK_MAIL_FOLDER", folder)
            .env("TAREBOOK_MAIL_FROM", SENDER)
            .env("TAREBOOK_MAIL_HOUR", "0")
            .env("TAREBOOK_ORIGIN", "http://book.example");
        command.output().expect("it runs")
    }

    fn metrics(&self) -> String {
        let log = std::fs::read_to_string(self.log.path()).expect("a log");
        let address = log.split("measurements at ").nth(1).expect("an address");
        let address = address.split('"').next().expect("an end");
        let got = ureq::get(address).call().expect("measurements");
        got.into_body().read_to_string().expect("text")
    }
}

/// Waits until something holds, as a minute of the service may pass.
#[track_caller]
fn soon(what: &str, holds: impl Fn() -> bool) {
    let until = Instant::now() + Duration::from_secs(30);
    while !holds() {
        assert!(Instant::now() < until, "{what}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn c7_mail_is_chosen_sent_once_and_stopped() {
    let post = served();
    let (service, manager) = (&post.service, &post.service.firm.manager);
    let nothing = service.get(manager, "/api/v1/mail").expect(200).json();
    assert_eq!(
        (&nothing["digest"], &nothing["goes_out"]),
        (&json!("none"), &json!(true))
    );
    let ready = service.get(&Who::Nobody, "/readyz").expect(200).json();
    assert_eq!(
        ready["checks"].as_object().map(|it| it.len()),
        Some(4),
        "mail is none of them"
    );
    let wanted = json!({"digest": "daily", "everything": true, "late": true});
    service.post(manager, "/api/v1/mail", &wanted).expect(200);
    // The service and a command beside it: one of them makes it, one sends it.
    let done = post.host(&["mail", "send-due"], post.folder.path());
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    soon("a message lies in the folder", || {
        !post.letters().is_empty()
    });
    soon("it is counted", || {
        post.metrics().contains("tarebook_mail_waiting 0")
    });
    post.host(&["mail", "send-due"], post.folder.path());
    let letters = post.letters();
    assert_eq!(letters.len(), 1, "{letters:?}");
    let letter = &letters[0];
    assert!(letter.contains("To: nadia@tamarack.example") && letter.contains("HG-RACK-A"));
    let list = post.host(&["mail", "list"], post.folder.path());
    let list = String::from_utf8_lossy(&list.stdout).into_owned();
    assert_eq!(list.lines().count(), 2, "{list}");
    assert!(
        list.contains("\tsent\t") && !list.contains("nadia@"),
        "{list}"
    );
    stopped(&post, letter);
    refusals(service);
    // The technician chose a list; no command is run beside the service now.
    soon("the service sends by itself", || post.letters().len() == 2);
    let log = || std::fs::read_to_string(post.log.path()).expect("a log");
    soon("it is logged", || log().contains("mail sent"));
    let log = log();
    assert!(log.contains("/mail/stop/{secret}"));
    assert!(
        !log.contains("nadia@") && !log.contains("ines@"),
        "an address in the log"
    );
}

/// A page, which the description of the interface does not know; as a mail program asks for it.
fn page(service: &Service, method: &str, path: &str, more: &[(&str, &str)]) -> (u16, String) {
    let config = ureq::Agent::config_builder().http_status_as_error(false);
    let mut request = ureq::http::Request::builder()
        .method(method)
        .uri(format!("{}{path}", service.base))
        .header("Content-Type", "application/x-www-form-urlencoded");
    for (name, value) in more {
        request = request.header(*name, *value);
    }
    let body = if method == "POST" {
        "List-Unsubscribe=One-Click"
    } else {
        ""
    };
    let request = request.body(body).expect("a request");
    let answer = config.build().new_agent().run(request).expect("an answer");
    let status = answer.status().as_u16();
    let text = answer.into_body().read_to_string().expect("text");
    (status, text)
}

/// RFC 8058: a mail program posts to the address by itself, without cookies; looking stops nothing.
fn stopped(post: &Post, letter: &str) {
    let service = &post.service;
    let unfolded = letter.replace("\r\n ", "");
    let header = unfolded
        .lines()
        .find(|line| line.starts_with("List-Unsubscribe: "));
    let address = header.expect("a way out").trim_end_matches('>');
    let path = address.split("http://book.example").nth(1);
    let path = path.expect("an address of ours");
    assert!(
        !unfolded.contains("List-Unsubscribe-Post"),
        "one click is for https"
    );
    let (status, asks) = page(service, "GET", path, &[]);
    assert!(
        status == 200 && asks.contains("Stop this mail?") && asks.contains("Tamarack Ridge"),
        "{asks}"
    );
    let manager = &service.firm.manager;
    let digest = || service.get(manager, "/api/v1/mail").expect(200).json()["digest"].clone();
    assert_eq!(digest(), "daily", "looking stops nothing");
    let (status, _) = page(service, "POST", path, &[("Sec-Fetch-Site", "cross-site")]);
    assert_eq!(status, 403, "a page elsewhere presses nothing");
    assert_eq!(digest(), "daily");
    for _ in 0..2 {
        let (status, said) = page(service, "POST", path, &[]);
        assert!(status == 200 && said.contains("No more mail"), "{said}");
    }
    assert_eq!(digest(), "none");
    let never = "A".repeat(43);
    for path in [&format!("/mail/stop/{never}"), "/mail/stop/x"] {
        let (status, said) = page(service, "POST", path, &[]);
        assert_eq!(status, 404, "{path}");
        assert!(!said.contains(&never), "{said}");
    }
    let records = service
        .get(manager, "/api/v1/access-records")
        .expect(200)
        .text();
    assert!(
        records.contains("mail_chosen") && records.contains("mail_stopped"),
        "{records}"
    );
}

fn refusals(service: &Service) {
    let firm = &service.firm;
    let everything = json!({"digest": "weekly", "everything": true});
    let refused = service.post(&firm.technician, "/api/v1/mail", &everything);
    refused.expect_problem(403, "forbidden");
    let own = json!({"digest": "weekly", "names": true});
    let kept = service
        .post(&firm.technician, "/api/v1/mail", &own)
        .expect(200)
        .json();
    assert_eq!(
        (&kept["digest"], &kept["names"]),
        (&json!("weekly"), &Value::Bool(true))
    );
    for who in [&firm.administrator, &firm.device] {
        service
            .get(who, "/api/v1/mail")
            .expect_problem(403, "forbidden");
    }
    for wrong in [
        json!({"digest": "hourly"}),
        json!({"weekly": true}),
        json!({"late": "yes"}),
    ] {
        let reply = service.post(&firm.manager, "/api/v1/mail", &wrong);
        assert!(
            [400, 422].contains(&reply.status),
            "{wrong}: {}",
            reply.text()
        );
    }
}
