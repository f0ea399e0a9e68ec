//! The Merkle tree of RFC 6962 section 2.1 and RFC 9162 section 2.1, over SHA-256.
//!
//! Hashing, proofs, and the growing edge of a tree. Leaves are counted from 0. Proofs are made
//! from stored subtree hashes through [`HashReader`], so that one proof reads only about as many
//! hashes as the tree is high.

use sha2::{Digest, Sha256};

mod verify;

pub use verify::{verify_consistency, verify_inclusion};

/// A SHA-256 hash of a leaf, a node or a whole tree.
pub type Hash = [u8; 32];

/// A hash as it stands in slips and notes: base32 (RFC 4648) without padding.
pub fn code(hash: &Hash) -> String {
    data_encoding::BASE32_NOPAD.encode(hash)
}

/// The largest tree size handled. Other implementations count in signed 64-bit numbers.
pub const MAX_SIZE: u64 = i64::MAX as u64;

/// Why a proof is refused, or can't be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum TreeError {
    /// The leaf is not in a tree of this size.
    #[error("leaf {index} (counted from 0) is not in a tree of {size} leaves")]
    IndexOutside {
        /// The leaf asked for.
        index: u64,
        /// The number of leaves.
        size: u64,
    },
    /// The older tree is larger than the newer one.
    #[error("the older tree has {first} leaves and the newer one only {second}: a tree never shrinks")]
    Shrunk {
        /// Size of the older tree.
        first: u64,
        /// Size of the newer tree.
        second: u64,
    },
    /// The older tree is empty, so there is nothing a proof could hold on to.
    #[error("the older tree is empty: a proof from it would prove nothing")]
    EmptyFirst,
    /// A size above [`MAX_SIZE`].
    #[error("a tree of {0} leaves is larger than is handled")]
    TooLarge(u64),
    /// The proof has more or fewer hashes than these sizes ask for.
    #[error("the proof has too many or too few hashes for these sizes: it was cut or padded")]
    PathLength,
    /// The proof leads to another root.
    #[error("the proof does not lead to the given root: the entry, its place or the tree was changed")]
    RootMismatch,
    /// A proof of growth leads to another root of the older tree.
    #[error("the proof does not hold the older tree: what the older tree held was changed")]
    FirstRootMismatch,
    /// The parts of a [`Frontier`] do not belong together.
    #[error("the number of hashes does not fit a tree of {0} leaves")]
    FrontierForm(u64),
}

/// Why a proof was not made: what was asked for is impossible, or a hash could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ProveError<E> {
    /// No such proof exists.
    #[error(transparent)]
    Asked(#[from] TreeError),
    /// A stored hash could not be read.
    #[error("a stored hash of the tree could not be read")]
    Read(#[source] E),
}

/// Where the hashes of complete subtrees are read from.
///
/// Any `Fn(level, index) -> Result<Hash, E>` is one.
pub trait HashReader {
    /// What can go wrong when reading.
    type Error;

    /// The hash of the complete subtree over the 2^`level` leaves from leaf `index` * 2^`level` on.
    /// Only asked for where all of these leaves are in the tree.
    fn read(&self, level: u8, index: u64) -> Result<Hash, Self::Error>;
}

impl<F, E> HashReader for F
where
    F: Fn(u8, u64) -> Result<Hash, E>,
{
    type Error = E;

    fn read(&self, level: u8, index: u64) -> Result<Hash, E> {
        self(level, index)
    }
}

/// Leaf hashes in memory, as a [`HashReader`]. Subtrees are hashed anew at each reading.
#[derive(Debug, Clone, Copy)]
pub struct LeafHashes<'a>(pub &'a [Hash]);

impl HashReader for LeafHashes<'_> {
    type Error = TreeError;

    fn read(&self, level: u8, index: u64) -> Result<Hash, TreeError> {
        let outside = TreeError::IndexOutside { index, size: self.0.len() as u64 };
        let (start, end) = span(level, index).ok_or_else(|| outside.clone())?;
        self.0.get(start..end).map(root).ok_or(outside)
    }
}

fn span(level: u8, index: u64) -> Option<(usize, usize)> {
    let width = 1u64.checked_shl(level.into())?;
    let start = index.checked_mul(width)?;
    let end = start.checked_add(width)?;
    Some((start.try_into().ok()?, end.try_into().ok()?))
}

/// The hash of a leaf: SHA-256 over a zero byte and the entry.
pub fn leaf_hash(entry: &[u8]) -> Hash {
    Sha256::new().chain_update([0]).chain_update(entry).finalize().into()
}

/// The hash of an inner node: SHA-256 over a one byte and its two children.
pub fn node_hash(left: &Hash, right: &Hash) -> Hash {
    Sha256::new().chain_update([1]).chain_update(left).chain_update(right).finalize().into()
}

/// The root of the tree without leaves: SHA-256 over nothing.
pub fn empty_root() -> Hash {
    Sha256::digest([]).into()
}

/// The root over these leaf hashes.
pub fn root(leaf_hashes: &[Hash]) -> Hash {
    let mut frontier = Frontier::new();
    leaf_hashes.iter().for_each(|leaf| frontier.push(*leaf));
    frontier.root()
}

/// The root of the tree of the first `size` leaves, from stored hashes.
pub fn read_root<R: HashReader>(size: u64, hashes: &R) -> Result<Hash, ProveError<R::Error>> {
    check_size(size)?;
    if size == 0 { Ok(empty_root()) } else { range_root(0, size, hashes) }
}

