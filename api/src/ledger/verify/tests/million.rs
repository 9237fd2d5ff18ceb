//! How long a large book takes. Run by hand, optimised:
//! `cargo test --release -p api --lib a_million_entries -- --ignored --nocapture`.

use super::*;
use crate::ledger::bundle::{Bundle, write};
use std::time::Instant;

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
    let start = Instant::now();
    let report = check(&mut book);
    println!("from memory: {:?}", start.elapsed());
    assert!(report.holds(), "{report}");
    let disclosures = std::mem::take(&mut book.disclosures);
    let start = Instant::now();
    assert!(check(&mut book).holds());
    println!("from memory, without texts: {:?}", start.elapsed());
    book.disclosures = disclosures;
    let file = tempfile::NamedTempFile::new().unwrap();
    let start = Instant::now();
    write(&mut book, &mut std::io::BufWriter::new(file.as_file())).unwrap();
    println!(
        "written: {:?}, {} bytes",
        start.elapsed(),
        file.as_file().metadata().unwrap().len()
    );
    drop(book);
    let start = Instant::now();
    let mut bundle = Bundle::open(file.path()).unwrap();
    let report = verify(&mut bundle, &[], &Options::default()).unwrap();
    println!("from a bundle: {:?}", start.elapsed());
    assert!(report.holds(), "{report}");
    println!("{report}");
}
