//! The index: derived from the ledger, thrown away whenever anything about it is odd.
//!
//! It keeps the tree's hash tiles, so that a proof reads a handful of values instead of every
//! leaf, and a signed bookmark ([`bookmark`]), so that opening reads what was added and not the whole. Both sled and bincode stay inside this module: sled's `flush` is not durable and a flipped bit
//! can make it panic or forget, and neither crate is maintained, so nothing that must last passes
//! through either. What is read here is only used where the signed checkpoint confirms it, and what is
//! missing here is never taken for absent.

pub mod bookmark;
pub mod earlier;
pub mod layer;
pub mod numbers;

use crate::ledger::scan::Scan;
use crate::ledger::tiles::{self, TileReader};
use crate::ledger::tree::{self, Hash};
use crate::trouble::Outcome;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

/// Edition of what is stored here; another one is thrown away.
const EDITION: u32 = 1;
/// sled's memory grows steeply with the size of a batch.
const BATCH: usize = 100;
const META: &[u8] = b"meta";

thread_local! {
    static GUARDING: std::cell::Cell<bool> = const { std::cell::Cell::new(false) };
}

/// True while this thread runs inside the index, where a panic is caught and the index built anew.
pub fn is_guarding() -> bool {
    GUARDING.with(std::cell::Cell::get)
}

/// Runs something that may panic inside sled; none when it did.
fn guarded<T>(work: impl FnOnce() -> Option<T>) -> Option<T> {
    GUARDING.with(|g| g.set(true));
    let done = catch_unwind(AssertUnwindSafe(work)).ok().flatten();
    GUARDING.with(|g| g.set(false));
    done
}

/// What the index was built from.
#[derive(Debug, Clone, PartialEq, Eq, bincode::Encode, bincode::Decode)]
struct Meta {
    edition: u32,
    ledger: String,
    entries: u64,
    head: [u8; 32],
    root: [u8; 32],
}

/// The tree that proofs are asked of.
#[derive(Clone, Copy)]
pub struct Grown<'a> {
    /// What was read of the ledger.
    pub scan: &'a Scan,
    /// The hashes of the leaves of the entries before those that `scan` lists.
    pub before: &'a dyn Fn() -> Outcome<Vec<Hash>>,
}

impl<'a> Grown<'a> {
    /// The tree of a ledger that was read whole.
    pub fn whole(scan: &'a Scan) -> Grown<'a> {
        Grown { scan, before: &|| Ok(Vec::new()) }
    }

    /// The hashes of the leaves from leaf `from` (counted from 0) on.
    fn leaves(&self, from: u64) -> Option<Vec<Hash>> {
        let mut hashes = Vec::new();
        if from < self.scan.before {
            let before = (self.before)().ok()?;
            hashes.extend(before.get(from as usize..self.scan.before as usize)?);
        }
        let later = from.saturating_sub(self.scan.before) as usize;
        hashes.extend(self.scan.entries.get(later..)?.iter().map(|e| e.tree_hash));
        Some(hashes)
    }
}

/// An open index that fits the ledger it was opened with.
pub struct Index {
    db: sled::Db,
    entries: u64,
    root: Hash,
}

impl Index {
    /// Opens the index in `dir` and brings it up to the ledger, or builds it anew. None when even that
    /// fails: everything works without it.
    pub fn open(dir: &Path, ledger: &str, tree: Grown<'_>) -> Option<Index> {
        let attempt = |dir: &Path| guarded(|| Index::try_open(dir, ledger, tree));
        attempt(dir).or_else(|| {
            throw_away(dir);
            attempt(dir)
        })
    }

    fn try_open(dir: &Path, ledger: &str, tree: Grown<'_>) -> Option<Index> {
        let db = sled::Config::new().path(dir).cache_capacity(16 << 20).flush_every_ms(None).open().ok()?;
        let scan = tree.scan;
        let wanted = Meta {
            edition: EDITION,
            ledger: ledger.to_string(),
            entries: scan.size(),
            head: scan.last_leaf.unwrap_or_default(),
            root: scan.frontier.root(),
        };
        let built = db.get(META).ok()?.and_then(|bytes| decode::<Meta>(&bytes));
        let from = match built {
            Some(meta) if meta == wanted => wanted.entries,
            Some(meta) if grows_into(&meta, &wanted, scan) => meta.entries,
            Some(_) => return None,
            None => 0,
        };
        let index = Index { db, entries: wanted.entries, root: wanted.root };
        if from < wanted.entries {
            index.add(from, tree)?;
            index.db.insert(META, encode(&wanted)?).ok()?;
            index.db.flush().ok()?;
        }
        Some(index)
    }

    /// Writes the tiles that the leaves from `from` on change. What stood in such a tile is read from it: what
    /// comes of that is relied on only where a proof made from it leads to the root.
    fn add(&self, from: u64, tree: Grown<'_>) -> Option<()> {
        let changed: Vec<_> = tiles::changed_tiles(from, self.entries);
        let mut hashes = tree.leaves(from)?;
        let (mut level, mut at, mut batch, mut waiting) = (0u8, from, sled::Batch::default(), 0usize);
        while !hashes.is_empty() {
            let first = at / 256;
            if at % 256 != 0 {
                let stood: Vec<u8> = decode(&self.db.get(tile_key(level, first)).ok()??)?;
                let mut stood = tiles::split(&stood).filter(|stood| stood.len() as u64 >= at % 256)?;
                stood.truncate((at % 256) as usize);
                stood.append(&mut hashes);
                hashes = stood;
            }
            for tile in changed.iter().filter(|t| t.level == level) {
                let start = (tile.index.checked_sub(first)? as usize) * 256;
                let part = hashes.get(start..hashes.len().min(start + 256))?;
                batch.insert(tile_key(level, tile.index).as_slice(), encode(&part.concat())?);
                waiting += 1;
                if waiting == BATCH {
                    self.db.apply_batch(std::mem::take(&mut batch)).ok()?;
                    waiting = 0;
                }
            }
            hashes = tiles::level_above(&hashes);
            (level, at) = (level + 1, first);
        }
        self.db.apply_batch(batch).ok()
    }

