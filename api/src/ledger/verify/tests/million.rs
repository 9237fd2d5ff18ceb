//! How much processor time a large book takes. Run by hand, optimised:
//! `cargo test --release -p api --lib a_million -- --ignored --nocapture --test-threads 1`.

use super::*;
use crate::ledger::bundle::{Bundle, write};
use crate::ledger::source::BookSource;

const ENTRIES: usize = 1_100_000;

#[test]
#[ignore = "a measurement: a minute and 3 GB, optimised"]
fn a_million_weighed_on_site() {
    let mut book = SampleBook::with_a_year();
    for number in 0..ENTRIES {
        let machine = machine(number);
        let moved = moved(
            SUPPLY,
            &machine,
            "6577.089365",
            readings("29 lb 4 oz", "14 lb 12 oz"),
        );
        let body = json!({ "reason": "leak_top_up", "returned_to_full_charge": true });
        let seq = book.moves("charge", moved, body, &[("note", "leak at the header")]);
        if number.is_multiple_of(100) {
            book.correct(seq, json!({ "reason": "did_not_happen" }));
        }
    }
    measure(book);
}

#[test]
#[ignore = "a measurement: a minute and 2 GB, optimised"]
fn a_million_imported() {
    let mut book = SampleBook::with_a_year();
    for number in 0..ENTRIES {
        let machine = machine(number);
        let moved = moved(SUPPLY, &machine, "6577.089365", typed("14.5"));
        let row = json!({ "entry": "019fc808-1240-74e3-9a61-dbe22e44158b", "row": number + 2 });
        let seq = book.moves("charge", moved, json!({ "import": row }), &[]);
        book.rewrite(seq, |leaf| {
            for member in ["device", "by"] {
                leaf.as_object_mut().unwrap().remove(member);
            }
            let day = json!({ "day": "2025-07-14", "tzdb": "2026a", "zone": "UTC" });
            leaf["happened"] = day;
        });
    }
    measure(book);
}

fn machine(number: usize) -> String {
    let machine = number * 7919 % 25_000;
    format!("appliance:d23f0824-128b-4f33-8c5c-{machine:012x}")
}

fn measure(mut book: SampleBook) {
    let bytes: usize = book.entries.iter().map(|entry| entry.leaf.len()).sum();
    let (count, mean) = (book.entries.len(), bytes / book.entries.len());
    println!("{count} entries of {mean} bytes");
    book.sign();
    let start = processor_time();
    let report = check(&mut book);
    println!("from memory: {:?}", processor_time() - start);
    assert!(report.holds(), "{report}");
    let file = tempfile::NamedTempFile::new().unwrap();
    let start = processor_time();
    write(&mut book, &mut std::io::BufWriter::new(file.as_file())).unwrap();
    let bytes = file.as_file().metadata().unwrap().len();
    println!("written: {:?}, {bytes} bytes", processor_time() - start);
    drop(book);
    let start = processor_time();
    let mut bundle = Bundle::open(file.path()).unwrap();
    println!("opened: {:?}", processor_time() - start);
    assert_eq!(bundle.size().unwrap(), count as u64);
    let report = verify(&mut bundle, &[], &Options::default()).unwrap();
    println!("from a bundle: {:?}", processor_time() - start);
    assert!(report.holds(), "{report}");
    println!("{report}");
}

/// What this thread has used of the processor (Linux).
fn processor_time() -> std::time::Duration {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap();
    std::time::Duration::from_nanos(text.split(' ').next().unwrap().parse().unwrap())
}
