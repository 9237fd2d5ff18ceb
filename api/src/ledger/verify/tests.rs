//! A good book holds, and every way of spoiling one is found where it was done.

mod bodies;
mod million;

use super::*;
use crate::ledger::checkpoint::SigningKey;
use crate::ledger::sample::*;
use crate::ledger::tree::leaf_hash;
use serde_json::json;

fn check(book: &mut SampleBook) -> Report {
    verify(book, &[], &Options::default()).unwrap()
}

/// What was found, as (check, entry).
fn found(book: &mut SampleBook) -> Vec<(Check, Option<u64>)> {
    check(book)
        .breaks
        .iter()
        .map(|found| (found.check, found.entry))
        .collect()
}

/// Rewrites an entry as somebody could who holds the signing key, and says what is still found.
fn found_after(seq: u64, change: impl FnOnce(&mut serde_json::Value)) -> Vec<Check> {
    let mut book = SampleBook::with_a_year();
    book.rewrite(seq, change);
    book.sign_all_anew();
    let found = found(&mut book);
    assert!(
        found.iter().all(|(_, entry)| *entry == Some(seq)),
        "{found:?}"
    );
    found.into_iter().map(|(check, _)| check).collect()
}

// Numbers of the sample: 0 genesis, 1 engine, 2-4 registers, 5 purchase, 6 charge, 7 its
// correction, 8 recovery, 9 charge, 10 its annulment; checkpoints of 5, 8 and 11.

#[test]
fn a_good_book_holds() {
    let mut book = SampleBook::with_a_year();
    let trusted = book.note(6, &[&book.recovery]);
    let options = Options {
        keys: [&book.signing, &book.recovery]
            .map(|key| key.verification_key())
            .to_vec(),
        signed_to_its_end: true,
        ..Options::default()
    };
    let report = verify(&mut book, &[trusted], &options).unwrap();
    assert!(report.holds(), "{report}");
    assert_eq!(report.origin.as_deref(), Some(LOG));
    assert_eq!(
        (report.entries, report.checkpoints, report.signed_size),
        (11, 3, 11)
    );
    assert_eq!(report.trusted_checkpoints, 1);
    // Purchase, charge, reversed and replaced, recovery, charge, reversed.
    assert_eq!(
        (report.movements, report.masses, report.corrections),
        (7, 5, 2)
    );
    assert_eq!(
        (report.commitments, report.disclosures, report.attachments),
        (8, 8, 2)
    );
    assert!(report.not_understood.is_empty());
    assert!(report.to_string().ends_with("the book holds\n"));
}

#[test]
fn an_edited_leaf_is_found_at_its_entry() {
    let mut book = SampleBook::with_a_year();
    let at = book.entries[6].leaf.len() - 40;
    book.entries[6].leaf[at] ^= 1;
    let breaks = found(&mut book);
    assert!(breaks.contains(&(Check::LeafHash, Some(6))), "{breaks:?}");
    assert!(breaks.contains(&(Check::Checkpoint, Some(7))), "{breaks:?}");
    // With the hash beside it changed as well, the tree alone tells.
    let mut book = SampleBook::with_a_year();
    book.rewrite(6, |leaf| leaf["body"]["reason"] = json!("seasonal"));
    assert_eq!(found(&mut book), [(Check::Checkpoint, Some(7))]);
}

#[test]
fn a_missing_or_repeated_entry_is_found() {
    let mut book = SampleBook::with_a_year();
    book.entries.remove(6);
    let breaks = found(&mut book);
    assert_eq!(breaks[0], (Check::Sequence, Some(6)), "{breaks:?}");
    assert!(breaks.contains(&(Check::Checkpoint, Some(6))), "{breaks:?}");
    let mut book = SampleBook::with_a_year();
    let again = book.entries[6].clone();
    book.entries.insert(7, again);
    assert_eq!(found(&mut book), [(Check::Sequence, Some(6))]);
    let mut book = SampleBook::with_a_year();
    book.claimed_more = 2;
    assert_eq!(
        found(&mut book),
        [(Check::Sequence, Some(11)), (Check::Sequence, Some(12))]
    );
}

#[test]
fn swapped_entries_are_found() {
    let mut book = SampleBook::with_a_year();
    book.entries.swap(8, 9);
    (book.entries[8].seq, book.entries[9].seq) = (8, 9);
    book.sign_all_anew();
    let breaks = found(&mut book);
    for seq in [8, 9] {
        assert!(breaks.contains(&(Check::Frame, Some(seq))), "{breaks:?}");
    }
    assert!(breaks.contains(&(Check::BookedAt, Some(9))), "{breaks:?}");
    assert!(breaks.contains(&(Check::Nth, Some(9))), "{breaks:?}");
}

