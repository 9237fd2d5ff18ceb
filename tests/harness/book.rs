//! A book read back, leaf by leaf, and worked out anew by slow code that shares nothing with it.
//!
//! Tests call [`Shop::sound`] after whatever they did: it proves that numbers and counts are dense,
//! that ids are unique, that every leaf is canonical, that the root is the one RFC 6962, section
//! 2.1, defines, that every refrigerant sums to zero over all places (promise M1) and that the
//! balances kept are those of the leaves.

use crate::shop::{CLOCK, Shop};
use api::ledger::place::Place;
use api::ledger::verify::{Options, verify};
use api::store::source::StoredBook;
use api::store::tx::Tx;
use api::store::writer::transact;
use api::store::{StoreError, open, rebuild};
use reports::refrigerant::Table;
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};

/// Mass in steps by place and refrigerant, as text of a leaf.
pub type Balances = BTreeMap<(String, String), i128>;

impl Shop {
    /// Reads inside a transaction of its own.
    pub fn inside<T>(&mut self, mut with: impl FnMut(&mut Tx<'_>) -> Result<T, StoreError>) -> T {
        let table = Table::shipped();
        transact(
            &mut self.db,
            &mut self.books,
            &self.of,
            &[],
            table,
            CLOCK,
            |tx| with(tx),
        )
        .expect("the book can be read")
    }

    /// All leaves, from no. 0.
    pub fn leaves(&mut self) -> Vec<Vec<u8>> {
        self.inside(|tx| {
            let size = tx.next_seq();
            let read = |seq| Ok(tx.leaf(seq)?.expect("entries are dense").0);
            (0..size).map(read).collect()
        })
    }

    /// One leaf, as JSON.
    pub fn leaf(&mut self, seq: u64) -> Value {
        let bytes = self.inside(|tx| Ok(tx.leaf(seq)?.expect("there is such an entry").0));
        serde_json::from_slice(&bytes).expect("a leaf is JSON")
    }

    /// Codes and grades of the findings of an entry; true: settled.
    pub fn findings(&mut self, seq: u64) -> Vec<(String, String, bool)> {
        let found = self.inside(|tx| tx.findings_of(seq));
        let short = |(code, _, grade, settled): (String, _, String, Option<u64>)| {
            (code, grade, settled.is_some())
        };
        found.into_iter().map(short).collect()
    }

    /// The balances kept, of every place that occurs in a leaf, zeros left out.
    pub fn kept_balances(&mut self) -> Balances {
        let places: BTreeSet<String> = worked_out(&self.leaves())
            .into_keys()
            .map(|it| it.0)
            .collect();
        let table = Table::shipped();
        self.inside(|tx| {
            let mut kept = Balances::new();
            for name in &places {
                let place = Place::parse(name).expect("a place of a leaf");
                let number = tx.place_number(place)?.expect("a known place");
                for (code, mass) in &tx.subject(number)?.balances {
                    let designation = table.designation(*code).expect("of the table");
                    kept.insert((name.clone(), designation.to_string()), *mass);
                }
            }
            kept.retain(|_, mass| *mass != 0);
            Ok(kept)
        })
    }

    /// Everything that must hold of any book at any moment.
    pub fn sound(&mut self) {
        let leaves = self.leaves();
        let mut counts = BTreeMap::new();
        let mut ids = BTreeSet::new();
        let mut newest = String::new();
        for (seq, bytes) in leaves.iter().enumerate() {
            let leaf: Value = serde_json::from_slice(bytes).expect("a leaf is JSON");
            assert_eq!(leaf["seq"], seq as u64, "numbers are dense");
            assert!(ids.insert(leaf["id"].to_string()), "ids are unique");
            let booked_at = leaf["booked_at"].as_str().expect("a moment").to_string();
            assert!(booked_at >= newest, "H6: booked_at never decreases");
            newest = booked_at;
            for (subject, nth) in leaf["nth"].as_object().into_iter().flatten() {
                let count = counts.entry(subject.clone()).or_insert(0);
                *count += 1;
                assert_eq!(nth, count, "counts of {subject} are dense, no. {seq}");
            }
        }
        let mut worked_out = worked_out(&leaves);
        let mut sums: BTreeMap<&String, i128> = BTreeMap::new();
        for ((_, refrigerant), mass) in &worked_out {
            *sums.entry(refrigerant).or_default() += mass;
        }
        assert!(sums.values().all(|sum| *sum == 0), "M1: {sums:?}");
        worked_out.retain(|_, mass| *mass != 0);
        assert_eq!(self.kept_balances(), worked_out, "balances");
        let hashes: Vec<[u8; 32]> = leaves.iter().map(|leaf| hash(0, &[leaf])).collect();
        let frontier = open::open_book(&mut self.db, &self.of)
            .expect("a book")
            .frontier;
        assert_eq!(frontier.root(), root(&hashes), "the root of the tree");
        self.verifies();
    }

    /// The program's own verifier finds no break: leaves, columns, counts, masses, corrections.
    pub fn verifies(&mut self) {
        let mut stored = StoredBook::open(&mut self.db, self.of.org).expect("a book");
        let report = verify(&mut stored, &[], &Options::default()).expect("a readable book");
        assert!(report.holds(), "{report}");
    }

    /// Every cache on disk is what the entries say (promise M4).
    pub fn caches_agree(&mut self) {
        assert_eq!(self.differences(), Vec::<String>::new());
    }

    /// What a check of all that is cached says while the database was changed behind its back.
    pub fn told_of(&mut self, change: &str) -> Vec<String> {
        self.db
            .batch(&format!(
                "CREATE TABLE kept_findings AS SELECT * FROM findings; \
            CREATE TABLE kept_subjects AS SELECT * FROM subjects; {change}"
            ))
            .expect("changed");
        let told = self.differences();
        self.db
            .batch(
                "DELETE FROM findings; INSERT INTO findings SELECT * FROM kept_findings; \
            DELETE FROM subjects; INSERT INTO subjects SELECT * FROM kept_subjects; \
            DROP TABLE kept_findings; DROP TABLE kept_subjects",
            )
            .expect("as it was");
        told
    }

    fn differences(&mut self) -> Vec<String> {
        let found = rebuild::rebuild(&mut self.db, &self.of, Table::shipped(), true);
        found.expect("a rebuild").differences
    }
}

/// Balances by plain addition over the leaves.
pub fn worked_out(leaves: &[Vec<u8>]) -> Balances {
    let mut balances = Balances::new();
    for bytes in leaves {
        let leaf: Value = serde_json::from_slice(bytes).expect("a leaf is JSON");
        let body = &leaf["body"];
        for list in [
            &body["movements"],
            &body["reverse"],
            &body["replace"]["body"]["movements"],
        ] {
            for moved in list.as_array().into_iter().flatten() {
                let text = |name: &str| moved[name].as_str().expect("text").to_string();
                let mass = steps(&text("g"));
                let refrigerant = text("refrigerant");
                let from = (text("from"), refrigerant.clone());
                *balances.entry(from).or_default() -= mass;
                *balances.entry((text("to"), refrigerant)).or_default() += mass;
            }
        }
    }
    balances
}

/// Steps of 10^-11 g of a decimal in grams.
pub fn steps(grams: &str) -> i128 {
    let (whole, part) = grams.split_once('.').unwrap_or((grams, ""));
    let digits = format!("{whole}{part:0<11}");
    digits.parse().expect("a decimal of at most eleven places")
}

fn hash(prefix: u8, parts: &[&[u8]]) -> [u8; 32] {
    let mut hasher = Sha256::new_with_prefix([prefix]);
    parts.iter().for_each(|part| hasher.update(part));
    hasher.finalize().into()
}

/// MTH of RFC 6962, section 2.1, word for word.
fn root(hashes: &[[u8; 32]]) -> [u8; 32] {
    match hashes {
        [] => Sha256::digest([]).into(),
        [one] => *one,
        more => {
            let mut half = 1;
            while half * 2 < more.len() {
                half *= 2;
            }
            let (left, right) = (root(&more[..half]), root(&more[half..]));
            hash(1, &[&left, &right])
        }
    }
}
