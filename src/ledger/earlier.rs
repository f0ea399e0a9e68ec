//! The root of an earlier tree, worked out from proofs of a later one.
//!
//! An inclusion proof holds hashes of whole parts of the tree. The proofs in a package together hold enough to
//! work out what the tree's root was at some earlier sizes: at every entry that is itself proven, and at
//! others by luck. So a slip of such a number can be compared with a package that was made later.

use super::tree::{Hash, node_hash};
use std::collections::HashMap;

/// Hashes of parts of one tree, each a run of leaves as RFC 6962 section 2.1 splits it.
#[derive(Debug, Clone, Default)]
pub struct KnownParts {
    size: u64,
    /// By first leaf and the one behind the last, both from 0.
    parts: HashMap<(u64, u64), Hash>,
}

impl KnownParts {
    /// Of a tree of this size and root, both from a checkpoint whose signature was checked.
    pub fn new(size: u64, root: Hash) -> KnownParts {
        KnownParts { size, parts: HashMap::from([((0, size), root)]) }
    }

    /// Takes over an inclusion proof of this tree **that was checked**. One of another length than the tree asks
    /// for is left out.
    pub fn take(&mut self, index: u64, leaf: Hash, hashes: &[Hash]) {
        if index >= self.size {
            return;
        }
        let (mut low, mut high) = (0, self.size);
        let mut beside = Vec::new();
        while high - low > 1 {
            let middle = low + split(high - low);
            if index < middle {
                beside.push((middle, high));
                high = middle;
            } else {
                beside.push((low, middle));
                low = middle;
            }
        }
        if beside.len() != hashes.len() {
            return;
        }
        // A proof gives the leaf's own sibling first.
        self.parts.extend(beside.into_iter().zip(hashes.iter().rev().copied()));
        self.parts.insert((index, index + 1), leaf);
    }

    /// The hash of the leaf at `index`, if a proof of it was taken over.
    pub fn leaf(&self, index: u64) -> Option<Hash> {
        self.parts.get(&(index, index.checked_add(1)?)).copied()
    }

    /// The root the tree had when it held `size` leaves, if it can be worked out.
    pub fn root_of(&self, size: u64) -> Option<Hash> {
        if size == 0 || size > self.size { None } else { self.hash(0, size) }
    }

    fn hash(&self, low: u64, high: u64) -> Option<Hash> {
        if let Some(known) = self.parts.get(&(low, high)) {
            return Some(*known);
        }
        if high - low < 2 {
            return None;
        }
        let middle = low + split(high - low);
        // The right part is shorter and more often unknown: asked first, most questions end early.
        let right = self.hash(middle, high)?;
        Some(node_hash(&self.hash(low, middle)?, &right))
    }
}

/// The largest power of two below `size`, which is 2 or more.
fn split(size: u64) -> u64 {
    1 << (63 - (size - 1).leading_zeros())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::tree::{LeafHashes, inclusion_proof, leaf_hash, root};

    fn leaves(count: u64) -> Vec<Hash> {
        (0..count).map(|n| leaf_hash(&n.to_be_bytes())).collect()
    }

    #[test]
    fn every_proven_leaf_gives_the_root_of_the_tree_that_ended_with_it() {
        for size in 1..=40u64 {
            let all = leaves(size);
            for index in 0..size {
                let proof = inclusion_proof(index, size, &LeafHashes(&all)).unwrap();
                let mut known = KnownParts::new(size, root(&all));
                known.take(index, all[index as usize], &proof);
                let expected = root(&all[..=index as usize]);
                assert_eq!(known.root_of(index + 1), Some(expected), "leaf {index} of {size}");
                assert_eq!(known.root_of(size), Some(root(&all)));
                assert_eq!(known.root_of(size + 1), None);
                assert_eq!(known.root_of(0), None);
            }
        }
    }

    #[test]
    fn what_is_given_is_right_and_what_is_not_known_is_not_given() {
        let all = leaves(1000);
        let mut known = KnownParts::new(1000, root(&all));
        for index in [3, 600, 999] {
            let proof = inclusion_proof(index, 1000, &LeafHashes(&all)).unwrap();
            known.take(index, all[index as usize], &proof);
        }
        let given: Vec<u64> = (1..=1000).filter(|size| known.root_of(*size).is_some()).collect();
        assert!(given.len() > 10 && given.len() < 100, "{given:?}");
        for size in given {
            assert_eq!(known.root_of(size), Some(root(&all[..size as usize])), "{size}");
        }
        // A proof of the wrong length is not taken over.
        let mut other = KnownParts::new(1000, root(&all));
        other.take(5, all[5], &[all[4]]);
        other.take(1000, all[5], &[]);
        assert_eq!(other.root_of(6), None);
    }

    #[test]
    fn the_largest_size_is_no_trouble() {
        let mut known = KnownParts::new(u64::MAX, [0; 32]);
        known.take(u64::MAX - 1, [1; 32], &[[2; 32]; 64]);
        assert_eq!(known.root_of(12_345), None);
        assert_eq!(KnownParts::new(0, [3; 32]).root_of(0), None, "the empty tree is asked for by nobody");
    }
}
