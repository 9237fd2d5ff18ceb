//! W1: how many postings a second the book takes in process, from 64 callers at once.
//!
//!     load-posts DIR COUNT
//!     load-posts postgres://... COUNT ORGANISATIONS
//!
//! Makes a book on SQLite in the empty folder DIR with 400 appliances and a cylinder each, or on
//! PostgreSQL so many books with one appliance each; they adopt the invented flat thresholds. Then
//! it posts COUNT charges from 64 threads through the service's own writers and actions: durable,
//! with questions judged, tree, balances and standings. On PostgreSQL there are two writers, and a
//! book always has the same one. Prints `FIRST SECONDS`: the number of the first timed entry of a
//! book, and the time they took. bare_rows.py and bare_rows_postgres.py then write the very rows
//! again in a bare loop; bench_posts.sh and bench_posts_postgres.sh compare the two.

use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use api::actions::begin::{Beginning, begin};
use api::actions::post::post;
use api::actions::{ActionError, Posted};
use api::ledger::actor::{Actor, Role};
use api::ledger::checkpoint::SigningKey;
use api::ledger::id::Id;
use api::store::open::{Organisation, size};
use api::store::writer::{Books, Clock, Writer, transact};
use api::store::{Address, Db, Purpose, migrations};
use reports::refrigerant::Table;
use serde_json::{Value, json};

const CALLERS: usize = 64;
/// Appliances in all, spread over the books.
const APPLIANCES: usize = 400;
/// Facts of the things registered hold from here.
const FROM: &str = "2020-01-01";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (place, count, books) = match arguments.as_slice() {
        [place, count] => (place, count, "1"),
        [place, count, books] => (place, count, books.as_str()),
        _ => {
            eprintln!("usage: load-posts DIR|URL COUNT [ORGANISATIONS]");
            return ExitCode::from(2);
        }
    };
    let address = match Address::from_url(place) {
        Ok(address) => address,
        Err(_) => Address::Folder(place.into()),
    };
    let number = |text: &str| text.parse::<usize>().expect("a number");
    match run(&address, number(count), number(books)) {
        Ok((first, seconds)) => {
            println!("{first} {seconds}");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("load-posts: {error}");
            ExitCode::FAILURE
        }
    }
}

fn run(address: &Address, count: usize, books: usize) -> Result<(u64, String), ActionError> {
    let mut db = Db::open(address, Purpose::Write, true)?;
    if !db.is_postgres() || books == 1 {
        migrations::migrate(&mut db)?;
    }
    let each = (APPLIANCES / books).max(1);
    let of = (0..books)
        .map(|number| {
            let of = new_book(&mut db, number)?;
            stock(&mut db, &of, each)?;
            Ok(of)
        })
        .collect::<Result<Vec<Organisation>, ActionError>>()?;
    let first = size(&mut db, of[0].org)?;
    let mut writers = Vec::new();
    if db.is_postgres() {
        let second = Db::open(address, Purpose::Write, false)?;
        writers.push(Writer::start(second, Table::shipped(), Clock::real()));
    }
    writers.push(Writer::start(db, Table::shipped(), Clock::real()));
    let next = AtomicUsize::new(0);
    let began = Instant::now();
    std::thread::scope(|scope| {
        let caller = || -> Result<(), ActionError> {
            loop {
                let number = next.fetch_add(1, Ordering::Relaxed);
                if number >= count {
                    return Ok(());
                }
                let of = &of[number % books];
                let writer = &writers[number % books % writers.len()];
                call(writer, of, charge(number / books, each))?;
            }
        };
        let callers: Vec<_> = (0..CALLERS).map(|_| scope.spawn(caller)).collect();
        callers
            .into_iter()
            .try_for_each(|caller| caller.join().expect("no panic"))
    })?;
    let milliseconds = began.elapsed().as_millis();
    Ok((
        first,
        format!("{}.{:03}", milliseconds / 1000, milliseconds % 1000),
    ))
}

fn manager() -> Actor {
    Actor::person(Id::from_bits(7), Role::ComplianceManager, None)
}

/// One posting through the writer, as the service does it.
fn call(writer: &Writer, of: &Organisation, request: Value) -> Result<Posted, ActionError> {
    let id = request["entry_id"]
        .as_str()
        .and_then(Id::parse)
        .expect("an id");
    let answer = writer.call(of, vec![id], move |tx| {
        match post(tx, &manager(), &request) {
            Err(ActionError::Failed(error)) => Err(error),
            outcome => Ok(outcome),
        }
    });
    answer?
}

fn new_book(db: &mut Db, number: usize) -> Result<Organisation, ActionError> {
    let log = format!("tarebook/{}", Id::random());
    let key = |_| {
        SigningKey::generate(&log)
            .expect("random numbers")
            .verification_key()
    };
    let organisation = format!("Tamarack Ridge Mechanical {number}");
    let what = Beginning {
        organisation: &organisation,
        zone: "UTC",
        log: &log,
        signing: &key("signing"),
        recovery: &key("recovery"),
        administrator: None,
    };
    begin(db, Clock::real(), &what)
}

/// Rules, appliances, cylinders and what is in them.
fn stock(db: &mut Db, of: &Organisation, appliances: usize) -> Result<(), ActionError> {
    let mut requests = vec![json!({"kind": "rule_set", "body": {
        "toml": include_str!("flat-thresholds.toml"), "from": FROM}})];
    for number in 0..appliances {
        let fact = |is: &str| json!([{"from": FROM, "is": is}]);
        requests.push(json!({"kind": "appliance", "body": {"facts": {
            "tag": format!("A{number}"), "refrigerant": fact("R-410A"),
            "full_charge": fact("100 lb"), "category": fact("comfort_cooling"),
            "installed": FROM}}}));
        requests.push(json!({"kind": "cylinder", "body": {"facts": {
            "tag": format!("C{number}"), "use": "supply", "refrigerant": fact("R-410A"),
            "capacity": "1000 lb"}}}));
        requests.push(json!({"kind": "opening", "body": {
            "to": format!("cylinder:C{number}"), "refrigerant": "R-410A", "mass": "900 lb"}}));
    }
    let mut books = Books::new();
    for mut request in requests {
        request["entry_id"] = json!(Id::random());
        request["happened"] = json!({"day": today()});
        let book = |tx: &mut api::store::tx::Tx<'_>| match post(tx, &manager(), &request) {
            Err(ActionError::Failed(error)) => Err(error),
            outcome => Ok(outcome),
        };
        transact(
            db,
            &mut books,
            of,
            &[],
            Table::shipped(),
            Clock::real(),
            book,
        )??;
    }
    Ok(())
}

/// Never the same mass twice for one appliance: that would be asked about.
fn charge(number: usize, appliances: usize) -> Value {
    let (at, round) = (number % appliances, number / appliances);
    json!({"entry_id": Id::random(), "kind": "charge", "happened": {"day": today()},
        "body": {"from": format!("cylinder:C{at}"), "to": format!("appliance:A{at}"),
            "refrigerant": "R-410A", "mass": format!("0.{:06} lb", 600 + round),
            "reason": "leak_top_up", "returned_to_full_charge": true}})
}

/// The day by UTC, which is the zone of this book.
fn today() -> String {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    let days = since.expect("after 1970").as_secs() / 86_400;
    let day = reports::day::Day::from_count(i32::try_from(days).expect("few"));
    String::from_utf8(day.to_bytes().to_vec()).expect("digits")
}
