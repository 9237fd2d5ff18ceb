//! A small book for the tests of this room, in the invented scenario of the demo data.
//!
//! Leaves are built as plain JSON and written by the general canonicaliser, so that they share no
//! code with the typed leaves of `entry`. Everything can be tampered with.

use super::canonical::{commitment, to_canonical};
use super::checkpoint::{Checkpoint, Note, SigningKey};
use super::id::Id;
use super::source::*;
use super::tiles::FULL;
use super::tree::{Frontier, Hash, leaf_hash};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Map, Value, json};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

pub const LOG: &str = "tarebook/6513270e-269e-4d37-b2a7-4de452e6b438";
pub const RACK: &str = "appliance:d23f0824-128b-4f33-8c5c-7fd0a6a3a450";
pub const SUPPLY: &str = "cylinder:9531985d-5d9d-49f8-9818-e811892f902b";
pub const RECOVERY: &str = "cylinder:2c7f6a3e-91aa-4b7e-8a53-0d6f4f2f7a11";
pub const SUPPLIER: &str = "counterparty:7a0d8a0c-3d4b-4c59-9a3f-6f2f3a1b9c55";
const SCALE: &str = "0cb1e29c-658c-4a14-95e6-0af593bd04cf";
const PERSON: &str = "6b0d549b-6f03-475a-9600-a35a099950d8";

/// A book in memory. Its fields lie open, for tests that spoil them.
pub struct SampleBook {
    pub signing: SigningKey,
    pub recovery: SigningKey,
    pub entries: Vec<StoredEntry>,
    pub disclosures: Vec<Disclosure>,
    pub checkpoints: BTreeMap<u64, String>,
    pub attachments: BTreeMap<Hash, Vec<u8>>,
    pub counts: BTreeMap<String, u64>,
    /// What `size` claims beyond the entries that are there.
    pub claimed_more: u64,
}

impl SampleBook {
    /// Genesis and the tables.
    pub fn new() -> SampleBook {
        let key = |seed| SigningKey::from_seed(LOG, &[seed; 32]).unwrap();
        let mut book = SampleBook {
            signing: key(1),
            recovery: key(2),
            entries: Vec::new(),
            disclosures: Vec::new(),
            checkpoints: BTreeMap::new(),
            attachments: BTreeMap::new(),
            counts: BTreeMap::new(),
            claimed_more: 0,
        };
        let vkey = |key: &SigningKey| key.verification_key().to_string();
        let keys = json!({ "signing": vkey(&book.signing), "recovery": vkey(&book.recovery) });
        let name = "Tamarack Ridge Mechanical";
        book.book(
            "genesis",
            json!({ "keys": keys }),
            &[],
            &[("organisation", name)],
        );
        let refrigerants = book.attach(b"designation,class\r\nR-448A,A1\r\n");
        let lists = book.attach(b"list,refrigerant,from,until,source\r\n");
        let body = json!({
            "engine": 1, "program": "0.1.0", "refrigerants": refrigerants, "lists": lists, "tzdb": "2026a",
        });
        book.book("engine", body, &[], &[]);
        book
    }

    /// A year in small: registers, a purchase, charges, a recovery and corrections.
    pub fn with_a_year() -> SampleBook {
        let mut book = SampleBook::new();
        for (subject, tag) in [
            (RACK, "HG-RACK-A"),
            (SUPPLY, "SUP-88231"),
            (RECOVERY, "REC-17 \u{2013} caf\u{e9}"),
        ] {
            let kind = subject.split(':').next().unwrap();
            let body =
                json!({ "subject": subject, "facts": { "tag": [{ "from": "2026-01-06" }] } });
            book.book(kind, body, &[subject], &[("facts.tag.0", tag)]);
        }
        book.sign();
        let bought = moved(SUPPLIER, SUPPLY, "11339.80925", typed("25 lb"));
        book.moves("purchase", bought, json!({ "state": "new" }), &[]);
        book.charge();
        book.correct_charge();
        book.sign();
        let out = moved(
            RACK,
            RECOVERY,
            "2041.165665",
            readings("10 lb", "14 lb 8 oz"),
        );
        book.moves(
            "recover",
            out,
            json!({ "reason": "repair" }),
            &[("note", "pump-out \"line 2\"")],
        );
        let again = moved(SUPPLY, RACK, "453.59237", typed("1"));
        let reason = json!({ "reason": "after_repair", "returned_to_full_charge": false });
        let seq = book.moves("charge", again, reason, &[]);
        book.correct(seq, json!({ "reason": "did_not_happen" }));
        book.sign();
        book
    }

