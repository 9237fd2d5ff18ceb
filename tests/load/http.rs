//! A client that loads a running service over HTTP, and says how it answered.
//!
//!     load-http prepare DIR|URL KEYS ORGANISATIONS      makes books (shop.rs), their signing keys in KEYS, a token
//!                                                       of each; prints FIRST and a token a line
//!     load-http post  BASE TOKENS COUNT CONNECTIONS [FROM]    posts COUNT charges, one a request, to the books in turn,
//!                                                       after FROM posted before
//!     load-http get   BASE TOKENS COUNT CONNECTIONS PATH    asks COUNT times for PATH
//!     load-http storm BASE SECONDS CONNECTIONS          signs in with wrong passwords, over and over
//!
//! TOKENS is the file with the second and later lines of `prepare`. Each connection is kept alive
//! and has a thread; an answer that is not 2xx (for `storm`: 401, 429 or 503) ends the run with an
//! error. `post`, `get` and `storm` print `SECONDS ANSWERS P50_MS P99_MS CLIENT_CPU_SECONDS`.

#[path = "shop.rs"]
mod shop;

use api::actions::ActionError;
use api::auth::access::Asker;
use api::auth::token::{self, Scopes, TokenAsked};
use api::ledger::actor::Role;
use api::service::keys::signing_key_file;
use api::store::open::size;
use api::store::{Address, Db, Purpose, migrations};
use std::io::{BufRead, BufReader, Error, ErrorKind, Read, Write};
use std::net::TcpStream;
use std::ops::Range;
use std::path::Path;
use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// One answer: how long it took, and its status.
type Answer = (Duration, u16);

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let number = |text: &str| text.parse::<usize>().expect("a number");
    let done = match words.as_slice() {
        ["prepare", place, keys, books] => return prepared(place, keys, number(books)),
        ["post", base, tokens, count, connections, rest @ ..] => {
            let from = rest.first().map_or(0, |from| number(from));
            let numbers = from..from + number(count);
            post(base, &tokens_of(tokens), numbers, number(connections))
        }
        ["get", base, tokens, count, connections, path] => {
            let token = &tokens_of(tokens)[0];
            get(base, token, path, number(count), number(connections))
        }
        ["storm", base, seconds, connections] => {
            let lasts = Duration::from_secs(number(seconds) as u64);
            storm(base, lasts, number(connections))
        }
        _ => {
            eprintln!("usage: load-http prepare|post|get|storm ... (see tests/load/http.rs)");
            return ExitCode::from(2);
        }
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("load-http: {error}");
            ExitCode::FAILURE
        }
    }
}

fn prepared(place: &str, keys: &str, books: usize) -> ExitCode {
    match prepare(place, Path::new(keys), books) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("load-http: {error}");
            ExitCode::FAILURE
        }
    }
}

fn prepare(place: &str, keys: &Path, books: usize) -> Result<(), ActionError> {
    let address = match Address::from_url(place) {
        Ok(address) => address,
        Err(_) => Address::Folder(place.into()),
    };
    let mut db = Db::open(&address, Purpose::Write, true)?.as_operator()?;
    if !db.is_postgres() {
        migrations::migrate(&mut db)?;
    }
    std::fs::create_dir_all(keys).expect("a folder for the keys");
    let (mut tokens, mut first) = (Vec::with_capacity(books), 0);
    for number in 0..books {
        let (of, key) = shop::open(&mut db, number, shop::appliances_of(books))?;
        std::fs::write(signing_key_file(keys, &of.log), key.private_text()).expect("a key file");
        let asked = TokenAsked {
            name: "load".to_string(),
            person: None,
            role: Role::ComplianceManager,
            scopes: Scopes::default(),
            days: 1,
        };
        let issued = token::issue(&mut db, &of, &Asker::HOST, &asked, api::clock::now());
        let Ok((secret, _)) = issued else {
            panic!("no token was issued");
        };
        tokens.push(secret);
        first = size(&mut db, of.org)?;
    }
    println!("{first}");
    tokens.iter().for_each(|token| println!("{token}"));
    Ok(())
}

fn tokens_of(file: &str) -> Vec<String> {
    let text = std::fs::read_to_string(file).expect("the file of tokens");
    text.lines().map(str::to_string).collect()
}

fn post(
    base: &str,
    tokens: &[String],
    numbers: Range<usize>,
    connections: usize,
) -> Result<(), Error> {
    let books = tokens.len();
    let each = shop::appliances_of(books);
    let next = AtomicUsize::new(numbers.start);
    told(
        connections,
        |connection: &mut Connection| {
            let mut answers = Vec::new();
            loop {
                let number = next.fetch_add(1, Ordering::Relaxed);
                if number >= numbers.end {
                    return Ok(answers);
                }
                let body = shop::charge(number / books, each).to_string();
                let head = format!("authorization: Bearer {}\r\n", tokens[number % books]);
                answers.push(connection.ask("POST", "/api/v1/entries", &head, &body, is_good)?);
            }
        },
        base,
    )
}

fn get(base: &str, token: &str, path: &str, count: usize, connections: usize) -> Result<(), Error> {
    let next = AtomicUsize::new(0);
    told(
        connections,
        |connection: &mut Connection| {
            let mut answers = Vec::new();
            while next.fetch_add(1, Ordering::Relaxed) < count {
                let head = format!("authorization: Bearer {token}\r\n");
                answers.push(connection.ask("GET", path, &head, "", is_good)?);
            }
            Ok(answers)
        },
        base,
    )
}

