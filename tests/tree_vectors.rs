//! The tree against published vectors, and against a second implementation written here straight
//! from the definitions of RFC 6962 section 2.1.

#![allow(clippy::unwrap_used)] // In a test a panic is the report.

use inkfast::ledger::tree::{
    Frontier, Hash, LeafHashes, TreeError, consistency_proof, empty_root, inclusion_proof, leaf_hash,
    node_hash, root, verify_consistency, verify_inclusion,
};
use sha2::{Digest, Sha256};

// ---- The second implementation: slow, recursive, over whole entries. ----

type Entries<'a> = &'a [Vec<u8>];

fn sha(parts: &[&[u8]]) -> Hash {
    parts.iter().fold(Sha256::new(), |sum, part| sum.chain_update(part)).finalize().into()
}

/// The largest power of two smaller than n.
fn k(n: usize) -> usize {
    (0..).map(|i| 1usize << i).take_while(|power| *power < n).last().unwrap()
}

fn mth(d: Entries) -> Hash {
    match d {
        [] => sha(&[]),
        [only] => sha(&[&[0], only]),
        _ => sha(&[&[1], &mth(&d[..k(d.len())]), &mth(&d[k(d.len())..])]),
    }
}

fn path(m: usize, d: Entries) -> Vec<Hash> {
    if d.len() == 1 {
        return vec![];
    }
    let (left, right) = d.split_at(k(d.len()));
    if m < left.len() {
        [path(m, left), vec![mth(right)]].concat()
    } else {
        [path(m - left.len(), right), vec![mth(left)]].concat()
    }
}

fn subproof(m: usize, d: Entries, whole: bool) -> Vec<Hash> {
    if m == d.len() {
        return if whole { vec![] } else { vec![mth(d)] };
    }
    let (left, right) = d.split_at(k(d.len()));
    if m <= left.len() {
        [subproof(m, left, whole), vec![mth(right)]].concat()
    } else {
        [subproof(m - left.len(), right, false), vec![mth(left)]].concat()
    }
}

fn entries(count: u8) -> Vec<Vec<u8>> {
    (0..count).map(|i| vec![i]).collect()
}

fn hashes(entries: Entries) -> Vec<Hash> {
    entries.iter().map(|entry| leaf_hash(entry)).collect()
}

fn bytes(hex: &str) -> Vec<u8> {
    data_encoding::HEXLOWER.decode(hex.as_bytes()).unwrap()
}

fn hash(hex: &str) -> Hash {
    bytes(hex).try_into().unwrap()
}

// ---- The reference vectors of Certificate Transparency. ----
// As in transparency-dev/merkle, testonly/constants.go (Apache-2.0), which has them from the
// first CT implementation.

const LEAVES: [&str; 8] =
    ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"];
