//! What a person typed never stands in a leaf, and can be shown beside it (promise H9).

use api::ledger::canonical::{check, commitment, to_canonical};
use api::ledger::entry::{EntryKind, Leaf};
use harness::busy::WORDS;
use harness::shop::Shop;
use serde_json::Value;
use std::collections::BTreeSet;

/// H2: what the straight serialiser wrote is what a sorting one writes, for every kind there is.
#[test]
fn h2_every_leaf_of_a_busy_book_is_canonical() {
    let mut shop = Shop::busy();
    let mut kinds = BTreeSet::new();
    for bytes in shop.leaves() {
        check(&bytes).unwrap();
        let value: Value = serde_json::from_slice(&bytes).unwrap();
        assert_eq!(to_canonical(&value).unwrap(), bytes);
        assert_eq!(Leaf::parse(&bytes).unwrap().bytes(), bytes);
        kinds.insert(value["kind"].as_str().unwrap().to_string());
    }
    let all: BTreeSet<String> = EntryKind::ALL.map(|kind| kind.word().to_string()).into();
    assert_eq!(kinds, all, "the busy book holds every kind");
    shop.sound();
    shop.caches_agree();
}

/// H9: none of the words typed into any member stands in any leaf, in clear or escaped.
#[test]
fn h9_no_typed_word_stands_in_a_leaf() {
    let mut shop = Shop::busy();
    let leaves = shop.leaves();
    for bytes in &leaves {
        let text = String::from_utf8(bytes.clone()).unwrap().to_lowercase();
        for word in WORDS {
            assert!(!text.contains(&word.to_lowercase()), "{word}: {text}");
        }
    }
}

/// H9: every text lies beside its entry, opens its commitment, and no commitment has none.
#[test]
fn h9_every_typed_word_opens_its_commitment() {
    let mut shop = Shop::busy();
    let mut shown = BTreeSet::new();
    let mut salts = BTreeSet::new();
    for bytes in shop.leaves() {
        let leaf = Leaf::parse(&bytes).unwrap();
        let commits = leaf.commit.clone().unwrap_or_default();
        let beside = shop.inside(|tx| tx.disclosures(leaf.seq));
        assert_eq!(beside.len(), commits.len(), "no. {}", leaf.seq);
        for (field, salt, value) in beside {
            let made = commitment(leaf.id, &field, &salt, value.as_bytes());
            assert_eq!(commits[&*field], made, "no. {}: {field}", leaf.seq);
            assert!(salts.insert(salt), "a salt for every field of every entry");
            shown.insert(value);
        }
    }
    for word in WORDS {
        assert!(shown.contains(word), "{word} was typed and is kept nowhere");
    }
}

/// Every commitment names a member of the body that is absent there, or note or reason_text.
#[test]
fn h9_a_commitment_names_the_member_it_stands_for() {
    let mut shop = Shop::busy();
    for bytes in shop.leaves() {
        let leaf: Value = serde_json::from_slice(&bytes).unwrap();
        for path in leaf["commit"]
            .as_object()
            .into_iter()
            .flat_map(|it| it.keys())
        {
            if path == "note" || path == "reason_text" {
                continue;
            }
            let mut at = &leaf["body"];
            let parts: Vec<&str> = path.split('.').collect();
            let (last, above) = parts.split_last().unwrap();
            for part in above {
                at = match part.parse::<usize>() {
                    Ok(n) => &at[n],
                    Err(_) => &at[*part],
                };
            }
            match last.parse::<usize>() {
                // A dated fact stands there with its day and without its value.
                Ok(n) => assert!(at[n]["from"].is_string() && at[n]["is"].is_null(), "{path}"),
                Err(_) => assert!(at[*last].is_null(), "{path}"),
            }
        }
    }
}
