//! How much processor time a large book takes. Run by hand, optimised:
//! `cargo test --release -p api --lib a_million_entries -- --ignored --nocapture`.

use super::*;
use crate::ledger::bundle::{Bundle, write};

#[test]
#[ignore = "a measurement: half a minute and 2 GB, optimised"]
fn a_million_entries() {
    let mut book = SampleBook::with_a_year();
    let mut machines = Vec::new();
    for number in 0..25_000_u64 {
        machines.push(format!("appliance:d23f0824-128b-4f33-8c5c-{number:012x}"));
    }
    for number in 0..1_100_000_usize {
        let machine = &machines[number * 7919 % machines.len()];
        let moved = moved(
            SUPPLY,
            machine,
            "6577.089365",
            readings("29 lb 4 oz", "14 lb 12 oz"),
        );
        let body = json!({ "reason": "leak_top_up", "returned_to_full_charge": true });
        let seq = book.moves("charge", moved, body, &[("note", "leak at the header")]);
        if number.is_multiple_of(100) {
            book.correct(seq, json!({ "reason": "did_not_happen" }));
        }
    }
    let bytes: usize = book.entries.iter().map(|entry| entry.leaf.len()).sum();
    println!(
        "{} entries of {} bytes",
        book.entries.len(),
        bytes / book.entries.len()
    );
    book.sign();
    let start = processor_time();
    let report = check(&mut book);
    println!("from memory: {:?}", processor_time() - start);
    assert!(report.holds(), "{report}");
    let file = tempfile::NamedTempFile::new().unwrap();
    let start = processor_time();
    write(&mut book, &mut std::io::BufWriter::new(file.as_file())).unwrap();
    println!(
        "written: {:?}, {} bytes",
        processor_time() - start,
        file.as_file().metadata().unwrap().len()
    );
    drop(book);
    let start = processor_time();
    let mut bundle = Bundle::open(file.path()).unwrap();
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
