//! The index: derived from the ledger, thrown away whenever anything about it is odd.
//!
//! It keeps the tree's hash tiles, so that a proof reads a handful of values instead of every
//! leaf. Both sled and bincode stay inside this module: sled's `flush` is not durable and a flipped bit
//! can make it panic or forget, and neither crate is maintained, so nothing that must last passes
//! through either. What is read here is only used where the signed checkpoint confirms it, and what is
//! missing here is never taken for absent.

use crate::ledger::scan::Scan;
use crate::ledger::tiles::{self, TileReader};
use crate::ledger::tree::{self, Hash};
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

/// An open index that fits the ledger it was opened with.
pub struct Index {
    db: sled::Db,
    entries: u64,
    root: Hash,
}

impl Index {
    /// Opens the index in `dir` and brings it up to the ledger, or builds it anew. None when even that
    /// fails: everything works without it.
    pub fn open(dir: &Path, ledger: &str, scan: &Scan) -> Option<Index> {
        let attempt = |dir: &Path| guarded(|| Index::try_open(dir, ledger, scan));
        attempt(dir).or_else(|| {
            throw_away(dir);
            attempt(dir)
        })
    }

    fn try_open(dir: &Path, ledger: &str, scan: &Scan) -> Option<Index> {
        let db = sled::Config::new().path(dir).cache_capacity(16 << 20).flush_every_ms(None).open().ok()?;
        let wanted = Meta {
            edition: EDITION,
            ledger: ledger.to_string(),
            entries: scan.entries.len() as u64,
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
            index.add(from, scan)?;
            index.db.insert(META, encode(&wanted)?).ok()?;
            index.db.flush().ok()?;
        }
        Some(index)
    }

    /// Writes the tiles that the entries from `from` on change.
    fn add(&self, from: u64, scan: &Scan) -> Option<()> {
        let mut hashes: Vec<Hash> = scan.entries.iter().map(|e| e.tree_hash).collect();
        let changed: Vec<_> = tiles::changed_tiles(from, self.entries);
        let (mut level, mut batch, mut waiting) = (0u8, sled::Batch::default(), 0usize);
        while !hashes.is_empty() {
            for tile in changed.iter().filter(|t| t.level == level) {
                let start = tile.index as usize * 256;
                let part = hashes.get(start..hashes.len().min(start + 256))?;
                batch.insert(tile_key(level, tile.index).as_slice(), encode(&part.concat())?);
                waiting += 1;
                if waiting == BATCH {
                    self.db.apply_batch(std::mem::take(&mut batch)).ok()?;
                    waiting = 0;
                }
            }
            hashes = tiles::level_above(&hashes);
            level += 1;
        }
        self.db.apply_batch(batch).ok()
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

/// True when the ledger still begins with what the index was built from.
fn grows_into(meta: &Meta, wanted: &Meta, scan: &Scan) -> bool {
    let same = meta.edition == EDITION && meta.ledger == wanted.ledger && meta.entries < wanted.entries;
    same && scan.entries.get(..meta.entries as usize).is_some_and(|first| {
        let hashes: Vec<Hash> = first.iter().map(|e| e.tree_hash).collect();
        tree::root(&hashes) == meta.root
    })
}

/// Inclusion proofs for several entries: through the index where it holds, from the ledger itself
/// where it does not.
pub fn proofs(dir: &Path, ledger: &str, scan: &Scan, indexes: &[u64]) -> Vec<Vec<Hash>> {
    let leaves: Vec<Hash> = scan.entries.iter().map(|e| e.tree_hash).collect();
    let size = leaves.len() as u64;
    let mut index = Index::open(dir, ledger, scan);
    let mut out = Vec::with_capacity(indexes.len());
    for n in indexes {
        let leaf = leaves.get(*n as usize).copied().unwrap_or_default();
        let mut path = index.as_ref().and_then(|i| i.inclusion(*n, &leaf));
        if path.is_none() && close(&mut index) {
            throw_away(dir);
        }
        if path.is_none() {
            path = tree::inclusion_proof(*n, size, &tree::LeafHashes(&leaves)).ok();
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

fn encode<T: bincode::Encode>(value: &T) -> Option<Vec<u8>> {
    bincode::encode_to_vec(value, config()).ok()
}

/// Decodes a value that takes up all of the bytes.
fn decode<T: bincode::Decode<()>>(bytes: &[u8]) -> Option<T> {
    let (value, used) = bincode::decode_from_slice(bytes, config()).ok()?;
    (used == bytes.len()).then_some(value)
}
