//! The real program, serving a book of its own on a free port, and whoever talks to it.
//!
//! Every answer is held against the OpenAPI document that the service itself gives: its status must
//! be there, its body must fit its shape, and the headers of all answers must stand on it. So each
//! test of the service also proves that the description is in step.

use crate::database::Database;
use crate::firm::{Firm, found};
use crate::people::arguments_of_service;
use crate::schema::validate;
use api::ledger::id::Id;
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

pub use crate::firm::{PASSWORD, Who, charge};
pub use crate::reply::Reply;

/// A running service with its database and its first organisation.
pub struct Service {
    /// Where its books are.
    pub database: Database,
    /// Folder of the signing keys.
    pub keys: TempDir,
    /// The first organisation.
    pub firm: Firm,
    /// `http://127.0.0.1:PORT`.
    pub base: String,
    process: Child,
    agent: ureq::Agent,
    document: Value,
}

/// Among the settings of a test: where the log of the service goes.
pub const LOG_FILE: &str = "LOG_FILE";

/// The program under test.
pub fn program() -> PathBuf {
    // Beside the test program, whatever profile it was built with.
    let mut path = std::env::current_exe().expect("a path");
    path.pop();
    if path.ends_with("deps") {
        path.pop();
    }
    path.join("service-under-test")
}

impl Service {
    /// A service with one organisation, on the engine under test.
    pub fn start() -> Service {
        Service::on(Database::new(), &[])
    }

    /// A service whose firm has the site, appliances and cylinders of the scenario.
    pub fn stocked() -> Service {
        let service = Service::start();
        service.stock(&service.firm);
        service
    }

    /// A service on a database, with settings as environment variables.
    pub fn on(database: Database, settings: &[(&str, &str)]) -> Service {
        let keys = TempDir::with_prefix("tarebook-keys-").expect("a temporary folder");
        let firm = found(&database, keys.path(), "Tamarack Ridge Mechanical");
        let (process, base) = launch(&database, keys.path(), settings);
        let config = ureq::Agent::config_builder()
            .http_status_as_error(false)
            .max_redirects(0)
            .timeout_global(Some(Duration::from_secs(60)));
        let agent = config.build().new_agent();
        let document = Value::Null;
        let mut service = Service {
            database,
            keys,
            firm,
            base,
            process,
            agent,
            document,
        };
        service.document = service
            .get(&Who::Nobody, "/api/v1/openapi.json")
            .expect(200)
            .json();
        service
    }

    /// One more organisation in the same database.
    pub fn found(&self, name: &str) -> Firm {
        found(&self.database, self.keys.path(), name)
    }

    /// Ends the process with a signal and starts another one on the same book.
    pub fn restart(&mut self, signal: &str) {
        self.signal(signal);
        self.wait();
        self.launch_again();
    }

    /// Starts another process on the same book; the one before has ended.
    pub fn launch_again(&mut self) {
        (self.process, self.base) = launch(&self.database, self.keys.path(), &[]);
    }

    /// Sends the process a signal.
    pub fn signal(&self, signal: &str) {
        let id = self.process.id().to_string();
        let sent = Command::new("kill").args([signal, &id]).status();
        assert!(sent.expect("kill runs").success());
    }