    /// 29 lb 4 oz less 14 lb 12 oz out of the supply cylinder.
    pub fn charge(&mut self) -> u64 {
        let moved = moved(
            SUPPLY,
            RACK,
            "6577.089365",
            readings("29 lb 4 oz", "14 lb 12 oz"),
        );
        let reason = json!({ "reason": "leak_top_up", "returned_to_full_charge": true });
        self.moves(
            "charge",
            moved,
            reason,
            &[("note", "leak at the header, tightened")],
        )
    }

    /// The second reading of the last entry was 15 lb 4 oz.
    pub fn correct_charge(&mut self) -> u64 {
        let moved = moved(
            SUPPLY,
            RACK,
            "6350.29318",
            readings("29 lb 4 oz", "15 lb 4 oz"),
        );
        let replace = json!({
            "body": { "movements": [moved], "reason": "leak_top_up", "returned_to_full_charge": true },
            "happened": happened(), "kind": "charge",
        });
        let last = self.entries.len() as u64 - 1;
        self.correct(last, json!({ "reason": "misread", "replace": replace }))
    }

    /// A correction of this entry; `body` says why and what stands instead.
    pub fn correct(&mut self, seq: u64, mut body: Value) -> u64 {
        let corrected = self.leaf(seq);
        let in_force = match &corrected["body"]["replace"] {
            Value::Null => &corrected["body"]["movements"],
            replace => &replace["body"]["movements"],
        };
        let reverse = in_force.as_array().unwrap().iter().map(|m| {
            json!({ "from": m["to"], "to": m["from"], "refrigerant": m["refrigerant"], "g": m["g"] })
        });
        body["reverse"] = reverse.collect();
        body["corrects"] = json!({ "id": corrected["id"], "seq": seq });
        let subjects: Vec<String> = corrected["nth"]
            .as_object()
            .unwrap()
            .keys()
            .cloned()
            .collect();
        let subjects: Vec<&str> = subjects.iter().map(String::as_str).collect();
        self.book(
            "correction",
            body,
            &subjects,
            &[("reason_text", "read 14 12 for 15 4")],
        )
    }

    /// An entry with one movement.
    pub fn moves(&mut self, kind: &str, moved: Value, more: Value, texts: &[(&str, &str)]) -> u64 {
        let ends = [moved["from"].clone(), moved["to"].clone()];
        let counts = |place: &&str| place.starts_with("appliance") || place.starts_with("cylinder");
        let subjects: Vec<&str> = ends
            .iter()
            .filter_map(Value::as_str)
            .filter(counts)
            .collect();
        let mut body = more;
        body["movements"] = json!([moved]);
        self.book(kind, body, &subjects, texts)
    }

    /// Books an entry about these subjects, with these texts beside it.
    pub fn book(&mut self, kind: &str, body: Value, about: &[&str], texts: &[(&str, &str)]) -> u64 {
        let seq = self.entries.len() as u64;
        let id = Id::from_bits(0x019b_8eac_1180_7000_8000_0000_0000_0000 + u128::from(seq));
        let (hour, minute) = (seq / 3600 % 24, seq / 60 % 60);
        let booked_at = format!(
            "2026-07-{:02}T{hour:02}:{minute:02}:{:02}.000Z",
            14 + seq / 86_400,
            seq % 60
        );
        let mut leaf = json!({
            "v": 1, "log": LOG, "seq": seq, "id": id.to_string(), "kind": kind, "booked_at": booked_at,
            "happened": happened(), "by": PERSON, "role": "technician", "via": "user", "body": body,
            "device": "a170b338-3926-4059-b28c-105d1fb17c23",
        });
        let mut nth = Map::new();
        for subject in about {
            let count = self.counts.entry(subject.to_string()).or_default();
            *count += 1;
            nth.insert(subject.to_string(), json!(*count));
        }
        if !nth.is_empty() {
            leaf["nth"] = Value::Object(nth);
        }
        for (field, text) in texts {
            let salt: Hash = Sha256::digest(format!("salt of {seq} {field}")).into();
            leaf["commit"][field] = json!(commitment(id, field, &salt, text.as_bytes()));
            let (field, value) = (field.to_string(), text.to_string());
            self.disclosures.push(Disclosure {
                seq,
                field,
                salt,
                value,
            });
        }
        let leaf = to_canonical(&leaf).unwrap();
        self.entries.push(StoredEntry {
            seq,
            hash: leaf_hash(&leaf),
            leaf,
            columns: None,
        });
        seq
    }