fn storm(base: &str, lasts: Duration, connections: usize) -> Result<(), Error> {
    let (began, next) = (Instant::now(), AtomicUsize::new(0));
    told(
        connections,
        |connection: &mut Connection| {
            let mut answers = Vec::new();
            while began.elapsed() < lasts {
                let who = next.fetch_add(1, Ordering::Relaxed);
                let body = format!(
                    "{{\"email\": \"nobody-{who}@tamarack.example\", \"password\": \"frost on a coil {who}\"}}"
                );
                let refused = |status| matches!(status, 401 | 429 | 503);
                answers.push(connection.ask("POST", "/api/v1/sessions", "", &body, refused)?);
            }
            Ok(answers)
        },
        base,
    )
}

fn is_good(status: u16) -> bool {
    (200..300).contains(&status)
}

/// Runs `work` on so many connections at once and says how it was answered.
fn told(
    connections: usize,
    work: impl Fn(&mut Connection) -> Result<Vec<Answer>, Error> + Sync,
    base: &str,
) -> Result<(), Error> {
    let open = (0..connections).map(|_| Connection::open(base));
    let open = open.collect::<Result<Vec<Connection>, Error>>()?;
    let began = Instant::now();
    let answers = std::thread::scope(|scope| {
        let work = &work;
        let threads: Vec<_> = open
            .into_iter()
            .map(|mut connection| scope.spawn(move || work(&mut connection)))
            .collect();
        let mut all = Vec::new();
        for thread in threads {
            all.extend(thread.join().expect("no panic")?);
        }
        Ok::<Vec<Answer>, Error>(all)
    })?;
    let seconds = began.elapsed();
    let mut took: Vec<Duration> = answers.iter().map(|answer| answer.0).collect();
    took.sort_unstable();
    let at = |percent: usize| {
        took.get(took.len() * percent / 100)
            .copied()
            .unwrap_or_default()
    };
    println!(
        "{} {} {} {} {}",
        milliseconds(seconds, 1000),
        took.len(),
        milliseconds(at(50), 1),
        milliseconds(at(99), 1),
        own_cpu()
    );
    Ok(())
}

/// A time in units of so many milliseconds, with three decimals.
fn milliseconds(time: Duration, of: u128) -> String {
    let thousandths = time.as_micros() / of;
    format!("{}.{:03}", thousandths / 1000, thousandths % 1000)
}

/// Processor time of this process so far, in seconds: fields 14 and 15 of proc(5) `stat`, which
/// count hundredths of a second.
fn own_cpu() -> String {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = stat.rsplit(')').next().unwrap_or_default();
    let fields = after_name.split_whitespace().skip(11).take(2);
    let hundredths: u64 = fields.filter_map(|field| field.parse::<u64>().ok()).sum();
    format!("{}.{:02}", hundredths / 100, hundredths % 100)
}

/// A connection that is kept.
struct Connection {
    host: String,
    stream: BufReader<TcpStream>,
    answer: Vec<u8>,
}

impl Connection {
    fn open(base: &str) -> Result<Connection, Error> {
        let host = base.trim_start_matches("http://").to_string();
        let stream = TcpStream::connect(&host)?;
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(Duration::from_secs(60)))?;
        Ok(Connection {
            host,
            stream: BufReader::with_capacity(1 << 16, stream),
            answer: Vec::new(),
        })
    }

    /// Sends a request and reads its whole answer.
    fn ask(
        &mut self,
        method: &str,
        path: &str,
        head: &str,
        body: &str,
        expected: impl Fn(u16) -> bool,
    ) -> Result<Answer, Error> {
        let (host, length) = (&self.host, body.len());
        let request = format!(
            "{method} {path} HTTP/1.1\r\nhost: {host}\r\n{head}content-type: application/json\r\n\
             content-length: {length}\r\n\r\n{body}"
        );
        let began = Instant::now();
        self.stream.get_mut().write_all(request.as_bytes())?;
        let status = self.read()?;
        let took = began.elapsed();
        if !expected(status) {
            let text = String::from_utf8_lossy(&self.answer).into_owned();
            return Err(Error::other(format!("{method} {path}: {status} {text}")));
        }
        Ok((took, status))
    }

    fn read(&mut self) -> Result<u16, Error> {
        let wrong = |what: &str| Error::new(ErrorKind::InvalidData, what.to_string());
        let (mut status, mut length, mut chunked, mut line) = (0, 0, false, String::new());
        loop {
            line.clear();
            if self.stream.read_line(&mut line)? == 0 {
                return Err(wrong("the connection was closed"));
            }
            let text = line.trim_end().to_ascii_lowercase();
            match text.split_once(':') {
                _ if text.is_empty() => break,
                Some(("content-length", value)) => length = value.trim().parse().unwrap_or(0),
                Some(("transfer-encoding", value)) => chunked = value.trim() == "chunked",
                None => status = text.get(9..12).and_then(|it| it.parse().ok()).unwrap_or(0),
                Some(_) => {}
            }
        }
        self.answer.clear();
        if !chunked {
            self.take(length)?;
            return Ok(status);
        }
        loop {
            line.clear();
            self.stream.read_line(&mut line)?;
            let size = usize::from_str_radix(line.trim(), 16).map_err(|_| wrong("no chunk"))?;
            self.take(size)?;
            self.stream.read_line(&mut line)?;
            if size == 0 {
                return Ok(status);
            }
        }
    }

    fn take(&mut self, length: usize) -> Result<(), Error> {
        let start = self.answer.len();
        self.answer.resize(start + length, 0);
        self.stream.read_exact(&mut self.answer[start..])
    }
}