/// The inclusion proof of leaf `index` in the tree of the first `size` leaves, the leaf's sibling first.
pub fn inclusion_proof<R: HashReader>(
    index: u64,
    size: u64,
    hashes: &R,
) -> Result<Vec<Hash>, ProveError<R::Error>> {
    check_size(size)?;
    if index >= size {
        return Err(TreeError::IndexOutside { index, size }.into());
    }
    let (mut start, mut end) = (0, size);
    let mut path = Vec::new();
    while end - start > 1 {
        let middle = start + split(end - start);
        if index < middle {
            path.push(range_root(middle, end, hashes)?);
            end = middle;
        } else {
            path.push(range_root(start, middle, hashes)?);
            start = middle;
        }
    }
    path.reverse();
    Ok(path)
}

/// The proof that the tree of the first `second` leaves continues the one of the first `first`.
/// None is made from the empty tree, as it would prove nothing.
pub fn consistency_proof<R: HashReader>(
    first: u64,
    second: u64,
    hashes: &R,
) -> Result<Vec<Hash>, ProveError<R::Error>> {
    check_size(second)?;
    check_order(first, second)?;
    let (mut start, mut end) = (0, second);
    let mut path = Vec::new();
    while first != end {
        let middle = start + split(end - start);
        if first <= middle {
            path.push(range_root(middle, end, hashes)?);
            end = middle;
        } else {
            path.push(range_root(start, middle, hashes)?);
            start = middle;
        }
    }
    // The older tree itself is known to whoever checks; only a part of it has to be named.
    if start > 0 {
        path.push(range_root(start, end, hashes)?);
    }
    path.reverse();
    Ok(path)
}

fn check_size(size: u64) -> Result<(), TreeError> {
    if size > MAX_SIZE { Err(TreeError::TooLarge(size)) } else { Ok(()) }
}

fn check_order(first: u64, second: u64) -> Result<(), TreeError> {
    if first > second {
        return Err(TreeError::Shrunk { first, second });
    }
    if first == 0 && second > 0 {
        return Err(TreeError::EmptyFirst);
    }
    Ok(())
}

/// The largest power of two below `size`, which is at least 2.
fn split(size: u64) -> u64 {
    1 << (63 - (size - 1).leading_zeros())
}

/// The root over the leaves `start..end`, a node of the tree: complete subtrees from large to small.
fn range_root<R: HashReader>(start: u64, end: u64, hashes: &R) -> Result<Hash, ProveError<R::Error>> {
    let mut at = start;
    let mut parts = Vec::new();
    while at < end {
        let level = 63 - (end - at).leading_zeros() as u8;
        parts.push(hashes.read(level, at >> level).map_err(ProveError::Read)?);
        at += 1 << level;
    }
    Ok(fold(&parts))
}

/// One root over the roots of complete subtrees, large to small.
fn fold(parts: &[Hash]) -> Hash {
    let joined = parts.iter().copied().rev().reduce(|right, left| node_hash(&left, &right));
    joined.unwrap_or_else(empty_root)
}

/// The growing edge of a tree: its size and the roots of its complete subtrees, large to small.
/// All that is needed to add leaves and to know the root.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Frontier {
    size: u64,
    hashes: Vec<Hash>,
}

impl Frontier {
    /// The edge of the empty tree.
    pub fn new() -> Frontier {
        Frontier::default()
    }

    /// The edge with these parts: one hash for each one-bit of `size`, the largest subtree first.
    pub fn from_parts(size: u64, hashes: Vec<Hash>) -> Result<Frontier, TreeError> {
        check_size(size)?;
        if hashes.len() as u32 != size.count_ones() {
            return Err(TreeError::FrontierForm(size));
        }
        Ok(Frontier { size, hashes })
    }

    /// The edge of the first `size` leaves, from stored hashes.
    pub fn read<R: HashReader>(size: u64, stored: &R) -> Result<Frontier, ProveError<R::Error>> {
        check_size(size)?;
        let mut hashes = Vec::new();
        for level in (0..64u8).rev().filter(|level| size >> level & 1 == 1) {
            hashes.push(stored.read(level, (size >> level) - 1).map_err(ProveError::Read)?);
        }
        Ok(Frontier { size, hashes })
    }

    /// The number of leaves.
    pub fn size(&self) -> u64 {
        self.size
    }

    /// The roots of the complete subtrees, large to small.
    pub fn hashes(&self) -> &[Hash] {
        &self.hashes
    }

    /// Adds a leaf.
    pub fn push(&mut self, leaf_hash: Hash) {
        self.push_each(leaf_hash, |_, _, _| ());
    }

    /// Adds a leaf, and names each subtree it completes: level, index and hash, the leaf itself
    /// (level 0) first. These are exactly the hashes a [`HashReader`] is later asked for.
    pub fn push_each(&mut self, leaf_hash: Hash, mut completed: impl FnMut(u8, u64, Hash)) {
        let mut hash = leaf_hash;
        let mut level = 0;
        completed(level, self.size, hash);
        // As when adding one in binary: each trailing one-bit of the size is a subtree that joins.
        while self.size >> level & 1 == 1 {
            let Some(left) = self.hashes.pop() else { break };
            hash = node_hash(&left, &hash);
            level += 1;
            completed(level, self.size >> level, hash);
        }
        self.hashes.push(hash);
        self.size += 1;
    }

    /// The root of the tree.
    pub fn root(&self) -> Hash {
        fold(&self.hashes)
    }
}

#[cfg(test)]
mod tests;