    /// Keeps an attachment; gives what a leaf says of it.
    pub fn attach(&mut self, bytes: &[u8]) -> Value {
        let hash: Hash = Sha256::digest(bytes).into();
        self.attachments.insert(hash, bytes.to_vec());
        json!({ "bytes": bytes.len(), "sha256": STANDARD.encode(hash) })
    }

    /// Signs all there is.
    pub fn sign(&mut self) -> Note {
        let size = self.entries.len() as u64;
        let note = self.note(size, &[&self.signing]);
        self.checkpoints.insert(size, note.to_string());
        note
    }

    /// The checkpoint over the first `size` entries, signed by these keys.
    pub fn note(&self, size: u64, keys: &[&SigningKey]) -> Note {
        let mut frontier = Frontier::new();
        for entry in &self.entries[..size as usize] {
            frontier.push(leaf_hash(&entry.leaf));
        }
        Checkpoint {
            origin: LOG.to_string(),
            size,
            root: frontier.root(),
        }
        .signed_by(keys)
    }

    /// Signs every checkpoint anew, as somebody does who holds the key and rewrites history.
    pub fn sign_all_anew(&mut self) {
        for size in self.checkpoints.keys().copied().collect::<Vec<u64>>() {
            let note = self.note(size, &[&self.signing]);
            self.checkpoints.insert(size, note.to_string());
        }
    }

    /// The leaf of this entry as JSON.
    pub fn leaf(&self, seq: u64) -> Value {
        serde_json::from_slice(&self.entries[seq as usize].leaf).unwrap()
    }

    /// Changes a leaf and keeps the hash beside it right.
    pub fn rewrite(&mut self, seq: u64, change: impl FnOnce(&mut Value)) {
        let mut leaf = self.leaf(seq);
        change(&mut leaf);
        let entry = &mut self.entries[seq as usize];
        entry.leaf = to_canonical(&leaf).unwrap();
        entry.hash = leaf_hash(&entry.leaf);
    }
}

/// When the sample's work happened.
pub fn happened() -> Value {
    json!({
        "day": "2026-07-14", "offset": "-06:00", "time": "11:52", "tzdb": "2026a", "zone": "America/Denver",
    })
}

/// A movement of R-448A.
pub fn moved(from: &str, to: &str, g: &str, said: (&str, Value)) -> Value {
    json!({ "from": from, "to": to, "refrigerant": "R-448A", "g": g, said.0: said.1 })
}

/// A mass as typed in a field set to pounds.
pub fn typed(text: &str) -> (&'static str, Value) {
    ("typed", json!({ "text": text, "unit": "[lb_av]" }))
}

/// Two readings of the scale, set to pounds.
pub fn readings(before: &str, after: &str) -> (&'static str, Value) {
    (
        "readings",
        json!({ "before": before, "after": after, "scale": SCALE, "unit": "[lb_av]" }),
    )
}

impl BookSource for SampleBook {
    fn size(&mut self) -> Result<u64, SourceError> {
        Ok(self.entries.last().map_or(0, |last| last.seq + 1) + self.claimed_more)
    }

    fn block(&mut self, block: u64) -> Result<Vec<StoredEntry>, SourceError> {
        let in_it = |entry: &&StoredEntry| entry.seq / FULL as u64 == block;
        let first = self
            .entries
            .partition_point(|e| e.seq / (FULL as u64) < block);
        Ok(self.entries[first..]
            .iter()
            .take(2 * FULL)
            .filter(in_it)
            .cloned()
            .collect())
    }

    fn disclosures(&mut self, block: u64) -> Result<Vec<Disclosure>, SourceError> {
        let first = self
            .disclosures
            .partition_point(|d| d.seq / (FULL as u64) < block);
        let in_it = |disclosure: &&Disclosure| disclosure.seq / FULL as u64 == block;
        Ok(self.disclosures[first..]
            .iter()
            .take_while(in_it)
            .cloned()
            .collect())
    }

    fn checkpoints(
        &mut self,
        above: u64,
        limit: usize,
    ) -> Result<Vec<StoredCheckpoint>, SourceError> {
        let checkpoints = self.checkpoints.range(above + 1..).take(limit);
        Ok(checkpoints
            .map(|(size, note)| StoredCheckpoint {
                size: *size,
                note: note.clone(),
            })
            .collect())
    }

    fn attachments(&mut self, visit: VisitAttachment<'_>) -> Result<(), SourceError> {
        self.attachments
            .iter()
            .try_for_each(|(hash, bytes)| visit(*hash, bytes))
    }
}