    /// Waits for the process to end; its exit code, unless a signal ended it.
    pub fn wait(&mut self) -> Option<i32> {
        let deadline = Instant::now() + Duration::from_secs(40);
        loop {
            if let Some(status) = self.process.try_wait().expect("a process") {
                return status.code();
            }
            assert!(Instant::now() < deadline, "the service does not end");
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Peak of the process's memory in KiB.
    pub fn peak_memory(&self) -> u64 {
        let path = format!("/proc/{}/status", self.process.id());
        let text = std::fs::read_to_string(path).expect("a running process");
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let number = line.expect("a peak").trim().trim_end_matches("kB").trim();
        number.parse().expect("a number")
    }

    /// `GET`.
    pub fn get(&self, who: &Who, path: &str) -> Reply {
        self.send(who, "GET", path, &[], None)
    }

    /// `POST` with JSON.
    pub fn post(&self, who: &Who, path: &str, body: &Value) -> Reply {
        self.send(who, "POST", path, &[], Some(body.to_string().as_bytes()))
    }

    /// Posts one entry; one without an id gets one.
    pub fn entry(&self, who: &Who, mut entry: Value) -> Reply {
        if entry.get("entry_id").is_none() {
            entry["entry_id"] = json!(Id::random());
        }
        self.post(who, "/api/v1/entries", &entry)
    }

    /// Posts one entry and expects it to be booked.
    #[track_caller]
    pub fn booked(&self, who: &Who, entry: Value) -> Value {
        self.entry(who, entry).expect(201).json()
    }

    /// Any request.
    pub fn send(
        &self,
        who: &Who,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: Option<&[u8]>,
    ) -> Reply {
        let mut request = ureq::http::Request::builder()
            .method(method)
            .uri(format!("{}{path}", self.base));
        let given = |name: &str| {
            headers
                .iter()
                .any(|(known, _)| known.eq_ignore_ascii_case(name))
        };
        match who {
            Who::Nobody => {}
            Who::Token(token) => {
                request = request.header("Authorization", format!("Bearer {token}"))
            }
            Who::Cookie(cookie) => {
                request = request.header("Cookie", cookie);
                if !given("sec-fetch-site") && !given("origin") {
                    request = request.header("Sec-Fetch-Site", "same-origin");
                }
            }
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        if body.is_some() && !given("content-type") {
            request = request.header("Content-Type", "application/json");
        }
        let request = request.body(body.unwrap_or_default()).expect("a request");
        let mut answer = self
            .agent
            .run(request)
            .unwrap_or_else(|error| panic!("{method} {path}: {error}"));
        let read = answer.body_mut().with_config().limit(1 << 30).read_to_vec();
        let text = |value: &ureq::http::HeaderValue| {
            String::from_utf8_lossy(value.as_bytes()).into_owned()
        };
        let reply = Reply {
            status: answer.status().as_u16(),
            headers: (answer.headers().iter())
                .map(|(name, value)| (name.as_str().to_string(), text(value)))
                .collect(),
            body: read.unwrap_or_else(|error| panic!("{method} {path}: {error}")),
        };
        self.fits(method, path, &reply);
        reply
    }

    /// Holds an answer against the document and the headers of all answers.
    fn fits(&self, method: &str, path: &str, reply: &Reply) {
        let shown = || format!("{method} {path}: {} {}", reply.status, reply.text());
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "no-referrer"),
        ] {
            assert_eq!(reply.header(name), Some(value), "{}", shown());
        }
        assert!(reply.header("cache-control").is_some(), "{}", shown());
        let csp = reply.header("content-security-policy").unwrap_or_default();
        assert!(csp.contains("default-src 'none'"), "{}", shown());
        assert!(reply.header("x-request-id").is_some(), "{}", shown());
        let kind = reply.header("content-type").unwrap_or_default();
        if kind.starts_with("application/problem+json") {
            assert_eq!(reply.json()["status"], reply.status, "{}", shown());
        }
        let Some(operation) = self.operation(method, path) else {
            // Pages for people are in no document, nor are their lists as files.
            let a_list = path.contains("as=file") && kind.starts_with("text/csv");
            let a_page = !path.starts_with("/api/")
                && (kind.starts_with("text/html")
                    || [303, 304].contains(&reply.status)
                    || path == "/field/cylinders"
                    || a_list);
            assert!(
                a_page || [404, 405].contains(&reply.status) || self.document.is_null(),
                "{}",
                shown()
            );
            return;
        };
        let response = &operation["responses"][reply.status.to_string()];
        assert!(
            response.is_object(),
            "status not in the document: {}",
            shown()
        );
        let media = kind.split(';').next().unwrap_or_default();
        let Some(content) = response.get("content") else {
            assert!(reply.body.is_empty(), "{}", shown());
            return;
        };
        let media = content
            .get(media)
            .unwrap_or_else(|| panic!("{media:?} is not in the document: {}", shown()));
        if let (Some(schema), true) = (media.get("schema"), method != "HEAD") {
            let valid = validate(&self.document, schema, &reply.json());
            assert_eq!(valid, Ok(()), "{}", shown());
        }
    }

    /// The operation of the document that a request means.
    fn operation(&self, method: &str, path: &str) -> Option<&Value> {
        let path = path.split('?').next().unwrap_or_default();
        let paths = self.document["paths"].as_object()?;
        let mut fitting: Vec<(&String, &Value)> = paths
            .iter()
            .filter(|(pattern, _)| matches(pattern, path))
            .collect();
        // The longest fixed text is the closest pattern.
        fitting.sort_by_key(|(pattern, _)| pattern.replace("{", "").len());
        let method = if method == "HEAD" {
            "get".to_string()
        } else {
            method.to_lowercase()
        };
        let names = |pattern: &str| pattern.matches('{').count();
        fitting.sort_by_key(|(pattern, _)| (names(pattern), usize::MAX - pattern.len()));
        fitting
            .first()
            .and_then(|(_, operations)| operations.get(method))
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

fn matches(pattern: &str, path: &str) -> bool {
    let mut parts = pattern.split('{');
    let Some(mut rest) = path.strip_prefix(parts.next().unwrap_or_default()) else {
        return false;
    };
    let tail = pattern.ends_with("/{tile}");
    for part in parts {
        let fixed = part.split_once('}').map_or("", |(_, fixed)| fixed);
        let end = match fixed {
            "" => rest.len(),
            fixed => match rest.find(fixed) {
                Some(end) => end,
                None => return false,
            },
        };
        if end == 0 || (!tail && rest[..end].contains('/')) {
            return false;
        }
        rest = &rest[end + fixed.len()..];
    }
    rest.is_empty()
}

fn launch(database: &Database, keys: &Path, settings: &[(&str, &str)]) -> (Child, String) {
    let mut command = Command::new(program());
    let place = arguments_of_service(database);
    command.arg("serve").args(place).arg("--keys").arg(keys);
    command.args(["--listen", "127.0.0.1:0"]);
    command
        .env("TAREBOOK_LOG_LEVEL", "warn")
        .env("TAREBOOK_QUIET", "true")
        .envs(
            settings
                .iter()
                .copied()
                .filter(|(name, _)| *name != LOG_FILE),
        );
    command.stdout(Stdio::piped()).stdin(Stdio::null());
    if let Some((_, file)) = settings.iter().find(|(name, _)| *name == LOG_FILE) {
        command.stderr(std::fs::File::create(file).expect("a file for the log"));
    }
    let mut process = command.spawn().unwrap_or_else(|error| {
        panic!(
            "{}: {error}. It is built by `cargo build -p tarebook-tests`.",
            program().display()
        )
    });
    let mut lines = BufReader::new(process.stdout.take().expect("its output")).lines();
    let line = lines.next().map(|line| line.expect("text"));
    let base = line
        .as_deref()
        .and_then(|line| line.strip_prefix("listening "));
    let base = base.unwrap_or_else(|| panic!("expected 'listening ...', came {line:?}"));
    (process, base.to_string())
}
