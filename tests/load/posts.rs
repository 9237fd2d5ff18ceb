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

#[path = "shop.rs"]
mod shop;

use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use api::actions::post::post;
use api::actions::{ActionError, Posted};
use api::ledger::id::Id;
use api::store::open::{Organisation, size};
use api::store::writer::{Clock, Writer};
use api::store::{Address, Db, Purpose, migrations};
use reports::refrigerant::Table;
use serde_json::Value;

/// The program's allocator, so that its speed is measured.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

const CALLERS: usize = 64;

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
    let each = shop::appliances_of(books);
    let of = (0..books)
        .map(|number| shop::open(&mut db, number, each).map(|(of, _)| of))
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
                call(writer, of, shop::charge(number / books, each))?;
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

/// One posting through the writer, as the service does it.
fn call(writer: &Writer, of: &Organisation, request: Value) -> Result<Posted, ActionError> {
    let id = request["entry_id"]
        .as_str()
        .and_then(Id::parse)
        .expect("an id");
    let answer = writer.call(of, vec![id], move |tx| {
        match post(tx, &shop::manager(), &request) {
            Err(ActionError::Failed(error)) => Err(error),
            outcome => Ok(outcome),
        }
    });
    answer?
}