#[test]
fn history_rewritten_and_signed_anew_does_not_fit_an_older_checkpoint() {
    let mut book = SampleBook::with_a_year();
    let kept = book.note(8, &[&book.signing]);
    book.rewrite(5, |leaf| {
        let moved = &mut leaf["body"]["movements"][0];
        (moved["g"], moved["typed"]["text"]) = (json!("4535.9237"), json!("10 lb"));
    });
    book.sign_all_anew();
    assert!(check(&mut book).holds(), "by itself the forged book holds");
    let report = verify(&mut book, &[kept], &Options::default()).unwrap();
    let breaks: Vec<_> = report
        .breaks
        .iter()
        .map(|found| (found.check, found.entry))
        .collect();
    assert_eq!(breaks, [(Check::Checkpoint, Some(7))]);
}

#[test]
fn a_truncated_book_does_not_fit_an_older_checkpoint() {
    let mut book = SampleBook::with_a_year();
    let kept = book.note(11, &[&book.signing]);
    book.entries.truncate(8);
    let breaks = found(&mut book);
    assert!(
        breaks.contains(&(Check::Checkpoint, Some(10))),
        "{breaks:?}"
    );
    book.checkpoints.remove(&11);
    book.disclosures.retain(|disclosure| disclosure.seq < 8);
    assert!(check(&mut book).holds());
    let report = verify(&mut book, &[kept], &Options::default()).unwrap();
    assert_eq!(
        report.breaks[0].expected,
        "11 entries, as a checkpoint was signed over them"
    );
}

#[test]
fn checkpoints_need_a_key_of_the_book() {
    let mut book = SampleBook::with_a_year();
    let stranger = SigningKey::from_seed(LOG, &[9; 32]).unwrap();
    let note = book.note(8, &[&stranger]);
    book.checkpoints.insert(8, note.to_string());
    assert_eq!(found(&mut book), [(Check::Signature, Some(7))]);
    // A stranger's line beside a good one does no harm; a bad line of our own key does.
    let mut note = book.note(8, &[&stranger, &book.signing]);
    book.checkpoints.insert(8, note.to_string());
    assert_eq!(found(&mut book), []);
    note.signatures[1].bytes[0] ^= 1;
    book.checkpoints.insert(8, note.to_string());
    assert_eq!(found(&mut book), [(Check::Signature, Some(7))]);
    // Kept under another size, and no note at all.
    let note = book.note(5, &[&book.signing]);
    book.checkpoints.insert(8, note.to_string());
    assert_eq!(found(&mut book), [(Check::Checkpoint, Some(7))]);
    book.checkpoints.insert(8, "no note".to_string());
    assert_eq!(found(&mut book), [(Check::Checkpoint, Some(7))]);
    // Keys known from elsewhere.
    let mut book = SampleBook::with_a_year();
    let options = Options {
        keys: vec![stranger.verification_key()],
        ..Options::default()
    };
    let report = verify(&mut book, &[], &options).unwrap();
    assert_eq!(report.breaks[0].check, Check::Genesis);
}

/// A forger can name the key everybody knows in a book of his own; he cannot sign with it.
#[test]
fn a_book_that_only_names_a_known_key_is_found() {
    let known = SampleBook::new().signing.verification_key();
    let only = |keys: &[VerificationKey]| Options {
        keys: keys.to_vec(),
        ..Options::default()
    };
    let mut forged = SampleBook::with_a_year();
    let (recovery, own) = (forged.recovery.verification_key(), forged.recovery.clone());
    forged.signing = own;
    forged.sign_all_anew();
    assert!(
        check(&mut forged).holds(),
        "by itself the forged book holds"
    );
    let report = verify(&mut forged, &[], &only(std::slice::from_ref(&known))).unwrap();
    let found: Vec<Check> = report.breaks.iter().map(|found| found.check).collect();
    assert_eq!(found, [Check::Signature; 3], "{report}");
    let both = only(&[known.clone(), recovery]);
    assert!(verify(&mut forged, &[], &both).unwrap().holds());
    // And whoever signs nothing proves nothing.
    forged.checkpoints.clear();
    assert!(check(&mut forged).holds());
    let report = verify(&mut forged, &[], &only(std::slice::from_ref(&known))).unwrap();
    assert_eq!(report.breaks[0].check, Check::Signature, "{report}");
}