    /// The hash of a leaf as it is kept here. Nothing vouches for it but a proof that holds.
    fn leaf(&self, index: u64) -> Option<Hash> {
        let tile = guarded(|| decode::<Vec<u8>>(&self.db.get(tile_key(0, index / 256)).ok()??))?;
        tiles::split(&tile)?.get((index % 256) as usize).copied()
    }

    /// The inclusion proof of an entry in the whole ledger, read from tiles and checked against the
    /// root; none when the index does not give one that holds.
    pub fn inclusion(&self, index: u64, leaf: &Hash) -> Option<Vec<Hash>> {
        let read = || {
            let reader =
                TileReader::new(|level, n| decode::<Vec<u8>>(&self.db.get(tile_key(level, n)).ok()??));
            tree::inclusion_proof(index, self.entries, &reader).ok()
        };
        let path = guarded(read)?;
        tree::verify_inclusion(leaf, index, self.entries, &path, &self.root).is_ok().then_some(path)
    }
}

/// True when the ledger still begins with what the index was built from, as far as that was read now. Where an
/// earlier reading stands for it, a proof that does not lead to the root shows that it does not.
fn grows_into(meta: &Meta, wanted: &Meta, scan: &Scan) -> bool {
    let same = meta.edition == EDITION && meta.ledger == wanted.ledger && meta.entries < wanted.entries;
    same && (scan.before > 0 || scan.root_at(meta.entries) == Some(meta.root))
}

/// Inclusion proofs for several entries: through the index where it holds, from the ledger itself
/// where it does not.
pub fn proofs(dir: &Path, ledger: &str, tree: Grown<'_>, indexes: &[u64]) -> Vec<Vec<Hash>> {
    let size = tree.scan.size();
    let mut all: Option<Vec<Hash>> = None;
    let mut index = Index::open(dir, ledger, tree);
    let mut out = Vec::with_capacity(indexes.len());
    for n in indexes {
        let leaf = match n.checked_sub(tree.scan.before) {
            Some(at) => tree.scan.entries.get(at as usize).map(|e| e.tree_hash),
            None => index.as_ref().and_then(|i| i.leaf(*n)),
        };
        let mut path = index.as_ref().zip(leaf).and_then(|(i, leaf)| i.inclusion(*n, &leaf));
        if path.is_none() && *n < size && close(&mut index) {
            throw_away(dir);
        }
        if path.is_none() && *n < size {
            let leaves = all.get_or_insert_with(|| tree.leaves(0).unwrap_or_default());
            path = tree::inclusion_proof(*n, size, &tree::LeafHashes(leaves)).ok();
        }
        out.push(path.unwrap_or_default());
    }
    close(&mut index);
    out
}

/// Closes the index where a panic of its store is caught; true when it was open.
fn close(index: &mut Option<Index>) -> bool {
    let Some(open) = index.take() else { return false };
    guarded(|| {
        drop(open);
        Some(())
    });
    true
}

/// Removes an index. Losing it loses nothing.
pub fn throw_away(dir: &Path) {
    let _ = std::fs::remove_dir_all(dir);
}

/// Where a store keeps its index.
pub fn folder(root: &Path) -> PathBuf {
    root.join("index")
}

fn tile_key(level: u8, index: u64) -> [u8; 10] {
    let mut key = [0u8; 10];
    key[0] = b't';
    key[1] = level;
    key[2..].copy_from_slice(&index.to_be_bytes());
    key
}

fn config() -> impl bincode::config::Config {
    // A forged length must not be believed, and numbers have one width.
    bincode::config::standard().with_fixed_int_encoding().with_limit::<65_536>()
}

/// The same for what can be long: its length is known and its digest was checked.
fn long_config() -> impl bincode::config::Config {
    bincode::config::standard().with_fixed_int_encoding().with_limit::<{ 64 << 20 }>()
}

fn encode_long<T: bincode::Encode>(value: &T) -> Option<Vec<u8>> {
    bincode::encode_to_vec(value, long_config()).ok()
}

fn decode_long<T: bincode::Decode<()>>(bytes: &[u8]) -> Option<T> {
    let (value, used) = bincode::decode_from_slice(bytes, long_config()).ok()?;
    (used == bytes.len()).then_some(value)
}

fn encode<T: bincode::Encode>(value: &T) -> Option<Vec<u8>> {
    bincode::encode_to_vec(value, config()).ok()
}

/// Decodes a value that takes up all of the bytes.
fn decode<T: bincode::Decode<()>>(bytes: &[u8]) -> Option<T> {
    let (value, used) = bincode::decode_from_slice(bytes, config()).ok()?;
    (used == bytes.len()).then_some(value)
}