const LEAF_HASHES: [&str; 8] = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
    "0298d122906dcfc10892cb53a73992fc5b9f493ea4c9badb27b791b4127a7fe7",
    "07506a85fd9dd2f120eb694f86011e5bb4662e5c415a62917033d4a9624487e7",
    "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
    "4271a26be0d8a84f0bd54c8c302e7cb3a3b5d1fa6780a40bcce2873477dab658",
    "b08693ec2e721597130641e8211e7eedccb4c26413963eee6c1e2ed16ffb1a5f",
    "46f6ffadd3d06a09ff3c5860d2755c8b9819db7df44251788c7d8e3180de8eb1",
];
const PAIRS: [&str; 4] = [
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
    "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
    "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
];
const FOURS: [&str; 2] = [
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
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

fn reference_leaves() -> Vec<Hash> {
    LEAVES.iter().map(|leaf| leaf_hash(&bytes(leaf))).collect()
}

#[test]
fn reference_hashes_and_roots() {
    let leaves = reference_leaves();
    assert_eq!(leaves, LEAF_HASHES.map(hash));
    for (at, pair) in PAIRS.iter().enumerate() {
        assert_eq!(node_hash(&leaves[2 * at], &leaves[2 * at + 1]), hash(pair));
    }
    for (at, four) in FOURS.iter().enumerate() {
        assert_eq!(node_hash(&hash(PAIRS[2 * at]), &hash(PAIRS[2 * at + 1])), hash(four));
    }
    assert_eq!(empty_root(), hash(ROOTS[0]));
    for (size, expected) in ROOTS.iter().enumerate() {
        assert_eq!(root(&leaves[..size]), hash(expected), "size {size}");
    }
}

#[test]
fn reference_inclusion_proofs() {
    let (leaf, pair, four) = (LEAF_HASHES.map(hash), PAIRS.map(hash), FOURS.map(hash));
    let cases: [(u64, u64, Vec<Hash>); 5] = [
        (0, 1, vec![]),
        (0, 8, vec![leaf[1], pair[1], four[1]]),
        (5, 8, vec![leaf[4], pair[3], four[0]]),
        (2, 3, vec![pair[0]]),
        (1, 5, vec![leaf[0], pair[1], leaf[4]]),
    ];
    for (index, size, expected) in cases {
        assert_eq!(inclusion_proof(index, size, &LeafHashes(&leaf)), Ok(expected.clone()));
        let root = hash(ROOTS[size as usize]);
        assert_eq!(verify_inclusion(&leaf[index as usize], index, size, &expected, &root), Ok(()));
    }
}

#[test]
fn reference_consistency_proofs() {
    let (leaf, pair, four) = (LEAF_HASHES.map(hash), PAIRS.map(hash), FOURS.map(hash));
    let cases: [(u64, u64, Vec<Hash>); 5] = [
        (1, 1, vec![]),
        (1, 8, vec![leaf[1], pair[1], four[1]]),
        (6, 8, vec![pair[2], pair[3], four[0]]),
        (2, 5, vec![pair[1], leaf[4]]),
        (6, 7, vec![pair[2], leaf[6], four[0]]),
    ];
    for (first, second, expected) in cases {
        assert_eq!(consistency_proof(first, second, &LeafHashes(&leaf)), Ok(expected.clone()));
        let (old, new) = (hash(ROOTS[first as usize]), hash(ROOTS[second as usize]));
        assert_eq!(verify_consistency(first, second, &old, &new, &expected), Ok(()));
    }
}

// ---- Accumulated vectors: one hash over every subtree of up to 130 leaves. ----
// draft-ietf-plants-merkle-tree-certs-06, appendices C.1.1 and C.1.2. Leaf i is the single byte i;
// a subtree [start, end) counts when start is a multiple of the smallest power of two that is at
// least its width. Also in transparency-dev/merkle, testonly/vectors_test.go.

fn is_subtree(start: usize, end: usize) -> bool {
    start.is_multiple_of((end - start).next_power_of_two())
}

fn accumulate(mut line: impl FnMut(&mut Sha256, usize, usize)) -> String {
    let mut sum = Sha256::new();
    for end in 0..=130 {
        (0..=end).filter(|start| is_subtree(*start, end)).for_each(|start| line(&mut sum, start, end));
    }
    data_encoding::HEXLOWER.encode(&sum.finalize())
}

#[test]
fn accumulated_subtree_hashes() {
    let leaves = hashes(&entries(130));
    let sum = accumulate(|sum, start, end| {
        let hex = data_encoding::HEXLOWER.encode(&root(&leaves[start..end]));
        sum.update(format!("[{start}, {end}) {hex}\n"));
    });
    assert_eq!(sum, "b82806ad4265bb151c1119c0f4db437bb4d1a1f887b3a7fba1cd4ebf552e3e81");
}

#[test]
fn accumulated_subtree_inclusion_proofs() {
    let leaves = hashes(&entries(130));
    let sum = accumulate(|sum, start, end| {
        for index in start..end {
            let tree = LeafHashes(&leaves[start..end]);
            let proof = inclusion_proof((index - start) as u64, (end - start) as u64, &tree).unwrap();
            let hex: String =
                proof.iter().map(|h| format!(" {}", data_encoding::HEXLOWER.encode(h))).collect();
            sum.update(format!("{index} [{start}, {end}){hex}\n"));
        }
    });
    assert_eq!(sum, "ac2a8f989e44d99e399db448050ff5f19757df53cfb716aa81015d3955d8163f");
}

// ---- Every size to 130 against the second implementation. ----

#[test]
fn every_root_and_inclusion_proof_to_130() {
    let all = entries(130);
    let leaves = hashes(&all);
    let mut edge = Frontier::new();
    for size in 0..=all.len() {
        let expected = mth(&all[..size]);
        assert_eq!(root(&leaves[..size]), expected);
        assert_eq!(edge.root(), expected);
        for (index, leaf) in leaves[..size].iter().enumerate() {
            let proof = inclusion_proof(index as u64, size as u64, &LeafHashes(&leaves)).unwrap();
            assert_eq!(proof, path(index, &all[..size]), "leaf {index} of {size}");
            let verdict = verify_inclusion(leaf, index as u64, size as u64, &proof, &expected);
            assert_eq!(verdict, Ok(()), "leaf {index} of {size}");
        }
        edge.push(leaf_hash(&[size as u8]));
    }
}

#[test]
fn every_consistency_proof_to_130() {
    let all = entries(130);
    let leaves = hashes(&all);
    let roots: Vec<Hash> = (0..=all.len()).map(|size| mth(&all[..size])).collect();
    for second in 1..=all.len() {
        for first in 1..=second {
            let proof = consistency_proof(first as u64, second as u64, &LeafHashes(&leaves)).unwrap();
            assert_eq!(proof, subproof(first, &all[..second], true), "{first} to {second}");
            let verdict =
                verify_consistency(first as u64, second as u64, &roots[first], &roots[second], &proof);
            assert_eq!(verdict, Ok(()), "{first} to {second}");
        }
    }
}

// ---- What must be refused. The kinds are those of the negative cases of transparency-dev/merkle. ----

/// Changes to a path that make another path, each with its name.
fn spoiled(path: &[Hash], root: &Hash) -> Vec<(String, Vec<Hash>)> {
    let garbage = leaf_hash(b"garbage");
    let mut kinds = vec![
        ("trailing garbage".to_owned(), [path, &[garbage]].concat()),
        ("preceding garbage".to_owned(), [&[garbage], path].concat()),
        ("trailing root".to_owned(), [path, &[*root]].concat()),
        ("preceding root".to_owned(), [&[*root], path].concat()),
        ("trailing zeros".to_owned(), [path, &[[0; 32]]].concat()),
    ];
    for at in 0..path.len() {
        let mut flipped = path.to_vec();
        flipped[at][at % 32] ^= 1 << (at % 8);
        kinds.push((format!("bit flipped in {at}"), flipped));
        let mut cut = path.to_vec();
        cut.remove(at);
        kinds.push((format!("{at} removed"), cut));
        let mut doubled = path.to_vec();
        doubled.insert(at, path[at]);
        kinds.push((format!("{at} doubled"), doubled));
    }
    if !path.is_empty() {
        kinds.push(("empty".to_owned(), vec![]));
        kinds.push(("last cut".to_owned(), path[..path.len() - 1].to_vec()));
    }
    kinds
}

#[test]
fn spoiled_inclusion_proofs_are_refused() {
    let all = entries(70);
    let leaves = hashes(&all);
    for size in 1..=all.len() {
        let root = mth(&all[..size]);
        for (index, leaf) in leaves[..size].iter().enumerate() {
            let proof = path(index, &all[..size]);
            let (i, n) = (index as u64, size as u64);
            let refused = |leaf: &Hash, i: u64, n: u64, proof: &[Hash], root: &Hash, kind: &str| {
                let verdict = verify_inclusion(leaf, i, n, proof, root);
                assert!(verdict.is_err(), "{kind}: leaf {index} of {size}");
            };
            refused(&leaf_hash(b"wrong"), i, n, &proof, &root, "wrong leaf");
            refused(leaf, i, n, &proof, &empty_root(), "empty root");
            refused(leaf, i, n, &proof, &leaf_hash(b"wrong"), "random root");
            refused(leaf, i + 1, n, &proof, &root, "index after");
            refused(leaf, i.wrapping_sub(1), n, &proof, &root, "index before");
            refused(leaf, i ^ 2, n, &proof, &root, "index xor 2");
            refused(leaf, n, n, &proof, &root, "index = size");
            refused(leaf, i, 0, &proof, &root, "size 0");
            refused(leaf, i, n * 2, &proof, &root, "size doubled");
            refused(leaf, i, n / 2, &proof, &root, "size halved");
            for (kind, spoiled) in spoiled(&proof, &root) {
                refused(leaf, i, n, &spoiled, &root, &kind);
            }
        }
    }
}

#[test]
fn spoiled_consistency_proofs_are_refused() {
    let all = entries(34);
    let roots: Vec<Hash> = (0..=all.len()).map(|size| mth(&all[..size])).collect();
    for second in 1..=all.len() {
        for first in 1..=second {
            let proof = subproof(first, &all[..second], true);
            let (m, n, old, new) = (first as u64, second as u64, &roots[first], &roots[second]);
            let refused = |m: u64, n: u64, old: &Hash, new: &Hash, proof: &[Hash], kind: &str| {
                assert!(verify_consistency(m, n, old, new, proof).is_err(), "{kind}: {first} to {second}");
            };
            let wrong = leaf_hash(b"wrong");
            refused(m, n, &wrong, new, &proof, "wrong old root");
            refused(m, n, old, &wrong, &proof, "wrong new root");
            refused(m, n, &empty_root(), new, &proof, "empty old root");
            refused(0, n, old, new, &proof, "from nothing");
            refused(0, n, &empty_root(), new, &[], "from the empty tree");
            if first < second {
                refused(m, n, new, old, &proof, "roots swapped");
                refused(n, m, old, new, &proof, "sizes swapped");
                refused(m, m, old, new, &proof, "same size, other root");
                refused(m, n, new, new, &proof, "new root twice");
            }
            for (kind, spoiled) in spoiled(&proof, new) {
                refused(m, n, old, new, &spoiled, &kind);
            }
        }
    }
}

/// A complete older tree is not in its own proof: the checker has to put it in front. Leaving that
/// out is a known mistake of real checkers, and only pairs like these show it.
#[test]
fn a_complete_older_tree_is_prepended() {
    let leaves = reference_leaves();
    for (first, second) in [(1, 8), (2, 5), (4, 7)] {
        let proof = consistency_proof(first, second, &LeafHashes(&leaves)).unwrap();
        let (old, new) = (hash(ROOTS[first as usize]), hash(ROOTS[second as usize]));
        assert_eq!(verify_consistency(first, second, &old, &new, &proof), Ok(()));
        let with_root = [&[old], proof.as_slice()].concat();
        assert!(verify_consistency(first, second, &old, &new, &with_root).is_err());
    }
}

/// Comparing with `>` where `>=` is meant is another known mistake.
#[test]
fn the_first_index_outside_is_refused() {
    let leaves = reference_leaves();
    for size in 1..=8u64 {
        let verdict = verify_inclusion(&leaves[0], size, size, &[], &leaves[0]);
        assert_eq!(verdict, Err(TreeError::IndexOutside { index: size, size }));
    }
}

/// Why the size must come from a signed checkpoint: the same proof holds for more than one size.
#[test]
fn an_inclusion_proof_does_not_bind_the_size() {
    let leaves = reference_leaves();
    let proof = inclusion_proof(0, 3, &LeafHashes(&leaves)).unwrap();
    let root = hash(ROOTS[3]);
    assert_eq!(verify_inclusion(&leaves[0], 0, 3, &proof, &root), Ok(()));
    assert_eq!(verify_inclusion(&leaves[0], 0, 4, &proof, &root), Ok(()));

    // Counted over all trees, places and claimed sizes of at most eight leaves: how many claims hold
    // with the right place, and how many with another. A Python verifier written from the RFC, apart
    // from this code, counts the same.
    let (mut other_size, mut other_place) = (0, 0);
    for size in 1..=8u64 {
        for index in 0..size {
            let proof = inclusion_proof(index, size, &LeafHashes(&leaves)).unwrap();
            let root = hash(ROOTS[size as usize]);
            for claimed_size in 1..=8 {
                for claimed_index in 0..claimed_size {
                    let holds =
                        verify_inclusion(&leaves[index as usize], claimed_index, claimed_size, &proof, &root);
                    if holds.is_ok() && (claimed_index, claimed_size) != (index, size) {
                        assert_ne!(claimed_size, size, "with the right size, only the right place holds");
                        if claimed_index == index { other_size += 1 } else { other_place += 1 }
                    }
                }
            }
        }
    }
    assert_eq!((other_size, other_place), (56, 14));
}

#[test]
fn two_empty_trees_are_equal_only_with_the_empty_root() {
    let nonsense = leaf_hash(b"nonsense");
    assert_eq!(verify_consistency(0, 0, &empty_root(), &empty_root(), &[]), Ok(()));
    assert!(verify_consistency(0, 0, &nonsense, &nonsense, &[]).is_err());
    assert!(verify_consistency(0, 0, &empty_root(), &empty_root(), &[nonsense]).is_err());
}

#[test]
fn equal_sizes_need_equal_roots_and_no_proof() {
    let (one, other) = (leaf_hash(b"one"), leaf_hash(b"other"));
    assert_eq!(verify_consistency(5, 5, &one, &one, &[]), Ok(()));
    assert_eq!(verify_consistency(5, 5, &one, &other, &[]), Err(TreeError::RootMismatch));
    assert_eq!(verify_consistency(5, 5, &one, &one, &[one]), Err(TreeError::PathLength));
}
