//! The tree against published vectors and against another implementation.
//!
//! Leaves, roots and proofs of the eight-leaf tree are the reference vectors of Certificate
//! Transparency (the merkle tree tests of google/certificate-transparency, today in
//! transparency-dev/merkle, Apache-2.0). The other implementation is the crate `ct-merkle`.

use super::*;
use ct_merkle::mem_backed_tree::MemoryBackedTree;
use ct_merkle::{ConsistencyProof, InclusionProof, RootHash};
use proptest::prelude::*;

const LEAVES: [&str; 8] = [
    "",
    "00",
    "10",
    "2021",
    "3031",
    "40414243",
    "5051525354555657",
    "606162636465666768696a6b6c6d6e6f",
];
const ROOTS: [&str; 9] = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
];
/// Leaf number, tree size, proof.
const INCLUSION: [(u64, u64, &[&str]); 2] = [
    (
        0,
        8,
        &[
            "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
        ],
    ),
    (
        5,
        8,
        &[
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
            "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        ],
    ),
];
/// Old size, size, proof.
const CONSISTENCY: [(u64, u64, &[&str]); 3] = [
    (
        2,
        8,
        &[
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
        ],
    ),
    (
        6,
        8,
        &[
            "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
            "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        ],
    ),
    (
        2,
        5,
        &[
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        ],
    ),
];

fn bytes(hex: &str) -> Vec<u8> {
    (0..hex.len())
        .step_by(2)
        .map(|i| u8::from_str_radix(&hex[i..i + 2], 16).unwrap())
        .collect()
}

fn hash(hex: &str) -> Hash {
    bytes(hex).try_into().unwrap()
}

fn hashes(hex: &[&str]) -> Vec<Hash> {
    hex.iter().map(|h| hash(h)).collect()
}

/// The hashes of all complete subtrees, found the plain way.
fn stored(leaf_hashes: &[Hash]) -> impl Fn(u8, u64) -> Option<Hash> + Copy + use<'_> {
    move |level, index| {
        let start = usize::try_from(index << level).unwrap();
        leaf_hashes.get(start..start + (1 << level)).map(root_of)
    }
}

#[test]
fn roots_of_the_reference_tree() {
    let leaf_hashes: Vec<Hash> = LEAVES.iter().map(|l| leaf_hash(&bytes(l))).collect();
    for (size, root) in ROOTS.iter().enumerate() {
        assert_eq!(root_of(&leaf_hashes[..size]), hash(root), "size {size}");
        assert_eq!(
            root_at(size as u64, stored(&leaf_hashes)),
            Ok(hash(root)),
            "size {size}"
        );
    }
}

#[test]
fn proofs_of_the_reference_tree() {
    let leaf_hashes: Vec<Hash> = LEAVES.iter().map(|l| leaf_hash(&bytes(l))).collect();
    let root = |size: u64| hash(ROOTS[size as usize]);
    for (index, size, proof) in INCLUSION {
        let proof = hashes(proof);
        assert_eq!(
            inclusion_proof(index, size, stored(&leaf_hashes)),
            Ok(proof.clone())
        );
        let leaf = leaf_hashes[index as usize];
        assert_eq!(
            verify_inclusion(&leaf, index, size, &proof, &root(size)),
            Ok(())
        );
    }
    for (old, size, proof) in CONSISTENCY {
        let proof = hashes(proof);
        assert_eq!(
            consistency_proof(old, size, stored(&leaf_hashes)),
            Ok(proof.clone())
        );
        assert_eq!(
            verify_consistency(old, &root(old), size, &root(size), &proof),
            Ok(())
        );
    }
}

/// Every size up to 300, every leaf and every older size of a tenth of them, against `ct-merkle`:
/// same roots, same proofs, and each accepts what the other made.
#[test]
fn the_same_as_another_implementation() {
    let mut other = MemoryBackedTree::<Sha256, Vec<u8>>::new();
    let mut frontier = Frontier::new();
    let mut leaf_hashes = Vec::new();
    let mut roots: Vec<RootHash<Sha256>> = vec![other.root()];
    for number in 0..300_u64 {
        let leaf = format!("leaf {number}").into_bytes();
        leaf_hashes.push(leaf_hash(&leaf));
        frontier.push(leaf_hash(&leaf));
        other.push(leaf);
        let size = number + 1;
        assert_eq!(
            frontier.root().as_slice(),
            other.root().as_bytes().as_slice()
        );
        assert_eq!(
            Frontier::from_bytes(&frontier.to_bytes()),
            Some(frontier.clone())
        );
        roots.push(other.root());
        if size > 40 && size % 10 != 0 {
            continue;
        }
        for index in 0..size {
            let proof = inclusion_proof(index, size, stored(&leaf_hashes)).unwrap();
            assert_eq!(
                proof.concat(),
                other.prove_inclusion(index as usize).as_bytes()
            );
            let theirs = InclusionProof::<Sha256>::from_bytes(proof.concat());
            let leaf = other.get(index as usize).unwrap();
            other.root().verify_inclusion(leaf, index, &theirs).unwrap();
            let hash = &leaf_hashes[index as usize];
            assert_eq!(
                verify_inclusion(hash, index, size, &proof, &frontier.root()),
                Ok(())
            );
        }
        for old in 1..size {
            let proof = consistency_proof(old, size, stored(&leaf_hashes)).unwrap();
            let theirs = other.prove_consistency((size - old) as usize);
            assert_eq!(proof.concat(), theirs.as_bytes(), "{old} to {size}");
            let theirs = ConsistencyProof::<Sha256>::try_from_bytes(proof.concat()).unwrap();
            let old_root = &roots[old as usize];
            other.root().verify_consistency(old_root, &theirs).unwrap();
            let old_root: Hash = old_root.as_bytes().as_slice().try_into().unwrap();
            let new_root = frontier.root();
            assert_eq!(
                verify_consistency(old, &old_root, size, &new_root, &proof),
                Ok(())
            );
        }
    }
}

proptest! {
    /// A proof with anything changed, left out or added is refused.
    #[test]
    fn a_spoilt_proof_is_refused(
        size in 2_u64..600, pick in any::<prop::sample::Index>(), old in any::<prop::sample::Index>(),
        at in any::<prop::sample::Index>(), bit in 0_u8..8, byte in 0_usize..32,
    ) {
        let leaf_hashes: Vec<Hash> = (0..size).map(|n| leaf_hash(&n.to_be_bytes())).collect();
        let root = root_of(&leaf_hashes);
        let index = pick.index(size as usize);
        let proof = inclusion_proof(index as u64, size, stored(&leaf_hashes)).unwrap();
        let holds = |index: u64, size: u64, proof: &[Hash]| {
            verify_inclusion(&leaf_hashes[pick.index(leaf_hashes.len())], index, size, proof, &root).is_ok()
        };
        prop_assert!(holds(index as u64, size, &proof));
        let mut spoilt = proof.clone();
        spoilt[at.index(proof.len())][byte] ^= 1 << bit;
        prop_assert!(!holds(index as u64, size, &spoilt));
        prop_assert!(!holds(index as u64, size, &proof[1..]));
        prop_assert!(!holds(index as u64, size, &[proof.as_slice(), &[root]].concat()));
        prop_assert!(!holds(index as u64 ^ 1, size, &proof));

        let old = 1 + old.index(size as usize - 1) as u64;
        let old_root = root_of(&leaf_hashes[..old as usize]);
        let proof = consistency_proof(old, size, stored(&leaf_hashes)).unwrap();
        let holds = |proof: &[Hash]| verify_consistency(old, &old_root, size, &root, proof).is_ok();
        prop_assert!(holds(&proof));
        let mut spoilt = proof.clone();
        spoilt[at.index(proof.len())][byte] ^= 1 << bit;
        prop_assert!(!holds(&spoilt));
        prop_assert!(!holds(&proof[1..]));
        prop_assert!(!holds(&[proof.as_slice(), &[root]].concat()));
    }
}

#[test]
fn degenerate_proofs() {
    let (root, other) = (leaf_hash(b"a"), leaf_hash(b"b"));
    assert_eq!(verify_consistency(0, &empty_root(), 1, &root, &[]), Ok(()));
    assert!(verify_consistency(0, &other, 1, &root, &[]).is_err());
    assert_eq!(verify_consistency(1, &root, 1, &root, &[]), Ok(()));
    assert!(verify_consistency(1, &other, 1, &root, &[]).is_err());
    assert!(verify_consistency(1, &root, 1, &root, &[other]).is_err());
    assert!(verify_consistency(2, &root, 1, &root, &[]).is_err());
    assert_eq!(verify_inclusion(&root, 0, 1, &[], &root), Ok(()));
    assert!(verify_inclusion(&root, 1, 1, &[], &root).is_err());
    assert!(inclusion_proof(3, 3, |_, _| None).is_err());
    assert_eq!(
        root_at(1, |_, _| None),
        Err(ProofError::Missing { level: 0, index: 0 })
    );
}

#[test]
fn a_frontier_of_the_wrong_length_is_refused() {
    assert_eq!(Frontier::from_bytes(&[]), None);
    assert_eq!(Frontier::from_bytes(&[0; 8]), Some(Frontier::new()));
    assert_eq!(Frontier::from_bytes(&[0; 40]), None);
    let mut seven = vec![0, 0, 0, 0, 0, 0, 0, 7];
    seven.extend([0; 95]);
    assert_eq!(Frontier::from_bytes(&seven), None);
    seven.push(0);
    assert!(Frontier::from_bytes(&seven).is_some());
}
