//! Golden leaves: one for every kind and version, byte for byte, for ever (model: the leaf).
//!
//! `tests/references/leaves` holds them. Five are those of the specification's worked examples,
//! the others were written by hand in the same spelling and put into RFC 8785 order by Python's
//! json; no byte was taken from this program. Promise H2: a program that wrote or read these bytes
//! otherwise would break every book. What the door books today must have exactly their members.

use api::ledger::canonical::{check, commitment, to_canonical};
use api::ledger::entry::{EntryKind, Leaf};
use serde_json::Value;
use std::path::PathBuf;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("references/leaves")
}

/// The bytes of the golden leaf of a kind; the file ends with one line feed that is not hashed.
pub fn golden(kind: &str) -> Vec<u8> {
    let file = folder().join(format!("{kind}.json"));
    let mut bytes = std::fs::read(&file).unwrap_or_else(|error| panic!("{file:?}: {error}"));
    assert_eq!(bytes.pop(), Some(b'\n'), "{file:?}");
    bytes
}

/// H2: every kind has its leaf, and reading and writing it gives the same bytes.
#[test]
fn h2_every_golden_leaf_is_understood_and_written_again_byte_for_byte() {
    for kind in EntryKind::ALL {
        let bytes = golden(kind.word());
        let leaf = Leaf::parse(&bytes).unwrap_or_else(|error| panic!("{}: {error}", kind.word()));
        assert_eq!((&*leaf.kind, leaf.v), (kind.word(), 1));
        assert_eq!(text(&leaf.bytes()), text(&bytes), "{}", kind.word());
        check(&bytes).unwrap_or_else(|error| panic!("{}: {error}", kind.word()));
        let value: Value = serde_json::from_slice(&bytes).unwrap();
        assert_eq!(text(&to_canonical(&value).unwrap()), text(&bytes));
    }
    let files = std::fs::read_dir(folder()).unwrap().count();
    assert_eq!(files, EntryKind::ALL.len() + 1, "and disclosures.json");
}

/// H9 and S4: a leaf with a member nobody knows, or in another spelling, is not taken for this one.
#[test]
fn h2_a_golden_leaf_with_anything_added_is_not_understood() {
    for kind in EntryKind::ALL {
        let known = text(&golden(kind.word()));
        let grown = known.replacen("\"body\":{", "\"body\":{\"aaa\":1,", 1);
        assert!(Leaf::parse(grown.as_bytes()).is_err(), "{}", kind.word());
        let spaced = known.replacen("\"body\":", "\"body\": ", 1);
        assert!(check(spaced.as_bytes()).is_err(), "{}", kind.word());
    }
}

/// H9: the texts beside the golden leaves open their commitments, and another text does not.
#[test]
fn h9_the_commitments_of_golden_leaves_open() {
    use base64::Engine;
    let beside = std::fs::read(folder().join("disclosures.json")).unwrap();
    let beside: Value = serde_json::from_slice(&beside).unwrap();
    let mut opened = 0;
    for kind in EntryKind::ALL {
        let bytes = golden(kind.word());
        let leaf = Leaf::parse(&bytes).unwrap();
        let texts = beside[kind.word()].as_array().cloned().unwrap_or_default();
        let commits = leaf.commit.clone().unwrap_or_default();
        assert_eq!(commits.len(), texts.len(), "{}", kind.word());
        for disclosed in texts {
            let member = |name: &str| disclosed[name].as_str().unwrap();
            let salt = base64::engine::general_purpose::STANDARD.decode(member("salt"));
            let salt: [u8; 32] = salt.unwrap().try_into().unwrap();
            let field = member("field");
            let made = |value: &str| commitment(leaf.id, field, &salt, value.as_bytes());
            assert_eq!(commits[field], made(member("value")), "{field}");
            assert_ne!(commits[field], made("another text"));
            opened += 1;
        }
    }
    assert_eq!(opened, 24);
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}
