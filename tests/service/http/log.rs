//! The log over HTTP, checked as an outsider would: only from what the endpoints give.
//!
//! Hashing and proofs are worked out here from RFC 6962 and the C2SP texts (tlog-tiles, tlog-proof,
//! signed-note); nothing of the program's own verification is used but the signature's key type.

use api::ledger::checkpoint::{Note, VerificationKey};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use harness::service::{Service, Who, charge};
use serde_json::json;
use sha2::{Digest, Sha256};

type Hash = [u8; 32];

fn node(left: &Hash, right: &Hash) -> Hash {
    Sha256::digest([&[1], &left[..], &right[..]].concat()).into()
}

/// MTH of RFC 6962, section 2.1.
fn root(leaves: &[Hash]) -> Hash {
    match leaves {
        [] => Sha256::digest([]).into(),
        [one] => *one,
        more => {
            let mut half = 1;
            while half * 2 < more.len() {
                half *= 2;
            }
            node(&root(&more[..half]), &root(&more[half..]))
        }
    }
}

fn hash(text: &str) -> Hash {
    STANDARD
        .decode(text)
        .expect("base64")
        .try_into()
        .expect("32 bytes")
}

/// Size and root of a note, after its signature was checked.
fn checked(note: &str, keys: &str) -> (u64, Hash) {
    let key = VerificationKey::parse(keys.lines().next().expect("a key")).expect("a key");
    let parsed = Note::parse(note).expect("a signed note");
    parsed.verify(&[key]).expect("a good signature");
    let lines: Vec<&str> = note.lines().collect();
    (lines[1].parse().expect("a size"), hash(lines[2]))
}

/// The root that an inclusion proof leads to (RFC 9162, section 2.1.3.2).
fn proved(index: u64, size: u64, leaf: Hash, path: &[Hash]) -> Hash {
    let (mut fnode, mut snode, mut at) = (index, size - 1, leaf);
    for step in path {
        if fnode & 1 == 1 || fnode == snode {
            at = node(step, &at);
            while fnode & 1 == 0 && fnode != 0 {
                fnode >>= 1;
                snode >>= 1;
            }
        } else {
            at = node(&at, step);
        }
        fnode >>= 1;
        snode >>= 1;
    }
    assert_eq!(snode, 0, "the proof has as many hashes as it needs");
    at
}

fn leaves(service: &Service, who: &Who, size: u64) -> Vec<Vec<u8>> {
    let mut leaves = Vec::new();
    for block in 0..size.div_ceil(256) {
        let width = (size - block * 256).min(256);
        let partial = if width < 256 {
            format!(".p/{width}")
        } else {
            String::new()
        };
        let path = format!("/api/v1/log/tile/entries/{block:03}{partial}");
        let reply = service.get(who, &path).expect(200);
        assert!(
            reply
                .header("cache-control")
                .is_some_and(|it| it.contains("immutable"))
        );
        let mut bytes = &reply.body[..];
        while let Some((length, rest)) = bytes.split_first_chunk::<2>() {
            let (leaf, rest) = rest.split_at(usize::from(u16::from_be_bytes(*length)));
            leaves.push(leaf.to_vec());
            bytes = rest;
        }
    }
    leaves
}

