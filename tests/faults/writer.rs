//! A program to be killed: eight threads that post through the service's own writer.
//!
//!     fault-writer --data DIR|--database-url URL write    posts for ever, says each answer
//!     fault-writer --data DIR|--database-url URL list     prints the id of every posting stored
//!
//! `write` prints `acknowledged ID` only after the writer has answered, as the service would answer
//! 201. `list` reads every leaf back, grows the tree anew and compares it with the one kept,
//! compares the balance of the cylinder with the number of postings it counted (promise M1: what
//! left one place arrived at another), and fails when they differ. kill_loop.py and full_disk.sh beside this file drive it.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::io::Write;
use std::process::ExitCode;

use api::ledger::actor::Actor;
use api::ledger::entry::{Body, EntryKind, Fact, Happened, Leaf, Moved, Typed};
use api::ledger::id::Id;
use api::ledger::place::Place;
use api::ledger::tree::{Frontier, leaf_hash};
use api::store::apply::Draft;
use api::store::open::{Organisation, add_organisation, open_book, organisation};
use api::store::writer::{Books, Clock, Writer, transact};
use api::store::{Address, Db, Purpose, StoreError, migrations};
use reports::day::Day;
use reports::mass::Mass;
use reports::refrigerant::Table;

const THREADS: usize = 8;
const NAME: &str = "Faults";
// Fixed, so that every life of the program finds them again.
const CYLINDER: Id = Id::from_bits(0x0000_0000_0000_4000_8000_0000_0000_0001);
const APPLIANCE: Id = Id::from_bits(0x0000_0000_0000_4000_8000_0000_0000_0002);

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [sort, place, word] = arguments.as_slice() else {
        eprintln!("usage: fault-writer --data DIR|--database-url URL write|list");
        return ExitCode::from(2);
    };
    let address = match sort.as_str() {
        "--data" => Ok(Address::Folder(place.into())),
        _ => Address::from_url(place),
    };
    let done = address.and_then(|address| match word.as_str() {
        "write" => write(&address),
        _ => list(&address),
    });
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("fault-writer: {error}");
            ExitCode::FAILURE
        }
    }
}

fn write(address: &Address) -> Result<(), StoreError> {
    let (mut db, of) = open(address)?;
    register(&mut db, &of)?;
    let writer = Writer::start(db, table(), Clock::real());
    println!("ready");
    std::thread::scope(|scope| {
        let threads: Vec<_> = (0..THREADS)
            .map(|_| scope.spawn(|| post(&writer, &of)))
            .collect();
        threads
            .into_iter()
            .try_for_each(|thread| thread.join().expect("no panic"))
    })
}

/// Posts until the store fails.
fn post(writer: &Writer, of: &Organisation) -> Result<(), StoreError> {
    loop {
        let id = Id::random();
        writer.call(of, vec![id], move |tx| {
            tx.book(&Actor::OPERATOR, charge(id))
        })?;
        // One write for the whole line: a kill may cut it off, but never mix two.
        let line = format!("acknowledged {id}\n");
        let _ = std::io::stdout().lock().write_all(line.as_bytes());
    }
}

fn list(address: &Address) -> Result<(), StoreError> {
    let (mut db, of) = open(address)?;
    let kept = open_book(&mut db, &of)?.frontier;
    let mut grown = Frontier::new();
    let ids = transact(
        &mut db,
        &mut Books::new(),
        &of,
        &[],
        table(),
        Clock::real(),
        |tx| {
            let mut ids = Vec::new();
            for seq in 0..tx.next_seq() {
                let missing = || StoreError::Broken(format!("entry {seq} is missing"));
                let (bytes, _) = tx.leaf(seq)?.ok_or_else(missing)?;
                grown.push(leaf_hash(&bytes));
                let leaf = Leaf::parse(&bytes)
                    .map_err(|error| StoreError::Broken(format!("entry {seq}: {error}")))?;
                if leaf.kind == EntryKind::Charge.word() {
                    ids.push(leaf.id);
                }
            }
            if let Some(place) = tx.place_number(Place::Cylinder(CYLINDER))? {
                let left = -tx.subject(place)?.total();
                let charged = i128::from(gram().steps()) * ids.len() as i128;
                if left != charged {
                    let told = format!("{left} steps left the cylinder, {charged} were charged");
                    return Err(StoreError::Broken(told));
                }
            }
            Ok(ids)
        },
    )?;
    if grown.to_bytes() != kept.to_bytes() {
        return Err(StoreError::Broken(
            "the tree kept is not the tree of the leaves".to_owned(),
        ));
    }
    let lines: String = ids.iter().map(|id| format!("{id}\n")).collect();
    let _ = std::io::stdout().lock().write_all(lines.as_bytes());
    Ok(())
}

/// Opens the book, makes it where there is none.
fn open(address: &Address) -> Result<(Db, Organisation), StoreError> {
    let mut db = Db::open(address, Purpose::Write, true)?;
    migrations::migrate(&mut db)?;
    match organisation(&mut db, NAME) {
        Err(StoreError::NoOrganisation(_)) => {
            db.begin()?;
            let of = add_organisation(&mut db, NAME, &format!("tarebook/{}", Id::random()))?;
            db.commit()?;
            Ok((db, of))
        }
        found => Ok((db, found?)),
    }
}

/// Registers the cylinder and the appliance unless an earlier life has.
fn register(db: &mut Db, of: &Organisation) -> Result<(), StoreError> {
    transact(
        db,
        &mut Books::new(),
        of,
        &[],
        table(),
        Clock::real(),
        |tx| {
            for (kind, id, word) in [
                (EntryKind::Cylinder, CYLINDER, "cylinder"),
                (EntryKind::Appliance, APPLIANCE, "appliance"),
            ] {
                if tx.by_id(id)?.is_none() {
                    let mut draft = Draft::new(Id::random(), kind, happened(), Body::default());
                    let fact = Fact {
                        from: day(),
                        is: Some("R-410A".into()),
                    };
                    draft.body.subject = Some(Cow::Owned(format!("{word}:{id}")));
                    draft.body.facts =
                        Some(BTreeMap::from([(Cow::Borrowed("refrigerant"), vec![fact])]));
                    tx.book(&Actor::OPERATOR, draft)?;
                }
            }
            Ok(())
        },
    )
}

fn charge(id: Id) -> Draft {
    let moved = Moved {
        from: Place::Cylinder(CYLINDER),
        g: gram(),
        number: None,
        readings: None,
        refrigerant: Cow::Borrowed("R-410A"),
        to: Place::Appliance(APPLIANCE),
        typed: Some(Typed {
            text: Cow::Borrowed("1 g"),
            unit: Cow::Borrowed("g"),
        }),
    };
    let body = Body {
        movements: Some(vec![moved]),
        ..Body::default()
    };
    Draft::new(id, EntryKind::Charge, happened(), body)
}

fn gram() -> Mass {
    Mass::from_steps(100_000_000_000)
}

fn day() -> Day {
    Day::from_ymd(2026, 7, 14).expect("a day of the calendar")
}

fn happened() -> Happened<'static> {
    Happened {
        day: day(),
        offset: None,
        time: None,
        tzdb: Cow::Borrowed("2026a"),
        zone: Cow::Borrowed("UTC"),
    }
}

fn table() -> &'static Table {
    Table::shipped()
}
