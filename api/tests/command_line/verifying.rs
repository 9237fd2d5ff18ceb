//! `verify` from the command line: what is a break (exit code 3), and what only could not be read.

use crate::desk::*;

/// One edited byte is a break (exit code 3), in the database and in a bundle.
/// E42: a changed byte of an export is named offline.
#[test]
fn one_changed_byte_is_a_break() {
    let desk = Desk::with_book();
    desk.on_book(&["export", "--out", "book.tar"]).ends_with(0);
    for file in ["book.tar", "book/tarebook.sqlite"] {
        let path = desk.path().join(file);
        let mut bytes = std::fs::read(&path).unwrap();
        let word = b"4195.7294225";
        let at = bytes
            .windows(word.len())
            .position(|window| window == word)
            .unwrap();
        bytes[at] = b'5';
        std::fs::write(&path, bytes).unwrap();
    }
    let ended = desk.on_book(&["verify"]).ends_with(3);
    assert!(ended.out().contains("BREAK no. "), "{}", ended.out());
    let ended = desk.run(&["verify", "--bundle", "book.tar"]).ends_with(3);
    assert!(ended.out().contains("BREAK no. "), "{}", ended.out());
}

/// H2: whoever knows the key of a book is not taken in by another book that verifies in itself.
#[test]
fn a_book_that_began_with_another_key_is_a_break() {
    let desk = Desk::with_book();
    desk.good(&["init", "--data", "other", "--organisation", FIRM]);
    desk.on_book(&["export", "--out", "book.tar"]).ends_with(0);
    let key_of = |folder: &str| {
        let keys = std::fs::read_dir(desk.path().join(folder).join("keys")).unwrap();
        let file = keys.map(|file| file.unwrap().path());
        let file = file.filter(|file| file.extension().is_some_and(|end| end == "key"));
        let line = std::fs::read_to_string(file.last().unwrap()).unwrap();
        let key = api::ledger::checkpoint::SigningKey::parse(&line).unwrap();
        key.verification_key().to_string()
    };
    let (own, other) = (key_of("book"), key_of("other"));
    desk.good(&["verify", "--bundle", "book.tar", "--key", &own]);
    desk.on_book(&["verify", "--key", &own]).ends_with(0);
    let ended = desk
        .run(&["verify", "--bundle", "book.tar", "--key", &other])
        .ends_with(3);
    assert!(ended.out().contains(&other), "{}", ended.out());
    desk.run(&["verify", "--bundle", "book.tar", "--key", "no key"])
        .ends_with(2)
        .says("expected a verification key or a file of them");
    desk.write("known", &format!("{own}\n\n{other}\n"));
    desk.good(&["verify", "--bundle", "book.tar", "--key", "known"]);
    desk.write("known", &format!("{other}\n"));
    desk.run(&["verify", "--bundle", "book.tar", "--key", "known"])
        .ends_with(3);
    desk.write("known", "\n");
    desk.run(&["verify", "--bundle", "book.tar", "--key", "known"])
        .ends_with(2)
        .says("came an empty file");
}

#[test]
fn a_file_that_is_no_whole_bundle_is_a_break_and_no_file_is_a_failure() {
    let desk = Desk::with_book();
    desk.on_book(&["export", "--out", "book.tar"]).ends_with(0);
    let whole = std::fs::read(desk.path().join("book.tar")).unwrap();
    std::fs::write(desk.path().join("cut.tar"), &whole[..whole.len() / 2]).unwrap();
    desk.run(&["verify", "--bundle", "cut.tar"])
        .ends_with(3)
        .says("cut.tar: ");
    desk.write("prose.tar", "This is no bundle.");
    desk.run(&["verify", "--bundle", "prose.tar"])
        .ends_with(3)
        .says("prose.tar: expected a whole tar file");
    // A tar file without any member.
    std::fs::write(desk.path().join("empty.tar"), [0; 1024]).unwrap();
    desk.run(&["verify", "--bundle", "empty.tar"]).ends_with(3);
    // One line of the disclosures is no JSON any more: the file and the line are named.
    let (line, spoilt) = (b"{\"field\":", b"?\"field\":");
    let at = whole.windows(line.len()).rposition(|part| part == line);
    let mut torn = whole.clone();
    torn[at.unwrap()..][..line.len()].copy_from_slice(spoilt);
    std::fs::write(desk.path().join("torn.tar"), torn).unwrap();
    desk.run(&["verify", "--bundle", "torn.tar"])
        .ends_with(3)
        .says("torn.tar: disclosures/000.jsonl: line ");
    // A folder is no file: that is no proof of anything.
    desk.run(&["verify", "--bundle", "book"]).ends_with(1);
    desk.run(&["verify", "--bundle", "nowhere.tar"])
        .ends_with(1);
}