/// H2: an auditor holds an old checkpoint, reads the tiles, and finds the new one to extend it.
#[test]
fn h2_the_endpoints_prove_the_history() {
    let service = Service::stocked();
    let auditor = service.firm.auditor.clone();
    let keys = service
        .get(&auditor, "/api/v1/log/vkeys")
        .expect(200)
        .text();
    let note = |service: &Service| {
        service
            .get(&auditor, "/api/v1/log/checkpoint")
            .expect(200)
            .text()
    };
    let (old_size, old_root) = checked(&note(&service), &keys);
    // Over the edge of a tile.
    let entries: Vec<_> = (0..270)
        .map(|number| {
            let mut entry = charge("0.01 lb");
            entry["answers"] = json!({"look_alike": "as_stated"});
            entry["entry_id"] = json!(format!("01981f00-0000-7000-8000-{number:012}"));
            entry
        })
        .collect();
    service
        .post(
            &service.firm.technician,
            "/api/v1/entries",
            &json!({"entries": entries}),
        )
        .expect(207);
    let newest = note(&service);
    let (size, new_root) = checked(&newest, &keys);
    assert_eq!(size, old_size + 270);
    let leaves = leaves(&service, &auditor, size);
    let hashes: Vec<Hash> = leaves
        .iter()
        .map(|leaf| Sha256::digest([&[0], &leaf[..]].concat()).into())
        .collect();
    assert_eq!(root(&hashes), new_root);
    assert_eq!(
        root(&hashes[..usize::try_from(old_size).unwrap()]),
        old_root
    );
    // The tiles of hashes say the same: level 0 the leaves, level 1 the roots of full tiles.
    let tile = |path: &str| {
        service
            .get(&auditor, &format!("/api/v1/log/tile/{path}"))
            .expect(200)
            .body
    };
    assert_eq!(tile("0/000"), hashes[..256].concat());
    assert_eq!(
        tile(&format!("0/001.p/{}", size - 256)),
        hashes[256..].concat()
    );
    assert_eq!(tile("1/000.p/1"), root(&hashes[..256]));
    let beyond = format!("/api/v1/log/tile/0/001.p/{}", size - 255);
    service
        .get(&auditor, &beyond)
        .expect_problem(404, "not-found");
    for seq in [0, 1, 255, 256, size - 1] {
        let path = format!("/api/v1/entries/{seq}/proof");
        let proof = service.get(&auditor, &path).expect(200).text();
        let (head, note) = proof.split_once("\n\n").expect("a proof and a note");
        let mut lines = head.lines();
        assert_eq!(lines.next(), Some("c2sp.org/tlog-proof@v1"));
        assert_eq!(lines.next(), Some(format!("index {seq}").as_str()));
        let path: Vec<Hash> = lines.map(hash).collect();
        let (size, root) = checked(note, &keys);
        assert_eq!(
            proved(seq, size, hashes[usize::try_from(seq).unwrap()], &path),
            root
        );
    }
    let path = format!("/api/v1/log/consistency?from={old_size}");
    let proof = service.get(&auditor, &path).expect(200).json();
    assert_eq!(
        (proof["from"].as_u64(), proof["to"].as_u64()),
        (Some(old_size), Some(size))
    );
    let shown: Vec<Hash> = proof["hashes"]
        .as_array()
        .expect("hashes")
        .iter()
        .map(|text| hash(text.as_str().expect("text")))
        .collect();
    assert_eq!(
        shown,
        consistency(usize::try_from(old_size).unwrap(), &hashes, true)
    );
}

/// SUBPROOF of RFC 6962, section 2.1.2, word for word.
fn consistency(old: usize, hashes: &[Hash], whole: bool) -> Vec<Hash> {
    if old == hashes.len() {
        return if whole {
            Vec::new()
        } else {
            vec![root(hashes)]
        };
    }
    let mut half = 1;
    while half * 2 < hashes.len() {
        half *= 2;
    }
    let (left, right) = hashes.split_at(half);
    if old <= half {
        let mut proof = consistency(old, left, whole);
        proof.push(root(right));
        proof
    } else {
        let mut proof = consistency(old - half, right, false);
        proof.push(root(left));
        proof
    }
}

/// A receipt carries a checkpoint, and a second after a booking the newest one covers it.
#[test]
fn checkpoints_follow_bookings_within_a_second() {
    let service = Service::stocked();
    let auditor = service.firm.auditor.clone();
    let keys = service
        .get(&auditor, "/api/v1/log/vkeys")
        .expect(200)
        .text();
    let booked = service.booked(&service.firm.technician, charge("1 lb"));
    let seq = booked["seq"].as_u64().expect("a number");
    std::thread::sleep(std::time::Duration::from_millis(1_300));
    let next = service.booked(&service.firm.technician, charge("2 lb"));
    let (size, _) = checked(next["checkpoint"].as_str().expect("a note"), &keys);
    assert!(
        size > seq,
        "the checkpoint of the next receipt covers {size}, not no. {seq}"
    );
}

/// The bundle over HTTP is one that the program's own verifier, and so any outsider, can read.
#[test]
fn the_bundle_is_the_whole_book() {
    let service = Service::stocked();
    service.booked(&service.firm.technician, charge("1 lb"));
    let auditor = service.firm.auditor.clone();
    let bundle = service.get(&auditor, "/api/v1/log/bundle").expect(200);
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("book.tar");
    std::fs::write(&file, &bundle.body).expect("a file");
    let verified = std::process::Command::new(harness::service::program())
        .arg("verify")
        .arg("--bundle")
        .arg(&file)
        .output()
        .expect("the program runs");
    let said =
        String::from_utf8_lossy(&verified.stderr) + String::from_utf8_lossy(&verified.stdout);
    assert!(verified.status.success(), "{said}");
    let records = service
        .get(&service.firm.manager, "/api/v1/access-records")
        .expect(200)
        .text();
    assert!(records.contains("\"bundle\""), "{records}");
}
