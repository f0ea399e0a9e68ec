//! Checking proofs, by the algorithms of RFC 9162 sections 2.1.3.2 and 2.1.4.2.

use super::{Hash, TreeError, check_order, check_size, empty_root, node_hash};

/// Checks that a leaf with this hash stands at `index` in the tree of `size` leaves with this root.
///
/// **A proof does not bind `size`**: some proofs hold for several sizes. Take size and root
/// together from a checkpoint whose signature was checked, never from the proof.
pub fn verify_inclusion(
    leaf_hash: &Hash,
    index: u64,
    size: u64,
    path: &[Hash],
    root: &Hash,
) -> Result<(), TreeError> {
    check_size(size)?;
    if index >= size {
        return Err(TreeError::IndexOutside { index, size });
    }
    let mut climb = Climb { node: index, last: size - 1 };
    let mut hash = *leaf_hash;
    for sibling in path {
        hash = if climb.step()? { node_hash(sibling, &hash) } else { node_hash(&hash, sibling) };
    }
    climb.at_top()?;
    if hash == *root { Ok(()) } else { Err(TreeError::RootMismatch) }
}

/// Checks that the tree of `second` leaves continues the tree of `first` leaves: nothing in it was
/// changed, moved or removed.
///
/// Where the RFC is silent: equal sizes need an empty proof and equal roots, two empty trees also
/// the root of the empty tree; a proof from an empty tree to a larger one is always refused.
pub fn verify_consistency(
    first: u64,
    second: u64,
    first_root: &Hash,
    second_root: &Hash,
    path: &[Hash],
) -> Result<(), TreeError> {
    check_size(second)?;
    check_order(first, second)?;
    if first == second {
        return verify_same(first, first_root, second_root, path);
    }
    let mut climb = Climb { node: first - 1, last: second - 1 };
    climb.skip_right_edges();
    // An older tree that is one complete subtree is where the climb starts, and it is not in the proof.
    let (start, rest) = if first.is_power_of_two() {
        (first_root, path)
    } else {
        path.split_first().ok_or(TreeError::PathLength)?
    };
    let (mut older, mut newer) = (*start, *start);
    for sibling in rest {
        if climb.step()? {
            older = node_hash(sibling, &older);
            newer = node_hash(sibling, &newer);
        } else {
            newer = node_hash(&newer, sibling);
        }
    }
    climb.at_top()?;
    if older != *first_root {
        return Err(TreeError::FirstRootMismatch);
    }
    if newer == *second_root { Ok(()) } else { Err(TreeError::RootMismatch) }
}

fn verify_same(size: u64, first_root: &Hash, second_root: &Hash, path: &[Hash]) -> Result<(), TreeError> {
    if !path.is_empty() {
        return Err(TreeError::PathLength);
    }
    if first_root != second_root || (size == 0 && *first_root != empty_root()) {
        return Err(TreeError::RootMismatch);
    }
    Ok(())
}

/// The way from a node up to the root: the node and the last node of its level, counted from 0.
struct Climb {
    node: u64,
    last: u64,
}

impl Climb {
    /// One level up. True when the sibling is to the left. Fails above the top.
    fn step(&mut self) -> Result<bool, TreeError> {
        if self.last == 0 {
            return Err(TreeError::PathLength);
        }
        let right_child = self.node & 1 == 1;
        let left = right_child || self.node == self.last;
        if left && !right_child {
            // The last node of an odd level has no sibling there: it moves up until it has one.
            while self.node & 1 == 0 && self.node != 0 {
                self.up();
            }
        }
        self.up();
        Ok(left)
    }

    /// Up as long as this is a right child: to the root of the last complete subtree of the older tree.
    fn skip_right_edges(&mut self) {
        while self.node & 1 == 1 {
            self.up();
        }
    }

    fn up(&mut self) {
        self.node >>= 1;
        self.last >>= 1;
    }

    fn at_top(&self) -> Result<(), TreeError> {
        if self.last == 0 { Ok(()) } else { Err(TreeError::PathLength) }
    }
}