#[test]
fn entries_after_the_newest_checkpoint_of_a_bundle_are_found() {
    let to_its_end = Options {
        signed_to_its_end: true,
        ..Options::default()
    };
    let mut book = SampleBook::with_a_year();
    book.charge();
    assert!(
        check(&mut book).holds(),
        "a book at work waits for its next checkpoint"
    );
    let report = verify(&mut book, &[], &to_its_end).unwrap();
    assert_eq!(
        (report.breaks.len(), report.breaks[0].entry),
        (1, Some(11)),
        "{report}"
    );
    let mut nothing = SampleBook::with_a_year();
    nothing.entries.clear();
    nothing.checkpoints.clear();
    assert!(!verify(&mut nothing, &[], &to_its_end).unwrap().holds());
}

#[test]
fn frames_are_compared_from_entry_to_entry() {
    assert_eq!(
        found_after(6, |leaf| leaf["seq"] = json!(7)),
        [Check::Frame]
    );
    let other = "tarebook/00000000-0000-4000-8000-000000000000";
    assert_eq!(
        found_after(6, |leaf| leaf["log"] = json!(other)),
        [Check::Frame]
    );
    let earlier = "2026-07-14T00:00:01.000Z";
    assert_eq!(
        found_after(6, |leaf| leaf["booked_at"] = json!(earlier)),
        [Check::BookedAt]
    );
    let offset = "2026-07-14T00:00:06+00:00";
    assert_eq!(
        found_after(6, |leaf| leaf["booked_at"] = json!(offset)),
        [Check::BookedAt]
    );
    // The next entry about the rack counts on from there: each step is named once.
    let mut book = SampleBook::with_a_year();
    book.rewrite(9, |leaf| leaf["nth"][RACK] = json!(9));
    book.sign_all_anew();
    assert_eq!(
        found(&mut book),
        [(Check::Nth, Some(9)), (Check::Nth, Some(10))]
    );
    let without = found_after(10, |leaf| {
        drop(leaf["nth"].as_object_mut().unwrap().remove(RACK))
    });
    assert_eq!(without, [Check::Nth]);
    let kind = found_after(1, |leaf| leaf["kind"] = json!("genesis"));
    assert_eq!(kind, [Check::Genesis]);
}

#[test]
fn ids_are_unique() {
    let mut book = SampleBook::with_a_year();
    let id = book.leaf(3)["id"].clone();
    book.disclosures.retain(|disclosure| disclosure.seq != 8);
    book.rewrite(8, |leaf| leaf["id"] = id);
    book.sign_all_anew();
    let report = check(&mut book);
    assert_eq!(report.breaks.len(), 1, "{report}");
    assert!(
        report.breaks[0].found.ends_with("which is no. 3"),
        "{report}"
    );
}

#[test]
fn what_is_not_understood_is_counted_and_proves_its_place() {
    for change in [
        (|leaf| leaf["kind"] = json!("charge.2")) as fn(&mut serde_json::Value),
        |leaf| leaf["body"]["humidity"] = json!("40"),
        |leaf| leaf["weather"] = json!("fair"),
        |leaf| leaf["v"] = json!(2),
    ] {
        let mut book = SampleBook::with_a_year();
        book.rewrite(6, change);
        book.sign_all_anew();
        let report = check(&mut book);
        assert!(report.holds(), "{report}");
        assert_eq!(report.not_understood.values().sum::<u64>(), 1);
        book.rewrite(6, |leaf| leaf["seq"] = json!(60));
        book.sign_all_anew();
        assert_eq!(found(&mut book), [(Check::Frame, Some(6))]);
    }
}

#[test]
fn what_is_no_entry_is_found() {
    for bytes in [&b"{}"[..], b"", b"\xff", b"{\"seq\":6}"] {
        let mut book = SampleBook::with_a_year();
        book.entries[6].leaf = bytes.to_vec();
        book.entries[6].hash = leaf_hash(bytes);
        book.sign_all_anew();
        assert!(found(&mut book).contains(&(Check::Frame, Some(6))));
    }
    let mut book = SampleBook::with_a_year();
    let leaf = serde_json::to_vec_pretty(&book.leaf(6)).unwrap();
    book.entries[6].hash = leaf_hash(&leaf);
    book.entries[6].leaf = leaf;
    book.sign_all_anew();
    assert_eq!(found(&mut book), [(Check::Canonical, Some(6))]);
}

#[test]
fn all_breaks_are_counted_and_the_first_are_written_out() {
    let mut book = SampleBook::with_a_year();
    for entry in &mut book.entries {
        entry.hash[0] ^= 1;
    }
    let options = Options {
        most_breaks: 3,
        ..Options::default()
    };
    let report = verify(&mut book, &[], &options).unwrap();
    assert_eq!((report.breaks.len(), report.breaks_found), (3, 11));
    assert!(report.to_string().contains("and 8 more breaks"), "{report}");
    let mut nothing = SampleBook::with_a_year();
    nothing.entries.clear();
    assert!(!check(&mut nothing).holds(), "checkpoints without entries");
}
