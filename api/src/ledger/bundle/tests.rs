//! A bundle says all that the book says, always in the same bytes, and no more than is signed.

use super::*;
use crate::ledger::sample::*;
use crate::ledger::source::BookSource;
use crate::ledger::verify::{Check, Options, Report, verify};
use std::io::Cursor;
use std::path::Path;

fn written(book: &mut SampleBook) -> Vec<u8> {
    let mut bytes = Vec::new();
    write(book, &mut bytes).unwrap();
    bytes
}

fn opened(bytes: &[u8]) -> Bundle<Cursor<Vec<u8>>> {
    Bundle::new(Cursor::new(bytes.to_vec())).unwrap()
}

fn check(bytes: &[u8]) -> Report {
    verify(&mut opened(bytes), &[], &Options::default()).unwrap()
}

/// More than one full tile, so that levels above the lowest are there.
fn long_book(entries: usize) -> SampleBook {
    let mut book = SampleBook::with_a_year();
    while book.entries.len() < entries {
        book.charge();
        if book.entries.len().is_multiple_of(100) {
            book.correct_charge();
            book.sign();
        }
    }
    book.sign();
    book
}

#[test]
fn a_bundle_says_what_the_book_says() {
    for entries in [11, 256, 700] {
        let mut book = long_book(entries);
        let bytes = written(&mut book);
        assert_eq!(bytes, written(&mut book), "the same bytes each time");
        let mut bundle = opened(&bytes);
        assert_eq!(bundle.size().unwrap(), book.entries.len() as u64);
        for block in 0..3 {
            assert_eq!(bundle.block(block).unwrap(), book.block(block).unwrap());
            assert_eq!(
                bundle.disclosures(block).unwrap(),
                book.disclosures(block).unwrap()
            );
        }
        assert_eq!(
            bundle.checkpoints(5, 2).unwrap(),
            book.checkpoints(5, 2).unwrap()
        );
        assert_eq!(bundle.others(), ["README.txt", "checkpoint", "vkeys"]);
        let (report, direct) = (
            check(&bytes),
            verify(&mut book, &[], &Options::default()).unwrap(),
        );
        assert!(report.holds(), "{report}");
        assert_eq!(report, direct);
    }
}

#[test]
fn what_is_not_signed_is_left_out() {
    let mut book = SampleBook::with_a_year();
    let signed = written(&mut book);
    book.charge();
    assert_eq!(written(&mut book), signed);
    let mut unsigned = SampleBook::new();
    assert!(write(&mut unsigned, &mut Vec::new()).is_err());
    let mut gap = SampleBook::with_a_year();
    gap.entries.remove(4);
    let error = write(&mut gap, &mut Vec::new()).unwrap_err().to_string();
    assert_eq!(error, "entry no. 4 is missing");
}

/// A byte changed anywhere in the content of any member that is part of the book is found.
#[test]
fn a_changed_byte_is_found() {
    let bytes = written(&mut long_book(300));
    let mut archive = tar::Archive::new(Cursor::new(bytes.clone()));
    let mut spoilt = 0;
    for member in archive.entries_with_seek().unwrap() {
        let member = member.unwrap();
        let name = String::from_utf8(member.path_bytes().into_owned()).unwrap();
        let at = member.raw_file_position() as usize;
        let size = member.size() as usize;
        if ["README.txt", "checkpoint", "vkeys"].contains(&name.as_str()) {
            continue;
        }
        for offset in [0, size / 3, size / 2, size - 1] {
            let mut bytes = bytes.clone();
            bytes[at + offset] ^= 1;
            let Ok(mut bundle) = Bundle::new(Cursor::new(bytes)) else {
                continue;
            };
            let report = verify(&mut bundle, &[], &Options::default());
            assert!(
                !report.is_ok_and(|report| report.holds()),
                "{name} at {offset}"
            );
            spoilt += 1;
        }
    }
    assert!(spoilt > 40, "{spoilt}");
}

#[test]
fn a_stored_tile_that_does_not_follow_is_named() {
    let bytes = written(&mut long_book(300));
    let mut bundle = opened(&bytes);
    let mut archive = tar::Archive::new(Cursor::new(bytes.clone()));
    let tile = archive.entries_with_seek().unwrap().map(Result::unwrap);
    let mut tiles = tile.filter(|m| m.path_bytes().starts_with(b"tile/1/"));
    let at = tiles.next().unwrap().raw_file_position() as usize;
    let mut spoilt = bytes.clone();
    spoilt[at] ^= 1;
    let report = check(&spoilt);
    assert_eq!(report.breaks[0].check, Check::Tile, "{report}");
    assert!(
        verify(&mut bundle, &[], &Options::default())
            .unwrap()
            .holds()
    );
}

#[test]
fn strange_files_are_refused() {
    let tar = |members: &[(&str, tar::EntryType)]| {
        let mut tar = tar::Builder::new(Vec::new());
        for (name, kind) in members {
            let mut header = tar::Header::new_ustar();
            header.set_entry_type(*kind);
            header.set_size(1);
            tar.append_data(&mut header, name, &b"x"[..]).unwrap();
        }
        Bundle::new(Cursor::new(tar.into_inner().unwrap()))
    };
    let file = tar::EntryType::Regular;
    assert!(tar(&[("a", file), ("b", file)]).is_ok());
    assert!(tar(&[("a", file), ("a", file)]).is_err());
    assert!(tar(&[("a", tar::EntryType::Directory)]).is_err());
    assert!(tar(&[("checkpoints/x", file)]).is_err());
    assert!(tar(&[("checkpoints/01", file)]).is_err());
    assert!(tar(&[("attachments/00", file)]).is_err());
    assert!(tar(&[("disclosures/000.jsonl", file)]).is_err());
    assert!(tar(&[("tile/entries/000", file), ("tile/entries/000.p/3", file)]).is_err());
    assert!(
        tar(&[("tile/entries/000", file)])
            .unwrap()
            .block(0)
            .is_err()
    );
    assert!(Bundle::new(Cursor::new(vec![7; 4096])).is_err());
}

/// Writes a sample for software that is not ours (`tests/independent/run.sh` asks for it by
/// `TAREBOOK_SAMPLE`, a folder): the bundle, the key to trust and an older checkpoint.
#[test]
fn a_sample_for_other_software() {
    let folder = tempfile::tempdir().unwrap();
    let asked = std::env::var_os("TAREBOOK_SAMPLE");
    let folder = asked.as_deref().map_or(folder.path(), Path::new);
    let mut book = long_book(700);
    let (bundle, key) = (
        written(&mut book),
        book.signing.verification_key().to_string(),
    );
    std::fs::write(folder.join("sample.tar"), &bundle).unwrap();
    std::fs::write(folder.join("sample.vkey"), format!("{key}\n")).unwrap();
    std::fs::write(
        folder.join("sample.key"),
        format!("{}\n", book.signing.private_text()),
    )
    .unwrap();
    let old = book.note(333, &[&book.signing]);
    std::fs::write(folder.join("old-checkpoint"), old.to_string()).unwrap();
    let mut read = Bundle::open(&folder.join("sample.tar")).unwrap();
    assert!(
        verify(&mut read, &[old], &Options::default())
            .unwrap()
            .holds()
    );
}
